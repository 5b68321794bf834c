"""The table of slide positions in words: heads, cells, legend."""

from __future__ import annotations

from drift.degrees import fahrenheit_of_celsius
from drift.notes import shown
from drift.quantities import in_inches
from drift.slides.moves import MM_UNSEEN
from drift.slides.positions import PositionTable, shows
from drift.tonight.decision import round_mm
from drift.words.slides import STEP_MM, tuned_from

__all__ = [
    "AT_THE_END",
    "EXTRAPOLATED",
    "cell",
    "cell_interval",
    "head",
    "heading",
    "legend",
    "remaining",
    "reminder",
    "summary",
]

EXTRAPOLATED = "*"
AT_THE_END = " end"
STAY = "stay"
A_MOVE = "move"
SMALL_NUMBERS = "Small: where 95 % of what is likely lies."


def reminder(table: PositionTable) -> str:
    """Return what to mind at the instrument."""
    open_notes = " Open notes." if table.instrument.family == "brass" else ""
    return f"Warm up first.{open_notes} Never force a slide that is stuck."


def heading(table: PositionTable) -> str:
    """Return whose table it is."""
    of = f", {table.player}" if table.player else ""
    return f"{shown(table.instrument.name)}{of}"


def head(table: PositionTable, slide: str, unit: str = "") -> str:
    """Return the head of a slide's column: whether it gives positions or moves."""
    move = "" if slide in table.corrections[0].at else A_MOVE
    inside = ", ".join(filter(None, (move, unit)))
    return f"{shown(slide)} ({inside})" if inside else shown(slide)


def cell(table: PositionTable, row: int, slide: str, *, inches: bool = False) -> str:
    """Return a cell for a slide: a position, else a signed move, to what an eye can set."""
    move = table.move(row, slide)
    known = move.to_mm is not None
    value = move.move_mm if move.to_mm is None else move.to_mm
    if not known and not shows(move):
        return STAY
    text = in_inches(value) if inches else f"{round_mm(value, STEP_MM):.1f}"
    if not known and value > 0:
        text = f"+{text}"
    return text + (AT_THE_END if move.at_end_of_travel else "")


def cell_interval(table: PositionTable, row: int, slide: str) -> str:
    """Return from where to where a position or a move may have to go [mm], where it is known.

    Empty where the interval is too short to be seen on the slide.
    """
    move = table.move(row, slide)
    if not shows(move) and move.to_mm is None:
        return ""
    if move.high_mm - move.low_mm < MM_UNSEEN:
        return ""
    base = 0.0 if move.to_mm is None else move.to_mm - move.move_mm
    low, high = (round_mm(base + end, STEP_MM) for end in (move.low_mm, move.high_mm))
    if move.to_mm is None:
        return " to ".join(f"{end:+g}" if end else "0" for end in (low, high))
    return f"{max(low, 0.0):g} to {high:g}"


def remaining(table: PositionTable, row: int) -> str:
    """Return the remaining error [cents], where it can be heard, by side."""
    return ", ".join(
        f"{shown(side)} {cents:+.0f}".strip()
        for side, cents in table.corrections[row].remaining_cents.items()
        if abs(cents) >= 0.5
    )


def legend(table: PositionTable, *, inches: bool = False) -> list[str]:
    """Return how to read the table, a line each."""
    unit = "inches" if inches else "millimetres"
    tuned = table.corrections[0]
    celsius = round(tuned.tuned_celsius, 1)
    minutes = round(tuned.tuned_minutes)
    at = f"tuned at {celsius:g} °C, after {minutes} minutes of playing{tuned_from(tuned)}"
    if not table.instrument.slides:
        return [f"Nothing on it can be moved; cents against where it was {at}."]
    what = "Positions from fully in" if tuned.at else "Moves"
    lines = [f"{what}, {unit}; {at}."]
    if set(table.slides) - set(tuned.at):
        lines.append(f"({A_MOVE}): how far from where it was tuned, + out, - in.")
    if any(table.extrapolated):
        lines.append(f"{EXTRAPOLATED} outside the temperatures measured so far: extrapolated.")
    if any(move.at_end_of_travel for one in table.corrections for move in one.moves):
        lines.append(f"{AT_THE_END.strip()}: at the end of its travel, or stuck.")
    return lines


def summary(table: PositionTable, *, inches: bool = False) -> str:
    """Return the table as text."""
    header = ["°C", "°F", *(head(table, slide) for slide in table.slides), "remaining (cents)"]
    rows = [header] + [
        [
            f"{one.celsius:g}{EXTRAPOLATED if table.extrapolated[row] else ''}",
            f"{fahrenheit_of_celsius(one.celsius):.0f}",
            *(cell(table, row, slide, inches=inches) for slide in table.slides),
            remaining(table, row),
        ]
        for row, one in enumerate(table.corrections)
    ]
    widths = [max(len(row[column]) for row in rows) for column in range(len(header))]
    lines = [
        "  ".join(text.rjust(width) for text, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]
    return "\n".join([heading(table), *lines, *legend(table, inches=inches)])
