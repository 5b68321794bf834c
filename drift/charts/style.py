"""One look for every chart: how it is drawn, and how it becomes a file.

Colours are told apart by people who are colour-blind, and every series has a marker and a line
of its own as well, so that a chart survives a black-and-white copier. Letters are DejaVu Sans,
which travels with matplotlib.

A mark means the same on every chart:

============================  ============================================================
mark                          what it is
============================  ============================================================
shape with its colour         one player or one instrument, in the order of the legend
filled                        a reading of a warm instrument
open                          a reading in the first ten minutes of playing, or after a rest
solid line                    what the fit expects, or a temperature that was measured
dashed line                   the instrument cold, from the case
dark band                     where the line lies, with 95 % probability
light grey band               where 95 % of single readings on a new day lie
point with a whisker          an estimate with its 95 % interval
cross                         a temperature that was typed
small upright stroke          one rehearsal among many
thick upright bar             all of them together
grey shade over time          a rest
upright dashed line           a slide move
============================  ============================================================

References
----------
M. Okabe, K. Ito, *Color Universal Design*, 2008 (the colours; second-hand).
"""

from __future__ import annotations

import io
import re
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator
from matplotlib.transforms import ScaledTranslation

from drift.errors import InputError
from drift.writing import written_file

__all__ = ["GREY", "INK", "Look", "inline_svg", "look", "new_axes", "png", "save", "style", "svg"]

INK = "#1f2328"
GREY = "#6e7781"
PAPER = "#ffffff"

_COLOURS = ("#0072b2", "#d55e00", "#009e73", "#cc79a7", "#56b4e9", "#e69f00")
_MARKERS = ("o", "s", "^", "D", "v", "P")
_LINES: tuple[Any, ...] = ("-", (0, (5, 2)), (0, (1, 1.5)), (0, (6, 2, 1, 2)), (0, (3, 1)), "-")

LABELS_POINTS = 40.0
"""The numbers and words of a horizontal axis take up so much below it."""

WIDE_INCHES = 6.8
"""A chart so wide has room for three columns of its legend."""

LEAST_CENTS, LEAST_CELSIUS = 10.0, 2.0
"""No axis is narrower: a change too small to matter is to look small."""

EARLY_MINUTES = 10.0
"""Readings so soon after the playing began, or began again, are drawn open."""

MANY_POINTS = 3000
"""With more points than this, points become a picture inside the drawing and keep it small."""

_STYLE: dict[Any, Any] = {
    "axes.edgecolor": GREY,
    "axes.facecolor": "none",
    "axes.grid": True,
    "axes.labelcolor": INK,
    "axes.labelsize": 11,
    "axes.linewidth": 0.8,
    "axes.spines.right": False,
    "axes.spines.top": False,
    "axes.titlelocation": "left",
    "axes.titlesize": 12,
    "axes.titleweight": "bold",
    "axes.unicode_minus": True,
    "figure.facecolor": PAPER,
    "figure.figsize": (7.2, 4.2),
    "font.family": ["DejaVu Sans"],
    "font.size": 11,
    "grid.alpha": 0.25,
    "grid.color": GREY,
    "grid.linewidth": 0.6,
    "legend.fontsize": 10,
    "legend.frameon": False,
    "lines.linewidth": 1.8,
    "lines.markersize": 5,
    "svg.fonttype": "path",
    "svg.hashsalt": "drift",
    "text.color": INK,
    "text.parse_math": False,  # a player may be called $x$
    "xtick.color": INK,
    "xtick.labelsize": 10,
    "ytick.color": INK,
    "ytick.labelsize": 10,
}

# matplotlib keeps its settings in one place for all threads of a program.
_ONE_AT_A_TIME = threading.RLock()


@dataclass(frozen=True)
class Look:
    """How one series is told apart: by colour, and without colour by marker and line."""

    colour: str
    marker: str
    line: Any


def look(position: int) -> Look:
    """Return the look of the series at a position; colours repeat after six, looks after 36.

    Examples
    --------
    >>> look(0).marker, look(1).marker, look(6).colour == look(0).colour, look(6).marker
    ('o', 's', True, 's')
    """
    kinds = len(_COLOURS)
    turned = position + position // kinds
    return Look(_COLOURS[position % kinds], _MARKERS[turned % kinds], _LINES[turned % kinds])


