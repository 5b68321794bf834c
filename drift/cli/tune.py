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

from drift.cli.options import add_instruments, amount, by_slide, catalogue_of
from drift.errors import DriftError, InputError
from drift.quantities import HERTZ, MINUTES

if TYPE_CHECKING:
    from drift.logbook.book import Logbook
    from drift.logbook.records import Record
    from drift.tonight.tuning_steps import Tuning

__all__ = ["add_arguments", "run"]

LONG_SD_CENTS, SHORT_SD_CENTS = 2.0, 3.0


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
    parser.add_argument("--a4", metavar="HZ", type=amount(HERTZ), default=440.0, help="pitch of A4")
    parser.add_argument("--class-note", metavar="NOTE", help="sounding note the class tunes to")
    parser.add_argument(
        "--short", action="store_true", help="notes are not held long: believe a reading less"
    )
    parser.add_argument("--no-valves", action="store_true", help="leave the valve slides alone")
    add_instruments(parser)


def run(options: argparse.Namespace) -> int:
    """Carry out the command."""
    from drift.logbook.book import Logbook

    catalogue_of(options).find(options.instrument)  # refused before a logbook is made
    with Logbook(options.book, writer=f"drift tune, process {os.getpid()}") as book:
        tuning = _begun(options, book)
        book.start(options.rehearsal, datetime.now(UTC))
        options.player = book.player_called(options.player)
        return _step_by_step(options, book, tuning)


def _begun(options: argparse.Namespace, book: Logbook) -> Tuning:
    """Return the tuning at its beginning, from what the logbook knows of the player."""
    from drift.logbook.rehearsals import of_logbook
    from drift.slides.players_tuning import begin_players_tuning
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


def _step_by_step(options: argparse.Namespace, book: Logbook, tuning: Tuning) -> int:
    """Ask, take the answer, log it, until the tuning is done or ended."""
    from drift.tonight.tuning_steps import Step
    from drift.words.tuning import next_step

    before = None
    lines = _typed_lines()
    try:
        while tuning.now.step is not Step.DONE:
            print(next_step(tuning, before), flush=True)
            line = next(lines, "end")
            if line == "end":
                print("Stopped: what was read and set so far is saved.", flush=True)
                return 0
            try:
                after, records = _answered(tuning, line, options)
                book.keep_all(records)
            except DriftError as refusal:
                print(f"not saved: {refusal.problem}; {refusal.remedy}", flush=True)
                continue
            before, tuning = tuning, after
    except KeyboardInterrupt:
        return 0
    _finish(options, book, tuning, before)
    return 0


def _typed_lines() -> Iterator[str]:
    for line in sys.stdin:
        yield line.strip("\ufeff\r\n ").casefold()


def _answered(
    tuning: Tuning, line: str, options: argparse.Namespace
) -> tuple[Tuning, list[Record]]:
    """Return the tuning after an answer, and what of it goes into the logbook."""
    from drift.tonight.tuning import played, set_to, skip
    from drift.tonight.tuning_steps import Step

    now = tuning.now
    if line in ("skip", "stuck"):
        return skip(tuning), []
    if now.step is Step.WARM_UP:
        return played(tuning, _minutes(line, now.minutes)), []
    if now.step in (Step.MOVE, Step.SAY_POSITION):
        to = _position(line, now.to_mm)
        return set_to(tuning, now.slide, to), [_slide(tuning, to, options)]
    if now.step is Step.VALVE_MOVE:
        return set_to(tuning, now.valve, 0.0), []
    return _read(tuning, line, options)


def _read(tuning: Tuning, line: str, options: argparse.Namespace) -> tuple[Tuning, list[Record]]:
    from drift.capture.typed_reading import parse_reading
    from drift.logbook.records import Reading
    from drift.tonight.tuning import heard

    now = tuning.now
    if not line:
        raise InputError("nothing was typed", f"type what the tuner showed for {now.note}: -7")
    cents = parse_reading(f"{now.note} {line}").cents_at(options.a4)
    side = now.side
    record = Reading(
        datetime.now(UTC), options.rehearsal, options.player, tuning.instrument.name, side,
        now.note, cents, options.a4,
    )  # fmt: skip
    # A valve's note is no open one: it would count against the open notes of the fit.
    return heard(tuning, cents), [] if now.valve else [record]


def _slide(tuning: Tuning, position_mm: float, options: argparse.Namespace) -> Record:
    from drift.logbook.records import Event

    return Event(
        datetime.now(UTC), options.rehearsal, options.player, "slide", tuning.now.slide,
        position_mm, instrument=tuning.instrument.name,
    )  # fmt: skip


def _minutes(line: str, asked: float) -> float:
    """Return how long was played on: as asked on Enter, else as typed."""
    from drift.quantities import parse_quantity

    typed = line.removeprefix("played").strip()
    return parse_quantity(typed, MINUTES) if typed else asked


def _position(line: str, asked: float | None) -> float:
    """Return where a slide is: as asked on Enter, else as typed."""
    from drift.quantities import LENGTH, parse_quantity

    if line:
        return parse_quantity(line, LENGTH)
    if asked is None:
        raise InputError("nothing was typed", "type millimetres from fully in, such as 12")
    return asked


def _finish(
    options: argparse.Namespace, book: Logbook, tuning: Tuning, before: Tuning | None
) -> None:
    """Log the tuned state, and print the marks and what valves leave."""
    from drift.logbook.records import Event
    from drift.tonight.tuned import tuned_of
    from drift.words.tuning import closing

    state = tuned_of(tuning, _celsius(options, book))
    now = datetime.now(UTC)
    slides = {
        side: next((s.name for s in tuning.instrument.slides if side in s.sides), "")
        for side in tuning.sides
    }
    tuned = [
        Event(
            now, options.rehearsal, options.player, "tuned", slide,
            state.positions_mm[slide] if slide else None,
            instrument=tuning.instrument.name, side=side, state="warm",
        )
        for side, slide in slides.items()
    ]  # fmt: skip
    book.keep_all(tuned)
    print("\n".join(closing(tuning, before, state)), flush=True)


def _celsius(options: argparse.Namespace, book: Logbook) -> float | None:
    """Return the last temperature of this rehearsal, if there is one."""
    rows = list(book.rows("temperatures", rehearsal=options.rehearsal))
    return float(rows[-1]["celsius"]) if rows else None
