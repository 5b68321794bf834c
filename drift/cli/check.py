"""Check a logbook: integrity, interrupted rehearsals, suspicious values.

for example:
  drift check band.logbook
  drift check readings.xlsx

If you name a rehearsal folder, a spreadsheet or a table, everything in it that cannot be imported
is listed; where many rows have one cause, the first stands for them, and --csv lists each.

Good to know:
  Nothing is changed without --repair or --end. --repair upgrades an older logbook and rebuilds
  damaged indexes; neither can lose anything. --end NAME ends an interrupted rehearsal at the time
  of its last entry.
  Every entry is compared with its digest, and those that are not as they were saved are listed.
  --salvage FOLDER writes all the others to a rehearsal folder.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from drift.cli.options import (
    SHOWN_AND_READ,
    add_instruments,
    add_json,
    add_tables,
    by_slide,
    catalogue_of,
    print_json,
)
from drift.cli.progress import of_source, shown_progress
from drift.cli.table_check import check_tables

if TYPE_CHECKING:
    from drift.logbook.book import Logbook

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument(
        "book", metavar="LOGBOOK", type=Path, help="the logbook, or a folder of tables"
    )
    parser.add_argument(
        "--repair",
        action="store_true",
        help="rebuild damaged indexes and upgrade an older logbook; no data is lost",
    )
    parser.add_argument(
        "--end",
        metavar="NAME",
        action="append",
        default=[],
        help="end an interrupted rehearsal; repeat for more than one",
    )
    parser.add_argument(
        "--travel",
        metavar="SLIDE=MM,...",
        type=by_slide,
        default={},
        help="usable travel, such as main=45,F=30",
    )
    parser.add_argument("--backup", metavar="FILE", type=Path, help="copy the whole logbook there")
    parser.add_argument(
        "--salvage", metavar="FOLDER", type=Path, help="write every intact entry to a folder"
    )
    add_instruments(parser)
    add_tables(parser, SHOWN_AND_READ)
    parser.add_argument("--csv", action="store_true", help="the problems of tables, as CSV")
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Carry out the command."""
    from drift.errors import InputError
    from drift.tables.taking import is_tables

    if not options.book.exists():
        raise InputError(f"there is no logbook {options.book}", "check the name")
    return check_tables(options) if is_tables(options.book) else _check_book(options)


def _check_book(options: argparse.Namespace) -> int:
    from drift.errors import LogbookError
    from drift.logbook.book import Logbook
    from drift.pairing.examination import close_interrupted, examine
    from drift.study import Study
    from drift.tables.checking import conventions
    from drift.words.noticed import findings

    zone = conventions(zone=options.zone).zone
    writes = options.repair or options.end
    writer = f"drift check, process {os.getpid()}" if writes else None
    if options.salvage:
        return _salvage(options)
    with Logbook(options.book, writer=writer) as book:
        _check_digests(book)
        if options.backup:
            book.backup(options.backup)
        if options.repair and book.damage():
            book.mend()
        for name in options.end:
            close_interrupted(book, name)
            print(f"ended: {name}, at the time of the last thing saved in it", file=sys.stderr)
        found = examine(book, travel=options.travel, catalogue=catalogue_of(options), writer=writer)
    others: list[tuple[str, str]] = []
    if found.logged is not None:
        shown = of_source(options.book)
        study = Study.open(found.logged, catalogue=catalogue_of(options), **shown)
        others = findings(study, zone)
    if options.json:
        print_json(found.to_json(others, zone))
    else:
        print(found.summary(others, zone))
    if options.backup:
        print(f"backup: {options.backup}", file=sys.stderr)
    if not found.intact:
        raise LogbookError(
            f"{options.book} is damaged", "keep it as it is, and go on from the newest backup"
        )
    return 0


def _check_digests(book: Logbook) -> None:
    """List the entries that are not as they were saved, before the refusal."""
    from drift.logbook.digests import DamagedError
    from drift.logbook.salvage import salvage

    try:
        with book.at_one_moment() as reader:
            reader.check(shown_progress(f"{book.path}: checking", "entries"))
    except DamagedError:
        lost = salvage(book.path).lost
        if lost:
            print(f"not as they were saved: {counted(lost)}")
        raise


def _salvage(options: argparse.Namespace) -> int:
    from drift.logbook.data_package import write_folder
    from drift.logbook.salvage import salvage

    found = salvage(options.book)
    folder = found.folder
    write_folder(options.salvage, folder, title=f"Salvaged from {options.book.stem}")
    count = len(folder.records) + len(folder.undone)
    print(f"{options.salvage}: {count} records of {found.holding} entries that hold")
    print(f"not as they were saved: {counted(found.lost) if found.lost else 'none'}")
    return 0


def counted(numbers: Sequence[int]) -> str:
    """Return numbers in words, those that follow each other as one range.

    Examples
    --------
    >>> counted([3, 5, 6, 7])
    '4 entries: 3, 5 to 7'
    """
    ranges: list[list[int]] = []
    for number in numbers:
        if ranges and number == ranges[-1][1] + 1:
            ranges[-1][1] = number
        else:
            ranges.append([number, number])
    words = [f"{first} to {last}" if last > first else f"{first}" for first, last in ranges]
    return f"{len(numbers)} {'entry' if len(numbers) == 1 else 'entries'}: {', '.join(words)}"
