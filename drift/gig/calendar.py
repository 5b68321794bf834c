"""A schedule from a calendar: iCalendar files (RFC 5545), whose summaries say what is done."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, tzinfo
from pathlib import Path
from typing import Any

from drift.errors import InputError
from drift.findings import Finding
from drift.gig.activities import (
    ACTIVITIES,
    TITLE_TEMPERATURE,
    is_warm_up,
    occupation,
    read_activity,
    said_with,
)
from drift.gig.timetable import Entry, Schedule, arrange
from drift.quantities import TEMPERATURE, read_quantity
from drift.tables.headings import UNUSED
from drift.tables.problems import every

__all__ = ["read_calendar"]

#: A line of a description that gives a value: ``celsius 21``, ``activity: play``.
DESCRIBED = re.compile(
    r"(?im)^\s*(activity|celsius|fahrenheit|offset_celsius|offset_fahrenheit)\s*[:= ]\s*(\S.*?)\s*$"
)
LARGEST_OFFSET, LARGEST = 40.0, 60.0


def read_calendar(
    path: Path, zone: tzinfo | None = None, words: Mapping[str, str] | None = None
) -> Schedule:
    """Read the schedule of an evening from a calendar.

    Parameters
    ----------
    path : Path
        An ``.ics`` file with one event for each entry. The words of its title say what is done,
        and a temperature with its unit (``Tune in the hall 21 C``) replaces the forecast. A line
        of its description may say it better: ``activity play``, ``celsius 21``, ``fahrenheit 70``,
        ``offset_celsius 2``.
    zone : tzinfo, optional
        The zone of times without one; the calendar's own zones count where it has them.
    words : mapping of str to str, optional
        Words of titles, and what is done then: ``{"uniforms": "rest"}``.

    Returns
    -------
    Schedule
        In order of time, without gaps.

    Raises
    ------
    InputError
        When the file is not a calendar, or an event has no times or does not say what is done;
        all such events are named at once.
    """
    try:
        from icalendar import Calendar
    except ImportError:
        raise InputError(
            f"{path} is a calendar, and icalendar is not installed",
            "install it (pip install icalendar), or write the schedule as CSV",
        ) from None
    try:
        events = Calendar.from_ical(Path(path).read_bytes()).walk("VEVENT")
    except (OSError, ValueError, IndexError) as error:
        raise InputError(
            f"{path} cannot be read as a calendar: {error}", "check the file, or export it again"
        ) from None
    if not events:
        raise InputError(f"{path} has no event", "export the events of the evening")
    unused = {word.casefold() for word, name in (words or {}).items() if name == UNUSED}
    days = [_summary(event) for event in events if _lasts_days(event)]
    taken = [e for e in events if not _lasts_days(e) and _summary(e).casefold() not in unused]
    if not taken:
        raise InputError(f"{path} has no event at a time of day", "give its events times of day")
    found = arrange(every(taken, lambda event: _entry(Path(path).name, event, zone, words)))
    left_out = (Finding("all_day_left_out", {"entries": days}),) if days else ()
    return replace(found, notices=(*left_out, *found.notices))


def _summary(event: Any) -> str:
    return " ".join(str(event.get("SUMMARY", "")).split())


def _lasts_days(event: Any) -> bool:
    """Return whether an event has a date and no time of day."""
    start = event.get("DTSTART")
    return start is not None and not isinstance(start.dt, datetime)


def _entry(file: str, event: Any, zone: tzinfo | None, words: Mapping[str, str] | None) -> Entry:
    summary = _summary(event)
    try:
        start, end = event.start, event.end
    except (ValueError, AttributeError):
        raise InputError(f"{file}: {summary!r} has no beginning or end", "give it both") from None
    described = {name.lower(): value for name, value in DESCRIBED.findall(_description(event))}
    activity, share = _activity(file, summary, described.get("activity"), words)
    celsius, offset = _temperatures(file, summary, described)
    return Entry(
        _instant(file, summary, start, zone),
        _instant(file, summary, end, zone),
        activity,
        offset_celsius=offset,
        celsius=celsius,
        remark=_remark(summary, " ".join(str(event.get("LOCATION", "")).split())),
        share=share,
        occupied=occupation(summary) if activity == "rest" else "",
        warm_up=activity == "play" and is_warm_up(summary),
    )


def _remark(summary: str, location: str) -> str:
    known = not location or location.casefold() in summary.casefold()
    return summary if known else f"{summary}, {location}"


def _description(event: Any) -> str:
    return str(event.get("DESCRIPTION", ""))


def _temperatures(
    file: str, summary: str, described: Mapping[str, str]
) -> tuple[float | None, float]:
    """Return the temperature of an entry and its offset from the forecast [°C]."""
    celsius, offset = None, 0.0
    if found := TITLE_TEMPERATURE.search(summary):
        celsius = read_quantity(found[0], TEMPERATURE)
    for name, text in described.items():
        if name == "activity":
            continue
        unit = "" if text.rstrip()[-1:].upper() in ("C", "F") else name.removeprefix("offset_")[0]
        difference = name.startswith("offset")
        value = read_quantity(f"{text}{unit}", TEMPERATURE, difference=difference)
        if value is None or abs(value) > (LARGEST_OFFSET if difference else LARGEST):
            raise InputError(
                f"{file}: {summary!r}: {name} {text!r} is not a number of degrees",
                "write it such as celsius 21 or fahrenheit 70",
            )
        if difference:
            offset = value
        else:
            celsius = value
    return celsius, offset


def _instant(file: str, summary: str, value: date, zone: tzinfo | None) -> datetime:
    if not isinstance(value, datetime):
        raise InputError(f"{file}: {summary!r} has a date and no time", "give it a time of day")
    if value.tzinfo is not None:
        return value
    if zone is None:
        raise InputError(
            f"{file}: {summary!r} has no zone", "give it once with --zone, such as America/New_York"
        )
    return value.replace(tzinfo=zone)


def _activity(
    file: str, summary: str, described: str | None, words: Mapping[str, str] | None
) -> tuple[str, float | None]:
    """Return what is done, and the share of the time of ``stands 0.2``."""
    if described is not None:
        found = read_activity(described, words)
        if found is None:
            raise InputError(
                f"{file}: {summary!r}: activity {described!r} is not known",
                f"write {', '.join(ACTIVITIES)}",
            )
        return found
    found = read_activity(summary, words)
    if found is not None:
        return found
    play, rest = said_with(summary, "play", "rest")
    raise InputError(
        f"{file}: {summary!r} does not say what is done",
        f"give {play} where the band plays then, {rest} where it rests, or write it into the "
        "title, or a line such as 'activity rest' into the description",
    )
