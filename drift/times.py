"""Instants as text: RFC 3339 with an offset in, UTC out."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta, tzinfo

from drift.errors import InputError

__all__ = [
    "EARLIEST",
    "EPOCH",
    "EVENINGS_APART",
    "FINER",
    "LATEST",
    "RFC_3339",
    "check_instant",
    "from_microseconds",
    "in_microseconds",
    "parse_time",
    "shown_time",
    "to_microseconds",
]

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
#: No reading is older or comes later. Within these years no unit of time that is used overflows
#: (nanoseconds since 1970 in 64 bits end in 1677 and 2262), nor does a day added or a zone.
EARLIEST = datetime(1800, 1, 1, tzinfo=UTC)
LATEST = datetime(2200, 1, 1, tzinfo=UTC)
#: Nobody rehearses through so long a silence: what comes after it is another evening's.
EVENINGS_APART = timedelta(hours=12)

# RFC 3339, section 5.6, with at most microseconds: finer fractions would be lost in storage.
RFC_3339 = re.compile(
    r"\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d:\d\d(?:\.\d{1,6})?(?:[Zz]|[+-](?:[01]\d|2[0-3]):[0-5]\d)",
    re.ASCII,
)

_FINE = re.compile(r"(\.\d{6})\d+")

#: A fraction of a second that is finer than a microsecond, as it is written in tables.
FINER = re.compile(r"([.,][0-9]{6})([0-9]+)", re.ASCII)

# What is most often left out, and a text that has it.
_LACKS: tuple[tuple[str, Callable[[str], str]], ...] = (
    ("offset from UTC", lambda text: text + "Z"),
    ("seconds", lambda text: f"{text[:16]}:00{text[16:]}"),
)


def parse_time(text: str) -> datetime:
    """Return the instant that a text names.

    Parameters
    ----------
    text : str
        A date-time of RFC 3339: ``2026-10-03T19:00:00+02:00``, or with ``Z``.

    Returns
    -------
    datetime
        The same instant, aware, in UTC.

    Raises
    ------
    InputError
        When the text is no such date-time, has no offset, is finer than a microsecond, or names an
        instant before 1800 or after 2200.

    References
    ----------
    Klyne, G. and Newman, C., *Date and Time on the Internet: Timestamps*, RFC 3339, 2002, §5.6.

    Examples
    --------
    >>> parse_time("2026-10-03T19:00:00+02:00").isoformat()
    '2026-10-03T17:00:00+00:00'
    """
    remedy = "write date, time and offset, such as 2026-10-03T19:00:00+02:00"
    if not RFC_3339.fullmatch(text):
        if RFC_3339.fullmatch(_FINE.sub(r"\1", text)):
            raise InputError(f"{text!r} is finer than a microsecond", "write at most six decimals")
        lacks = next((what for what, tail in _LACKS if RFC_3339.fullmatch(tail(text))), None)
        problem = f"has no {lacks}" if lacks else "is not a date and time with an offset (RFC 3339)"
        raise InputError(f"{text!r} {problem}", remedy)
    try:
        time = datetime.fromisoformat(text.upper()).astimezone(UTC)
    except (ValueError, OverflowError) as error:
        raise InputError(f"{text!r} is not a valid date and time: {error}", remedy) from None
    return check_instant(time)


def in_microseconds(text: str) -> tuple[str, int]:
    """Return a time with six decimals at most, and the microseconds to add: it is rounded so.

    Examples
    --------
    >>> in_microseconds("2026-10-03T19:00:00.099999999Z")
    ('2026-10-03T19:00:00.099999Z', 1)
    >>> in_microseconds("2026-10-03T19:00:00Z")
    ('2026-10-03T19:00:00Z', 0)
    """
    found = FINER.search(text)
    if found is None:
        return text, 0
    return text[: found.start(2)] + text[found.end() :], int(found[2][0] >= "5")


def check_instant(time: datetime) -> datetime:
    """Return an instant that can be reckoned with.

    Raises
    ------
    InputError
        When it has no offset from UTC, or lies before `EARLIEST` or after `LATEST`.

    Examples
    --------
    >>> check_instant(datetime(2026, 10, 3, 17, tzinfo=UTC)).hour
    17
    """
    if time.tzinfo is None:
        raise InputError(f"the time {time} has no offset from UTC", "give the offset")
    if not EARLIEST <= time <= LATEST:
        raise InputError(
            f"the time {time.isoformat()} is outside {EARLIEST.year} to {LATEST.year}",
            "check the year, and the clock that wrote it",
        )
    return time


def shown_time(time: datetime, zone: tzinfo = UTC) -> str:
    """Return an instant as RFC 3339 text in a zone, with as many decimals as it has.

    Examples
    --------
    >>> shown_time(parse_time("2026-10-03T19:00:00.250+02:00"))
    '2026-10-03T17:00:00.25Z'
    """
    there = time.astimezone(zone)
    text = there.replace(tzinfo=None).isoformat()
    offset = "Z" if zone is UTC else there.isoformat(timespec="seconds")[19:]
    return (text.rstrip("0") if "." in text else text) + offset


def to_microseconds(time: datetime) -> int:
    """Return whole microseconds since 1970-01-01T00:00:00Z, exactly."""
    return (time - EPOCH) // timedelta(microseconds=1)


def from_microseconds(microseconds: int) -> datetime:
    """Return the instant (UTC) that many microseconds after 1970-01-01T00:00:00Z.

    Raises
    ------
    InputError
        When it is not a whole number, as in a damaged file, or is not a valid date and time.
    """
    try:
        return EPOCH + timedelta(microseconds=microseconds)
    except (OverflowError, TypeError):
        raise InputError(
            f"{microseconds!r} is not a time in microseconds", "check the file that holds it"
        ) from None
