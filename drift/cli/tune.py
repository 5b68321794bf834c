r"""Tune an instrument step by step: one long note or one move at a time.

for example:
  drift tune
  drift tune band.logbook --rehearsal tonight --player Rowan --instrument flute
  drift tune band.logbook --rehearsal tonight --player Rowan --instrument "double horn" \
      --at main=12,F=8,Bb=0 --class-note Bb4

Play the note that is asked for and type what the tuner showed (-7, 7 flat, 351.2Hz). Set the slide
that is named and press Enter, or type where it is now (27). Each step is saved. Look away from the
tuner while you play, and hold each note two seconds or more. What was not named is asked for.
Moves put right the pitch that the instrument has once it is warm, not the one it has now.

  played 20   you have played for 20 minutes in all this evening
  temp 21     the air is at 21 °C from now on; temp 70F
  skip        leave this step out: the next note is asked for, or the slide stays where it is
  stuck       this slide does not move
  undo        undoes the last answer; the logbook holds both
  help        show this again
  end         stop; the same command goes on where you stopped
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Iterator
from contextlib import ExitStack, suppress
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from drift.cli.named_player import settle_player
from drift.cli.options import add_instruments, amount, by_slide, catalogue_of, units
from drift.cli.progress import of_source
from drift.errors import DriftError
from drift.quantities import HERTZ, MINUTES

if TYPE_CHECKING:
    from drift.logbook.book import Logbook
    from drift.slides.tuning_begun import Begun
    from drift.slides.tuning_log import Seat
    from drift.slides.tuning_sitting import Sitting
    from sensors.reading import Clock

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument(
        "book", metavar="LOGBOOK", type=Path, nargs="?", help="the logbook (default: asked for)"
    )
    parser.add_argument("--rehearsal", metavar="NAME", help="its name (default: asked for)")
    parser.add_argument("--player", metavar="P", help="who tunes (default: asked for)")
    parser.add_argument("--instrument", metavar="I", help="what is tuned (default: asked for)")
    parser.add_argument(
        "--at",
        metavar="SLIDE=MM,...",
        type=by_slide,
        default={},
        help="where slides are now, such as main=12,F=8 (default: as logged tonight, else asked)",
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
    parser.add_argument(
        "--thermometer",
        metavar="ADDRESS",
        action="append",
        default=[],
        help="address, e.g. serial:/dev/ttyUSB0 or simulated:; repeat for more than one",
    )
    parser.add_argument("--class-note", metavar="NOTE", help="sounding note the class tunes to")
    parser.add_argument(
        "--short", action="store_true", help="notes are not held long: believe a reading less"
    )
    parser.add_argument("--no-valves", action="store_true", help="leave the valve slides alone")
    add_instruments(parser)


def run(options: argparse.Namespace) -> int:
    """Carry out the command."""
    from drift.capture.another_day import check_same_evening, last_of_evening
    from drift.capture.listener import Listener
    from drift.capture.thermometers import thermometers
    from drift.cli.log_guided import ask_for_book, ask_who_tunes
    from drift.logbook.book import Logbook
    from drift.slides.tuning_begun import sit_down
    from drift.words.tuning_taken import introduction, resumed_in_words
    from sensors.clocks import SteadyClock, SystemClock

    ask_for_book(options)
    ask_who_tunes(options)
    catalogue_of(options).find(options.instrument)  # refused before a logbook is made
    clock = SteadyClock(SystemClock())
    sources = thermometers(options.thermometer, clock)
    with ExitStack() as open_things:
        book = open_things.enter_context(
            Logbook(options.book, writer=f"drift tune, process {os.getpid()}")
        )
        settle_player(options, book.players(), may_be_new=True)
        last = last_of_evening(book, options.rehearsal)
        check_same_evening(options.rehearsal, last, clock.now())
        begun = _begun(options, book, clock.now())
        listeners = [
            open_things.enter_context(Listener(one, book, options.rehearsal, clock, _tell))
            for one in sources
        ]
        sitting = sit_down(
            book,
            begun,
            _seat(options, book, clock.now()),
            clock.now(),
            listening=lambda: any(one.failure is None for one in listeners),
        )
        seat = sitting.seat
        first = introduction(begun.tuning, seat.a4_hz), resumed_in_words(begun, seat.units)
        print("".join(f"{line}\n" for line in first if line), end="", flush=True)
        return _step_by_step(sitting, clock)


def _begun(options: argparse.Namespace, book: Logbook, now: datetime) -> Begun:
    """Return the tuning at its beginning, from what the logbook knows of the player."""
    from drift.capture.desk import Desk
    from drift.logbook.rehearsals import of_logbook
    from drift.slides.tuning_begun import begin
    from drift.slides.tuning_log import LONG_SD_CENTS, SHORT_SD_CENTS
    from drift.study import Study

    shown = of_source(options.book)
    read = of_logbook(book, shown.pop("reading"))
    study = Study.open(read, catalogue=catalogue_of(options), **shown)
    return begin(
        book,
        study.rehearsals,
        study.before(options.rehearsal),
        options.rehearsal,
        options.player,
        study.catalogue.find(options.instrument),
        now,
        at=options.at,
        minutes_played=options.played,
        a4_hz=Desk(book, options.rehearsal, a4_hz=options.a4).a4_hz,
        travel_mm=options.travel,
        stuck=options.stuck,
        reading_sd_cents=SHORT_SD_CENTS if options.short else LONG_SD_CENTS,
        class_note=options.class_note,
        valves=not options.no_valves,
    )


def _seat(options: argparse.Namespace, book: Logbook, now: datetime) -> Seat:
    """Begin or resume the rehearsal, and return who tunes where.

    A4 and units are those of the rehearsal, unless they are given; whoever logs on in it plays
    what was tuned.
    """
    from drift.capture.desk import Desk
    from drift.slides.tuning_log import Seat

    given = {"a4_hz": options.a4, "units": options.units, "written": options.written}
    desk = Desk(book, options.rehearsal, **given, catalogue=catalogue_of(options))
    player = options.player
    desk.start(now, player=player, instrument=options.instrument)
    units, written = desk.units_of(player), desk.written_by(player)
    return Seat(options.rehearsal, player, desk.a4_hz, units, written)


def _step_by_step(sitting: Sitting, clock: Clock) -> int:
    """Ask, take the answer, log it, until the tuning is done or ended."""
    from drift.words.tuning_taken import STOPPED

    lines = _typed_lines()
    try:
        asked_back = False
        while not sitting.over:
            if not asked_back:
                _ask(sitting)
            line = next(lines, "end")
            if line.casefold() == "end":
                print(STOPPED, flush=True)
                return 0
            asked_back = _take(sitting, line, clock.now())
    except KeyboardInterrupt:
        print(STOPPED, flush=True)
        return 0
    _finish(sitting, clock.now())
    return 0


def _ask(sitting: Sitting) -> None:
    """Print what is to be done now."""
    from drift.tonight.tuning_steps import Step
    from drift.words.tuning import next_step
    from drift.words.tuning_taken import AIR, WARMED

    seat = sitting.seat
    if sitting.asks_air:
        print(AIR, flush=True)
        return
    how = {"written": seat.written, "comes_back": sitting.comes_back}
    print(next_step(sitting.tuning, sitting.before, seat.units, **how), flush=True)
    if sitting.tuning.now.step is Step.WARM_UP:
        print(WARMED, flush=True)


def _take(sitting: Sitting, line: str, now: datetime) -> bool:
    """Take one answer, print what it came to or why it is none; return whether it is asked back."""
    from drift.words.tuning_taken import taken_in_words

    if line.casefold() in ("help", "?"):
        print((__doc__ or "").partition("\n\n")[2].partition("\n\n")[2], flush=True)
        return False
    try:
        taken = sitting.enter(line, now)
    except DriftError as refusal:
        print(f"not saved: {refusal.problem}; {refusal.remedy}", flush=True)
        return False
    seat, instrument = sitting.seat, sitting.tuning.instrument
    semitones = instrument.written_semitones if seat.written else 0
    if said := taken_in_words(taken, seat.units, semitones=semitones):
        print(said, flush=True)
    return taken.doubted is not None


def _typed_lines() -> Iterator[str]:
    for line in sys.stdin:
        yield line.strip("\ufeff\r\n ")


def _finish(sitting: Sitting, now: datetime) -> None:
    """Log the tuned state, and print the marks and what valves leave."""
    from drift.logbook.rehearsals import of_logbook
    from drift.slides.pooled_tunings import pooled_slopes
    from drift.words.tuning import closing, pooled_in_words

    state, seat, tuning = sitting.close(now), sitting.seat, sitting.tuning
    lines = closing(tuning, sitting.before, state, seat.units, written=seat.written)
    slopes = pooled_slopes(of_logbook(sitting.book), seat.player, tuning.instrument)
    print(
        "\n".join([*lines, *pooled_in_words(slopes, seat.units, tuning.instrument.name)]),
        flush=True,
    )


def _tell(text: str) -> None:
    """Say something that is no answer: what a thermometer has to say."""
    with suppress(OSError):  # that nobody reads it any more must not stop the tuning
        print(text, file=sys.stderr, flush=True)
