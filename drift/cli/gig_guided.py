"""Ask for an evening in six questions, and write its three files."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import TypeVar

from drift.cli.options import catalogue_of
from drift.errors import InputError
from drift.gig.days import date_of
from drift.tables.problems import parts_of
from drift.tables.spelled_times import day_order

__all__ = ["ask_for_files"]

Answer = TypeVar("Answer")


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
    from drift.gig.guided import Evening, files_of, sections_in, stretches_in, temperatures_in
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
    celsius = _asked(
        "4. How warm is it then, from the first to the last? such as 12 to 8, or 54F to 46F: ",
        temperatures_in,
    )
    sections = _asked(
        "5. Who plays? such as 6 trumpets, 4 horns, 3 sousas, bells: ",
        lambda text: sections_in(text, catalogue_of(options)),
    )
    texts = files_of(Evening(tunes, plays, celsius, sections))
    files = _asked(
        "6. Which folder for the files? [tonight] ",
        lambda text: write_templates(Path(text or "tonight"), texts),
    )
    for file in files:
        print(f"wrote {file}")
    print("Write into roster.csv where slides are (position_mm) and how far they come out.\n")
    return {file.stem: file for file in files}


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
