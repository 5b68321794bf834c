"""A schedule from a calendar: iCalendar files (RFC 5545), whose summaries say what is done."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, datetime, tzinfo
from pathlib import Path
from typing import Any

from drift.errors import InputError
from drift.gig.timetable import Entry, Schedule, arrange
from drift.tables.problems import every

__all__ = ["ACTIVITY_WORDS", "read_calendar"]

#: Words of a summary, and what is done; the first that is found counts.
ACTIVITY_WORDS: Mapping[str, str] = {
    **dict.fromkeys(("tune", "tuning"), "tune"),
    **dict.fromkeys(("stands", "stand tunes"), "stands"),
    **dict.fromkeys(("warm air",), "warm"),
    **dict.fromkeys(
        ("rest", "break", "intermission", "bus", "walk", "travel", "meal", "dinner", "wait"), "rest"
    ),
    **dict.fromkeys(
        ("play", "show", "half-time", "halftime", "parade", "concert", "march", "warm-up",
         "warm up", "warmup", "performance", "rehearsal"),
        "play",
    ),
}  # fmt: skip


def read_calendar(path: Path, zone: tzinfo | None = None) -> Schedule:
    """Read the schedule of an evening from a calendar.

    Parameters
    ----------
    path : Path
        An ``.ics`` file with one event for each entry.
    zone : tzinfo, optional
        The zone of times without one; the calendar's own zones count where it has them.

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
            "install rehearsal-drift[calendar], or write the schedule as CSV",
        ) from None
    try:
        events = Calendar.from_ical(Path(path).read_bytes()).walk("VEVENT")
    except (OSError, ValueError, IndexError) as error:
        raise InputError(
            f"{path} cannot be read as a calendar: {error}", "check the file, or export it again"
        ) from None
    if not events:
        raise InputError(f"{path} has no event", "export the events of the evening")
    return arrange(every(events, lambda event: _entry(Path(path).name, event, zone)))


def _entry(file: str, event: Any, zone: tzinfo | None) -> Entry:
    summary = " ".join(str(event.get("SUMMARY", "")).split())
    try:
        start, end = event.start, event.end
    except (ValueError, AttributeError):
        raise InputError(f"{file}: {summary!r} has no beginning or end", "give it both") from None
    return Entry(
        _instant(file, summary, start, zone),
        _instant(file, summary, end, zone),
        _activity(file, summary),
        remark=summary,
    )


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


def _activity(file: str, summary: str) -> str:
    for word, activity in ACTIVITY_WORDS.items():
        if re.search(rf"\b{re.escape(word)}\b", summary.casefold()):
            return activity
    raise InputError(
        f"{file}: {summary!r} does not say what is done",
        "put play, rest, tune, stands or warm air into the title",
    )
