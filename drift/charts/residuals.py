"""What a fit leaves over, drawn so that a pattern would show."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from drift.charts.style import GREY, INK, at_least, look, new_axes, raster, signed, style
from drift.errors import InputError
from drift.notes import shown

if TYPE_CHECKING:
    from drift.regression.results import Fit

__all__ = [
    "residuals_against_expected",
    "residuals_against_normal",
    "residuals_against_temperature",
    "residuals_against_time",
    "residuals_figure",
]

RESIDUAL = "residual (cents)"
SLICES = 8
"""A running mean is drawn over so many slices with equally many readings."""


@style()
def residuals_against_expected(fit: Fit, ax: Axes | None = None) -> Axes:
    """Draw the residuals against the drift that was expected.

    Parameters
    ----------
    fit : Fit
        The fit.
    ax : Axes, optional
        Where to draw (default: new axes).

    Returns
    -------
    Axes
    """
    return _against(fit, "drift", "expected drift (cents)", ax, signed_numbers=True)


@style()
def residuals_against_temperature(fit: Fit, ax: Axes | None = None) -> Axes:
    """Draw the residuals against temperature.

    Parameters
    ----------
    fit : Fit
        The fit.
    ax : Axes, optional
        Where to draw (default: new axes).

    Returns
    -------
    Axes
    """
    return _against(fit, "celsius", "air (°C)", ax)


@style()
def residuals_against_time(fit: Fit, ax: Axes | None = None) -> Axes:
    """Draw the residuals reading after reading, every second rehearsal shaded.

    Parameters
    ----------
    fit : Fit
        The fit; in order of time where its rows say when they were read.
    ax : Axes, optional
        Where to draw (default: new axes).

    Returns
    -------
    Axes

    Notes
    -----
    Readings follow each other at even steps, because the weeks between two rehearsals would
    squeeze each of them into a line.
    """
    ax = ax or new_axes()
    rows = fit.rows.sort_values("time", kind="stable") if "time" in fit.rows else fit.rows
    rows = rows.assign(number=np.arange(1, len(rows) + 1))
    _scatter(ax, rows, "number")
    for place, (_, part) in enumerate(rows.groupby("rehearsal", sort=False)):
        if place % 2:
            first, last = part["number"].min(), part["number"].max()
            ax.axvspan(first - 0.5, last + 0.5, color=GREY, alpha=0.15, linewidth=0)
    ax.set_xlabel("reading, in order of time; rehearsals shaded in turn")
    return ax


@style()
def residuals_against_normal(fit: Fit, ax: Axes | None = None) -> Axes:
    """Draw the residuals against the quantiles of a normal distribution (Q-Q).

    Parameters
    ----------
    fit : Fit
        The fit.
    ax : Axes, optional
        Where to draw (default: new axes).

    Returns
    -------
    Axes

    Notes
    -----
    The line goes through the quartiles. Points leave it at the ends where single readings are
    wilder than a normal distribution has them.
    """
    from scipy.stats import norm

    ax = ax or new_axes()
    left = np.sort(fit.rows["residual"].to_numpy(dtype=float))
    quantiles = norm.ppf((np.arange(len(left)) + 0.5) / max(len(left), 1))
    one = look(0)
    ax.plot(quantiles, left, one.marker, color=one.colour, alpha=0.6, rasterized=raster(len(left)))
    if len(left) > 1:
        low, high = np.quantile(left, [0.25, 0.75])
        slope = (high - low) / (norm.ppf(0.75) - norm.ppf(0.25))
        ax.axline((0.0, (low + high) / 2.0), slope=slope, color=GREY, linewidth=1.2)
    ax.set_xlabel("normal quantile (standard deviations)")
    _finish(ax)
    return ax


@style()
def residuals_figure(fit: Fit) -> Figure:
    """Draw all four charts of the residuals on one figure.

    Parameters
    ----------
    fit : Fit
        The fit.

    Returns
    -------
    Figure

    Raises
    ------
    InputError
        If the fit was made in parts, and holds no readings.
    """
    if fit.rows.empty:
        raise InputError(
            "this fit was made in parts and holds no readings, so there are no residuals",
            "fit in one memory, or a part of the readings, for the charts of residuals",
        )
    figure = Figure(figsize=(7.2, 6.0), layout="constrained")
    axes = figure.subplots(2, 2, sharey=True)
    residuals_against_expected(fit, axes[0, 0])
    residuals_against_temperature(fit, axes[0, 1])
    residuals_against_time(fit, axes[1, 0])
    residuals_against_normal(fit, axes[1, 1])
    for ax in axes[:, 1]:
        ax.set_ylabel("")
    axes[1, 0].set_xlabel("reading, in order of time")
    figure.legend(*axes[0, 0].get_legend_handles_labels(), loc="outside upper left", ncols=4)
    return figure


def _against(
    fit: Fit, column: str, label: str, ax: Axes | None, *, signed_numbers: bool = False
) -> Axes:
    ax = ax or new_axes()
    _scatter(ax, fit.rows, column)
    ax.set_xlabel(label)
    if signed_numbers:
        signed(ax.xaxis)
    return ax


def _scatter(ax: Axes, rows: pd.DataFrame, column: str) -> None:
    """Draw the residuals against a column, a look for each instrument, and its running mean."""
    for place, (name, part) in enumerate(rows.groupby("instrument", sort=True)):
        one = look(place)
        ax.plot(
            part[column],
            part["residual"],
            one.marker,
            color=one.colour,
            markersize=4,
            markerfacecolor="none" if place else one.colour,
            alpha=0.5,
            label=shown(str(name)),
            rasterized=raster(len(part)),
        )
    ax.axhline(0.0, color=GREY, linewidth=1.0)
    if len(rows) >= 5 * SLICES:
        ordered = rows[[column, "residual"]].sort_values(column, kind="stable")
        slices = np.array_split(ordered.to_numpy(dtype=float), SLICES)
        means = np.array([piece.mean(axis=0) for piece in slices])
        ax.plot(means[:, 0], means[:, 1], color=INK, linewidth=1.5, label="running mean")
    _finish(ax)


def _finish(ax: Axes) -> None:
    ax.set_ylabel(RESIDUAL)
    at_least(ax, 4.0)
    signed(ax.yaxis)
