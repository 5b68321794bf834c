"""Charts of one rehearsal against the time of day."""

from __future__ import annotations

from datetime import UTC, tzinfo

import matplotlib.dates as mdates
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from drift.charts.marks import rests, slide_moves
from drift.charts.style import (
    GREY,
    Look,
    at_least,
    fahrenheit_beside,
    legend_above,
    look,
    new_axes,
    raster,
    short,
    signed,
    style,
)
from drift.logbook.records import TYPED
from drift.notes import shown
from drift.pairing import GAP_MINUTES

__all__ = ["drift_against_time", "last_hour", "rehearsal_figure", "temperature_against_time"]

MERGE_MINUTES = 4.0
"""Slide moves closer together than this share one mark."""


MOST_PLAYERS = 6
"""With more players than this, colours stand for instruments."""


@style()
def drift_against_time(
    rows: pd.DataFrame,
    ax: Axes | None = None,
    *,
    events: pd.DataFrame | None = None,
    zone: tzinfo = UTC,
) -> Axes:
    """Draw the drift of one rehearsal against time, rests shaded and slide moves marked.

    Parameters
    ----------
    rows : DataFrame
        Readings of one rehearsal: rows of a fit (with ``drift`` and ``residual``), which are drawn
        with the drift that was expected, or of a paired table, which are drawn against the mean
        of each note.
    ax : Axes, optional
        Where to draw (default: new axes).
    events : DataFrame, optional
        The events of all rehearsals: rests are shaded, slide moves marked.
    zone : tzinfo
        The zone of the time axis.

    Returns
    -------
    Axes

    Notes
    -----
    What is drawn has the slide moves taken out and stands for the pitch at the player's reference
    positions; every note has its own tendency, which is taken out as well.
    """
    ax = ax or new_axes()
    for place, (name, mine) in enumerate(_series(rows)):
        one, mine = look(place), mine.sort_values("time", kind="stable")
        ax.plot(
            _instants(mine["time"]),
            observed(mine),
            one.marker,
            color=one.colour,
            alpha=0.75,
            markerfacecolor="none" if place else one.colour,
            label=name,
            rasterized=raster(len(mine)),
        )
        for _, own in mine.groupby("player", sort=True) if "drift" in mine else ():
            _expected(ax, own, one)
    _finish_drift(ax, rows)
    _time_axis(ax, rows["time"], zone)
    if events is not None and len(rows):
        _mark_events(ax, rows, events)
    return ax


def observed(rows: pd.DataFrame) -> pd.Series[float]:
    """Return the drift that was read, each note's own tendency taken out [cents].

    Parameters
    ----------
    rows : DataFrame
        Rows of a fit: against a warmed-up instrument at 20 °C. Rows of a paired table: against
        the mean of the note.
    """
    if "residual" in rows:
        return rows["drift"] + rows["residual"]
    notes = rows.groupby(["player", "instrument", "side", "note"], sort=False)["reference_cents"]
    return rows["reference_cents"] - notes.transform("mean")


def drift_label(rows: pd.DataFrame) -> str:
    """Return the words for the axis that `observed` is drawn on."""
    if "residual" in rows:
        return "drift (cents)\nagainst warm at 20 °C"
    return "drift (cents)\nagainst the note's mean"


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
        one, samples = look(place), samples.sort_values("time", kind="stable")
        times, celsius = _broken(samples)
        typed = source == TYPED
        ax.plot(
            times,
            celsius,
            linestyle="none" if typed else one.line,
            marker=one.marker if typed or len(samples) == 1 else "none",
            color=one.colour,
            label=short(str(source)) or "thermometer",
        )
    ax.set_ylabel("air (°C)")
    if temperatures["source"].nunique() > 1:
        legend_above(ax)
    at_least(ax, 2.0)
    fahrenheit_beside(ax, "right")
    _time_axis(ax, temperatures["time"], zone)
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
        one, samples = look(place), samples.sort_values("ago", kind="stable")
        typed = source == TYPED
        gaps = samples["ago"].diff() > GAP_MINUTES
        ax.plot(
            samples["ago"],
            samples["celsius"].mask(gaps),
            linestyle="none" if typed else one.line,
            marker=one.marker if typed or len(samples) == 1 else "none",
            color=one.colour,
            label=short(str(source)) or "thermometer",
        )
    ax.set_xlim(-minutes, 0.0)
    ax.set_xlabel("minutes before now")
    ax.set_ylabel("air (°C)")
    ax.xaxis.set_major_formatter(lambda value, _: f"{abs(value):g}")
    at_least(ax, 2.0)
    if recent["source"].nunique() > 1:
        legend_above(ax)
    return ax


@style()
def rehearsal_figure(
    rows: pd.DataFrame,
    temperatures: pd.DataFrame,
    *,
    events: pd.DataFrame | None = None,
    zone: tzinfo = UTC,
    title: str = "",
) -> Figure:
    """Draw drift above temperature over the same time of one rehearsal.

    Parameters
    ----------
    rows, temperatures, events, zone
        As in `drift_against_time` and `temperature_against_time`, of one rehearsal.
    title : str
        Written above.

    Returns
    -------
    Figure
        With the axes of the drift first and of the temperature second.
    """
    figure = Figure(figsize=(7.2, 4.4), layout="constrained")
    if title:
        figure.suptitle(short(title, 60), x=0.01, ha="left", fontsize=12, fontweight="bold")
    upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=[2.0, 1.0])
    drift_against_time(rows, upper, events=events, zone=zone)
    temperature_against_time(temperatures, lower, zone=zone)
    times = pd.concat([rows["time"], temperatures["time"]])
    _time_axis(lower, times, zone)
    upper.set_xlabel("")
    upper.tick_params(labelbottom=False)
    return figure


