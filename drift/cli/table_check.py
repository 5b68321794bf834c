"""Check tables before they are imported: everything that is wrong, as text, CSV or JSON."""

from __future__ import annotations

import argparse
import csv
import sys
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from drift.cli.options import catalogue_of, print_json
from drift.cli.progress import shown_progress

if TYPE_CHECKING:
    from datetime import tzinfo

    from drift.instruments import Catalogue
    from drift.logbook.rehearsals import Progress
    from drift.tables.problems import Problem
    from drift.tables.taking import TakenTables
    from drift.tables.understood import Understood

__all__ = ["check_tables", "mention"]

MOST_COMPARED = 100_000
"""More readings are not compared with each other: reading them is quicker."""


def check_tables(options: argparse.Namespace) -> int:
    """Read the tables of a folder or file and print whatever cannot be taken."""
    from drift.errors import InputError
    from drift.tables.checking import conventions
    from drift.tables.problems import TablesRefused, counted
    from drift.tables.taking import take_tables
    from drift.tables.understood import Alike, FarOut, Hot, Repeated
    from drift.words import tables

    how = conventions(
        catalogue_of(options), zone=options.zone, dates=options.dates, wide=options.wide
    )
    try:
        taken = take_tables(options.book, how, shown_progress(f"{options.book}: checking"))
    except TablesRefused as refusal:
        _print(options, refusal.problems, ())
        count = counted(_shown_together(refusal.problems))
        raise InputError(f"{options.book}: {count}", "mend them, then check again") from None
    doubted = [one for one in taken.understood if isinstance(one, Alike | FarOut | Hot | Repeated)]
    mention(one for one in taken.understood if one not in doubted)
    fitting = shown_progress(f"{options.book}: fitting", "steps")
    together = _together(taken, how.catalogue, how.zone or taken.zone, fitting)
    doubtful = [*map(tables.understood, doubted), *together]
    if options.json or options.csv:
        _print(options, (), doubtful)
    else:
        state = f"to look at: {len(doubtful)}" if doubtful else "nothing wrong"
        print("\n".join([f"{options.book}: {tables.rows_of(taken)}; {state}", *doubtful]))
    return 0


def _together(
    taken: TakenTables, catalogue: Catalogue | None, zone: tzinfo | None, progress: Progress
) -> list[str]:
    """Return what rows show to be spoilt that are right one by one, in sentences."""
    from drift.words import tables

    readings = taken.tables["readings"].rows
    if readings > MOST_COMPARED:
        return [tables.not_compared(readings, MOST_COMPARED)]
    from drift.logbook.rehearsals import Rehearsals
    from drift.pairing.examination import suspicious
    from drift.study import Study
    from drift.tables.loading import loaded_of
    from drift.words import noticed
    from drift.words.examination import finding_text
    from drift.words.spoilt import WARNED

    rehearsals = Rehearsals(**loaded_of(taken).frames, understood=taken.understood, zone=taken.zone)
    study = Study.open(rehearsals, catalogue=catalogue, progress=progress)
    values = suspicious(rehearsals, catalogue=catalogue)
    missing = {
        one.values["rehearsal"]: one.values["count"]
        for one in values
        if one.kind == "no temperature"
    }
    others = {
        (one.values["rehearsal"], one.values["other"]): one.values["count"]
        for one in values
        if one.kind == "other rehearsal"
    }
    together = ("no temperature", "other rehearsal", "far out")
    return [
        *(finding_text(one, zone) for one in values if one.kind not in together),
        *noticed.without_temperature(missing, readings),
        *noticed.under_other_names(others, readings),
        *(text for _, text in noticed.findings(study, zone, but=WARNED)),
    ]


def mention(understood: Iterable[Understood]) -> None:
    """Print, each once, how tables that are not written our way were understood."""
    from drift.words import tables

    for line in tables.all_understood(understood):
        print(line, file=sys.stderr)


def _print(
    options: argparse.Namespace, problems: tuple[Problem, ...], doubtful: Sequence[str]
) -> None:
    from drift.tables.problems import shown

    if options.json:
        listed = [problem.to_json() for problem in problems]
        print_json({"problems": listed, "to_look_at": list(doubtful)})
    elif options.csv:
        columns = ("file", "line", "column", "value", "problem", "remedy")
        writer = csv.DictWriter(sys.stdout, columns, lineterminator="\n")
        writer.writeheader()
        writer.writerows(problem.to_json() for problem in problems)
    else:
        for those in _shown_together(problems):
            print(shown(those))


def _shown_together(problems: Sequence[Problem]) -> list[list[Problem]]:
    """Return problems in the lines that they are shown in: a few of one cause one by one."""
    from drift.tables.problems import FEW, MANY, alike

    causes = alike(problems)
    if len(problems) > MANY:
        return causes
    few = [those for those in causes if len(those) <= FEW and not those[0].at_once]
    alone = {id(one) for those in few for one in those}
    return [
        *([one] for one in problems if id(one) in alone),
        *(those for those in causes if those not in few),
    ]
