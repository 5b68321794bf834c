"""Ask for an evening in six questions, and write its three files."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias, TypeVar

from drift.cli.options import catalogue_of
from drift.errors import InputError
from drift.gig.days import date_of
from drift.tables.problems import TablesRefused, parts_of
from drift.tables.spelled_times import day_order

if TYPE_CHECKING:
    from drift.instruments import Instrument

__all__ = ["ask_for_files"]

Answer = TypeVar("Answer")
#: What the band calls a section, what it plays, how many.
Playing: TypeAlias = "tuple[str, Instrument, int]"


def ask_for_files(options: argparse.Namespace) -> dict[str, Path]:
    """Ask six questions at the terminal and write the files that they make.

    Parameters
    ----------
    options : Namespace
        The options of the command; ``instruments`` names a catalogue of the user's own.

    Returns
    -------
    dict of str to Path
        ``forecast``, ``schedule`` and ``roster``.
    """
    from drift.gig.guided import Evening, files_of, stretches_in, temperatures_in
    from drift.gig.templates import write_templates

    print("Six questions; an empty answer takes what stands in brackets.")
    today = datetime.now().astimezone().replace(hour=0, minute=0, second=0, microsecond=0)
    day = _asked("1. Which day? [today] ", lambda text: _day(text, today))
    plays = _asked(
        "2. When does the band play? such as 18:40-19:10, 8:00-8:30 PM: ",
        lambda text: stretches_in(text, day),
    )
    before = plays[0][0] - timedelta(minutes=10)
    tunes = _asked(
        f"3. When does it tune? [{before:%H:%M}-{plays[0][0]:%H:%M}] ",
        lambda text: stretches_in(text, day) if text else [(before, plays[0][0])],
    )
    such = "54 to 46, or 12C to 8C" if options.fahrenheit else "12 to 8, or 54F to 46F"
    celsius = _asked(
        f"4. How warm is it then, from the first to the last? such as {such}: ",
        lambda text: temperatures_in(text, fahrenheit=options.fahrenheit),
    )
    sections = _players(options)
    texts = files_of(Evening(tunes, plays, celsius, sections))
    offered = _free(f"gig-{day:%Y-%m-%d}")
    files = _asked(
        f"6. Which folder for the files? [{offered}] ",
        lambda text: write_templates(Path(text or offered), texts),
    )
    for file in files:
        print(f"wrote {file}")
    print("Write into roster.csv where slides are (position_mm) and how far they come out. Then")
    print(f"  drift gig --folder {files[0].parent} --out {files[0].parent}")
    print("writes the sheets; this is the plan as it is now.\n")
    return {file.stem: file for file in files}


def _players(options: argparse.Namespace) -> list[Playing]:
    """Return who plays; only what could not be taken is asked for again."""
    from drift.gig.guided import sections_in

    kept: list[Playing] = []

    def take(text: str) -> list[Playing]:
        found, problems = sections_in(text, catalogue_of(options), kept)
        kept.extend(found)
        if problems:
            names = ", ".join(f"{count} {name}" for name, _, count in kept)
            if names:
                print(f"   taken: {names}; write the others again")
            raise TablesRefused(problems)
        return kept

    return _asked("5. Who plays? such as 6 trumpets, 4 horns, 3 sousas, bells: ", take)


def _free(name: str) -> str:
    """Return a name in the present folder that nothing has yet."""
    number = 1
    while Path(name if number == 1 else f"{name}-{number}").exists():
        number += 1
    return name if number == 1 else f"{name}-{number}"


def _asked(question: str, read: Callable[[str], Answer]) -> Answer:
    """Return the first answer that can be taken; what is wrong with others is printed."""
    while True:
        try:
            text = input(question).strip()
        except EOFError:
            raise InputError(
                "the questions were not answered", "give files, or see drift gig --help"
            ) from None
        try:
            return read(text)
        except InputError as refusal:
            for found in parts_of(refusal):
                print(f"   {found.told}: {found.remedy}")


def _day(text: str, today: datetime) -> datetime:
    if not text:
        return today
    order = None if "/" not in text else day_order([text])
    day = date_of(text, order)
    if day is None:
        raise InputError(f"{text!r} is not one day", "write it such as 2026-10-09")
    return datetime(day.year, day.month, day.day).astimezone()
