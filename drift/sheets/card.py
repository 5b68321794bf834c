"""The card of slide positions: one page, large type, to keep in the case."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from drift.degrees import fahrenheit_of_celsius
from drift.notes import shown
from drift.slides.positions import AT_THE_END, BEYOND_SEEN, PositionTable
from drift.writing import written_file

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["card", "save_card"]

A5_PORTRAIT_INCHES = (5.83, 8.27)
LARGE, TITLE, SMALL = 18, 20, 8.8
TOP, BOTTOM, LEFT, RIGHT = 0.80, 0.20, 0.08, 0.92
CELSIUS, FAHRENHEIT = 0.16, 0.27
RIGHT_MIDDLE: dict[str, Any] = {"ha": "right", "va": "center"}

OPEN_NOTES = " Open notes."
REMINDER = "Warm up first.{} Never force a slide that is stuck."


def card(table: PositionTable, *, inches: bool = False) -> Figure:
    """Return the card of a position table.

    Parameters
    ----------
    table : PositionTable
        The positions.
    inches : bool
        Sixteenths of an inch instead of millimetres.

    Returns
    -------
    Figure
        One page of A5, black on white.
    """
    figure = Figure(figsize=A5_PORTRAIT_INCHES)
    ax = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    ax.set_xlim(0.0, 1.0)
    ax.set_ylim(0.0, 1.0)
    ax.set_axis_off()
    ax.text(LEFT, 0.945, shown(table.instrument.name), size=TITLE, weight="bold", va="center")
    ax.text(LEFT, 0.897, table.player or "slide positions", size=13, va="center")
    _draw_rows(ax, table, inches)
    ax.text(LEFT, BOTTOM - 0.035, table.legend(inches=inches), size=SMALL, va="top", wrap=True)
    reminder = REMINDER.format(OPEN_NOTES if table.instrument.family == "brass" else "")
    ax.text(LEFT, 0.035, reminder, size=SMALL, weight="bold", va="bottom")
    return figure


def _draw_rows(ax: Axes, table: PositionTable, inches: bool) -> None:
    """Draw the temperatures and the positions, a thin line below each row."""
    slides = table.slides
    left_over = any(table.left_over(row) for row in range(len(table.corrections)))
    first, last = FAHRENHEIT, 0.74 if left_over else RIGHT - 0.04
    step = min((last - first) / max(len(slides), 1), 0.25)
    right = {slide: first + step * (n + 1) for n, slide in enumerate(slides)}
    heads = {CELSIUS: "°C", FAHRENHEIT: "°F"} | {
        x: table.head(slide).replace(" ", "\n") for slide, x in right.items()
    }
    heads |= {RIGHT: "cents left"} if left_over else {}
    for x, name in heads.items():
        ax.text(x, TOP + 0.015, name, size=SMALL + 3, ha="right", va="bottom")
    _rule(ax, TOP, color="black", linewidth=1.6)
    height = (TOP - BOTTOM) / len(table.corrections)
    for row, correction in enumerate(table.corrections):
        y = TOP - (row + 0.5) * height
        seen = "" if not table.beyond_seen[row] else BEYOND_SEEN
        _cell(ax, CELSIUS, y, f"{correction.celsius:g}", seen)
        ax.text(
            FAHRENHEIT,
            y,
            f"{fahrenheit_of_celsius(correction.celsius):.0f}",
            size=12,
            **RIGHT_MIDDLE,
        )
        for slide, x in right.items():
            text = table.cell(row, slide, inches=inches)
            number = text.removesuffix(AT_THE_END)
            size = LARGE if len(slides) < 3 else LARGE - 3
            _cell(ax, x, y, number, text[len(number) :], size=size, weight="bold")
        ax.text(RIGHT, y, table.left_over(row).replace(", ", "\n"), size=12, **RIGHT_MIDDLE)
        _rule(ax, y - height / 2, color="0.6", linewidth=0.6)


def _cell(
    ax: Axes, x: float, y: float, number: str, mark: str, size: int = LARGE, weight: str = "normal"
) -> None:
    """Write a number ending at x, with its mark behind it so that the digits stay in line."""
    ax.text(x, y, number, size=size, weight=weight, **RIGHT_MIDDLE)
    ax.text(x + 0.006, y, mark, size=size, ha="left", va="center")


def _rule(ax: Axes, y: float, **style: Any) -> None:
    ax.plot([LEFT, RIGHT], [y, y], **style)


def save_card(table: PositionTable, path: Path, *, inches: bool = False) -> None:
    """Write the card as a PDF of one page.

    Parameters
    ----------
    table : PositionTable
        The positions.
    path : Path
        The PDF.
    inches : bool
        Sixteenths of an inch instead of millimetres.
    """
    # Without a date the same table gives the same file.
    about = {"Title": f"Slide positions: {table.heading()}", "CreationDate": None}
    with written_file(path) as unfinished, PdfPages(unfinished, metadata=about) as pdf:
        pdf.savefig(card(table, inches=inches))
