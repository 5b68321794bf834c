"""Times as spreadsheets write them: ``9/12/2026 6:30 PM``, ``12 Sep 2026 18:30``, no offset."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import datetime, time
from typing import NamedTuple

from drift.errors import InputError

__all__ = ["ORDERS", "Spelled", "clock_of", "day_order", "spelled", "spelled_time"]

ORDERS = ("day-first", "month-first")

_CLOCK = r"(\d{1,2})(?:[:.](\d\d)(?:[:.](\d\d)(?:[.,](\d{1,9}))?)?)?\s*(?:([ap])\.?m\.?)?"
_TIME = rf"(?:[T ,]+{_CLOCK})?"
_ISO = re.compile(rf"(\d{{4}})[-/.](\d{{1,2}})[-/.](\d{{1,2}}){_TIME}", re.IGNORECASE)
_ALONE = re.compile(_CLOCK, re.IGNORECASE)
_OTHER = re.compile(rf"(\d{{1,2}})([/.-])(\d{{1,2}})\2(\d{{4}}){_TIME}", re.IGNORECASE)
_DAY_MONTH = re.compile(rf"(\d{{1,2}})[-. ]+([a-z]{{3,9}})[-., ]+(\d{{4}}){_TIME}", re.IGNORECASE)
_MONTH_DAY = re.compile(rf"([a-z]{{3,9}})[-. ]+(\d{{1,2}})[-, ]+(\d{{4}}){_TIME}", re.IGNORECASE)
_SHORT_YEAR = re.compile(r"(^\s*\d{1,2}[/. -]+\w+[/. -]+)(\d\d)\b")
_MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september",
    "october", "november", "december",
)  # fmt: skip


class Spelled(NamedTuple):
    """A date and time without an offset, as it is written.

    Attributes
    ----------
    first, second : int
        The two parts of the date whose order is not known; (month, day) when ``settled``.
    year : int
    clock : tuple of int
        Hour, minute, second, microsecond.
    settled, dotted : bool
        Whether the month is known, because the year stands first or the month is a word, and
        whether dots separate the date: then the day is first (common practice).
    has_clock : bool
        Whether a time of day is there too, and not the date alone.
    """

    first: int
    second: int
    year: int
    clock: tuple[int, int, int, int]
    settled: bool
    dotted: bool
    has_clock: bool


def spelled(text: str) -> Spelled | None:
    """Return the parts of a date and time without an offset; None where it is not one."""
    plain = " ".join(text.split())
    if found := _ISO.fullmatch(plain):
        year, month, day, *rest = found.groups()
        clock = _clock(rest)
        return clock and Spelled(int(month), int(day), int(year), clock, True, False, bool(rest[0]))
    if found := _OTHER.fullmatch(plain):
        first, sign, second, year, *rest = found.groups()
        clock = _clock(rest)
        return clock and Spelled(
            int(first), int(second), int(year), clock, False, sign == ".", bool(rest[0])
        )
    if found := _DAY_MONTH.fullmatch(plain) or _MONTH_DAY.fullmatch(plain):
        one, other, year, *rest = found.groups()
        word, day = (other, one) if one.isdigit() else (one, other)
        month, clock = _month(word), _clock(rest)
        if month and clock:
            return Spelled(month, int(day), int(year), clock, True, False, bool(rest[0]))
    return None


def _month(word: str) -> int | None:
    """Return the number of a month by its English name or the beginning of it."""
    found = [name.startswith(word.lower()) for name in _MONTHS]
    return found.index(True) + 1 if any(found) else None


def clock_of(text: str) -> time | None:
    """Return a time of day that stands alone; None where it is not one.

    Examples
    --------
    >>> str(clock_of("5:00 PM")), str(clock_of("5 pm")), clock_of("17")
    ('17:00:00', '17:00:00', None)
    """
    found = _ALONE.fullmatch(" ".join(text.split()))
    parts = _clock(list(found.groups())) if found else None
    try:
        return time(*parts) if parts else None
    except ValueError:
        return None


def _clock(parts: list[str | None]) -> tuple[int, int, int, int] | None:
    """Return hour, minute, second and microsecond; what is finer is cut off."""
    hour, minute, second, fraction, half = parts
    hours = int(hour or 0)
    if hour and minute is None and not half:
        return None  # a number is not a time of day
    if half:
        if not 1 <= hours <= 12:
            return None
        hours = hours % 12 + (12 if half.lower() == "p" else 0)
    return hours, int(minute or 0), int(second or 0), int((fraction or "0").ljust(6, "0")[:6])


def day_order(texts: Iterable[str], asked: str | None = None) -> str | None:
    """Return whether day or month stands first in the dates of a file; None where it is open.

    Parameters
    ----------
    texts : iterable of str
        Dates and times.
    asked : str, optional
        ``day-first`` or ``month-first``, where somebody said so.

    Raises
    ------
    InputError
        If some dates can only be one way and others only the other.

    Examples
    --------
    >>> day_order(["9/12/2026 6:30 PM", "9/13/2026"]), day_order(["9/12/2026"])
    ('month-first', None)
    """
    days: str | None = None
    months: str | None = None
    for text in texts:
        parts = spelled(text)
        if parts is None or parts.settled:
            continue
        if parts.dotted or parts.first > 12:
            days = days or text
        if not parts.dotted and parts.second > 12:
            months = months or text
    if asked is not None:
        return asked
    if days and months:
        raise InputError(
            f"the day stands first in {days!r} and the month in {months!r}",
            "write all dates of a file in one way, best as 2026-09-12",
        )
    return "day-first" if days else "month-first" if months else None


def spelled_time(text: str, order: str | None) -> datetime:
    """Return the date and time, without an offset, that a text names.

    Raises
    ------
    InputError
        If it is not one, or if day and month cannot be told apart.

    Examples
    --------
    >>> spelled_time("9/12/2026 6:30 PM", "month-first").isoformat()
    '2026-09-12T18:30:00'
    """
    parts = spelled(text)
    if parts is None:
        short = spelled(_SHORT_YEAR.sub(r"\g<1>20\2", text)) is not None
        raise InputError(
            f"{text!r} is not a valid date and time",
            "write the year with four digits, such as 2026-10-03 19:00"
            if short
            else "write date and time, such as 2026-10-03 19:00",
        )
    day_first = not parts.settled and (parts.dotted or order == "day-first")
    if not parts.settled and not parts.dotted and order is None and parts.first != parts.second:
        raise InputError(
            f"{text!r} could name two days",
            "say --dates day-first or --dates month-first, or write 2026-09-12",
        )
    month, day = (parts.second, parts.first) if day_first else (parts.first, parts.second)
    try:
        return datetime(parts.year, month, day, *parts.clock)  # noqa: DTZ001 - told in a zone later
    except ValueError as error:
        raise InputError(f"{text!r} is not a valid date and time: {error}", "mend it") from None
