"""The card for one room in words: which room, where each slide goes, what to know."""

from __future__ import annotations

from drift.degrees import shown_degrees
from drift.slides.positions import PositionTable
from drift.words import slide_table
from drift.words.intervals import most_likely
from drift.words.remaining_error import what_remains
from drift.words.slides import length, orders
from drift.words.warming import counts_on, warm_up

__all__ = ["beside", "figure", "instead", "remaining", "to_know", "where"]


def where(table: PositionTable) -> str:
    """Return which room the card is for."""
    there = table.corrections[0]
    degrees = (shown_degrees(there.celsius), shown_degrees(there.celsius, fahrenheit=True))
    return f"{degrees[0]} ({degrees[1]}), after {there.minutes:g} minutes of playing"


def figure(table: PositionTable, slide: str, *, inches: bool = False) -> str:
    """Return where a slide goes, with its unit unless it is fully in or stays."""
    text = slide_table.figure(table, 0, slide, inches=inches)
    if text == slide_table.STAY:
        return text
    unit = "in" if inches else "mm"
    return f"{text.removesuffix('.0')} {unit}".replace("-", "\N{MINUS SIGN}")


def beside(table: PositionTable, slide: str, *, inches: bool = False) -> list[str]:
    """Return what is special about a position, and between which the right one lies."""
    special = slide_table.mark(table, 0, slide)
    span = "" if inches else slide_table.cell_interval(table, 0, slide)
    now = _now_mm(table, slide)
    from_where = "" if now is None else f"now {length(now, inches=inches)}"
    likely = f"most likely {span} mm".replace("-", "\N{MINUS SIGN}") if span else ""
    first = ", ".join(filter(None, (special, from_where)))
    return [text for text in (first, likely) if text]


def _now_mm(table: PositionTable, slide: str) -> float | None:
    """Return where a slide is: as logged last, else as it was tuned."""
    there = table.corrections[0]
    return there.moved_to_mm.get(slide, there.at.get(slide))


def instead(table: PositionTable) -> list[str]:
    """Return what to do where no slide is to be moved."""
    return orders(table.corrections[0]) if table.instrument.slides else []


def remaining(table: PositionTable) -> list[str]:
    """Return what remains, and what to do about it."""
    return what_remains(table.corrections[0]) if table.instrument.slides else []


def to_know(table: PositionTable, *, inches: bool = False) -> list[str]:
    """Return what to know about the card: warming up, where it starts, what is not known."""
    there, started = table.corrections[0], slide_table.started(table, inches=inches)
    if not table.instrument.slides:
        return slide_table.legend(table)
    lines = [warm_up(there), counts_on(there), f"It starts from an instrument {started}."]
    lines += slide_table.moved_since_tuning(table, inches=inches, instead="set it as above")
    lines += [] if inches else [most_likely(there)]
    if any(table.extrapolated):
        lines.append("No reading so far was in such air: the answer is extrapolated.")
    lines += [*slide_table.travel_unknown(table, ""), slide_table.reminder(table)]
    return [line for line in lines if line]
