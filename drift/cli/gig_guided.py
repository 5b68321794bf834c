"""Ask for an evening in six questions, and write its three files."""

from __future__ import annotations

import argparse
import shlex
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from drift.cli.options import catalogue_of
from drift.errors import InputError
from drift.tables.problems import parts_of
from drift.words.gig_phrases import NOT_PLANNED, day_of

if TYPE_CHECKING:
    from drift.gig.answers import Playing
    from drift.gig.guided import Stretch

__all__ = ["ask_for_files"]

Answer = TypeVar("Answer")


def ask_for_files(options: argparse.Namespace, defaults: Mapping[str, object]) -> dict[str, Path]:
    """Ask six questions at the terminal and write the files that they make.

    Parameters
    ----------
    options : Namespace
        The options of the command; ``instruments`` names a catalogue of the user's own.
    defaults : mapping of str to object
        What each option is where it is not given.

    Returns
    -------
    dict of str to Path
        ``forecast``, ``schedule`` and ``roster``.
    """
    from drift.gig.answers import beside_times, day_in, stretches_in, temperatures_in
    from drift.gig.days import has_half_day
    from drift.gig.guided import Evening, check_order, files_of
    from drift.gig.templates import write_templates

    def played(text: str) -> dict[Stretch, str]:
        if has_half_day(text):
            options.clock = options.clock or "12"
        found = stretches_in(text, day)
        check_order([], found)
        return dict(zip(found, beside_times(text), strict=True))

    def tuned(text: str) -> dict[Stretch, str]:
        if not text:
            return {(before, first): ""}
        found = stretches_in(text, day, list(plays)[-1][1])
        check_order(found, list(plays))
        return dict(zip(found, beside_times(text), strict=True))

    print("Six questions; an empty answer takes what stands in brackets.")
    today = datetime.now().astimezone().replace(hour=0, minute=0, second=0, microsecond=0)
    day = _asked("1. Which day? [today] ", lambda text: _local(day_in(text, today)))
    print(f"   {day_of(day)}")
    plays = _asked("2. When does the band play? such as 18:40-19:10, 8:00-8:30 PM stands: ", played)
    first = next(iter(plays))[0]
    before = first - timedelta(minutes=10)
    tunes = _asked(
        f"3. When does it tune? such as 17:30-17:40 indoors [{before:%H:%M}-{first:%H:%M}] ", tuned
    )
    rooms = _rooms({**plays, **tunes}, options)
    such = "54 to 46, or 12C to 8C" if options.fahrenheit else "12 to 8, or 54F to 46F"
    celsius = _asked(
        f"4. How warm is it outdoors then, from the first to the last? such as {such}: ",
        lambda text: temperatures_in(text, fahrenheit=options.fahrenheit),
    )
    sections = _players(options)
    done = {stretch: _done(words) for stretch, words in plays.items()}
    stands, rests = ([s for s in done if done[s] == what] for what in ("stands", "rest"))
    texts = files_of(Evening(list(tunes), list(plays), celsius, sections, stands, rests, rooms))
    offered = _free(f"gig-{day:%Y-%m-%d}")
    files = _asked(
        f"6. Which folder for the files? [{offered}] ",
        lambda text: write_templates(Path(text or offered), texts),
    )
    for file in files:
        print(f"wrote {file}")
    print("Write into roster.csv where slides are (position_mm) and how far they come out. Then")
    print(f"  {_command(options, defaults, files[0].parent)}")
    print("writes the sheets; this is the plan as it is now.\n")
    return {file.stem: file for file in files}


def _command(options: argparse.Namespace, defaults: Mapping[str, object], folder: Path) -> str:
    """Return the command that plans the same evening from its files, quoted for a shell."""
    given = {**vars(options), "folder": folder, "out": options.out or folder}
    words = ["drift", "gig"]
    if given["source"] != defaults["source"]:
        words.append(str(given["source"]))
    for name in ("folder", "out", *sorted(defaults.keys() - {"source", "folder", "out"})):
        value, option = given[name], f"--{name.replace('_', '-')}"
        if value is True:
            words.append(option)
        elif value != defaults[name]:
            for one in value if isinstance(value, list) else [value]:
                # A value that begins with a minus would be taken for an option.
                minus = str(one).startswith("-")
                words += [f"{option}={one}"] if minus else [option, str(one)]
    return shlex.join(words)


def _done(words: str) -> str:
    """Return what the words beside a stretch of playing make of it."""
    from drift.gig.activities import names_stands, read_activity, says_no_playing

    found = read_activity(words)
    if found is None or not (names_stands(words) or says_no_playing(words)):
        return "play"
    return found[0]


def _rooms(words: Mapping[Stretch, str], options: argparse.Namespace) -> dict[Stretch, float]:
    """Return how warm it is where the words beside a stretch of time speak of a room [°C]."""
    from drift.gig.activities import ROOM
    from drift.gig.answers import temperature_in

    indoors = [stretch for stretch, beside in words.items() if ROOM.search(beside)]
    if not indoors:
        return {}
    such = "70, or 21C" if options.fahrenheit else "21, or 70F"
    celsius = _asked(
        f"   How warm is it indoors? such as {such}: ",
        partial(temperature_in, fahrenheit=options.fahrenheit),
    )
    return dict.fromkeys(indoors, celsius)


def _local(midnight: datetime) -> datetime:
    """Return midnight of a day in this computer's zone, whatever its offset was today."""
    return midnight.replace(tzinfo=None).astimezone()


def _players(options: argparse.Namespace) -> Sequence[Playing]:
    """Return who plays; only what could not be taken is asked for again."""
    from drift.gig.answers import Answered, sections_in

    known = catalogue_of(options)
    before: Answered | None = None
    question = "5. Who plays? such as 6 trumpets, 4 horns, 3 sousas, bells: "
    while True:
        found = _asked(question, partial(sections_in, catalogue=known, before=before))
        for problem in found.problems:
            print(f"   {problem.told}: {problem.remedy}")
        if found.sections:
            print(f"   taken: {_numbered((name, count) for name, _, count in found.sections)}")
        if found.not_planned:
            print(f"   {NOT_PLANNED}: {_numbered(found.not_planned)}")
        if not found.problems:
            return found.sections
        if found.sections:
            question = "   Write the others again or a number to correct; Enter goes on without: "
        before = found


def _numbered(names: Iterable[tuple[str, int]]) -> str:
    return ", ".join(f"{count} {name}" for name, count in names)


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
