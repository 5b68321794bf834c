"""Measure what a millimetre of a slide does, from readings at two or more positions.

for example:
  drift calibrate season.logbook --player Ada --slide main
  drift calibrate season.logbook --player Ada --slide main --undo

Play one note without looking at the tuner, log its reading, move the slide, log the position and
the reading again, and go back to the first position at the end:

  slide main 10
  F4 +3 Bb
  slide main 25
  F4 -14 Bb
  slide main 10
  F4 +4 Bb

Good to know:
  The result is saved in the logbook and used from then on (with a folder it is only shown). A side
  is not saved if pulling would sharpen, or if its interval includes zero. --undo undoes the latest
  one; the logbook then uses the one before it, or the calculated slide.
  A sitting that comes back to a position counts alone; tunings, in which the instrument warms up
  as the slide moves, count only without such a sitting. --rehearsal takes only those it names.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from drift.cli.named_player import settle_player, settle_player_of
from drift.cli.options import (
    add_instruments,
    add_json,
    add_source,
    add_tables,
    catalogue_of,
    print_json,
)
from drift.cli.progress import shown_progress
from drift.cli.read_source import read_source
from drift.cli.table_check import mention
from drift.errors import InputError

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    add_source(parser)
    parser.add_argument("--player", required=True, metavar="P", help="whose slide")
    parser.add_argument("--slide", required=True, metavar="S", help="which slide")
    parser.add_argument("--instrument", metavar="I", help="which of the player's instruments")
    parser.add_argument(
        "--rehearsal",
        metavar="NAME",
        action="append",
        help="take the readings of this rehearsal only (repeat for more than one)",
    )
    instead = parser.add_mutually_exclusive_group()
    instead.add_argument(
        "--only-show", action="store_true", help="do not save the result in the logbook"
    )
    instead.add_argument(
        "--undo", action="store_true", help="undo the latest saved result for this slide"
    )
    instead.add_argument("--forget", dest="undo", action="store_true", help=argparse.SUPPRESS)
    add_instruments(parser)
    add_tables(parser)
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Measure the slide and save the result where there is a logbook, or undo one."""
    return _undo(options) if options.undo else _measure(options)


def _measure(options: argparse.Namespace) -> int:
    from drift.logbook.book import Logbook
    from drift.logbook.file import is_logbook
    from drift.study import Study
    from drift.words.calibration import saved_in_words

    catalogue = catalogue_of(options)
    study = Study.open(
        read_source(options, catalogue),
        catalogue=catalogue,
        progress=shown_progress(f"{options.source}: fitting", "steps"),
    )
    mention(study.rehearsals.understood)
    settle_player_of(options, study.rehearsals)
    slopes = study.slide_slopes(
        options.player, options.slide, options.instrument, options.rehearsal
    )
    keep = is_logbook(options.source) and not options.only_show
    kept = [slope for slope in slopes if keep and slope.refusal is None]
    if keep:
        now = datetime.now(UTC)
        records = [slope.record(now) for slope in kept or slopes]  # where none is good, it says why
        with Logbook(options.source, writer="drift calibrate") as book:
            book.keep_all(records)
    if options.json:
        answers = [slope.to_json() | {"saved": slope in kept} for slope in slopes]
        print_json({"slides": answers, "saved": keep})
        return 0
    for slope in slopes:
        print(slope.summary())
    print(saved_in_words(str(options.source), slopes, kept) if keep else "only shown, not saved")
    return 0


def _undo(options: argparse.Namespace) -> int:
    """Undo what the latest measurement of the slide saved, on each side that it read."""
    from drift.instruments import canonical_name
    from drift.logbook.book import Logbook
    from drift.logbook.file import is_logbook

    if not is_logbook(options.source):
        raise InputError(f"{options.source} is not a logbook", "a folder has nothing to undo")
    slide = canonical_name(options.slide).casefold()
    instrument = options.instrument and canonical_name(options.instrument)
    with Logbook(options.source, writer="drift calibrate") as book:
        settle_player(options, book.players())
        kept = [
            row
            for row in book.rows("calibrations")
            if (row["player"], row["slide"].casefold()) == (options.player, slide)
            and instrument in (None, row["instrument"])
        ]
        if not kept:
            raise InputError(
                f"no measured {options.slide} slide of {options.player} is saved here",
                "check the names; the logbook is unchanged",
            )
        last = max(kept, key=lambda row: row["entry_id"])
        latest = [row for row in kept if _together(row, last)]
        book.take_back([row["entry_id"] for row in latest], datetime.now(UTC))
    before = [row for row in kept if row not in latest and row["instrument"] == last["instrument"]]
    if options.json:
        print_json({"undone": _for_json(latest), "still_saved": _for_json(before)})
        return 0
    for row in latest:
        print(f"undone: {_in_words(row)}")
    for side in dict.fromkeys(row["side"] for row in latest):
        earlier = [row for row in before if row["side"] == side]
        print(f"from now on: {_in_words(earlier[-1]) if earlier else 'the calculated slide'}")
    return 0


def _together(row: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    """Return whether two rows were saved by the same measurement."""
    return all(row[name] == other[name] for name in ("time", "instrument"))


def _for_json(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    from drift.times import shown_time

    return [row | {"time": shown_time(row["time"])} for row in rows]


def _in_words(row: Mapping[str, Any]) -> str:
    from drift.notes import shown

    side = f" on the {shown(row['side'])} side" if row["side"] else ""
    return (
        f"{row['player']}, {shown(row['instrument'])}: the {shown(row['slide'])} slide{side} does "
        f"{row['cents_per_mm']:+.2f} cents/mm (measured {row['time']:%Y-%m-%d %H:%M} UTC)"
    )
