"""The zone that a time of day is told in, where a reader could take it for another."""

from __future__ import annotations

from datetime import UTC, datetime, tzinfo
from zoneinfo import ZoneInfo

__all__ = ["clock_here", "zone_named"]


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
    """Return a time of day, with the zone where it is that of this computer.

    Examples
    --------
    >>> clock_here(datetime(2026, 6, 13, 12, tzinfo=UTC), ZoneInfo("Europe/Berlin"))
    '14:00'
    """
    clock = f"{time.astimezone(zone):%H:%M}"
    return clock if zone is not None else f"{clock} {zone_named(time, zone)}"
