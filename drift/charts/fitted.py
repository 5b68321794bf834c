"""Charts of a fit: drift against temperature, and against the minutes of playing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pandas as pd
from matplotlib.axes import Axes

from drift.charts.rehearsal import drift_label, observed
from drift.charts.style import (
    GREY,
    fahrenheit_beside,
    look,
    new_axes,
    raster,
    signed,
    style,
    title_of,
)
from drift.notes import shown

if TYPE_CHECKING:
    from drift.regression.results import Fit

__all__ = ["drift_against_playing_time", "drift_against_temperature"]

WARM_MINUTES = 30.0
"""After so much playing the line for a warmed-up instrument is drawn."""

EARLY_MINUTES = 10.0
"""Readings before this are drawn open: the instrument was still warming up."""

LEAST_SPAN = 10.0
"""At least so many degrees Celsius are drawn."""

POINTS = 41
"""So many points make a line with its band."""

USUAL_CELSIUS = (10.0, 30.0)
"""What is drawn where no reading says which temperatures matter."""


@style()
def drift_against_temperature(
    fit: Fit, ax: Axes | None = None, *, instrument: str | None = None
) -> Axes:
    """Draw drift against temperature: the readings, the expected drift and its band.

    Parameters
    ----------
    fit : Fit
        The fit.
    ax : Axes, optional
        Where to draw (default: new axes).
    instrument : str, optional
        Which instrument (default: the one with most readings).

    Returns
    -------
    Axes

    Notes
    -----
    The dark line is the instrument after half an hour of playing, with its 95 % band; the dashed
    line the instrument as it comes out of the case. The outer band is where 95 % of single
    readings on a new day are expected.
    """
    ax = ax or new_axes()
    rows, name = _rows_of(fit, instrument)
    celsius = np.linspace(*_span(fit), POINTS)
    warm, cold = fit.predict(celsius, WARM_MINUTES, name), fit.predict(celsius[[0, -1]], 0.0, name)
    ax.plot(
        celsius, warm["cents"], color=look(0).colour, label=f"after {WARM_MINUTES:g} min of playing"
    )
    ax.plot(
        cold["celsius"],
        cold["cents"],
        color=look(1).colour,
        linestyle="--",
        label="cold, from the case",
    )
    _bands(ax, celsius, warm)
    early = rows["playing_minutes"] < EARLY_MINUTES
    _points(ax, rows[early], "celsius", 1, f"read in the first {EARLY_MINUTES:g} min")
    _points(ax, rows[~early], "celsius", 0, "read later")
    ax.set_xlabel("air (°C)")
    fahrenheit_beside(ax, "top")
    _finish(ax, name, "temperature")
    return ax


@style()
def drift_against_playing_time(
    fit: Fit, ax: Axes | None = None, *, instrument: str | None = None
) -> Axes:
    """Draw drift against the minutes of playing, all readings brought to 20 °C.

    Parameters
    ----------
    fit : Fit
        The fit.
    ax : Axes, optional
        Where to draw (default: new axes).
    instrument : str, optional
        Which instrument (default: the one with most readings).

    Returns
    -------
    Axes

    Notes
    -----
    A reading is brought to 20 °C by the difference that the fit expects between its temperature
    and 20 °C. The line is unbroken playing; a reading after a rest began cooler than the line, and
    is drawn open.
    """
    ax = ax or new_axes()
    rows, name = _rows_of(fit, instrument)
    longest = float(rows["playing_minutes"].max()) if len(rows) else 60.0
    minutes = np.linspace(0.0, max(longest, 20.0) * 1.02, POINTS)
    line = fit.predict(20.0, minutes, name)
    ax.plot(minutes, line["cents"], color=look(0).colour, label="unbroken playing at 20 °C")
    _bands(ax, minutes, line)
    if len(rows):
        curve = fit.curve(name)
        there = rows.assign(celsius=20.0).drop(columns="course", errors="ignore")
        moved = curve.expected(there) - curve.expected(rows)
        rows = rows.assign(drift=rows["drift"] + moved)
        rested = rows["spells"].map(len) > 0 if "spells" in rows else rows["drift"].isna()
        _points(ax, rows[~rested], "playing_minutes", 0, "before the first rest")
        _points(ax, rows[rested], "playing_minutes", 1, "after a rest")
    ax.set_xlabel("playing, rests left out (minutes)")
    ax.set_xlim(left=0.0)
    _finish(ax, name, "playing time, brought to 20 °C")
    return ax


def _rows_of(fit: Fit, instrument: str | None) -> tuple[pd.DataFrame, str | None]:
    """Return the readings of the instrument to draw, and its name."""
    if instrument is None and fit.kinds:
        instrument = max(fit.kinds, key=lambda name: fit.kinds[name].readings)
    return fit.rows[fit.rows["instrument"] == instrument], instrument


def _span(fit: Fit) -> tuple[float, float]:
    """Return the temperatures to draw: those seen, and around them what makes a slope visible."""
    low, high = fit.celsius_range or USUAL_CELSIUS
    beyond = max(1.0, (LEAST_SPAN - (high - low)) / 2.0)
    return low - beyond, high + beyond


def _bands(ax: Axes, across: npt.NDArray[np.float64], line: pd.DataFrame) -> None:
    ax.fill_between(
        across,
        line["reading_low"],
        line["reading_high"],
        color=GREY,
        alpha=0.15,
        linewidth=0,
        label="95 % of single readings",
    )
    ax.fill_between(
        across, line["low"], line["high"], color=look(0).colour, alpha=0.35, label="95 % band"
    )


def _points(ax: Axes, rows: pd.DataFrame, column: str, place: int, label: str) -> None:
    """Draw readings: filled in the first place, open in the second."""
    if not len(rows):
        return
    one = look(place)
    ax.plot(
        rows[column],
        observed(rows),
        one.marker,
        color=one.colour,
        markerfacecolor=one.colour if place == 0 else "none",
        alpha=0.6,
        label=label,
        zorder=1.5,
        rasterized=raster(len(rows)),
    )


def _finish(ax: Axes, name: str | None, against: str) -> None:
    ax.axhline(0.0, color=GREY, linewidth=1.0)
    ax.set_ylabel(drift_label(pd.DataFrame(columns=["residual"])))
    signed(ax.yaxis)
    ax.set_title(title_of(f"{shown(name)}: drift against {against}" if name else "drift"))
    ax.legend(loc="lower right", fontsize=9)
