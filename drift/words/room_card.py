"""The card for one room in words: which room, where each slide goes, what to know."""

from __future__ import annotations

from drift.degrees import shown_degrees
from drift.slides.moves import MM_UNSEEN
from drift.slides.moving import Move
from drift.slides.positions import PositionTable
from drift.words import slide_table
from drift.words.intervals import most_likely
from drift.words.remaining_error import what_remains
from drift.words.slides import between, length, moves_from_now, orders, valve_step
from drift.words.warming import counts_on, warm_up

__all__ = ["goal", "instead", "known", "order", "remaining", "to_know", "valve_slides", "where"]


LEAVE = "leave it"


def where(table: PositionTable) -> str:
    """Return which room the card is for."""
    there = table.corrections[0]
    degrees = (shown_degrees(there.celsius), shown_degrees(there.celsius, fahrenheit=True))
    return f"{degrees[0]} ({degrees[1]}), after {there.minutes:g} minutes of playing"


def order(table: PositionTable, slide: str, *, inches: bool = False) -> str:
    """Return where a slide goes, as an order; its move where nobody knows where it is.

    The place holds wherever the slide lies when the case is opened; a move does not.
    """
    move = _move(table, slide)
    if _stays(table, slide):
        return LEAVE
    if move.to_mm is None:
        return _by(move, inches, table.instrument.step_mm)
    special = slide_table.mark(table, 0, slide)
    if special == slide_table.FULLY_IN:
        return special
    return f"set to {length(move.to_mm, inches=inches, step_mm=table.instrument.step_mm)}"


def goal(table: PositionTable, slide: str) -> str:
    """Return from where the place or the move counts, and what is special there, if anything."""
    special = slide_table.mark(table, 0, slide)
    if _stays(table, slide):
        return special
    if _move(table, slide).to_mm is None:
        return "from where it was tuned"
    if special == slide_table.FULLY_IN:
        return ""
    if special == slide_table.END:
        return "the end of its travel"
    return ", ".join(filter(None, ("from fully in", special)))


def known(table: PositionTable, slide: str, *, inches: bool = False) -> str:
    """Return between which the right place or move lies, and the move from where the slide was."""
    move, span = _move(table, slide), slide_table.cell_interval(table, 0, slide)
    was, step_mm = "", table.instrument.step_mm
    if move.from_mm is not None:
        at = length(move.from_mm, inches=inches, step_mm=step_mm)
        was = f"now at {at}" if _stays(table, slide) else f"{_by(move, inches, step_mm)} from {at}"
    if not span or inches:
        return was
    likely = f"most likely {between(move, step_mm) if move.to_mm is None else f'{span} mm'}"
    return "; ".join(filter(None, (likely, was)))


def _stays(table: PositionTable, slide: str) -> bool:
    stuck = slide_table.mark(table, 0, slide) == slide_table.STUCK
    return stuck or abs(_move(table, slide).move_mm) < MM_UNSEEN


def _by(move: Move, inches: bool, step_mm: float) -> str:
    far = length(move.move_mm, inches=inches, step_mm=step_mm)
    return f"{'pull out' if move.move_mm > 0 else 'push in'} {far}"


def _move(table: PositionTable, slide: str) -> Move:
    """Return the move of a slide from where it is: as logged last, else as it was tuned."""
    return next(one for one in moves_from_now(table.corrections[0]) if one.slide == slide)


def instead(table: PositionTable) -> list[str]:
    """Return what to do where no slide is to be moved."""
    return orders(table.corrections[0]) if table.instrument.slides else []


def valve_slides(table: PositionTable, *, inches: bool = False) -> list[str]:
    """Return how far the valve slides follow the others, where any is worth its while."""
    return valve_step(table.corrections[0], inches)


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
    lines += slide_table.off_where_assumed(table, inches=inches)
    lines += [] if inches else [most_likely(there)]
    if any(table.extrapolated):
        lines.append("No reading so far was in such air: the answer is extrapolated.")
    lines += [*slide_table.travel_unknown(table, ""), slide_table.reminder(table)]
    return [line for line in lines if line]
