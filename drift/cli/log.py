"""Log a rehearsal in the terminal: you type tuner readings while a thermometer records.

for example:
  drift log
  drift log band.logbook --rehearsal "2026-10-03 hall" --player Rowan --instrument "double horn"
  drift log band.logbook --rehearsal tonight --thermometer serial:/dev/ttyUSB0

Type one entry per line: F4 +6, temp 21.5, slide main 14, play, rest, undo, now, help, end. Each is
answered once it has been saved. The same command resumes an interrupted rehearsal.
Without --rehearsal it asks for what it needs, and proposes what was used last.

Good to know:
  With --microphone, held single notes are proposed as readings: k keeps the oldest, d drops it,
  k 3 keeps number 3. The side of a double horn cannot be heard: name it with --side, for all notes
  or for some (Bb,F2-F4=F), or with the entry (k Bb).
"""

from __future__ import annotations

import argparse
import io
import os
import sys
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from drift.cli.named_player import settle_player
from drift.cli.options import add_logging, add_side, catalogue_of, check_microphone
from drift.cli.progress import of_source, wiped
from drift.errors import InputError

if TYPE_CHECKING:
    from datetime import datetime

    from drift.capture.desk import Desk
    from drift.capture.hearing import Hearing
    from drift.capture.levels import Level
    from drift.capture.proposals import Proposal
    from drift.tonight.evening import NotUsed
    from sensors.reading import Clock

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    rehearsal = add_logging(parser)
    rehearsal.add_argument("--rehearsal", metavar="NAME", help="its name (left out: asked for)")
    add_side(rehearsal)


def run(options: argparse.Namespace) -> int:
    """Carry out the command."""
    from drift.capture.another_day import check_same_evening
    from drift.capture.desk import Desk
    from drift.capture.listener import Listener
    from drift.capture.thermometers import thermometers
    from drift.cli.log_guided import ask_for_book, ask_how_to_log
    from drift.instruments import known_name
    from drift.logbook.book import Logbook
    from sensors.clock_steps import ClockSteps
    from sensors.clocks import SteadyClock, SystemClock

    check_microphone(options)
    ask_for_book(options)
    ask_how_to_log(options)
    system = SystemClock()
    clock = SteadyClock(system)
    sources = thermometers(options.thermometer, clock)
    if options.instrument:
        known_name(options.instrument, catalogue_of(options))
    with ExitStack() as open_things:
        book = open_things.enter_context(
            Logbook(options.book, writer=f"drift log, process {os.getpid()}")
        )
        settle_player(options, book.players(), may_be_new=True)
        desk = Desk(
            book,
            options.rehearsal,
            a4_hz=options.a4,
            written=options.written,
            units=options.units,
            catalogue=catalogue_of(options),
        )
        began = clock.now()
        # Before the rehearsal begins: what cannot be opened leaves nothing begun.
        if sources or options.microphone is not None:
            check_same_evening(desk.rehearsal, desk.last, began)
        if options.microphone is not None:
            open_things.enter_context(_hearing(options, desk, clock))
        for source in (ClockSteps(system, clock), *sources):
            open_things.enter_context(Listener(source, book, desk.rehearsal, clock, _tell))
        desk.start(began, player=options.player, instrument=options.instrument)
        if desk.hearing is not None:
            desk.hearing.follow()
        _greet(desk, began)
        return _take_entries(desk, clock, options.plan)


def _hearing(options: argparse.Namespace, desk: Desk, clock: Clock) -> Hearing:
    """Return the microphone at the desk, which tells on standard error what it heard."""
    from drift.capture.heard import parse_sides
    from drift.capture.hearing import Hearing
    from drift.cli.options import microphone_of, notes_of
    from drift.instruments import find

    sides = {}
    if options.side:
        if not options.instrument:
            raise InputError("--side says nothing without --instrument", "name the instrument")
        instrument = find(options.instrument, catalogue_of(options))
        sides[instrument.name] = parse_sides(options.side, instrument)
    return Hearing(
        microphone_of(options),
        desk,
        clock,
        notes=notes_of(options),
        sides=sides,
        told=_tell_heard,
    )


def _tell_heard(news: Proposal | Level | str) -> None:
    """Tell what the microphone proposes, how well it hears, or why it does not."""
    from drift.capture.levels import Level
    from drift.words.listening import describe_level

    if isinstance(news, Level):
        _tell(describe_level(news))
    else:
        _tell(news if isinstance(news, str) else f"heard {news.text}")


def _typed_lines() -> Iterator[str]:
    """Yield what is typed; bytes that are no text become characters that an entry refuses."""
    if isinstance(sys.stdin, io.TextIOWrapper):
        sys.stdin.reconfigure(errors="surrogateescape")
    for line in sys.stdin:
        entry = line.strip("\ufeff\r\n")
        if entry.strip():
            yield entry