@contextmanager
def style() -> Iterator[None]:
    """Draw in the look of this package, also as a decorator: ``@style()``.

    Settings of matplotlib outside are left as they were.
    """
    with _ONE_AT_A_TIME, mpl.rc_context(_STYLE), warnings.catch_warnings():
        # A name in letters that DejaVu lacks is drawn as boxes; it stands in the text as it is.
        warnings.filterwarnings("ignore", message="Glyph .* missing from font", append=False)
        yield


@style()
def new_axes(width: float = 7.2, height: float = 4.2) -> Axes:
    """Return empty axes on a figure of their own.

    Parameters
    ----------
    width, height : float
        Size of the figure [inch].
    """
    return Figure(figsize=(width, height), layout="constrained").add_subplot()


def figure_of(ax: Axes) -> Figure:
    """Return the figure that axes stand on."""
    figure = ax.get_figure(root=True)
    assert figure is not None, "axes that were removed from their figure"
    return figure


def signed(axis: Axis) -> None:
    """Write the numbers of an axis with their sign: +4, 0, −4."""
    round_ticks(8, axis)
    axis.set_major_formatter(FuncFormatter(lambda value, _: signed_text(value)))


def signed_text(value: float) -> str:
    """Return a number with a sign and no needless decimals.

    Examples
    --------
    >>> signed_text(4.0), signed_text(-2.5), signed_text(0.0)
    ('+4', '−2.5', '0')
    """
    return "0" if value == 0 else f"{value:+g}".replace("-", "−")


def round_ticks(most: int, *axes: Axis) -> None:
    """Put at most so many ticks on round numbers."""
    for axis in axes:
        axis.set_major_locator(MaxNLocator(nbins=most, steps=[1, 2, 5, 10]))


def short(text: str, longest: int = 30) -> str:
    """Return a text that fits into a chart: a long one ends in dots.

    Examples
    --------
    >>> short("Rowan"), short("Rowan of the Old Malthouse", 10)
    ('Rowan', 'Rowan of …')
    """
    return text if len(text) <= longest else text[: longest - 1].rstrip() + " …"


