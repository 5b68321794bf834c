"""A timetable as it is understood: when, what, how warm, and the remark of each entry."""

from __future__ import annotations

from collections.abc import Iterator

from drift.degrees import shown_degrees
from drift.gig.gaps import GAP_KINDS
from drift.gig.timetable import Entry, Schedule
from drift.words.cents import signed
from drift.words.gig_clock import clock, hours_of
from drift.words.gig_phrases import table
from drift.words.gig_warnings import at_start, warning_text

__all__ = ["timetable_lines"]

AS_FORECAST = "as forecast"


def timetable_lines(schedule: Schedule, fahrenheit: bool = False) -> Iterator[str]:
    """Yield a line for each entry, what is assumed before and between, and that there is no tune.

    Parameters
    ----------
    schedule : Schedule
        The schedule.
    fahrenheit : bool
        Whether temperatures are shown in °F.
    """
    rows = [
        (
            hours_of(entry.start, entry.end),
            _activity(entry),
            _place(entry, fahrenheit),
            entry.remark,
        )
        for entry in schedule.entries
    ]
    yield from table(rows)
    for found in schedule.notices:
        if found.kind in GAP_KINDS and found.values["beside_a_room"]:
            yield f"  {warning_text(found, fahrenheit)}"
    if schedule.begins_outdoors:
        yield f"  {at_start(schedule.start)}"
    first = schedule.first_playing
    if not schedule.tuned and first is not None:
        yield (
            f"  no tune: the plan puts one before the playing at {clock(first.start)} where "
            "there is a rest"
        )


def _activity(entry: Entry) -> str:
    if entry.warm_up:
        return "warm-up"
    return entry.activity if entry.share is None else f"{entry.activity} {entry.share:g}"


def _place(entry: Entry, fahrenheit: bool) -> str:
    """Return how warm it is there, as far as the schedule gives it."""
    if entry.celsius is not None:
        return shown_degrees(entry.celsius, fahrenheit)
    if not entry.offset_celsius:
        return AS_FORECAST
    scale, unit = (1.8, "°F") if fahrenheit else (1.0, "°C")
    return f"{AS_FORECAST} {signed(entry.offset_celsius * scale)} {unit}"
