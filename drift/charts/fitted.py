"""Charts of a fit: drift against temperature, and against the minutes of playing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

import numpy as np
import numpy.typing as npt
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

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
    signed_text,
    style,
)
from drift.instruments import canonical_name
from drift.notes import shown
from drift.regression.asked import named, read_or_new
from drift.regression.equal_covariates import to_equal_covariates
from drift.regression.estimates import NEW, ONLY
from drift.regression.terms import covariate_columns
from drift.words.letters import capital

if TYPE_CHECKING:
    from drift.regression.results import Fit

__all__ = ["drift_against_playing_time", "drift_against_temperature", "drift_figure"]

WARM_MINUTES = 30.0
"""After so much playing the line for a warmed-up instrument is drawn."""

SPAN_CELSIUS = 10.0
"""At least so many degrees Celsius are drawn."""

MARK_CENTS = 0.5
"""About half the height of a mark."""

STEP_CENTS, STEP_CELSIUS = 10.0, 5.0
"""Axes end on multiples of these."""

USUAL_CENTS = (-20.0, 20.0)
"""What the axis of drift holds in any case."""

FAR_CENTS = 50.0
"""A reading so far outside the band is named in place of being drawn: it would flatten the rest."""

POINTS = 41
"""So many points make a line with its band."""

MOST_HELD = 22
"""So long are the names of covariates that fit beside a small chart [letters]."""

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
    answer_celsius: float | None = None,
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
    answer_celsius : float, optional
        A temperature that is marked, and held by the axis whatever was seen (°C).

    Returns
    -------
    Axes

    Notes
    -----
    The dark line is the instrument after half an hour of playing, with its 95 % band; the dashed
    line the instrument as it comes out of the case. The outer band is where 95 % of single
    readings on a new day are expected. Readings are drawn with the effects of covariates taken
    out (partial residuals), as the axis says.
    """
    ax = ax or new_axes(height=4.4)
    rows, name = _rows_of(fit, instrument, player)
    who = read_or_new(fit, name, player) if name else player
    celsius = np.linspace(*_span(fit, answer_celsius), POINTS)
    warm = fit.predict(celsius, WARM_MINUTES, name, player=who)
    cold = fit.predict(celsius[[0, -1]], 0.0, name, player=who)
    colour = look(0).colour
    ax.plot(celsius, warm["cents"], color=colour, label=f"after {WARM_MINUTES:g} min of playing")
    ax.plot(
        cold["celsius"], cold["cents"], color=colour, linestyle="--", label="cold, from the case"
    )
    _bands(ax, celsius, warm)
    if answer_celsius is not None:
        _mark(ax, answer_celsius, (celsius[0], celsius[-1]))
    _points(ax, rows, "celsius")
    ax.set_xlabel("air (°C)")
    ax.set_xlim(celsius[0], celsius[-1])
    if fahrenheit:
        fahrenheit_beside(ax, "top")
    lines = [warm["reading_low"], warm["reading_high"], cold["cents"]]
    _finish(ax, fit, rows, lines, _title(fit, rows, name, "temperature", chosen=bool(instrument)))
    return ax


@style()
def drift_figure(fit: Fit) -> Figure:
    """Draw drift against temperature of each instrument that was read, one below the other.

    Parameters
    ----------
    fit : Fit
        The fit.

    Returns
    -------
    Figure
    """
    names: list[str | None] = [*fit.kinds] or [None]
    figure = Figure(figsize=(7.2, 4.4 * len(names)), layout="constrained")
    for ax, name in zip(figure.subplots(len(names), squeeze=False)[:, 0], names, strict=True):
        drift_against_temperature(fit, ax, instrument=name)
    return figure


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
    together = brought_to.replace(" ", "\N{NO-BREAK SPACE}")  # a long title is broken into lines
    title = _title(fit, rows, name, f"playing time, brought to {together}", chosen=bool(instrument))
    _finish(ax, fit, rows, [line["reading_low"], line["reading_high"]], title)
    return ax