def _instants(times: pd.Series[pd.Timestamp]) -> np.ndarray:
    """Return instants as matplotlib takes them: UTC without saying so."""
    return times.dt.tz_convert("UTC").dt.tz_localize(None).to_numpy()


def _broken(samples: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """Return times and temperatures with a missing one wherever the thermometer was silent."""
    times, celsius = _instants(samples["time"]), samples["celsius"].to_numpy(dtype=float)
    silent = np.flatnonzero(np.diff(times) > np.timedelta64(int(GAP_MINUTES * 60), "s")) + 1
    return np.insert(times, silent, times[silent - 1]), np.insert(celsius, silent, np.nan)


def _series(rows: pd.DataFrame) -> list[tuple[str, pd.DataFrame]]:
    """Return the readings of each player, or of each instrument where there are many players."""
    players = rows.groupby(["instrument", "player"], sort=True)
    if players.ngroups <= MOST_PLAYERS:
        return [(f"{shown(str(what))}, {short(str(who))}", mine) for (what, who), mine in players]
    return [(shown(str(what)), mine) for what, mine in rows.groupby("instrument", sort=True)]


def _expected(ax: Axes, mine: pd.DataFrame, one: Look) -> None:
    """Draw what was expected at the readings, broken where a rest or a warm-up began anew."""
    again = mine["spells"].map(len).diff().ne(0) if "spells" in mine else mine["drift"].isna()
    pieces = again.cumsum()
    for _, piece in mine.groupby(pieces, sort=False):
        ax.plot(_instants(piece["time"]), piece["drift"], linestyle=one.line, color=one.colour)


def _finish_drift(ax: Axes, rows: pd.DataFrame) -> None:
    ax.axhline(0.0, color=GREY, linewidth=1.0)
    ax.set_ylabel(drift_label(rows))
    signed(ax.yaxis)
    if len(rows):
        at_least(ax, 10.0)
        legend_above(ax)


def _time_axis(ax: Axes, times: pd.Series[pd.Timestamp], zone: tzinfo) -> None:
    """Label the time axis with hours and minutes of a zone, and say which."""
    ax.xaxis.set_major_locator(mdates.AutoDateLocator(tz=zone, minticks=4, maxticks=9))  # type: ignore[no-untyped-call]
    ax.xaxis.set_major_formatter(mdates.DateFormatter("%H:%M", tz=zone))  # type: ignore[no-untyped-call]
    name = ""
    if len(times):
        first, last = _instants(times.agg(["min", "max"]))
        room = max((last - first) / 50, np.timedelta64(1, "m"))
        ax.set_xlim(first - room, last + room)
        name = f" ({times.min().astimezone(zone).tzname()})"
    ax.set_xlabel(f"time of day{name}")


def _mark_events(ax: Axes, rows: pd.DataFrame, events: pd.DataFrame) -> None:
    players = sorted(set(rows["player"]))
    rehearsal = rows["rehearsal"].iloc[0]
    here = events[events["rehearsal"] == rehearsal]
    rested = rests(here, players[0] if len(players) == 1 else "")
    spans = [_instants(pd.Series([since, until])) for since, until in rested]
    for span in spans:
        ax.axvspan(*span, color=GREY, alpha=0.18, linewidth=0)
    moves = slide_moves(events, players)
    within = moves["time"].between(rows["time"].min(), rows["time"].max())
    moves = moves[(moves["rehearsal"] == rehearsal) & within]
    apart = moves["time"].diff().dt.total_seconds().div(60.0).gt(MERGE_MINUTES).cumsum()
    _make_room(ax, lines=int(apart.value_counts().max()) if len(moves) else 0)
    height = _clear_of_zero(ax)
    for span in spans:
        _note(ax, span[0] + (span[1] - span[0]) / 2, height, "rest", "bottom")
    for _, group in moves.groupby(apart, sort=False):
        for instant in _instants(group["time"]):
            ax.axvline(instant, color=GREY, linestyle=(0, (4, 3)), linewidth=1.0)
        words = [_move_in_words(move, len(players) > 1) for move in group.to_dict("records")]
        _note(ax, _instants(group["time"])[-1], 0.98, "\n".join(words), "top")


def _clear_of_zero(ax: Axes) -> float:
    """Return the height of a line of text near the bottom that the zero line does not strike."""
    low, high = ax.get_ylim()
    zero = -low / (high - low)
    return zero + 0.02 if -0.02 < zero < 0.12 else 0.02


def _make_room(ax: Axes, lines: int) -> None:
    """Keep the top of the chart free for some lines of text."""
    low, high = ax.get_ylim()
    ax.set_ylim(low, high + 0.1 * lines * (high - low))


def _move_in_words(move: dict[object, object], with_player: bool) -> str:
    who = f"{short(str(move['player'] or 'all'), 16)}: " if with_player else ""
    return f"{who}{shown(str(move['slide']))} to {move['to_mm']:g} mm"


def _note(ax: Axes, instant: np.datetime64, height: float, words: str, edge: str) -> None:
    ax.annotate(
        words,
        (instant, height),
        xycoords=("data", "axes fraction"),
        xytext=(0 if edge == "bottom" else 4, 0),
        textcoords="offset points",
        ha="center" if edge == "bottom" else "left",
        va=edge,
        fontsize=9,
        color=GREY,
    )
