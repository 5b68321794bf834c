"""Check a logbook: integrity, interrupted rehearsals, suspicious values.

Nothing is changed unless --repair is given, which brings an older book up to date and rebuilds
indexes that are damaged; neither can lose anything. --end NAME ends a rehearsal that was
interrupted, at the time of the last thing that was saved in it.

example: drift check band.logbook
"""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

from drift.cli.options import add_instruments, add_json, by_slide, catalogue_of, print_json

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument("book", metavar="BOOK", type=Path, help="the logbook")
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
        help="end a rehearsal that was interrupted; may be given again",
    )
    parser.add_argument(
        "--travel",
        metavar="S=MM,...",
        type=by_slide,
        default={},
        help="usable travel, such as main=45,F=30",
    )
    parser.add_argument("--backup", metavar="FILE", type=Path, help="copy the whole book there")
    add_instruments(parser)
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Carry out the command."""
    from drift.errors import InputError, LogbookError
    from drift.logbook.book import Logbook
    from drift.pairing.examination import close_interrupted, examine

    if not options.book.exists():
        raise InputError(f"there is no logbook {options.book}", "check the name")
    writes = options.repair or options.end
    writer = f"drift check, process {os.getpid()}" if writes else None
    if options.book.is_dir():
        raise InputError(
            f"{options.book} is a folder, not a logbook",
            f"import it first: drift import band.logbook {options.book}",
        )
    with Logbook(options.book, writer=writer) as book:
        if options.backup:
            book.backup(options.backup)
        if options.repair and book.damage():
            book.mend()
        for name in options.end:
            close_interrupted(book, name)
            print(f"ended: {name}, at the time of the last thing saved in it", file=sys.stderr)
        found = examine(book, travel=options.travel, catalogue=catalogue_of(options), writer=writer)
    if options.json:
        print_json(found.to_json())
    else:
        print(found.summary())
    if options.backup:
        print(f"backup: {options.backup}", file=sys.stderr)
    if not found.intact:
        raise LogbookError(
            f"{options.book} is damaged", "keep it as it is, and go on from the newest backup"
        )
    return 0
