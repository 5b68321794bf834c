"""Export a logbook as a rehearsal folder, a Frictionless Data Package.

for example:
  drift export band.logbook season-2026
  drift export band.logbook season-2026 --pseudonyms
  drift export band.logbook season-2026 --parquet

Good to know:
  Nothing is lost: importing the folder gives the same entries again, undone ones included. For the
  same reason a remark that begins with = + - or @ is written as it is, and a spreadsheet may take
  it for a formula: use --for-spreadsheets if you want to open the tables in one.
  With --pseudonyms, players' names are replaced, in remarks too; the key stays in the logbook.
  --key FILE writes it for tables of your own, such as those of --beside: it is not to be shared.
  Names of people who are not players are not known to the program: read the remarks before you
  share them.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Mapping
from pathlib import Path

from drift.cli.progress import shown_progress

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument("book", metavar="LOGBOOK", type=Path, help="the logbook")
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="a new or empty folder")
    parser.add_argument("--rehearsal", metavar="NAME", help="only this rehearsal")
    parser.add_argument("--pseudonyms", action="store_true", help="replace the players' names")
    parser.add_argument(
        "--key",
        metavar="FILE",
        type=Path,
        help="with --pseudonyms: write which name has which, as CSV; for you alone",
    )
    parser.add_argument(
        "--for-spreadsheets",
        action="store_true",
        help="put an apostrophe before what looks like a formula (not for importing)",
    )
    parser.add_argument(
        "--parquet", action="store_true", help="write Parquet files, which keep types, not CSV"
    )
    parser.add_argument("--title", metavar="TEXT", default="", help="title of the data package")


def run(options: argparse.Namespace) -> int:
    """Carry out the command."""
    from drift.errors import InputError
    from drift.logbook.book import Logbook
    from drift.logbook.data_package import write_folder
    from drift.logbook.exchange import (
        for_spreadsheets,
        players_of,
        streamed,
        with_pseudonyms,
    )
    from drift.texts import check_text, harmless

    if options.title:
        check_text(options.title, "title")
    if options.key and not options.pseudonyms:
        raise InputError("--key is of pseudonyms", "add --pseudonyms, or leave it out")
    if options.key and options.key.resolve().is_relative_to(options.folder.resolve()):
        raise InputError(
            f"the key {options.key} would lie in the folder to share", "write it somewhere else"
        )
    # Only the key to the pseudonyms is written; a plain export may run while a log goes on.
    writer = f"drift export, process {os.getpid()}" if options.pseudonyms else None
    if writer and not options.book.exists():
        raise InputError(f"there is no logbook {options.book}", "check the name")
    with Logbook(options.book, writer=writer) as book:
        known = book.rehearsals()
        if options.rehearsal and options.rehearsal not in known:
            raise InputError(
                f"there is no rehearsal {options.rehearsal!r}", f"there are {', '.join(known)}"
            )
        rows: dict[str, int] = {}
        show, entries = shown_progress(f"{options.folder}: exporting"), book.last_entry

        def count(table: str, done: int) -> None:
            rows[table] = done
            show(min(sum(rows.values()), entries), entries)

        with streamed(book, rehearsal=options.rehearsal) as contents:
            if options.pseudonyms:
                key = book.pseudonyms(players_of(contents))
                contents = with_pseudonyms(contents, key)
            if options.for_spreadsheets:
                contents = for_spreadsheets(contents)
            written = write_folder(
                options.folder,
                contents,
                title=options.title or harmless(f"Rehearsals from {options.book.stem}", keep=""),
                parquet=options.parquet,
                progress=count,
            )
        show(entries, entries)
    undone = rows.pop("undone", 0)
    print(f"{written}: {sum(rows.values())} entries, {undone} undone")
    if options.pseudonyms:
        print(f"players' names are replaced; the key stays in {options.book}")
    if options.key:
        _write(options.key, key)
        print(f"wrote the key to {options.key}: do not share it")
    return 0


def _write(path: Path, key: Mapping[str, str]) -> None:
    """Write which player has which pseudonym."""
    import csv

    from drift.writing import written_file

    with written_file(path) as unfinished, unfinished.open("w", encoding="utf-8", newline="") as to:
        csv.writer(to, lineterminator="\n").writerows([("player", "pseudonym"), *key.items()])
