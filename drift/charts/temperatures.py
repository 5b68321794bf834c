"""Charts of the air: temperatures against the time of day, and over the last hour."""

from __future__ import annotations

from datetime import UTC, tzinfo
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from matplotlib.axes import Axes

from drift.charts.fahrenheit import fahrenheit_beside
from drift.charts.style import (
    INK,
    LEAST_CELSIUS,
    at_least,
    legend_above,
    look,
    new_axes,
    short,
    style,
)
from drift.charts.time_axis import instants, time_axis
from drift.logbook.records import TYPED
from drift.pairing import GAP_MINUTES

__all__ = ["last_hour", "temperature_against_time"]

GAP = np.timedelta64(int(GAP_MINUTES * 60), "s")
TYPED_MARK = "x"
"""A temperature that was typed."""


@style()
def temperature_against_time(
    temperatures: pd.DataFrame, ax: Axes | None = None, *, zone: tzinfo = UTC
) -> Axes:
    """Draw the temperatures of all thermometers against time.

    Parameters
    ----------
    temperatures : DataFrame
        ``time, celsius, source``; a line breaks where a thermometer said nothing for ten minutes,
        and typed temperatures are drawn as points.
    ax : Axes, optional
        Where to draw (default: new axes).
    zone : tzinfo
        The zone of the time axis.

    Returns
    -------
    Axes
    """
    ax = ax or new_axes(height=2.8)
    for place, (source, samples) in enumerate(temperatures.groupby("source", sort=True)):
        samples = samples.sort_values("time", kind="stable")
        times = instants(samples["time"])
        silent = np.flatnonzero(np.diff(times) > GAP) + 1
        _draw(ax, place, str(source), *_broken(times, samples["celsius"], silent))
    ax.set_ylabel("air (°C)")
    if temperatures["source"].nunique() > 1:
        legend_above(ax)
    at_least(ax, LEAST_CELSIUS)
    fahrenheit_beside(ax, "right")
    time_axis(ax, temperatures["time"], zone)
    return ax


@style()
def last_hour(
    temperatures: pd.DataFrame,
    now: pd.Timestamp,
    ax: Axes | None = None,
    *,
    minutes: float = 60.0,
) -> Axes:
    """Draw the temperatures of the last hour against the minutes before now.

    Parameters
    ----------
    temperatures : DataFrame
        ``time, celsius, source``.
    now : Timestamp
        The right end of the axis, with a zone.
    ax : Axes, optional
        Where to draw (default: new axes).
    minutes : float
        How far back [min].

    Returns
    -------
    Axes
    """
    ax = ax or new_axes(height=2.4)
    ago = (temperatures["time"] - now).dt.total_seconds() / 60.0
    recent = temperatures.assign(ago=ago)[(ago >= -minutes) & (ago <= 0.0)]
    for place, (source, samples) in enumerate(recent.groupby("source", sort=True)):
        samples = samples.sort_values("ago", kind="stable")
        past = samples["ago"].to_numpy(dtype=float)
        silent = np.flatnonzero(np.diff(past) > GAP_MINUTES) + 1
        _draw(ax, place, str(source), *_broken(past, samples["celsius"], silent))
    ax.set_xlim(-minutes, 0.0)
    ax.set_xlabel("minutes before now")
    ax.set_ylabel("air (°C)")
    ax.xaxis.set_major_formatter(lambda value, _: f"{abs(value):g}")
    at_least(ax, LEAST_CELSIUS)
    if recent["source"].nunique() > 1:
        legend_above(ax)
    return ax


def _broken(
    across: npt.NDArray[Any], celsius: pd.Series[float], silent: npt.NDArray[np.intp]
) -> tuple[npt.NDArray[Any], npt.NDArray[np.float64]]:
    """Return places and temperatures with a missing one wherever the thermometer was silent."""
    values = celsius.to_numpy(dtype=float)
    return np.insert(across, silent, across[silent - 1]), np.insert(values, silent, np.nan)


def _draw(ax: Axes, place: int, source: str, across: npt.ArrayLike, celsius: npt.ArrayLike) -> None:
    """Draw one thermometer: a line, or crosses where the temperatures were typed."""
    one, typed = look(place), source == TYPED
    ax.plot(
        across,
        celsius,
        linestyle="none" if typed else one.line,
        marker=TYPED_MARK if typed else "." if np.size(celsius) == 1 else "none",
        color=INK if typed else one.colour,
        label=short(source) or "thermometer",
    )
