"""What bands say of one quantity of an instrument, side by side: a forest plot."""

from __future__ import annotations

import math
from collections.abc import Sequence

from matplotlib.axes import Axes

from drift.bands.new_priors import Own
from drift.charts.style import GREY, INK, look, new_axes, style
from drift.words.bands import FOREST_TITLE, FOREST_WEIGHT, MEAN_BESIDE

__all__ = ["forest"]

Interval = tuple[float, float, float]

NEXT_TO_NOTHING = 4.0
"""A band whose interval is this many times as wide as a new band's is drawn to the edge."""


@style()
def forest(
    own: Sequence[Own], mean: Interval, new_band: Interval, label: str, ax: Axes | None = None
) -> Axes:
    """Draw each band's own estimate, the mean over bands, and what a new band is expected to do.

    Parameters
    ----------
    own : sequence of Own
        From `drift.bands.new_priors.own_estimates`.
    mean, new_band : tuples of three floats
        Estimate and ends of the 95 % interval, of the mean over bands and of a new band.
    label : str
        The quantity and its unit, for the axis.
    ax : Axes, optional
        Where to draw (default: new axes).

    Returns
    -------
    Axes
        A row a band, with a marker as large as its weight; the new band and the mean below.
    """
    rows = len(own) + 2
    ax = ax or new_axes(height=1.3 + 0.3 * rows)
    low, high = _limits(own, mean, new_band)
    for place, one in enumerate(own):
        height = rows - 1 - place
        line = (max(one.low, low), min(one.high, high))
        ax.plot(line, [height, height], color=GREY, linewidth=1.2, solid_capstyle="butt")
        for end, beyond, marker in ((low, one.low < low, "<"), (high, one.high > high, ">")):
            if beyond:  # an arrow says that it goes on
                ax.plot(end, height, marker, color=GREY, markersize=6, clip_on=False)
        if low < one.estimate < high:
            size = 3.0 + 3.0 * min(math.sqrt(one.weight), 1.4)
            ax.plot(one.estimate, height, "o", color=look(0).colour, markersize=size)
        ax.annotate(
            f"{one.weight:.1f}", (1.02, height), xycoords=("axes fraction", "data"),
            va="center", fontsize=9, color=GREY,
        )  # fmt: skip
    ax.axvspan(max(new_band[1], low), min(new_band[2], high), color=look(1).colour, alpha=0.10)
    for height, (estimate, first, last), which in ((1, mean, 0), (0, new_band, 1)):
        ax.plot((max(first, low), min(last, high)), [height, height], color=INK, linewidth=2.4)
        ax.plot(estimate, height, look(which).marker, color=look(which).colour, markersize=9)
    names = ["new band", "mean of all", *(f"band {one.band[:4]}" for one in reversed(own))]
    ax.set_yticks(range(rows), names)
    ax.axhline(1.5, color=GREY, linewidth=0.6)
    ax.set_ylim(-0.6, rows - 0.4)
    ax.set_xlim(low, high)
    ax.grid(axis="y", visible=False)
    ax.tick_params(axis="y", length=0)
    ax.annotate(
        "weight", (1.02, rows - 0.35), xycoords=("axes fraction", "data"), fontsize=9, color=GREY
    )
    bands = [one.estimate for one in own]
    beside = not min(bands) <= mean[0] <= max(bands)
    ax.set_xlabel(f"{label}, 95 % intervals" + f"\n{MEAN_BESIDE}" * beside)
    ax.set_title(FOREST_TITLE, pad=18)
    ax.annotate(
        FOREST_WEIGHT, (0.0, 1.0), (0.0, 5.0), xycoords="axes fraction", textcoords="offset points",
        fontsize=9, color=GREY,
    )  # fmt: skip
    return ax


def _limits(own: Sequence[Own], mean: Interval, new_band: Interval) -> tuple[float, float]:
    """Return the ends of the axis: all that is known well, and some of what is not."""
    width = new_band[2] - new_band[1]
    near = [one for one in own if one.high - one.low < NEXT_TO_NOTHING * width]
    lows = [new_band[1] - 0.4 * width, mean[1], *(one.low for one in near)]
    highs = [new_band[2] + 0.4 * width, mean[2], *(one.high for one in near)]
    middle = new_band[0]
    reach = 2.0 * width
    return max(min(lows), middle - reach), min(max(highs), middle + reach)
