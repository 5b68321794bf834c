"""Ask at the terminal for what a log or a tuning needs, proposing what was used last."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from drift.errors import DriftError, InputError
from sensors.errors import SensorError

if TYPE_CHECKING:
    from drift.capture.last_used import LastUsed
    from drift.instruments import Instrument
    from drift.quantities import Units

__all__ = ["ask_for_book", "ask_how_to_log", "ask_who_tunes"]

Answer = TypeVar("Answer")
USUAL_BOOK = "rehearsals.logbook"


def ask_for_book(options: argparse.Namespace) -> None:
    """Ask which logbook, where none was named.

    Parameters
    ----------
    options : Namespace
        The options of the command; ``book`` is set.

    Raises
    ------
    InputError
        When nobody can be asked.
    """
    if options.book is not None:
        return
    if not sys.stdin.isatty():
        raise InputError("no logbook was named", "name it, such as band.logbook")
    here = sorted(Path().glob("*.logbook"), key=lambda path: -path.stat().st_mtime)
    usual = here[0] if here else Path(USUAL_BOOK)
    options.book = _asked("Which logbook?", str(usual), lambda text: Path(text) if text else usual)


def ask_how_to_log(options: argparse.Namespace) -> None:
    """Ask for what a log needs and was not given; nothing where the rehearsal was named.

    Parameters
    ----------
    options : Namespace
        The options of ``drift log``, completed.

    Raises
    ------
    InputError
        When nobody can be asked.
    """
    if options.rehearsal:
        return
    if not sys.stdin.isatty():
        raise InputError(
            "no rehearsal was named", "add --rehearsal NAME; it is asked for in a terminal alone"
        )
    print("An empty answer takes what is in brackets.")
    last, interrupted, units = _known(options.book)
    day = f"{datetime.now().astimezone():%Y-%m-%d}"
    options.rehearsal = _text("Name of the rehearsal?", interrupted or day)
    options.player = options.player or _text("Who plays?", last.player)
    instrument = _instrument(options, last)
    if not options.thermometer:
        options.thermometer = _thermometers(last.thermometer)
    if options.a4 is None:
        options.a4 = _a4(last.a4_hz or 440.0)
    if instrument is not None and instrument.written_semitones and options.written is None:
        options.written = _asked(
            "Notes as the player reads them, or as they sound?",
            "read" if last.written else "sound",
            lambda text: _either(text, last.written),
        )
    options.units = _units(units)


def ask_who_tunes(options: argparse.Namespace) -> None:
    """Ask for what a tuning needs and was not given.

    Parameters
    ----------
    options : Namespace
        The options of ``drift tune``; ``rehearsal``, ``player`` and ``instrument`` are completed.

    Raises
    ------
    InputError
        When nobody can be asked.
    """
    needed = [name for name in ("rehearsal", "player", "instrument") if not getattr(options, name)]
    if not needed:
        return
    if not sys.stdin.isatty():
        missing = ", ".join(f"--{name}" for name in needed)
        raise InputError("it is not named who tunes what, and when", f"add {missing}")
    print("An empty answer takes what is in brackets.")
    last, interrupted, _ = _known(options.book)
    day = f"{datetime.now().astimezone():%Y-%m-%d}"
    if not options.rehearsal:
        options.rehearsal = _text("Name of the rehearsal?", interrupted or day)
    if not options.player:
        options.player = _asked("Who plays?", last.player, lambda text: _some(text or last.player))
    while not options.instrument:
        _instrument(options, last, "")


def _some(text: str) -> str:
    if not text:
        raise InputError("nobody is named", "type a name; any will do")
    return text


def _known(path: Path) -> tuple[LastUsed, str, Units | None]:
    """Return what was used last, this evening's rehearsal if it has no end, and chosen units."""
    from drift.capture.another_day import last_of_evening, of_another_day
    from drift.capture.last_used import LastUsed, last_used, units_last_used
    from drift.logbook.book import Logbook

    if not path.exists():
        return LastUsed(), "", None
    with Logbook(path) as book:
        names = book.rehearsals()
        latest = names[-1] if names and names[-1] in book.interrupted() else ""
        last = last_of_evening(book, latest) or book.last_time(latest)
        if of_another_day(last, datetime.now().astimezone()):
            latest = ""
        return last_used(book), latest, units_last_used(book)


def _instrument(
    options: argparse.Namespace, last: LastUsed, otherwise: str = "name it later"
) -> Instrument | None:
    from drift.cli.options import catalogue_of

    catalogue = catalogue_of(options)
    if not options.instrument:
        usual = last.instrument if options.player == last.player else ""
        options.instrument = _asked(
            "Which instrument?",
            usual or otherwise,
            lambda text: catalogue.find(text).name if text else usual,
        )
    return catalogue.find(options.instrument) if options.instrument else None


def _thermometers(last: str) -> list[str]:
    """Return the address of the thermometer that is chosen; none where temperatures are typed."""
    from sensors.ports import serial_ports

    ports = serial_ports()
    for number, port in enumerate(ports, 1):
        print(f"  {number}  {port.device}  {port.description}")
    if not ports:
        print("  no thermometer is connected by a serial port")
    known = [port.device for port in ports]
    usual = str(known.index(last) + 1) if last in known else "typed"

    def read(text: str) -> list[str]:
        from sensors.addresses import open_source
        from sensors.clocks import SystemClock

        text = text or usual
        if text == "typed":
            return []
        if text.isdecimal() and 0 < int(text) <= len(known):
            return [f"serial:{known[int(text) - 1]}"]
        open_source(text, clock=SystemClock())  # refuses what is no address; opens nothing yet
        return [text]

    return _asked("Thermometer: a number or an address, or typed by hand?", usual, read)


def _a4(usual: float) -> float:
    from drift.quantities import HERTZ, parse_quantity

    return _asked(
        "A4 of the tuner in Hz?",
        f"{usual:g}",
        lambda text: parse_quantity(text, HERTZ, lowest=380.0, highest=500.0) if text else usual,
    )


def _units(before: Units | None) -> Units | None:
    """Return the units, asked for once in a logbook."""
    from drift.quantities import Units, parse_units

    if before is not None:
        return None
    return _asked("Units: C mm, or F inch?", "C mm", lambda text: _chosen(parse_units, text, Units))


def _chosen(parse: Callable[[str], Units | None], text: str, usual: type[Units]) -> Units:
    found = parse(text) if text else usual()
    if found is None:
        raise InputError(f"{text!r} names no units", "type C mm, F mm, C inch or F inch")
    return found


def _either(text: str, usual: bool) -> bool:
    word = text.casefold()
    if word and word not in ("read", "written", "sound", "sounding"):
        raise InputError(f"{text!r} is neither", "type read or sound")
    return word in ("read", "written") if word else usual


def _text(question: str, usual: str) -> str:
    return _asked(question, usual, lambda text: text or usual)


def _asked(question: str, usual: str, read: Callable[[str], Answer]) -> Answer:
    """Return the first answer that can be taken; what is wrong with others is printed."""
    while True:
        try:
            text = input(f"{question} {f'[{usual}] ' if usual else ''}").strip()
        except EOFError:
            raise InputError(
                "the questions were not answered", "give options, or see the help"
            ) from None
        try:
            return read(text)
        except (DriftError, SensorError) as refusal:
            print(f"   {refusal.problem}; {refusal.remedy}")
