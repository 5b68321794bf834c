r"""Tune an instrument step by step: one long note or one move at a time.

for example:
  drift tune band.logbook --rehearsal tonight --player Rowan --instrument flute
  drift tune band.logbook --rehearsal tonight --player Rowan --instrument "double horn" \
      --at main=12,F=8,Bb=0 --class-note Bb4

Play the note that is asked for and type what the tuner showed (-7, 7 flat, 351.2Hz). Set the slide
that is named and press Enter, or type where it is now (27). Each step is saved. Look away from the
tuner while you play, and hold each note two seconds or more.

  played 8    you have played on for 8 minutes
  skip        leave this step out
  stuck       this slide does not move
  help        show this again
  end         stop
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from drift.cli.options import add_instruments, amount, by_slide, catalogue_of, units
from drift.errors import DriftError
from drift.quantities import HERTZ, MINUTES

if TYPE_CHECKING:
    from drift.logbook.book import Logbook
    from drift.slides.tuning_log import Seat
    from drift.tonight.tuning_steps import Tuning

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument("book", metavar="LOGBOOK", type=Path, help="the logbook")
    parser.add_argument("--rehearsal", metavar="NAME", required=True, help="its name")
    parser.add_argument("--player", metavar="P", required=True, help="who tunes")
    parser.add_argument("--instrument", metavar="I", required=True, help="what is tuned")
    parser.add_argument(
        "--at",
        metavar="SLIDE=MM,...",
        type=by_slide,
        default={},
        help="where slides are now, such as main=12,F=8 (default: as last logged, else asked)",
    )
    parser.add_argument(
        "--travel",
        metavar="SLIDE=MM,...",
        type=by_slide,
        default={},
        help="how far each slide can be pulled",
    )
    parser.add_argument(
        "--stuck",
        metavar="SLIDE",
        action="append",
        default=[],
        help="a slide that does not move; repeat for more than one",
    )
    parser.add_argument(
        "--played",
        metavar="MINUTES",
        type=amount(MINUTES),
        help="minutes of playing so far (default: from the logbook)",
    )
    parser.add_argument(
        "--a4",
        metavar="HZ",
        type=amount(HERTZ),
        help="pitch of A4 (default: as last in this rehearsal, else 440)",
    )
    parser.add_argument(
        "--units",
        metavar="C|F,mm|inch",
        type=units,
        help="what is typed and shown (default: as chosen last, else C,mm)",
    )
    parser.add_argument(
        "--written",
        action="store_true",
        default=None,
        help="name notes as the player reads them (default: as in this rehearsal's log)",
    )
    parser.add_argument("--class-note", metavar="NOTE", help="sounding note the class tunes to")
    parser.add_argument(
        "--short", action="store_true", help="notes are not held long: believe a reading less"
    )
    parser.add_argument("--no-valves", action="store_true", help="leave the valve slides alone")
    add_instruments(parser)


def run(options: argparse.Namespace) -> int:
    """Carry out the command."""
    from drift.logbook.book import Logbook
    from drift.slides.tuning_log import given_positions

    catalogue_of(options).find(options.instrument)  # refused before a logbook is made
    with Logbook(options.book, writer=f"drift tune, process {os.getpid()}") as book:
        tuning = _begun(options, book)
        book.start(options.rehearsal, datetime.now(UTC))
        seat = _seat(options, book)
        book.keep_all(given_positions(tuning, options.at, seat, datetime.now(UTC)))
        return _step_by_step(options, book, tuning, seat)


def _begun(options: argparse.Namespace, book: Logbook) -> Tuning:
    """Return the tuning at its beginning, from what the logbook knows of the player."""
    from drift.logbook.rehearsals import of_logbook
    from drift.slides.players_tuning import begin_players_tuning
    from drift.slides.tuning_log import LONG_SD_CENTS, SHORT_SD_CENTS
    from drift.study import Study

    study = Study.open(of_logbook(book), catalogue=catalogue_of(options))
    return begin_players_tuning(
        study.rehearsals,
        study.before(options.rehearsal),
        options.rehearsal,
        options.player,
        study.catalogue.find(options.instrument),
        datetime.now(UTC),
        at=options.at,
        minutes_played=options.played,
        travel_mm=options.travel,
        stuck=options.stuck,
        reading_sd_cents=SHORT_SD_CENTS if options.short else LONG_SD_CENTS,
        class_note=options.class_note,
        valves=not options.no_valves,
    )


def _seat(options: argparse.Namespace, book: Logbook) -> Seat:
    """Return who tunes where; A4 and units are those of the rehearsal, unless they are given."""
    from drift.capture.desk import Desk
    from drift.slides.tuning_log import Seat

    given = {"a4_hz": options.a4, "units": options.units, "written": options.written}
    desk = Desk(book, options.rehearsal, **given)
    player = book.player_called(options.player)
    if any(value is not None for value in given.values()):
        desk.start(datetime.now(UTC), player=player)
    units, written = desk.units_of(player), desk.written_by(player)
    return Seat(options.rehearsal, player, desk.a4_hz, units, written)


def _step_by_step(options: argparse.Namespace, book: Logbook, tuning: Tuning, seat: Seat) -> int:
    """Ask, take the answer, log it, until the tuning is done or ended."""
    from drift.slides.tuning_log import answered
    from drift.tonight.tuning_steps import Step
    from drift.words.tuning import next_step

    before = None
    lines = _typed_lines()
    try:
        while tuning.now.step is not Step.DONE:
            print(next_step(tuning, before, seat.units, written=seat.written), flush=True)
            if tuning.now.step is Step.WARM_UP:
                print("Then press Enter; or type how long you have played (played 8), or skip.")
            line = next(lines, "end")
            if line == "end":
                print("Stopped: what was read and set so far is saved.", flush=True)
                return 0
            if line in ("help", "?"):
                print((__doc__ or "").partition("\n\n")[2].partition("\n\n")[2], flush=True)
                continue
            try:
                events = book.rows("events", rehearsal=seat.rehearsal)
                after, records = answered(tuning, line, seat, datetime.now(UTC), events)
                book.keep_all(records)
            except DriftError as refusal:
                print(f"not saved: {refusal.problem}; {refusal.remedy}", flush=True)
                continue
            before, tuning = tuning, after
    except KeyboardInterrupt:
        return 0
    _finish(options, book, tuning, before, seat)
    return 0


def _typed_lines() -> Iterator[str]:
    for line in sys.stdin:
        yield line.strip("\ufeff\r\n ").casefold()


def _finish(
    options: argparse.Namespace, book: Logbook, tuning: Tuning, before: Tuning | None, seat: Seat
) -> None:
    """Log the tuned state, and print the marks and what valves leave."""
    from drift.logbook.rehearsals import of_logbook
    from drift.slides.pooled_tunings import pooled_slopes
    from drift.slides.tuning_log import tuned_events
    from drift.tonight.tuned import tuned_of
    from drift.words.tuning import closing, pooled_in_words

    state = tuned_of(tuning, _celsius(options, book))
    book.keep_all(tuned_events(tuning, state, seat, datetime.now(UTC)))
    lines = closing(tuning, before, state, seat.units, written=seat.written)
    print("\n".join(lines), flush=True)
    slopes = pooled_slopes(of_logbook(book), seat.player, tuning.instrument)
    for line in pooled_in_words(slopes, seat.units):
        print(line, flush=True)


def _celsius(options: argparse.Namespace, book: Logbook) -> float | None:
    """Return the last temperature of this rehearsal, if there is one."""
    rows = list(book.rows("temperatures", rehearsal=options.rehearsal))
    return float(rows[-1]["celsius"]) if rows else None
