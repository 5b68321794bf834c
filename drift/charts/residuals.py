"""What a fit leaves over, drawn so that a pattern would show."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from drift.charts.style import (
    GREY,
    INK,
    at_least,
    look,
    new_axes,
    raster,
    signed,
    signed_text,
    style,
)
from drift.errors import InputError
from drift.notes import shown
from drift.words import residuals as words

if TYPE_CHECKING:
    from drift.regression.results import Fit

Array = NDArray[np.float64]

__all__ = [
    "beyond",
    "residuals_against_expected",
    "residuals_against_normal",
    "residuals_against_playing_time",
    "residuals_against_temperature",
    "residuals_against_time",
    "residuals_figure",
]

RESIDUAL = "residual (cents)"
FAR_SDS, STRETCHED = 6.0, 1.5
"""A residual is put at the edge when it is so many robust standard deviations away, if the axis
would be so many times longer with it."""
LONG_LABEL = 30
"""Letters from which on four labels do not fit beside each other."""
LABEL_WIDTH, LINE_POINTS = 0.5, 10.0
"""Labels nearer to each other than this share of the axis are put below each other [points]."""
NAMED = 3
"""So many at the edge have their numbers beside them."""
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
def residuals_against_playing_time(fit: Fit, ax: Axes | None = None) -> Axes:
    """Draw the residuals against minutes of playing: the axis of a warm-up.

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
    return _against(fit, "playing_minutes", "playing, rests left out (minutes)", ax)


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
    one, far = look(0), beyond(left)
    near: dict[str, Any] = {"color": one.colour, "alpha": 0.6, "rasterized": raster(len(left))}
    ax.plot(quantiles[~far], left[~far], one.marker, **near)
    if len(left) > 1:
        low, high = np.quantile(left, [0.25, 0.75])
        slope = (high - low) / (norm.ppf(0.75) - norm.ppf(0.25))
        ax.axline((0.0, (low + high) / 2.0), slope=slope, color=GREY, linewidth=1.2)
    ax.set_xlabel("normal quantile (standard deviations)")
    _finish(ax, left, quantiles)
    return ax


@style()
def residuals_figure(fit: Fit) -> Figure:
    """Draw all charts of the residuals on one figure.

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
    figure = Figure(figsize=(7.2, 8.0), layout="constrained")
    axes = figure.subplot_mosaic(
        [["expected", "temperature"], ["playing", "normal"], ["time", "time"]], sharey=True
    )
    residuals_against_expected(fit, axes["expected"])
    residuals_against_temperature(fit, axes["temperature"])
    residuals_against_playing_time(fit, axes["playing"])
    residuals_against_normal(fit, axes["normal"])
    residuals_against_time(fit, axes["time"])
    for name in ("temperature", "normal"):
        axes[name].set_ylabel("")
    marks, labels = axes["expected"].get_legend_handles_labels()
    long = any(len(label) > LONG_LABEL for label in labels)
    figure.legend(marks, labels, loc="outside upper left", ncols=3 if long else 4)
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
    far = beyond(rows["residual"].to_numpy(dtype=float))
    for place, (name, part) in enumerate(rows[~far].groupby("instrument", sort=True)):
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
    _finish(ax, rows["residual"].to_numpy(dtype=float), rows[column].to_numpy(dtype=float))


def beyond(residuals: Array) -> NDArray[np.bool_]:
    """Return which residuals would stretch the axis, and are marked at its edge.

    Parameters
    ----------
    residuals : array of shape (n,)
        Residuals [cents].

    Examples
    --------
    >>> beyond(np.array([-2.0, -1.0, 0.0, 1.0, 2.0, 80.0]))
    array([False, False, False, False, False,  True])
    """
    if not len(residuals):
        return np.zeros(0, dtype=bool)
    size = np.abs(residuals)
    robust = 1.4826 * float(np.median(size))
    far = size > FAR_SDS * max(robust, 0.1)
    usual = size[~far].max(initial=2.0)
    return np.asarray(far & (size > STRETCHED * usual))


def _finish(ax: Axes, residuals: Array, across: Array) -> None:
    ax.set_ylabel(RESIDUAL)
    far = beyond(residuals)
    if far.any():
        edge = 1.1 * float(np.abs(residuals[~far]).max(initial=2.0))
        ax.set_ylim(-edge, edge)
        _mark_the_edge(ax, residuals[far], across[far], edge)
    at_least(ax, 4.0)
    signed(ax.yaxis)


def _mark_the_edge(ax: Axes, residuals: Array, across: Array, edge: float) -> None:
    """Mark the residuals beyond the axis at its edge, the farthest ones with their numbers."""
    label = words.beyond_the_axis(residuals)
    for marker, side in (("^", 1.0), ("v", -1.0)):
        there = np.sign(residuals) == side
        if there.any():
            at = np.full(there.sum(), side * edge)
            ax.plot(across[there], at, marker, color=INK, markersize=7, clip_on=False, label=label)
            label = "_"  # one line of the legend tells both
    low, high = ax.get_xlim()
    named: list[tuple[float, float, int]] = []  # where, on which side, and in which line
    for place in sorted(np.argsort(-np.abs(residuals))[:NAMED]):
        cents, here = float(residuals[place]), float(across[place])
        left, side = here > (low + high) / 2.0, float(np.sign(cents))
        near = {line for x, which, line in named
                if which == side and abs(x - here) < LABEL_WIDTH * (high - low)}  # fmt: skip
        line = min(set(range(NAMED)) - near)
        named.append((here, side, line))
        ax.annotate(
            signed_text(round(cents)), (here, side * edge),
            xytext=(-6 if left else 6, -side * (3 + LINE_POINTS * line)),
            textcoords="offset points",
            fontsize=8, ha="right" if left else "left", va="top" if cents > 0 else "bottom",
        )  # fmt: skip
