"""Six answers in plain words, and the three files of an evening that they make."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from drift.errors import InputError, InstrumentError
from drift.gig.rows import over_midnight
from drift.instruments import Catalogue, Instrument, find
from drift.quantities import TEMPERATURE, Units, parse_quantity, with_units
from drift.tables.problems import Problem, parts_of
from drift.tables.spelled_times import clock_of

__all__ = ["Evening", "files_of", "sections_in", "stretches_in", "temperatures_in"]

_TIME = r"(\d{1,2}(?:[:.]\d{2})?)\s*([ap]\.?m\.?)?"
_STRETCH = re.compile(rf"{_TIME}\s*(?:-|–|to)\s*{_TIME}", re.IGNORECASE)


@dataclass(frozen=True)
class Evening:
    """What was answered.

    Attributes
    ----------
    tunes, plays : sequence of (datetime, datetime)
        Aware, each in order.
    celsius : (float, float)
        Temperature at the beginning and at the end [°C].
    sections : sequence of (str, Instrument, int)
        What the band calls it, what it plays, how many.
    """

    tunes: Sequence[tuple[datetime, datetime]]
    plays: Sequence[tuple[datetime, datetime]]
    celsius: tuple[float, float]
    sections: Sequence[tuple[str, Instrument, int]]


def stretches_in(text: str, midnight: datetime) -> list[tuple[datetime, datetime]]:
    """Return the stretches of time in an answer.

    Parameters
    ----------
    text : str
        Such as ``18:40-19:10, 20:00-20:30`` or ``6:40-7:10 PM``.
    midnight : datetime
        The beginning of the day, aware.

    Raises
    ------
    InputError
        If there is none, or one runs backwards.

    Examples
    --------
    >>> from datetime import UTC
    >>> found = stretches_in("18:40-19:10", datetime(2026, 10, 9, tzinfo=UTC))
    >>> [f"{time:%d %H:%M}" for time in found[0]]
    ['09 18:40', '09 19:10']
    """
    found = []
    rest = _STRETCH.sub("", text)
    if re.search(r"\d", rest) or not _STRETCH.search(text):
        raise InputError(f"{text!r} is not from when to when", "write it such as 18:40-19:10")
    for first, half, last, last_half in _STRETCH.findall(text):
        end = _clock(f"{last} {last_half}", midnight)
        start = _clock(f"{first} {half or last_half}", midnight)
        if last_half and not half and start > end:  # 11:30-1:00 PM
            start -= timedelta(hours=12)
        if end <= start and over_midnight(start, end + timedelta(days=1)):
            end += timedelta(days=1)
        if end <= start:
            raise InputError(f"{last} is not after {first}", "write from when to when")
        found.append((start, end))
    return found


def _clock(text: str, midnight: datetime) -> datetime:
    clock = clock_of(text)
    if clock is None:
        raise InputError(
            f"{text.strip()} is not a time of day", "write it such as 18:40 or 6:40 PM"
        )
    return midnight.replace(hour=clock.hour, minute=clock.minute)


def temperatures_in(text: str, *, fahrenheit: bool = False) -> tuple[float, float]:
    """Return the temperatures at the beginning and at the end [°C] in an answer.

    Parameters
    ----------
    text : str
        Such as ``12 to 8`` or ``54F to 46F``.
    fahrenheit : bool
        Whether numbers without a unit are °F.

    Examples
    --------
    >>> temperatures_in("12 to 8"), temperatures_in("50F")
    ((12.0, 8.0), (10.0, 10.0))
    """
    parts = [part for part in re.split(r"\s+to\s+|\s*;\s*|\s*\.\.\s*", text.strip()) if part]
    if not 1 <= len(parts) <= 2:
        raise InputError(f"{text!r} is not one or two temperatures", "write it such as 12 to 8")
    quantity = with_units(TEMPERATURE, Units(fahrenheit=fahrenheit))
    found = [parse_quantity(part, quantity) for part in parts]
    return found[0], found[-1]


def sections_in(
    text: str,
    catalogue: Catalogue | None = None,
    before: Sequence[tuple[str, Instrument, int]] = (),
) -> tuple[list[tuple[str, Instrument, int]], tuple[Problem, ...]]:
    """Return the sections in an answer, and what is wrong with the rest of it.

    Parameters
    ----------
    text : str
        Such as ``6 trumpets, 4 horns, sousas``.
    catalogue : Catalogue, optional
        The instruments that are known.
    before : sequence of (str, Instrument, int)
        Sections that were named already.

    Returns
    -------
    list of (str, Instrument, int)
        What the band calls it, what it plays, how many.
    tuple of Problem
        Every instrument that is not known, means several or is named twice; that none is named.

    Examples
    --------
    >>> found, problems = sections_in("6 trumpets, 2 bones, kazoos")
    >>> [(name, kind.name, count) for name, kind, count in found], len(problems)
    ([('trumpets', 'Bb trumpet', 6), ('bones', 'tenor trombone', 2)], 1)
    """
    found: list[tuple[str, Instrument, int]] = []
    problems: list[Problem] = []
    named = {name for name, _, _ in before}
    for part in filter(None, (part.strip() for part in re.split("[,;]", text))):
        count = re.search(r"^(\d{1,3})\s*[x×]?\s+|\s+(\d{1,3})$", part)
        name = part.replace(count[0], "", 1).strip() if count else part
        players = int(count[1] or count[2]) if count else 1
        try:
            if name in named:
                raise InputError(f"{name}: named twice", "name each once")
            found.append((name, find(name, catalogue), players))
            named.add(name)
        except (InputError, InstrumentError) as refusal:
            problems += parts_of(refusal)
    if not found and not problems:
        nobody = InputError("no section is named", "write such as 6 trumpets, 4 horns, 3 sousas")
        problems += parts_of(nobody)
    return found, tuple(problems)


def files_of(evening: Evening) -> dict[str, str]:
    """Return the text of the three files by name.

    Parameters
    ----------
    evening : Evening
        What was answered.

    Raises
    ------
    InputError
        When two stretches overlap.
    """
    rows = sorted(
        [(*times, "tune") for times in evening.tunes]
        + [(*times, "play") for times in evening.plays]
    )
    for (_, end, what), (start, _, other) in pairwise(rows):
        if start < end:
            raise InputError(
                f"{other} from {start:%H:%M} begins before {what} ends at {end:%H:%M}",
                "correct the times",
            )
    first, last = rows[0][0], rows[-1][1]
    schedule = ["start,end,activity"]
    schedule += [f"{_iso(start)},{_iso(end)},{what}" for start, end, what in rows]
    forecast = ["time,celsius"]
    forecast += [f"{_iso(t)},{c:.1f}" for t, c in zip((first, last), evening.celsius, strict=True)]
    roster = ["section,instrument,players,slide,position_mm,travel_mm,stuck"]
    for name, instrument, players in evening.sections:
        slides = [slide.name for slide in instrument.slides] or [""]
        roster += [f"{name},{instrument.name},{players},{slide},,," for slide in slides]
    tables = {"forecast.csv": forecast, "schedule.csv": schedule, "roster.csv": roster}
    return {name: "\n".join(lines) + "\n" for name, lines in tables.items()}


def _iso(time: datetime) -> str:
    return time.isoformat(timespec="minutes")
