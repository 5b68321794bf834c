"""What is believed before any reading, drawn: what priors expect to be read."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from drift.charts.fitted import POINTS, WARM_MINUTES, drift_against_temperature
from drift.charts.style import GREY, legend_below, style
from drift.notes import shown
from drift.regression.estimates import NEW
from drift.words.letters import capital

if TYPE_CHECKING:
    from drift.regression.results import Fit

__all__ = ["expected_before_reading", "expected_figure"]

LINES = 40
"""So many players are drawn from the priors."""


@style()
def expected_before_reading(
    before: Fit, instrument: str, ax: Axes | None = None, *, read: Fit | None = None
) -> Axes:
    """Draw what is expected of a new player before any reading, and readings over it.

    Parameters
    ----------
    before : Fit
        From `drift.physics`, with the priors that are looked at.
    instrument : str
        Its name.
    ax : Axes, optional
        Where to draw (default: new axes).
    read : Fit, optional
        A fit whose readings of that instrument are drawn over it, against the pitch of their
        notes, over the temperatures that were read.

    Returns
    -------
    Axes

    Notes
    -----
    Each thin line is a player drawn from the priors, after half an hour of playing. Most readings
    should lie in the outer band, the 95 % of single readings on a new day; where they do not, the
    priors deny what was read, and where they fill a small part of it, the priors say little.
    """
    if read is not None:
        before = replace(before, rows=read.rows, celsius_range=read.celsius_range)
    ax = drift_against_temperature(before, ax, instrument=instrument)
    celsius = np.linspace(*ax.get_xlim(), POINTS)
    drawn = before.draws(instrument, LINES, player=NEW)
    warmth = -np.expm1(-WARM_MINUTES / drawn.warm_minutes)[:, None] + np.zeros(POINTS)
    lines = drawn.drift(celsius, warmth, np.full(POINTS, WARM_MINUTES / 60.0))
    for number, line in enumerate(lines):
        ax.plot(celsius, line, color=GREY, linewidth=0.6, alpha=0.6, zorder=1.2,
                label="" if number else "players, drawn")  # fmt: skip
    ax.set_title(capital(f"{shown(instrument)}: expected before any reading"))
    legend_below(ax)
    return ax


@style()
def expected_figure(before: Fit, read: Fit) -> Figure:
    """Draw what is expected of each instrument that was read, one below the other."""
    figure = Figure(figsize=(7.2, 4.8 * len(read.kinds)), layout="constrained")
    places = figure.subplots(len(read.kinds), squeeze=False)[:, 0]
    for ax, name in zip(places, read.kinds, strict=True):
        expected_before_reading(before, name, ax, read=read)
    return figure
