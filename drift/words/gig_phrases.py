"""The short phrases that the terminal, the sheets and the scenarios of a plan share."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from drift.degrees import shown_degrees, shown_range
from drift.gig.days import MONTHS, WEEKDAYS
from drift.words.cents import signed
from drift.words.gig_clock import clock, hours_of
from drift.words.letters import capital

if TYPE_CHECKING:
    from drift.gig.plan import Plan
    from drift.gig.timetable import Block, Entry

__all__ = [
    "NOT_PLANNED",
    "all_indoors",
    "assumed",
    "day_of",
    "place_of",
    "range_of",
    "sentence",
    "table",
    "tuner_decides",
    "weather_of",
]

NOT_PLANNED = "not planned, no pitch to tune"


def tuner_decides(plan: Plan) -> str:
    """Return what counts where a prediction and the tuner differ."""
    where = "Trust" if all_indoors(plan) else "On the field, trust"
    return f"These are predictions. {where} the tuner."


def all_indoors(plan: Plan) -> bool:
    """Return whether all is tuned and played in rooms whose temperature is given."""
    blown = ("tune", "play", "stands")
    return all(e.celsius is not None for e in plan.schedule.entries if e.activity in blown)


def range_of(low: float, high: float) -> str:
    """Return two signed numbers as a range, one where both are alike.

    Examples
    --------
    >>> range_of(-17.2, -8.4), range_of(-13.3, -12.9)
    ('−17 to −8', '−13')
    """
    return " to ".join(dict.fromkeys((signed(low), signed(high))))


def sentence(text: str) -> str:
    """Return a text that begins and ends as a sentence does, names as they are.

    Examples
    --------
    >>> sentence("flutes come in")
    'Flutes come in.'
    """
    return f"{capital(text)}."


def day_of(time: datetime) -> str:
    """Return a date as people write it, in English whatever the machine's language.

    Examples
    --------
    >>> day_of(datetime(2026, 10, 23, 18, 0))
    'Friday 23 October 2026'
    """
    return f"{WEEKDAYS[time.weekday()]} {time.day} {MONTHS[time.month - 1]} {time.year}"


def weather_of(plan: Plan, fahrenheit: bool = False) -> str:
    """Return the range of temperatures of a plan."""
    return shown_range(float(plan.celsius.min()), float(plan.celsius.max()), fahrenheit)


def assumed(plan: Plan, fahrenheit: bool = False) -> list[str]:
    """Return what the plan takes for granted, a sentence each."""
    take = plan.assumptions
    scale, unit = (1.8, "°F") if fahrenheit else (1.0, "°C")
    error = take.forecast_error_celsius * scale
    lines = [
        f"Tuned before at {shown_degrees(take.tuned.celsius, fahrenheit)} after "
        f"{take.tuned.minutes:g} minutes of playing, to A4 = {take.tuned.a4_hz:g} Hz.",
        f"The forecast is taken as right within ±{error:.3g} {unit}.",
    ]
    for offset in dict.fromkeys(e.offset_celsius for e in plan.schedule.entries):
        if offset:
            size = f"{offset * scale:+.1f}".replace("-", "−")
            when = _spans([e for e in plan.schedule.entries if e.offset_celsius == offset])
            lines.append(f"Instruments {size} {unit} against the forecast: {when}.")
    for celsius in dict.fromkeys(e.celsius for e in plan.schedule.entries):
        if celsius is not None:
            there = shown_degrees(celsius, fahrenheit)
            when = _spans([e for e in plan.schedule.entries if e.celsius == celsius])
            lines.append(f"{there} by the schedule: {when}.")
    return lines


def _spans(entries: Sequence[Entry]) -> str:
    """Return when entries are, those that follow each other joined."""
    spans: list[tuple[datetime, datetime]] = []
    for entry in entries:
        if spans and spans[-1][1] == entry.start:
            spans[-1] = (spans[-1][0], entry.end)
        else:
            spans.append((entry.start, entry.end))
    return ", ".join(hours_of(*span) for span in spans)


def place_of(plan: Plan, block: Block, fahrenheit: bool = False) -> str:
    """Return the playing that a tune has to serve, and how warm it is then."""
    entries = plan.schedule.entries
    played = plan.schedule.played_between(block.ready, block.end)
    served = played or [e for e in entries if e.start == block.tune_at]
    chosen = [entries[number] in served for number in plan.schedule.entry_at(plan.times)]
    there = plan.celsius[chosen]
    degrees = shown_range(float(there.min()), float(there.max()), fahrenheit)
    if not played:
        if block.end < plan.schedule.end:
            return f"for the playing that follows the tune at {clock(block.end)}"
        return f"for the tuning itself at {degrees}"
    when = ", ".join(hours_of(entry.start, entry.end) for entry in played)
    return f"for {when} at {degrees}"


def table(rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """Yield the rows as lines with aligned columns."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        yield ("  " + "  ".join(cells)).rstrip()
