"""Write what the band's instruments do, without names, to share with other bands.

for example:
  drift summary band.logbook --out band.json
  drift summary band.logbook --out band.json --season 2026

Good to know:
  Nothing is sent. Open the file and read it before you hand it on.
  A record of what it was made of is saved beside the source, as SOURCE.bands. Keep it: it holds
  the band's number, and prevents a second file that would show a single player.
"""

from __future__ import annotations

import argparse
import uuid
from pathlib import Path

from drift.cli.options import add_json, add_source, add_tables, print_json
from drift.cli.progress import shown_progress
from drift.cli.read_source import read_source
from drift.cli.table_check import mention

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of ``drift summary``."""
    add_source(parser)
    parser.add_argument(
        "--out",
        metavar="FILE",
        type=Path,
        required=True,
        help="the file to write, such as band.json",
    )
    parser.add_argument(
        "--season", metavar="YEAR", help="which year (default: the latest with readings)"
    )
    parser.add_argument("--thermometer", metavar="NAME", help="the thermometer to use")
    add_tables(parser)
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Write the summary, then the record of it, and print what it holds."""
    from drift.bands.written import Written
    from drift.study import Study
    from drift.words.bands import number_in_words, summary_in_words

    study = Study.open(
        read_source(options),
        thermometer=options.thermometer,
        progress=shown_progress(f"{options.source}: fitting", "steps"),
    )
    mention(study.rehearsals.understood)
    record = Path(f"{str(options.source).rstrip('/')}.bands")
    known = record.exists()
    before = Written.read(record, str(uuid.uuid4()))
    summary, written = study.summary(before, options.season)
    # The record first: a file that is not on it could later be told from its successor.
    written.write(record)
    summary.write(options.out)
    if options.json:
        print_json(summary.to_json())
    else:
        print(f"{options.out}: {summary_in_words(summary)}")
        if not known:
            print(number_in_words(record.name))
    return 0
