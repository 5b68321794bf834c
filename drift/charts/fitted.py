"""Charts of a fit: drift against temperature, and against the minutes of playing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pandas as pd
from matplotlib.axes import Axes

from drift.charts.fahrenheit import fahrenheit_beside
from drift.charts.rehearsal import drift_label, is_early, observed
from drift.charts.style import (
    GREY,
    legend_below,
    look,
    new_axes,
    raster,
    round_limits,
    short,
    signed,
    style,
    title_of,
)
from drift.notes import shown
from drift.regression.asked import read_or_new
from drift.regression.estimates import NEW, ONLY

if TYPE_CHECKING:
    from drift.regression.results import Fit

__all__ = ["drift_against_playing_time", "drift_against_temperature"]

WARM_MINUTES = 30.0
"""After so much playing the line for a warmed-up instrument is drawn."""

SPAN_CELSIUS = 10.0
"""At least so many degrees Celsius are drawn."""

STEP_CENTS, STEP_CELSIUS = 10.0, 5.0
"""Axes end on multiples of these."""

USUAL_CENTS = (-20.0, 20.0)
"""What the axis of drift holds in any case."""

POINTS = 41
"""So many points make a line with its band."""

USUAL_CELSIUS = (10.0, 30.0)
"""What is drawn where no reading says which temperatures matter."""


@style()
def drift_against_temperature(
    fit: Fit,
    ax: Axes | None = None,
    *,
    instrument: str | None = None,
    player: str = ONLY,
    fahrenheit: bool = True,
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
    player : str
        Whose readings and line (default: all readings, and the line of the only player, or of a
        new one).
    fahrenheit : bool
        Whether the axis is repeated in °F, above.

    Returns
    -------
    Axes

    Notes
    -----
    The dark line is the instrument after half an hour of playing, with its 95 % band; the dashed
    line the instrument as it comes out of the case. The outer band is where 95 % of single
    readings on a new day are expected.
    """
    ax = ax or new_axes(height=4.4)
    rows, name = _rows_of(fit, instrument, player)
    who = read_or_new(fit, name, player) if name else player
    celsius = np.linspace(*_span(fit), POINTS)
    warm = fit.predict(celsius, WARM_MINUTES, name, player=who)
    cold = fit.predict(celsius[[0, -1]], 0.0, name, player=who)
    colour = look(0).colour
    ax.plot(celsius, warm["cents"], color=colour, label=f"after {WARM_MINUTES:g} min of playing")
    ax.plot(
        cold["celsius"], cold["cents"], color=colour, linestyle="--", label="cold, from the case"
    )
    _bands(ax, celsius, warm)
    _points(ax, rows, "celsius")
    ax.set_xlabel("air (°C)")
    ax.set_xlim(celsius[0], celsius[-1])
    if fahrenheit:
        fahrenheit_beside(ax, "top")
    _finish(ax, rows, warm, _title(rows, name, "temperature"))
    return ax


@style()
def drift_against_playing_time(
    fit: Fit,
    ax: Axes | None = None,
    *,
    instrument: str | None = None,
    player: str = ONLY,
    fahrenheit: bool = False,
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
    player : str
        As in `drift_against_temperature`.
    fahrenheit : bool
        Whether words name the 20 °C in °F.

    Returns
    -------
    Axes

    Notes
    -----
    A reading is brought to 20 °C by the difference that the fit expects between its temperature
    and 20 °C. The line is unbroken playing; a reading soon after a rest began cooler than the
    line, and is drawn open.
    """
    ax = ax or new_axes(height=4.4)
    rows, name = _rows_of(fit, instrument, player)
    who = read_or_new(fit, name, player) if name else player
    longest = float(rows["playing_minutes"].max()) if len(rows) else 60.0
    minutes = np.linspace(0.0, max(longest, 20.0) * 1.02, POINTS)
    line = fit.predict(20.0, minutes, name, player=who)
    brought_to = "68 °F" if fahrenheit else "20 °C"
    label = f"unbroken playing at {brought_to}"
    ax.plot(minutes, line["cents"], color=look(0).colour, label=label)
    _bands(ax, minutes, line)
    if len(rows):
        curve = fit.curve(name, who)
        there = rows.assign(celsius=20.0).drop(columns="course", errors="ignore")
        moved = curve.expected(there) - curve.expected(rows)
        rows = rows.assign(drift=rows["drift"] + moved)
        _points(ax, rows, "playing_minutes")
    ax.set_xlabel("playing, rests left out (minutes)")
    ax.set_xlim(left=0.0)
    _finish(ax, rows, line, _title(rows, name, f"playing time, brought to {brought_to}"))
    return ax


def _rows_of(fit: Fit, instrument: str | None, player: str) -> tuple[pd.DataFrame, str | None]:
    """Return the readings to draw, and the name of the instrument."""
    if instrument is None and fit.kinds:
        instrument = max(fit.kinds, key=lambda name: fit.kinds[name].readings)
    rows = fit.rows[fit.rows["instrument"] == instrument]
    return rows if player in (ONLY, NEW) else rows[rows["player"] == player], instrument


def _span(fit: Fit) -> tuple[float, float]:
    """Return the temperatures to draw: those seen, and around them what makes a slope visible."""
    low, high = fit.celsius_range or USUAL_CELSIUS
    beyond = max(1.0, (SPAN_CELSIUS - (high - low)) / 2.0)
    return round_limits([low - beyond, high + beyond], STEP_CELSIUS)


def _title(rows: pd.DataFrame, name: str | None, against: str) -> str:
    """Return the title: the instrument, its player where there is one, and what is drawn."""
    if name is None:
        return f"Drift against {against}"
    players = sorted(set(rows["player"])) if len(rows) else []
    who = f", {short(str(players[0]))}" if len(players) == 1 else ""
    return title_of(f"{shown(name)}{who}: drift against {against}")


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


def _points(ax: Axes, rows: pd.DataFrame, column: str) -> None:
    """Draw readings: filled of a warm instrument, open soon after the playing began."""
    one, early = look(0), is_early(rows)
    for part, fill, label in (
        (rows[~early], one.colour, "read when warm"),
        (rows[early], "none", "read while warming up"),
    ):
        if len(part):
            ax.plot(
                part[column],
                observed(part),
                one.marker,
                color=one.colour,
                markerfacecolor=fill,
                alpha=0.6,
                label=label,
                zorder=1.5,
                rasterized=raster(len(rows)),
            )


def _finish(ax: Axes, rows: pd.DataFrame, line: pd.DataFrame, title: str) -> None:
    ax.axhline(0.0, color=GREY, linewidth=1.0)
    ax.set_ylabel(drift_label(pd.DataFrame(columns=["residual"])))
    drawn = [line["reading_low"], line["reading_high"], *([observed(rows)] if len(rows) else [])]
    ax.set_ylim(round_limits(np.concatenate(drawn), STEP_CENTS, USUAL_CENTS))
    signed(ax.yaxis)
    ax.set_title(title)
    legend_below(ax)
