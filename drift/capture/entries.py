"""What a player types during a rehearsal: one entry a line, in the words of the trade."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from textwrap import fill
from typing import NamedTuple

from drift.capture.earlier import ClockTime, split_time
from drift.capture.typed_reading import Note, parse_reading
from drift.errors import InputError
from drift.quantities import (
    HERTZ,
    LENGTH,
    METRIC,
    NUMBER,
    TEMPERATURE,
    Units,
    parse_units,
    read_quantity,
    with_units,
)
from drift.texts import check_text

__all__ = [
    "HELP",
    "LISTED",
    "Choose",
    "Decide",
    "Earlier",
    "Entry",
    "Note",
    "Play",
    "Remark",
    "SideOf",
    "Slide",
    "Slides",
    "Target",
    "Timed",
    "TypedTemperature",
    "Word",
    "parse_entry",
]

MOST_CENTS = 200.0
"""A reading further off is refused, so that ``A4 442`` can only mean hertz."""

WARMEST_CELSIUS = 50.0
"""What is typed higher than this without a unit was read in °F (common practice)."""

_SIDE = r"[A-Ga-g][b♭]?"
"""A side of an instrument, named alone."""

COMMANDS = ("slides", "tune", "check", "fit", "report", "export", "gig", "page")
"""Commands that a player may type where entries belong."""

LISTED = (
    ("F4 +6", "note and cents (sharp +, flat -); F4 6 flat; F4 +6 Bb on the B♭ side; F4 351.2Hz"),
    ("+4", "the note read last, again"),
    (
        "F4 +6 ! mute in",
        "an unusual reading: saved and flagged (drift fit can leave flagged readings out)",
    ),
    (
        "temp 21.5",
        "the temperature of the air, °C; temp 70F; before anybody plays, first that of where the "
        "instruments come from, where it is another: temp 6, then temp 18",
    ),
    (
        "Bb",
        "the side of the reading before, if none was named; at 20:10 side Bb: an earlier one",
    ),
    ("slide main 14", "the slide is 14 mm out from fully in, from now on; slide main 14 F 8: both"),
    (
        "at 20:10 ENTRY",
        "what was forgotten, with its time: at 20:10 slide main 14, F4 +6 at 20:10; a slide that "
        "was entered in that minute is put right",
    ),
    ("play / rest", "everyone begins or stops playing; play Rowan: only Rowan"),
    ("play warm", "the instruments have just been played and are already warm"),
    ("player NAME", "who plays from now on; instrument NAME: what; side Bb: on which side"),
    ("A4 442", "the pitch that the tuner is set to, from now on"),
    ("units F inch", "°F and inches for who plays now, here and next time; units C mm"),
    ("notes written", "notes as they are read, for who plays now, from now on; notes sounding"),
    ("remark TEXT", "anything worth knowing later"),
    ("k / d", "keeps or drops the oldest reading that the microphone proposes; k 3 number 3"),
    ("heard", "what the microphone took and refused in the last minutes, its pitch and level"),
    ("undo", "undoes the last entry; the logbook holds both"),
    ("now", "how far off you are, and what to move"),
    (
        "target 18:30 4",
        "what the tuner should show now, to be right from 18:30 on at 4 °C; target "
        "alone: for the next playing of the plan (--plan)",
    ),
    ("help, end", "this text; the rehearsal is over"),
)
"""What can be typed, and what it does."""

_ADVICE = """\
Readings are worth most when they are taken in the same way each time: the same few notes, open
ones where the instrument has them; medium loud, after a breath, held for two seconds; right hand
and embouchure as usual. Do not look at the tuner while you play: a player who watches it pulls
the note in and hides the drift. Type with slide where the slides are."""


def _help() -> str:
    """Return the entries in two columns, and how to take a reading."""
    lines = (
        fill(meaning, 97, initial_indent=f"{entry:<17}", subsequent_indent=" " * 17)
        for entry, meaning in LISTED
    )
    return "\n".join(lines) + f"\n\n{_ADVICE}"


HELP = _help()


class TypedTemperature(NamedTuple):
    """The temperature of the air [°C]."""

    celsius: float


class Slide(NamedTuple):
    """Where a slide is from now on [mm from fully in]."""

    slide: str
    position_mm: float


class Slides(NamedTuple):
    """Where several slides are from now on."""

    slides: tuple[Slide, ...]


class SideOf(NamedTuple):
    """The side of a reading that was saved without one: of the last, or of those of a minute."""

    side: str


class Play(NamedTuple):
    """Playing begins or stops, for everyone or for one player."""

    playing: bool
    player: str = ""
    warm: bool = False


class Choose(NamedTuple):
    """What holds from now on.

    ``what`` is ``player``, ``instrument``, ``side``, ``a4``, ``notes`` or ``units``.
    """

    what: str
    name: str


class Remark(NamedTuple):
    """Words to save."""

    text: str


class Target(NamedTuple):
    """A question: what the tuner should show now, for playing from a time of day on [°C].

    ``planned`` asks for the next playing of the plan instead.
    """

    hour: int = 0
    minute: int = 0
    celsius: float = 0.0
    planned: bool = False

    def time_after(self, now: datetime) -> datetime:
        """Return when a clock in the zone of a moment shows the time of day next.

        Examples
        --------
        >>> from datetime import UTC, datetime
        >>> Target(0, 15, 4.0).time_after(datetime(2026, 10, 3, 23, 30, tzinfo=UTC)).isoformat()
        '2026-10-04T00:15:00+00:00'
        """
        time = now.replace(hour=self.hour, minute=self.minute, second=0, microsecond=0)
        return time if time >= now else time + timedelta(days=1)


class Word(NamedTuple):
    """``undo``, ``now``, ``heard``, ``help`` or ``end``."""

    word: str


class Decide(NamedTuple):
    """A reading that the microphone proposes is kept or dropped; the oldest without a number."""

    keep: bool
    number: int | None = None
    side: str = ""


Timed = Note | SideOf | TypedTemperature | Slide | Slides | Play | Remark
"""What can be entered later than it happened."""


class Earlier(NamedTuple):
    """An entry of something that happened earlier, and when."""

    entry: Timed
    clock: ClockTime


Entry = Timed | Earlier | Choose | Word | Decide | Target


def parse_entry(line: str, units: Units = METRIC) -> Entry:
    """Return what one typed line says.

    Parameters
    ----------
    line : str
        The line, without its end.
    units : Units
        What numbers without a unit are typed in.

    Raises
    ------
    InputError
        When it says nothing that can be saved; with what to type instead.

    Examples
    --------
    >>> parse_entry("F4 +6 Bb")
    Note(note='F4', cents=6.0, hertz=None, side='Bb', remark='', flagged=False, called='')
    >>> parse_entry("temp 68F").celsius
    20.0
    """
    line = line.strip().replace("\t", " ")
    if not line:
        raise InputError("the line is empty", "type an entry, or help")
    check_text(line, "the line")
    line, clock = split_time(line)
    entry = _parse_entry(line, units)
    if clock is None:
        return entry
    if isinstance(entry, Choose) and entry.what == "side":
        entry = SideOf(entry.name)
    if not isinstance(entry, Timed):
        raise InputError(
            f"{line.split()[0]} holds for now, not for {clock}",
            "an earlier time goes with a reading, side, temp, slide, play, rest or remark",
        )
    return Earlier(entry, clock)


def _parse_entry(line: str, units: Units) -> Timed | Choose | Word | Decide | Target:
    """Return what a line says that holds no time of day."""
    words = line.split()
    first, rest = words[0].lower(), " ".join(words[1:])
    if first in ("undo", "now", "heard", "help", "end") and not rest:
        return Word(first)
    if first in ("quit", "exit") and not rest:
        raise InputError(
            f"{first} could mean two things",
            "type end to close the rehearsal, or Ctrl-D to leave it open",
        )
    if first in COMMANDS and not rest:
        raise InputError(
            f"{first} is a command of its own, not an entry",
            f"end the log and type drift {first}; here now says what to move, and slide main 14 "
            "where a slide is",
        )
    if first == "temp":
        return _temperature(rest, units)
    if first == "slide":
        return _slide(words[1:], units)
    if first in ("play", "rest"):
        warm = first == "play" and rest.lower() == "warm"
        return Play(first == "play", "" if warm else rest, warm)
    if first in ("player", "instrument", "side"):
        if not rest:
            raise InputError(f"no {first} was named", f"type {first} and a name")
        return Choose(first, rest.replace("♭", "b") if first == "side" else rest)
    if first == "a4" and (hertz := _pitch(rest)) is not None:
        return Choose("a4", f"{hertz:g}")
    if first in ("notes", "units"):
        return _how_typed(first, rest, units)
    if first == "target":
        return _target(words[1:], units)
    if first in ("k", "d"):
        return _decide(first, rest)
    if re.fullmatch(_SIDE, line):
        return SideOf(line.replace("♭", "b"))
    if first == "remark":
        if not rest:
            raise InputError("the remark is empty", "type remark and some words")
        return Remark(line.split(None, 1)[1].strip())
    return parse_reading(line)


def _how_typed(word: str, rest: str, units: Units) -> Choose:
    """Return how notes or numbers are typed from now on."""
    if word == "units" and (chosen := parse_units(rest, units)) is not None:
        return Choose("units", chosen.spelling)
    if word == "notes" and rest.lower() in ("written", "sounding"):
        return Choose("notes", rest.lower())
    how = "units F inch, or units C mm" if word == "units" else "notes written, or notes sounding"
    raise InputError(f"{f'{word} {rest}'.strip()[:60]!r} cannot be chosen", f"type {how}")


def _temperature(text: str, units: Units) -> TypedTemperature:
    celsius = read_quantity(text, with_units(TEMPERATURE, units))
    if celsius is None:
        raise InputError(f"{text[:40]!r} is not a temperature", "type it as temp 21.5 or temp 70F")
    if celsius > WARMEST_CELSIUS and not units.fahrenheit and re.fullmatch(r"[\d.,]+", text):
        raise InputError(
            f"{text} °C is hotter than any room", f"type temp {text}F if it was read in °F"
        )
    return TypedTemperature(celsius)


def _pitch(text: str) -> float | None:
    """Return the pitch of A4 [Hz]; None for the cents of a reading of that note."""
    quantity = HERTZ if text.startswith("=") else NUMBER  # A4 442Hz is a reading
    hertz = read_quantity(text.removeprefix("=").strip(), quantity)
    return hertz if hertz is not None and hertz > MOST_CENTS else None


def _target(words: list[str], units: Units) -> Target:
    if not words:
        return Target(planned=True)
    time = re.fullmatch(r"([01]?\d|2[0-3])[:.]([0-5]\d)", words[0])
    degrees = with_units(TEMPERATURE, units)
    celsius = read_quantity(" ".join(words[1:]), degrees) if words[1:] else None
    if time is None or celsius is None:
        raise InputError(
            f"{' '.join(['target', *words])[:60]!r} names no time and temperature",
            "type when and at how many degrees you play next: target 18:30 4",
        )
    return Target(int(time[1]), int(time[2]), celsius)


def _slide(words: list[str], units: Units) -> Slide | Slides:
    """Return where slides are: ``main 14``, ``F 13.5 Bb 2``, ``main=14,F=8``."""
    found = [_one_slide(name, text, units) for name, text in _by_name(words)]
    if not found:
        raise _no_slide("", units)
    return found[0] if len(found) == 1 else Slides(tuple(found))


def _by_name(words: list[str]) -> list[tuple[str, str]]:
    """Return each slide with the words behind it; a unit is no slide."""
    text = re.sub(r",(?=\s|[^\d\s])", " ", " ".join(words).replace("=", " "))
    found: list[tuple[str, list[str]]] = []
    for word in text.split():
        is_name = word[0].isalpha() and word.lower() not in LENGTH.units
        if is_name or not found:
            found.append((word, []))
        else:
            found[-1][1].append(word)
    return [(name, " ".join(rest)) for name, rest in found]


def _one_slide(name: str, text: str, units: Units) -> Slide:
    position_mm = read_quantity(text, with_units(LENGTH, units)) if text else None
    if position_mm is None:
        raise _no_slide(f" {name} {text}".rstrip(), units)
    if position_mm < 0.0:
        raise InputError(
            f"{text} is negative",
            "type how far the slide is out from fully in: slide main 14",
        )
    return Slide(name.replace("♭", "b"), position_mm)


def _no_slide(typed: str, units: Units) -> InputError:
    return InputError(
        f"{f'slide{typed}'[:60]!r} names no slide and position",
        f"type it as slide main {'1/2' if units.inches else '14'} "
        f"({'inches' if units.inches else 'millimetres'} from fully in)",
    )


def _decide(word: str, rest: str) -> Decide:
    match = re.fullmatch(r"(\d{0,9})\s*([^\s\d]*)", rest)
    if not match or (word == "d" and match[2]):
        raise InputError(
            f"{f'{word} {rest}'!r} does not name a proposed reading",
            "type k or d for the oldest, k 3 or d 3 for number 3, k 3 Bb to name the side as well",
        )
    number = int(match[1]) if match[1] else None
    return Decide(word == "k", number, match[2].replace("♭", "b"))
