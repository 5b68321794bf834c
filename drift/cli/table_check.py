"""Check tables before they are imported: everything that is wrong, as text, CSV or JSON."""

from __future__ import annotations

import argparse
import csv
import sys
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from drift.cli.options import catalogue_of, print_json

if TYPE_CHECKING:
    from drift.tables.problems import Problem
    from drift.tables.understood import Understood

__all__ = ["check_tables", "mention"]


def check_tables(options: argparse.Namespace) -> int:
    """Read the tables of a folder or file; print what cannot be taken, or what looks spoilt."""
    from drift.errors import InputError
    from drift.logbook.records import RECORDS
    from drift.logbook.rehearsals import load
    from drift.pairing.spoilt import spoilt_tables
    from drift.tables.problems import TablesRefused
    from drift.words.spoilt import spoilt_in_words

    catalogue = catalogue_of(options)
    how = {name: getattr(options, name) for name in ("zone", "dates", "wide")}
    try:
        taken = load(options.book, catalogue, **how)
    except TablesRefused as refusal:
        _print(options, refusal.problems, {})
        raise InputError(
            f"{options.book}: {len(refusal.problems)} problems", "mend them, then check again"
        ) from None
    mention(taken.understood)
    found = {spoilt_in_words(one): one.kind.value for one in spoilt_tables(taken, catalogue)}
    if options.json or options.csv:
        _print(options, (), found)
        return 0
    rows = sum(len(getattr(taken, name)) for name in RECORDS)
    state = f"nothing wrong; to look at: {len(found)}" if found else "nothing wrong"
    print("\n".join([f"{options.book}: {rows} rows, {state}", *_lines(found)]))
    return 0


def mention(understood: Iterable[Understood]) -> None:
    """Print, each once, how tables that are not written our way were understood."""
    from drift.words import tables

    for found in dict.fromkeys(understood):
        print(tables.understood(found), file=sys.stderr)


def _lines(found: Mapping[str, str]) -> list[str]:
    """Return what there is to look at, kind by text, a line each."""
    return [f"{kind}: {text}" for text, kind in found.items()]


def _print(
    options: argparse.Namespace, problems: tuple[Problem, ...], found: Mapping[str, str]
) -> None:
    if options.json:
        findings = [{"kind": kind, "text": text} for text, kind in found.items()]
        print_json({"problems": [problem.to_json() for problem in problems], "findings": findings})
    elif options.csv:
        columns = ("file", "line", "column", "value", "problem", "remedy")
        writer = csv.DictWriter(sys.stdout, columns, lineterminator="\n")
        writer.writeheader()
        writer.writerows(problem.to_json() for problem in problems)
    else:
        for problem in problems:
            print(f"{problem.place}: {problem.problem}; {problem.remedy}")