def legend_above(ax: Axes) -> None:
    """Put the legend above the axes, in as many columns as its words allow."""
    labels = ax.get_legend_handles_labels()[1]
    columns = max(1, min(3, 80 // max(map(len, labels), default=1)))
    ax.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=columns, borderaxespad=0.2)


def legend_below(ax: Axes, columns: int | None = None) -> None:
    """Put the legend below the axes and the words of its horizontal axis, off the data.

    A figure that has no layout is given one that leaves room for it, the title and the words.

    Parameters
    ----------
    ax : Axes
        What it is about.
    columns : int, optional
        Of the legend; by default two, or three where the figure is wide.
    """
    figure = figure_of(ax)
    if figure.get_layout_engine() is None:
        figure.set_layout_engine("constrained")
    columns = columns or (3 if figure.get_figwidth() >= WIDE_INCHES else 2)
    below = ScaledTranslation(0.0, -LABELS_POINTS / 72.0, figure.dpi_scale_trans)
    ax.legend(
        loc="upper left",
        bbox_to_anchor=(0.0, 0.0),
        bbox_transform=ax.transAxes + below,
        ncols=columns,
        borderaxespad=0.0,
        fontsize=9,
    )


def legend_beside(ax: Axes) -> None:
    """Put the legend right of the axes, in small letters, where a picture is low and wide."""
    ax.legend(
        loc="upper left",
        bbox_to_anchor=(1.01, 1.02),
        borderaxespad=0.0,
        fontsize=7.5,
        handlelength=1.8,
    )


def at_least(ax: Axes, span: float) -> None:
    """Keep the vertical axis from blowing up a change too small to matter."""
    low, high = ax.get_ylim()
    if high - low < span:
        middle = (low + high) / 2.0
        ax.set_ylim(middle - span / 2.0, middle + span / 2.0)


def round_limits(
    values: npt.ArrayLike, step: float, least: tuple[float, float] | None = None
) -> tuple[float, float]:
    """Return limits of an axis on round numbers, so that charts of two weeks can be compared.

    Parameters
    ----------
    values : array
        What is drawn; numbers that are missing do not count.
    step : float
        The limits are multiples of it.
    least : tuple of float, optional
        What the axis holds in any case.

    Examples
    --------
    >>> round_limits([-12.0, 31.0], 10.0), round_limits([2.0], 10.0, (-20.0, 20.0))
    ((-20.0, 40.0), (-20.0, 20.0))
    """
    known = np.asarray(values, dtype=float)
    known = known[np.isfinite(known)]
    ends = [*known, *(least or ())] or [0.0]
    low, high = step * np.floor(min(ends) / step), step * np.ceil(max(ends) / step)
    return float(low), float(high if high > low else low + step)


def raster(points: int) -> bool:
    """Return whether so many points are better kept as a picture inside the drawing."""
    return points > MANY_POINTS


@style()
def save(figure: Figure, path: Path, dots_per_inch: int = 150) -> None:
    """Write a figure to a file in the format that its name ends in.

    Parameters
    ----------
    figure : Figure
        The figure.
    path : Path
        Such as ``drift.svg``; .png, .pdf and whatever else matplotlib writes.
    dots_per_inch : int
        How fine a picture is.

    Raises
    ------
    InputError
        If the file cannot be written, or its name ends in no format.
    """
    try:
        with written_file(path) as unfinished:
            figure.savefig(unfinished, dpi=dots_per_inch)
    except (OSError, ValueError) as error:
        # Its own text names the unfinished file, which nobody knows.
        reason = (isinstance(error, OSError) and error.strerror) or error
        raise InputError(
            f"{path} cannot be written ({reason})",
            "give a name that ends in .png, .svg or .pdf, in a folder that you can write to",
        ) from None


@style()
def png(figure: Figure, dots_per_inch: int = 150) -> bytes:
    """Return a figure as a PNG picture."""
    out = io.BytesIO()
    figure.savefig(out, format="png", dpi=dots_per_inch, metadata={"Software": None})
    return out.getvalue()


@style()
def svg(figure: Figure, prefix: str = "") -> str:
    """Return a figure as an SVG drawing, the same bytes for the same figure.

    Parameters
    ----------
    figure : Figure
        The figure.
    prefix : str
        Put before every id, so that several drawings can live in one page.

    Examples
    --------
    >>> figure = new_axes().figure
    >>> svg(figure, "a") == svg(figure, "a")
    True
    >>> 'id="a-figure_1"' in svg(figure, "a")
    True
    """
    out = io.BytesIO()
    metadata = dict.fromkeys(("Creator", "Date", "Format", "Type"))
    figure.savefig(out, format="svg", dpi=150, metadata=metadata)
    text = out.getvalue().decode()
    if not prefix:
        return text
    return re.sub(r'(\bid="|href="#|url\(#)', rf"\g<1>{prefix}-", text)


def inline_svg(figure: Figure, prefix: str) -> str:
    """Return a figure as an ``<svg>`` element that takes on the colours of the page around it.

    Parameters
    ----------
    figure : Figure
        The figure.
    prefix : str
        Put before every id; different for each drawing of a page.

    Notes
    -----
    Ink takes the colour of the text around it. A page may give other colours, on a dark ground
    say, as the custom properties ``--grey`` and ``--series-1`` to ``--series-6``.
    """
    text = svg(figure, prefix)
    text = re.sub(r"<!--.*?-->", "", text[text.index("<svg") :], flags=re.DOTALL)
    for colour, words in _in_a_page().items():
        text = text.replace(colour, words)
    opening, rest = text.split(">", 1)
    return re.sub(r' (width|height|version)="[^"]*"', "", opening) + ">" + rest


def _in_a_page() -> dict[str, str]:
    """Return what stands in a page for each colour of a drawing."""
    series = {c: f"var(--series-{place}, {c})" for place, c in enumerate(_COLOURS, start=1)}
    return {INK: "currentColor", PAPER: "none", GREY: f"var(--grey, {GREY})"} | series
