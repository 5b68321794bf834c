"""Import a rehearsal folder or a spreadsheet into a logbook: everything or nothing.

for example:
  drift import band.logbook datasets/cold-hall-season
  drift import band.logbook readings.xlsx --zone Europe/Berlin

Rows that the logbook already holds, with the same values, are skipped, so you can import a folder
again after adding to it. What was undone in the logbook stays undone.
"""

from __future__ import annotations

import argparse
import os
from pathlib import Path
from typing import TYPE_CHECKING

from drift.cli.options import add_instruments, add_tables, catalogue_of
from drift.cli.progress import shown_progress
from drift.cli.table_check import mention

if TYPE_CHECKING:
    from drift.logbook.book import Logbook
    from drift.tables.taking import TakenTables

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument(
        "book", metavar="LOGBOOK", type=Path, help="the logbook (created if it does not exist)"
    )
    parser.add_argument(
        "folder",
        metavar="FOLDER",
        type=Path,
        help="the rehearsal folder, or a spreadsheet with its tables",
    )
    add_instruments(parser)
    add_tables(parser)


def run(options: argparse.Namespace) -> int:
    """Carry out the command."""
    from drift.errors import InputError
    from drift.logbook.book import Logbook
    from drift.logbook.bulk import import_tables
    from drift.tables.checking import conventions
    from drift.tables.taking import take_tables
    from drift.words.tables import rows_of, without_positions

    if options.book.is_dir() and not options.folder.is_dir():
        raise InputError(
            f"{options.book} is a folder, not a logbook",
            f"the logbook comes first: drift import {options.folder} {options.book}",
        )
    how = conventions(
        catalogue_of(options), zone=options.zone, dates=options.dates, wide=options.wide
    )
    taken = take_tables(options.folder, how, shown_progress(f"{options.folder}: reading"))
    mention(taken.understood)
    with Logbook(options.book, writer=f"drift import, process {os.getpid()}") as book:
        usual = 2 * len(_with_positions(book)) > len(book.rehearsals())
        new = import_tables(book, taken, progress=shown_progress(f"{options.book}: importing"))
        unplaced = _read_in(taken) - _with_positions(book) if usual and new else set()
    rows = sum(table.rows for table in taken.tables.values())
    known = rows + sum(len(back.at) for back in taken.undone.values()) - new
    print(f"{options.folder}: {rows_of(taken)}")
    already = f"; {known} were there already" if known else ""
    print(f"{options.book}: {new} new entries{already}")
    if unplaced:
        print(without_positions(sorted(unplaced)))
    return 0


def _with_positions(book: Logbook) -> set[str]:
    """Return the rehearsals in which the position of a slide was logged."""
    return {row["rehearsal"] for row in book.rows("events") if row["slide"]}


def _read_in(taken: TakenTables) -> set[str]:
    """Return the rehearsals that readings were taken of."""
    from drift.tables.columns import texts_at

    readings = taken.tables.get("readings")
    if readings is None or not readings.rows:
        return set()
    return set(texts_at(readings.values["rehearsal"], readings.in_order()))
