"""Which method predicts a rehearsal it has not seen, side by side."""

from __future__ import annotations

import pandas as pd
from matplotlib.axes import Axes

from drift.charts.style import GREY, INK, look, new_axes, style

__all__ = ["left_out_rehearsals"]


@style()
def left_out_rehearsals(errors: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Draw the error of each method on each rehearsal that was left out.

    Parameters
    ----------
    errors : DataFrame
        ``method, rehearsal, readings, rms_cents``: one row a method and left-out rehearsal, such
        as `drift.regression.comparison.compare` gives; a row without a number is left out.
    ax : Axes, optional
        Where to draw (default: new axes).

    Returns
    -------
    Axes
        One line a method, the best on top: a point for each rehearsal, a bar for the root of the
        mean square over all readings.
    """
    errors = errors.dropna(subset=["rms_cents"])
    squares = errors.assign(square=errors["readings"] * errors["rms_cents"] ** 2)
    sums = squares.groupby("method")[["square", "readings"]].sum()
    overall = (sums["square"] / sums["readings"]).pow(0.5).sort_values(ascending=False)
    ax = ax or new_axes(height=1.2 + 0.55 * len(overall))
    for place, (method, total) in enumerate(overall.items()):
        each = errors.loc[errors["method"] == method, "rms_cents"]
        one = look(0)
        ax.plot(each, [place] * len(each), "o", color=one.colour, markerfacecolor="none")
        ax.plot([total, total], [place - 0.28, place + 0.28], color=INK, linewidth=2.5)
        ax.annotate(
            f"{total:.1f}",
            (total, place + 0.3),
            ha="center",
            va="bottom",
            fontsize=10,
        )
    ax.set_yticks(range(len(overall)), [str(method) for method in overall.index])
    ax.set_ylim(-0.6, len(overall) - 0.2)
    ax.grid(axis="y", visible=False)
    ax.set_xlim(left=0.0)
    ax.set_xlabel("error on a rehearsal not seen before, root mean square (cents)")
    ax.tick_params(axis="y", length=0)
    ax.spines["left"].set_color(GREY)
    return ax