def _take_entries(desk: Desk, clock: Clock, plan: Path | None) -> int:
    """Answer each line until ``end``, the end of the input or an interrupt."""
    said: dict[str, Mapping[NotUsed, int]] = {}
    try:
        for line in _typed_lines():
            answer = desk.enter(line, clock.now())
            if answer.asks == "help":
                from drift.capture.entries import HELP

                print(HELP, flush=True)
            elif answer.asks == "heard":
                _show_heard(desk)
            elif answer.asks in ("now", "target"):
                _answer(desk, line, clock, plan, said)
            else:
                print(answer.text, flush=True)
            if answer.asks == "end":
                if sys.stdin.isatty():
                    _sum_up(desk)
                return 0
    except KeyboardInterrupt:
        pass
    _tell(f"{desk.rehearsal} has no end yet; the same command resumes it, and end closes it")
    return 0


def _show_heard(desk: Desk) -> None:
    """Print the pitch of the last minutes as a line, what was taken and refused, and the level."""
    from drift.words.listening import describe_lately
    from drift.words.pitch_line import pitch_line

    if desk.hearing is None:
        print("no microphone is listening; start with --microphone", flush=True)
        return
    trace = desk.hearing.trace
    print("\n".join([*pitch_line(trace), *describe_lately(trace, desk.hearing.began)]), flush=True)


def _greet(desk: Desk, now: datetime) -> None:
    from drift.capture.another_day import check_same_evening

    again = "resumed" if desk.resumed else "begins"
    who = " on ".join(filter(None, [desk.player, desk.instrument])) or "no player named yet"
    _tell(f"{desk.rehearsal} {again}: {who}; A4 = {desk.a4_hz:g} Hz; type help for the entries")
    try:
        check_same_evening(desk.rehearsal, desk.last, now)
    except InputError as refusal:
        _tell(f"{refusal.problem}: {refusal.remedy}")
        return
    if slides := desk.slides_as_before():
        from drift.words.entries import slides_text

        _tell(slides_text(slides, desk.units))


def _answer(
    desk: Desk, line: str, clock: Clock, plan: Path | None, said: dict[str, Mapping[NotUsed, int]]
) -> None:
    """Print where the pitch is, or what the tuner should show.

    Why readings of a player were not used is said once, and again when there are more of them.
    """
    from drift.errors import DriftError, faults_refused

    try:
        with faults_refused(), wiped():
            lines = _looked_up(desk, line, clock, plan, said)
        print("\n".join(lines), flush=True)
    except DriftError as refusal:
        print(f"{refusal.problem}; {refusal.remedy}", flush=True)


def _looked_up(
    desk: Desk, line: str, clock: Clock, plan: Path | None, said: dict[str, Mapping[NotUsed, int]]
) -> list[str]:
    """Return where the pitch is, or what the tuner should show."""
    from drift.capture.entries import Target, parse_entry
    from drift.playing_ahead import when_and_where
    from drift.reminders import progress_of
    from drift.study import Study
    from drift.words.now import in_words, target_lines
    from drift.words.tonight import progress_in_words

    shown = of_source(desk.book.path)
    study = Study.open(desk.book.path, catalogue=desk.catalogue, **shown)
    asked, now = parse_entry(line, desk.units), clock.now()
    here = (desk.rehearsal, *desk.chosen(), now)
    shown_as = desk.units, desk.semitones(here[2], here[1])
    if isinstance(asked, Target):
        at, celsius = when_and_where(asked, now.astimezone(), plan, desk.units.fahrenheit)
        targets = study.target(*here, at=at, celsius=celsius)
        return target_lines(targets, at, celsius, *shown_as)
    found = study.now(*here, desk.a4_hz)
    lines = in_words(found, *shown_as, said.get(found.player, {}))
    said[found.player] = found.pitch.not_used
    known = None if found.pitch.asks else progress_of(study, *here)
    lines[-1:-1] = [] if known is None else [progress_in_words(known)]
    return lines


def _sum_up(desk: Desk) -> None:
    """Print what was read, and what would help most next time."""
    from drift.errors import DriftError, faults_refused
    from drift.evidence import evenings_of
    from drift.study import Study
    from drift.words.after_rehearsal import summary

    with (
        suppress(DriftError),
        faults_refused(),
        wiped(),
    ):  # the rehearsal is saved; this is an extra
        shown = of_source(desk.book.path)
        study = Study.open(desk.book.path, catalogue=desk.catalogue, **shown)
        evenings = evenings_of(study.rehearsals, study.paired, desk.rehearsal)
        print("\n".join(summary(evenings)), flush=True)


def _tell(text: str) -> None:
    """Say something that is no answer to an entry."""
    with suppress(OSError):  # that nobody reads it any more must not stop the log
        print(text, file=sys.stderr, flush=True)
