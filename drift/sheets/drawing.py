"""A drawing of the air path: each side as a line to scale, with its slides and valve loops.

The drawing is a scheme. The length of each line and of each valve loop is to scale; where along
the line a slide sits differs between makers and is drawn in the order players use.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from drift.charts.style import GREY, INK, PAPER, look, new_axes, style
from drift.instruments.anatomy import Instrument, Side, Slide
from drift.notes import shown
from drift.words import instruments as words
from drift.words.letters import capital

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["air_path"]

# Measures of the scheme, as fractions of the longest side.
ROW, LABEL = 0.34, 0.2
FIRST_SLIDE, SLIDE_STEP, VALVE_START, VALVE_STEP = 0.14, 0.27, 0.74, 0.072
BLANK = {"facecolor": PAPER, "edgecolor": "none", "pad": 1.0}
SLIDE_DEPTH, LEG_GAP, BELL = 0.055, 0.018, 0.06


@style()
def air_path(instrument: Instrument, ax: Axes | None = None) -> Axes:
    """Draw the air path of an instrument.

    Parameters
    ----------
    instrument : Instrument
        The instrument.
    ax : Axes, optional
        Where to draw (default: new axes).

    Returns
    -------
    Axes
        One row a side, the mouthpiece on the left; lengths in metres. A slide that serves several
        sides hangs at the same place on each, joined by a dotted line.
    """
    sides = instrument.sides if instrument.fixed_pitch is None else ()
    if ax is None:
        ax = new_axes(7.6, 1.5 + 1.7 * max(len(sides), 1))
    longest = max((side.length_m for side in sides), default=1.0)
    for row, side in enumerate(sides):
        _draw_side(ax, instrument, side, -ROW * longest * row, longest)
    ax.set_title(capital(words.air_path(instrument.name)))
    ax.set_aspect("equal")
    ax.set_yticks([])
    ax.spines["left"].set_visible(False)
    ax.grid(visible=False)
    ax.set_xlabel(words.METRES_OF_AIR)
    if not sides:
        ax.set_axis_off()
        ax.text(0.0, 0.5, words.NO_AIR_PATH)
        return ax
    ax.set_xlim(-0.03 * longest, longest * (1.0 + 2.5 * BELL))
    ax.set_ylim(-longest * (ROW * (len(sides) - 1) + 0.17), 0.2 * longest)
    return ax


def _draw_side(ax: Axes, instrument: Instrument, side: Side, y: float, longest: float) -> None:
    ax.plot([0.0, side.length_m], [y, y], color=INK, linewidth=2.2, solid_capstyle="butt")
    ax.plot([0.0, 0.0], [y - 0.015 * longest, y + 0.015 * longest], color=INK, linewidth=3.5)
    if instrument.family == "brass":
        _draw_bell(ax, side.length_m, y, longest)
    name = f"{shown(side.name)} side, " if side.name else ""
    shortest = min(column.length_m for column in instrument.sides)
    ax.text(
        LABEL * shortest,
        y + 0.085 * longest,
        f"{name}{side.length_m:.2f} m",
        weight="bold",
        va="bottom",
        bbox=BLANK,
    )
    for place, slide in enumerate(instrument.slides):
        if side.name in slide.sides:
            x = shortest * (FIRST_SLIDE + SLIDE_STEP * place)
            _draw_slide(ax, instrument, side, slide, x, y, longest)
    for place, valve in enumerate(instrument.valves):
        x = side.length_m * (VALVE_START + VALVE_STEP * place)
        _draw_loop(ax, x, y, valve.fraction * side.length_m / 2.0, LEG_GAP * longest, GREY)
        ax.text(
            x + LEG_GAP * longest / 2.0,
            y - 0.012 * longest,
            valve.name,
            color=GREY,
            size=9,
            ha="center",
            va="top",
        )


def _draw_bell(ax: Axes, end: float, y: float, longest: float) -> None:
    opening = np.linspace(0.0, 1.0, 24)
    flare = 0.05 * longest * opening**3
    for sign in (-1.0, 1.0):
        ax.plot(end + BELL * longest * opening, y + sign * flare, color=INK, linewidth=1.6)


def _draw_slide(
    ax: Axes,
    instrument: Instrument,
    side: Side,
    slide: Slide,
    x: float,
    y: float,
    longest: float,
) -> None:
    kind = look(instrument.slides.index(slide))
    gap = LEG_GAP * longest
    depth = SLIDE_DEPTH * longest if slide.path_factor > 1.5 else gap
    if slide.path_factor > 1.5:
        ax.plot([x, x + gap], [y, y], color=PAPER, linewidth=3.0)
        _draw_loop(ax, x, y, -depth, gap, kind.colour, 3.0)
    else:
        ax.plot([x, x + 3 * gap], [y, y], color=kind.colour, linewidth=7.0)
    if y < 0.0 and len(slide.sides) > 1:
        ax.plot([x + gap / 2] * 2, [y, 0.0], color=kind.colour, linestyle=":", linewidth=1.2)
    ax.text(
        x + gap / 2.0,
        y - depth - 0.012 * longest,
        f"{shown(slide.name)}\n{_slope(instrument.cents_per_mm(side.name, slide.name))}",
        color=kind.colour,
        size=8,
        ha="center",
        va="top",
        bbox=BLANK,
    )


def _slope(cents_per_mm: float) -> str:
    return f"{cents_per_mm:.2f} cents/mm".replace("-", "\N{MINUS SIGN}")


def _draw_loop(
    ax: Axes,
    x: float,
    y: float,
    height: float,
    gap: float,
    colour: str,
    width: float = 1.8,
) -> None:
    """Draw a U on the line, its two legs as long as the height."""
    ax.plot(
        [x, x, x + gap, x + gap],
        [y, y + height, y + height, y],
        color=colour,
        linewidth=width,
    )
