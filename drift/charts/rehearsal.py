"""Charts of one rehearsal against the time of day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, tzinfo

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from drift.charts.marks import rests, slide_moves
from drift.charts.style import (
    EARLY_MINUTES,
    GREY,
    LEAST_CENTS,
    Look,
    at_least,
    legend_above,
    look,
    new_axes,
    raster,
    round_limits,
    short,
    signed,
    style,
)
from drift.charts.temperatures import temperature_against_time
from drift.charts.time_axis import instants, time_axis
from drift.notes import shown

__all__ = [
    "Scale",
    "common_scale",
    "drift_against_time",
    "earlier_evening",
    "rehearsal_figure",
]

MARGIN_CENTS = 10.0
"""Room above the drift for the words of slide moves."""

MERGE_MINUTES = 4.0
"""Slide moves closer together than this share one mark."""


MOST_PLAYERS = 6
"""With more players than this, colours stand for instruments."""


@dataclass(frozen=True)
class Scale:
    """The ends of the axes of charts that are to be compared.

    Attributes
    ----------
    cents, celsius : tuple of float
        Lowest and highest drift [cents] and temperature [°C].
    """

    cents: tuple[float, float]
    celsius: tuple[float, float]


def common_scale(rows: pd.DataFrame, temperatures: pd.DataFrame) -> Scale:
    """Return one scale for all rehearsals, on round numbers that seldom change from week to week.

    Parameters
    ----------
    rows : DataFrame
        Rows of a fit, of all rehearsals.
    temperatures : DataFrame
        ``celsius`` of all of them.
    """
    drawn = np.concatenate([rows["drift"], observed(rows)])
    low, high = round_limits(drawn, 10.0, (-20.0, 20.0))
    return Scale((low, high + MARGIN_CENTS), round_limits(temperatures["celsius"], 5.0))


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
        _readings(ax, mine, one, name)
        for _, own in mine.groupby("player", sort=True) if "drift" in mine else ():
            _expected(ax, own, one)
    _finish_drift(ax, rows)
    time_axis(ax, rows["time"], zone)
    if events is not None and len(rows):
        _mark_events(ax, rows, events)
    return ax


def earlier_evening(rows: pd.DataFrame, ax: Axes) -> Axes:
    """Draw an earlier evening behind this one, as a pale line through the mean of each moment.

    Parameters
    ----------
    rows : DataFrame
        As in `drift_against_time`, in order of time, laid upon the times of this evening.
    ax : Axes
        Where this evening was drawn.
    """
    moments = rows["time"].dt.floor("5min")
    means = observed(rows).groupby(moments).mean()
    limits = ax.get_xlim()
    ax.plot(
        instants(pd.Series(means.index)),
        means.to_numpy(),
        color=GREY,
        linewidth=5.0,
        alpha=0.35,
        solid_capstyle="round",
        zorder=0.5,
        label="last time",
    )
    ax.set_xlim(limits)
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


def is_early(rows: pd.DataFrame) -> pd.Series[bool]:
    """Return which readings were made soon after the playing began, or began again.

    The first playing of who came already warm is not meant.
    """
    warm = pd.Series(False, index=rows.index)
    if {"initial_warmth", "minutes_into_spell", "playing_minutes"} <= set(rows):
        first = rows["minutes_into_spell"] >= rows["playing_minutes"]
        warm = (rows["initial_warmth"] >= 1.0) & first
    for column in ("minutes_into_spell", "playing_minutes"):
        if column in rows:
            return (rows[column] < EARLY_MINUTES) & ~warm
    return pd.Series(False, index=rows.index)


def drift_label(rows: pd.DataFrame) -> str:
    """Return the words for the axis that `observed` is drawn on."""
    if "residual" in rows:
        return "drift (cents)\nagainst warm at 20 °C"
    return "drift (cents)\nagainst the note's mean"


@style()
def rehearsal_figure(
    rows: pd.DataFrame,
    temperatures: pd.DataFrame,
    *,
    events: pd.DataFrame | None = None,
    zone: tzinfo = UTC,
    title: str = "",
    scale: Scale | None = None,
) -> Figure:
    """Draw drift above temperature over the same time of one rehearsal.

    Parameters
    ----------
    rows, temperatures, events, zone
        As in `drift_against_time` and `temperature_against_time`, of one rehearsal.
    title : str
        Written above.
    scale : Scale, optional
        The ends of both axes, the same for all the rehearsals that are to be compared.

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
    time_axis(lower, times, zone)
    upper.set_xlabel("")
    upper.tick_params(labelbottom=False)
    if scale is not None:
        upper.set_ylim(scale.cents)
        lower.set_ylim(scale.celsius)
    return figure


def _series(rows: pd.DataFrame) -> list[tuple[str, pd.DataFrame]]:
    """Return the readings of each player, or of each instrument where there are many players."""
    players = rows.groupby(["instrument", "player"], sort=True)
    if players.ngroups <= MOST_PLAYERS:
        return [(f"{shown(str(what))}, {short(str(who))}", mine) for (what, who), mine in players]
    return [(shown(str(what)), mine) for what, mine in rows.groupby("instrument", sort=True)]


def _readings(ax: Axes, mine: pd.DataFrame, one: Look, name: str) -> None:
    """Draw readings, filled of a warm instrument and open of another; one line of the legend."""
    early, cents = is_early(mine), observed(mine)
    for which, fill in ((~early, one.colour), (early, "none")):
        if which.any():
            ax.plot(
                instants(mine.loc[which, "time"]),
                cents[which],
                one.marker,
                color=one.colour,
                alpha=0.75,
                markerfacecolor=fill,
                label="" if fill == "none" and not early.all() else name,
                rasterized=raster(len(mine)),
            )


def _expected(ax: Axes, mine: pd.DataFrame, one: Look) -> None:
    """Draw what was expected at the readings, broken where a rest or a warm-up began anew."""
    again = mine["spells"].map(len).diff().ne(0) if "spells" in mine else mine["drift"].isna()
    pieces = again.cumsum()
    for _, piece in mine.groupby(pieces, sort=False):
        ax.plot(instants(piece["time"]), piece["drift"], linestyle=one.line, color=one.colour)


def _finish_drift(ax: Axes, rows: pd.DataFrame) -> None:
    ax.axhline(0.0, color=GREY, linewidth=1.0)
    ax.set_ylabel(drift_label(rows))
    signed(ax.yaxis)
    if len(rows):
        at_least(ax, LEAST_CENTS)
        legend_above(ax)


def _mark_events(ax: Axes, rows: pd.DataFrame, events: pd.DataFrame) -> None:
    players = sorted(rows["player"].unique())
    rehearsal = rows["rehearsal"].iloc[0]
    here = events[events["rehearsal"] == rehearsal]
    rested = rests(here, players[0] if len(players) == 1 else "")
    spans = [instants(pd.Series([since, until])) for since, until in rested]
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
        for instant in instants(group["time"]):
            ax.axvline(instant, color=GREY, linestyle=(0, (4, 3)), linewidth=1.0)
        words = [_move_in_words(move, len(players) > 1) for move in group.to_dict("records")]
        _note(ax, instants(group["time"])[-1], 0.98, "\n".join(words), "top")


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
