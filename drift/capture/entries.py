"""What a player types during a rehearsal: one entry a line, in the words of the trade."""

from __future__ import annotations

import re
from typing import NamedTuple

from drift.capture.typed_reading import Note, parse_reading
from drift.errors import InputError
from drift.quantities import LENGTH, TEMPERATURE, read_quantity
from drift.texts import check_text

__all__ = [
    "HELP",
    "Choose",
    "Decide",
    "Entry",
    "Note",
    "Play",
    "Remark",
    "Slide",
    "Temperature",
    "Word",
    "parse_entry",
]

HELP = """\
F4 +6            note and cents (sharp +, flat -); F4 6 flat; F4 +6 Bb on the B♭ side; F4 351.2Hz
+4               the note read last, again
F4 +6 ! mute in  a reading taken otherwise: kept, flagged, and left out of the fit on request
temp 21.5        the temperature of the air, °C; temp 70F
slide main 14    the slide stands at 14 mm from fully in, from now on
play / rest      everyone begins or stops playing; play Rowan: only Rowan
play warm        the instruments have just been played and are warm already
player NAME      who plays from here on; instrument NAME: what
remark TEXT      anything worth knowing later
k / d            keeps or drops the oldest reading that the microphone proposes; k 3 number 3
undo             takes back the last entry; the book keeps both
now              where pitch stands and what to move
help, end        this text; the rehearsal is over

A reading is worth most when it is taken the same way each time: the same few notes, open ones
where the instrument has them; medium loud, after a breath, held two seconds; right hand and
embouchure as usual; and without looking at the tuner while playing, for a player who watches it
pulls the note in and hides the drift. Say with slide where the slides are."""


class Temperature(NamedTuple):
    """The temperature of the air [°C]."""

    celsius: float


class Slide(NamedTuple):
    """Where a slide stands from now on [mm from fully in]."""

    slide: str
    position_mm: float


class Play(NamedTuple):
    """Playing begins or stops, for everyone or for one player."""

    playing: bool
    player: str = ""
    warm: bool = False


class Choose(NamedTuple):
    """Who plays, or what, from here on; ``what`` is ``player`` or ``instrument``."""

    what: str
    name: str


class Remark(NamedTuple):
    """Words to keep."""

    text: str


class Word(NamedTuple):
    """``undo``, ``now``, ``help`` or ``end``."""

    word: str


class Decide(NamedTuple):
    """A reading that the microphone proposes is kept or dropped; the oldest without a number."""

    keep: bool
    number: int | None = None
    side: str = ""


Entry = Note | Temperature | Slide | Play | Choose | Remark | Word | Decide


def parse_entry(line: str) -> Entry:
    """Return what one typed line says.

    Parameters
    ----------
    line : str
        The line, without its end.

    Raises
    ------
    InputError
        When it says nothing that can be kept; with what to type instead.

    Examples
    --------
    >>> parse_entry("F4 +6 Bb")
    Note(note='F4', cents=6.0, hertz=None, side='Bb', remark='', flagged=False)
    >>> parse_entry("temp 68F").celsius
    20.0
    """
    line = line.strip().replace("\t", " ")
    words = line.split()
    if not words:
        raise InputError("the line is empty", "type an entry, or help")
    check_text(line, "the line")
    first, rest = words[0].lower(), " ".join(words[1:])
    if first in ("undo", "now", "help", "end") and not rest:
        return Word(first)
    if first in ("quit", "exit") and not rest:
        raise InputError(
            f"{first} could mean two things",
            "type end to close the rehearsal, or Ctrl-D to leave it open",
        )
    if first == "temp":
        return _temperature(rest)
    if first == "slide":
        return _slide(words[1:])
    if first in ("play", "rest"):
        warm = first == "play" and rest.lower() == "warm"
        return Play(first == "play", "" if warm else rest, warm)
    if first in ("player", "instrument"):
        if not rest:
            raise InputError(f"no {first} was named", f"type {first} and a name")
        return Choose(first, rest)
    if first in ("k", "d"):
        return _decide(first, rest)
    if first == "remark":
        if not rest:
            raise InputError("the remark is empty", "type remark and some words")
        return Remark(line.split(None, 1)[1].strip())
    return parse_reading(line)


def _temperature(text: str) -> Temperature:
    celsius = read_quantity(text, TEMPERATURE)
    if celsius is None:
        raise InputError(f"{text[:40]!r} is not a temperature", "type it as temp 21.5 or temp 70F")
    return Temperature(celsius)


def _slide(words: list[str]) -> Slide:
    text = " ".join(words[1:])
    position_mm = read_quantity(text, LENGTH) if words else None
    if position_mm is None:
        raise InputError(
            f"{' '.join(['slide', *words])[:60]!r} names no slide and position",
            "type it as slide main 14 (millimetres from fully in)",
        )
    if position_mm < 0.0:
        raise InputError(
            f"{text} is negative",
            "say where the slide stands, in millimetres from fully in: slide main 14",
        )
    return Slide(words[0].replace("♭", "b"), position_mm)


def _decide(word: str, rest: str) -> Decide:
    match = re.fullmatch(r"(\d{0,9})\s*([^\s\d]*)", rest)
    if not match or (word == "d" and match[2]):
        raise InputError(
            f"{f'{word} {rest}'!r} says not which proposed reading it means",
            "type k or d for the oldest, k 3 or d 3 for number 3, k 3 Bb to say the side as well",
        )
    number = int(match[1]) if match[1] else None
    return Decide(word == "k", number, match[2].replace("♭", "b"))
