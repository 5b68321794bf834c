"""The zone that a time of day is told in, where a reader could take it for another."""

from __future__ import annotations

from datetime import UTC, datetime, tzinfo
from zoneinfo import ZoneInfo

__all__ = ["by_which_clock", "clock_here", "moment_here", "zone_named"]


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
    if zone is None:
        return f"{local:%Z}"
    return "UTC" if zone is UTC else f"UTC{local:%z}"


def clock_here(time: datetime, zone: tzinfo | None) -> str:
    """Return a time of day, with the zone where that is this computer's, or UTC.

    Examples
    --------
    >>> time = datetime(2026, 6, 13, 12, tzinfo=UTC)
    >>> clock_here(time, ZoneInfo("Europe/Berlin")), clock_here(time, UTC)
    ('14:00', '12:00 UTC')
    """
    clock = f"{time.astimezone(zone):%H:%M}"
    return f"{clock} {zone_named(time, zone)}" if zone in (None, UTC) else clock


def moment_here(time: datetime, zone: tzinfo | None) -> str:
    """Return the day and, as `clock_here` does, the time of day.

    Examples
    --------
    >>> moment_here(datetime(2026, 6, 13, 12, tzinfo=UTC), UTC)
    '2026-06-13 12:00 UTC'
    """
    return f"{time.astimezone(zone):%Y-%m-%d} {clock_here(time, zone)}"


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
