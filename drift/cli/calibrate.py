"""Cents per millimetre of a slide, measured.

Play one note without looking at the tuner, log its reading, move the slide, log the position and
the reading again, and go back to the first position at the end:

  slide main 10
  F4 +3 Bb
  slide main 25
  F4 -14 Bb
  slide main 10
  F4 +4 Bb

The answer is kept in the logbook and used from then on; a folder only shows it.

for example:
  drift calibrate season.logbook --player Ada --slide main
"""

from __future__ import annotations

import argparse
from datetime import UTC, datetime

from drift.cli.options import add_instruments, add_json, add_source, print_json

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    add_source(parser)
    parser.add_argument("--player", required=True, metavar="P", help="whose slide")
    parser.add_argument("--slide", required=True, metavar="S", help="which slide")
    parser.add_argument("--instrument", metavar="I", help="which of the player's instruments")
    parser.add_argument(
        "--only-show", action="store_true", help="do not keep the answer in the logbook"
    )
    add_instruments(parser)
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Measure the slide, show the answer, and keep it where there is a logbook."""
    from drift.logbook.book import Logbook
    from drift.logbook.file import is_logbook
    from drift.logbook.rehearsals import load
    from drift.slides.calibration import measure

    slopes = measure(
        load(options.source, options.instruments),
        options.player,
        options.slide,
        instrument=options.instrument,
        instruments=options.instruments,
    )
    keep = is_logbook(options.source) and not options.only_show
    if keep:
        now = datetime.now(UTC)
        with Logbook(options.source, writer="drift calibrate") as book:
            book.keep_all([slope.record(now) for slope in slopes])
    if options.json:
        print_json({"slides": [slope.to_json() for slope in slopes], "kept": keep})
        return 0
    for slope in slopes:
        print(slope.summary())
    print(f"kept in {options.source}" if keep else "only shown, not kept")
    return 0