def _rows_of(fit: Fit, instrument: str | None, player: str) -> tuple[pd.DataFrame, str | None]:
    """Return the readings to draw, and the name of the instrument."""
    if instrument is None and fit.kinds:
        instrument = max(fit.kinds, key=lambda name: fit.kinds[name].readings)
    instrument = instrument and canonical_name(instrument)
    rows = fit.rows[fit.rows["instrument"] == instrument]
    mine = rows if player in (ONLY, NEW) else rows[rows["player"] == named(player)]
    if instrument and len(mine):  # at equal covariates they lie about the line
        whose = None if player in (ONLY, NEW) else player
        equal = to_equal_covariates(fit, mine, instrument, whose)
        mine = mine.assign(drift=mine["drift"] + equal)
    return mine, instrument


def _span(fit: Fit, also: float | None = None) -> tuple[float, float]:
    """Return the temperatures to draw: those seen, and around them what makes a slope visible."""
    low, high = fit.celsius_range or USUAL_CELSIUS
    if also is not None:
        low, high = min(low, also), max(high, also)
    beyond = max(1.0, (SPAN_CELSIUS - (high - low)) / 2.0)
    return round_limits([low - beyond, high + beyond], STEP_CELSIUS)


def _title(fit: Fit, rows: pd.DataFrame, name: str | None, against: str, *, chosen: bool) -> str:
    """Return the title: the instrument, its player where there is one, and what is drawn.

    Where no instrument was chosen it says of how many this is the one that is drawn.
    """
    if name is None:
        return f"Drift against {against}"
    players = sorted(rows["player"].unique()) if len(rows) else []
    who = f", {short(str(players[0]))}" if len(players) == 1 else ""
    one_of = f" (1 of {len(fit.kinds)} instruments)" if len(fit.kinds) > 1 and not chosen else ""
    return capital(f"{shown(name)}{who}{one_of}: drift against {against}")


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


def _mark(ax: Axes, celsius: float, ends: tuple[float, float]) -> None:
    """Mark a temperature, its words on the side where the axis has room for them."""
    ax.axvline(celsius, color=GREY, linestyle=":", linewidth=1.5)
    side: Literal["left", "right"] = "left" if celsius < sum(ends) / 2.0 else "right"
    words, above = f" {celsius:.0f} °C ", ax.get_xaxis_transform()
    ax.text(celsius, 0.97, words, transform=above, ha=side, va="top", color=GREY)


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


def _near(ax: Axes, lines: npt.NDArray[np.float64], rows: pd.DataFrame) -> npt.NDArray[np.float64]:
    """Return the readings that the axis has to hold, and name those too far off for it."""
    if not len(rows):
        return np.empty(0)
    read: npt.NDArray[np.float64] = np.asarray(observed(rows), dtype=np.float64)
    far = (read < lines.min() - FAR_CENTS) | (read > lines.max() + FAR_CENTS)
    if far.any():
        named = ", ".join(signed_text(round(cents)) for cents in sorted(read[far])[:3])
        more = ", ..." if far.sum() > 3 else ""
        off = f"{far.sum()} reading{'s' if far.sum() > 1 else ''} off the chart ({named}{more})"
        ax.text(0.99, 0.97, off, transform=ax.transAxes, ha="right", va="top", fontsize=8)
    near: npt.NDArray[np.float64] = read[~far]
    return near


def _equal(fit: Fit) -> str:
    """Return the line of the axis that says what is held equal: by name where there is room."""
    held = covariate_columns(fit.settings)
    names = ", ".join(held)
    if len(held) > 1 and len(names) > MOST_HELD:
        names = f"covariates ({len(held)})"
    return f"\nat equal {short(names)}" if held else ""


def _finish(
    ax: Axes, fit: Fit, rows: pd.DataFrame, lines: Sequence[pd.Series[float]], title: str
) -> None:
    ax.axhline(0.0, color=GREY, linewidth=1.0)
    ax.set_ylabel(drift_label(pd.DataFrame(columns=["residual"])) + _equal(fit))
    drawn = np.concatenate([*lines, _near(ax, np.concatenate(lines), rows)])
    # Half a mark more, so that the edge cuts none.
    around = [drawn.min() - MARK_CENTS, drawn.max() + MARK_CENTS]
    ax.set_ylim(round_limits(around, STEP_CENTS, USUAL_CENTS))
    signed(ax.yaxis)
    ax.set_title(title, wrap=True)
    legend_below(ax)
