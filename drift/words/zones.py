"""The zone that a time of day is told in, where a reader could take it for another."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timezone, tzinfo
from zoneinfo import ZoneInfo

__all__ = ["by_which_clock", "clock_here", "clock_within", "day_of", "days_here", "moment_here",
           "zone_named"]  # fmt: skip


def zone_named(time: datetime, zone: tzinfo | None) -> str:
    """Return the name of the zone that a time is told in, empty for one that the user named.

    Parameters
    ----------
    time : datetime
        Aware.
    zone : tzinfo or None
        None: where this computer is.

    Examples
    --------
    >>> time = datetime(2026, 6, 13, 12, tzinfo=UTC)
    >>> zone_named(time, UTC), zone_named(time, ZoneInfo("Europe/Berlin"))
    ('UTC', '')
    """
    if isinstance(zone, ZoneInfo):
        return ""
    local = time.astimezone(zone)
    return f"UTC{local:%z}" if _is_offset(zone) else f"{local:%Z}"


def _is_offset(zone: tzinfo | None) -> bool:
    """Return whether a zone is an offset from UTC, and not UTC itself."""
    return isinstance(zone, timezone) and zone != UTC


def clock_here(time: datetime, zone: tzinfo | None) -> str:
    """Return a time of day, with the zone where that is this computer's, or UTC.

    Examples
    --------
    >>> time = datetime(2026, 6, 13, 12, tzinfo=UTC)
    >>> clock_here(time, ZoneInfo("Europe/Berlin")), clock_here(time, UTC)
    ('14:00', '12:00 UTC')
    """
    clock = f"{time.astimezone(zone):%H:%M}"
    return clock if _is_offset(zone) else f"{clock} {zone_named(time, zone)}".rstrip()


def days_here(first: datetime, last: datetime, zone: tzinfo | None) -> str:
    """Return from which day to which, with the zone as `clock_here` does.

    Examples
    --------
    >>> first, last = (datetime(2026, 10, day, 1, tzinfo=UTC) for day in (1, 7))
    >>> days_here(first, last, UTC), days_here(first, last, ZoneInfo("America/Chicago"))
    ('2026-10-01 to 2026-10-07 (days in UTC)', '2026-09-30 to 2026-10-06')
    """
    days = dict.fromkeys(f"{time.astimezone(zone):%Y-%m-%d}" for time in (first, last))
    named = "" if _is_offset(zone) else zone_named(last, zone)
    return " to ".join(days) + (f" (days in {named})" if named else "")


def moment_here(time: datetime, zone: tzinfo | None) -> str:
    """Return the day and, as `clock_here` does, the time of day.

    Examples
    --------
    >>> moment_here(datetime(2026, 6, 13, 12, tzinfo=UTC), UTC)
    '2026-06-13 12:00 UTC'
    """
    return f"{time.astimezone(zone):%Y-%m-%d} {clock_here(time, zone)}"


def day_of(rehearsal: str, time: datetime, zone: tzinfo | None) -> str:
    """Return the name of a rehearsal for beside a time of day, with the day that the time is on.

    Examples
    --------
    >>> late = datetime(2026, 11, 14, 0, 30, tzinfo=UTC)
    >>> day_of("2026-11-13", late, UTC), day_of("2026-11-13", late, ZoneInfo("America/Chicago"))
    ('2026-11-14 (rehearsal 2026-11-13)', '2026-11-13')
    """
    other = _another_day(rehearsal, time, zone)
    return f"{other} (rehearsal {rehearsal})" if other else rehearsal


def clock_within(rehearsal: str, time: datetime, zone: tzinfo | None) -> str:
    """Return a time of day, with its day where the rehearsal is named by another.

    Examples
    --------
    >>> late = datetime(2026, 11, 14, 0, 30, tzinfo=UTC)
    >>> clock_within("2026-11-13", late, UTC), clock_within("game", late, UTC)
    ('2026-11-14 00:30 UTC', '00:30 UTC')
    """
    told = moment_here if _another_day(rehearsal, time, zone) else clock_here
    return told(time, zone)


def _another_day(rehearsal: str, time: datetime, zone: tzinfo | None) -> str:
    """Return the day of a time where a rehearsal is named by another day, else nothing."""
    day = f"{time.astimezone(zone):%Y-%m-%d}"
    named = re.match(r"\d{4}-\d\d-\d\d(?!\d)", rehearsal)
    return day if named and named[0] != day else ""


def by_which_clock(time: datetime, zone: tzinfo | None) -> str:
    """Return by which clock a time is that is to be typed, where it is not this computer's.

    Examples
    --------
    >>> by_which_clock(datetime(2026, 6, 13, 12, tzinfo=UTC), None)
    ''
    """
    if not isinstance(zone, ZoneInfo):
        return ""
    there, here = time.astimezone(zone), time.astimezone()
    if there.utcoffset() == here.utcoffset():
        return ""
    return f" (by a clock in {zone.key}; drift log goes by this computer's)"
