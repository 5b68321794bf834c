"""The charts of the page: drawn by the same functions as those of the report."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo

import pandas as pd
from matplotlib.axes import Axes

from drift import charts
from drift.charts.style import figure_of, legend_below
from drift.charts.tendencies import note_tendencies
from drift.errors import TooLittleData
from drift.evidence import NoteTendency, tendencies_of
from drift.notes import shown
from drift.quantities import METRIC, Units
from drift.study import Study
from drift.words.instruments import notes_named
from drift.words.thermometers import called

__all__ = ["STAND_CHARTS", "Asked", "last_time", "notes_of", "of_rehearsal", "on_stand"]

#: Small enough that the letters stay large when the picture fills a column of the stand [inch].
WIDTH, NARROW = 5.25, 3.3
LEAST_CENTS = 10.0
"""No axis is narrower: a few tenths of a cent must not look like a drift."""


@dataclass(frozen=True)
class Asked:
    """Which chart of a rehearsal in progress is asked for.

    Attributes
    ----------
    rehearsal, player, instrument : str
        Which; without a player that of all, without an instrument the one with most readings.
    now : datetime
        The right end of the last hour.
    units : Units
        Of the player.
    narrow : bool
        Whether the screen is a telephone's.
    semitones : int
        How much higher than they sound the player reads the notes.
    """

    rehearsal: str
    player: str
    instrument: str
    now: datetime
    units: Units = METRIC
    narrow: bool = False
    semitones: int = 0

    @property
    def title(self) -> str:
        """Whose chart it is: player and instrument, as far as they were asked for."""
        return ", ".join(filter(None, [self.player, shown(self.instrument)]))


def on_stand(name: str, study: Study, asked: Asked) -> str:
    """Return one chart of the rehearsal in progress, as SVG; empty with nothing to draw yet.

    Parameters
    ----------
    name : str
        A key of `STAND_CHARTS`.
    study : Study
        The logbook as it was last looked at.
    asked : Asked
        Which rehearsal, player and instrument.
    """
    ax = STAND_CHARTS[name](study, asked)
    return "" if ax is None else charts.inline_svg(figure_of(ax), name)


def of_rehearsal(study: Study, rehearsal: str) -> str:
    """Return drift and temperature of one rehearsal against the time of day, as SVG."""
    rows = _rows(study, rehearsal)
    temperatures = _part(study.rehearsals.temperatures, rehearsal)
    temperatures = temperatures.assign(source=temperatures["source"].map(called))
    if not len(rows):
        return NOTHING_YET
    figure = charts.rehearsal_figure(
        rows, temperatures, events=study.rehearsals.events, zone=_zone(rows["time"])
    )
    return charts.inline_svg(figure, "rehearsal")


def _last_hour(study: Study, asked: Asked) -> Axes | None:
    here = _part(study.rehearsals.temperatures, asked.rehearsal)
    if not len(here):
        return None
    here = here.assign(source=here["source"].map(called))
    ax = charts.last_hour(here, pd.Timestamp(asked.now), _axes(asked, 2.25))
    return charts.in_fahrenheit(ax, "y") if asked.units.fahrenheit else ax


def _time(study: Study, asked: Asked) -> Axes | None:
    rows = _of(_rows(study, asked.rehearsal), asked)
    if not len(rows):
        return None
    events, zone = study.rehearsals.events, _zone(rows["time"])
    ax = charts.drift_against_time(rows, _axes(asked, 3.6), events=events, zone=zone)
    before = last_time(study, asked, rows)
    if before is not None:
        charts.earlier_evening(before, ax)
    if asked.narrow:  # room for every second time of day
        ax.set_xticks(ax.get_xticks()[::2])
    return _for_stand(ax, asked.title, asked)


def last_time(study: Study, asked: Asked, rows: pd.DataFrame) -> pd.DataFrame | None:
    """Return a player's readings of the rehearsal before, at the times of this evening.

    The first readings of both are laid upon each other.

    Parameters
    ----------
    study : Study
        The logbook as it was last looked at.
    asked : Asked
        Whose; without a player there is no last time.
    rows : DataFrame
        The readings of this evening.
    """
    names = study.rehearsals.names
    earlier = names[: names.index(asked.rehearsal)] if asked.rehearsal in names else names
    for name in reversed(earlier) if asked.player and asked.instrument else ():
        before = _of(_rows(study, name), asked)
        if len(before) > 1 and ("residual" in before) == ("residual" in rows):
            shift = rows["time"].min() - before["time"].min()
            return before.assign(time=before["time"] + shift).sort_values("time", kind="stable")
    return None


def _temperature(study: Study, asked: Asked) -> Axes | None:
    if not (asked.instrument or study.known.kinds):
        return None
    instrument = asked.instrument or None
    fahrenheit = asked.units.fahrenheit
    ax = charts.drift_against_temperature(
        study.known,
        _axes(asked, 4.4 if asked.narrow else 3.6),
        instrument=instrument,
        fahrenheit=not fahrenheit,
    )
    if fahrenheit:
        charts.in_fahrenheit(ax, "x")
    return _for_stand(ax, shown(asked.instrument), asked)


def _playing(study: Study, asked: Asked) -> Axes | None:
    if not (asked.instrument or study.known.kinds):
        return None
    instrument = asked.instrument or None
    ax = charts.drift_against_playing_time(
        study.known,
        _axes(asked, 4.4 if asked.narrow else 3.6),
        instrument=instrument,
        fahrenheit=asked.units.fahrenheit,
    )
    return _for_stand(ax, shown(asked.instrument), asked)


def _notes(study: Study, asked: Asked) -> Axes | None:
    found = notes_of(study, asked)
    if not found:
        return None
    ax = note_tendencies(found, _axes(asked, 0.9 + 0.3 * len(found)), asked.semitones)
    named = notes_named(study.catalogue.find(asked.instrument), asked.semitones)
    ax.set_title("\n".join(filter(None, [asked.title, named])), loc="left")
    return ax


def notes_of(study: Study, asked: Asked) -> tuple[NoteTendency, ...]:
    """Return how the notes of a player lie against each other; nothing where that is not known.

    Parameters
    ----------
    study : Study
        The logbook as it was last looked at.
    asked : Asked
        Whose; without a player or an instrument there is nothing.
    """
    if not (asked.player and asked.instrument):
        return ()
    try:
        return tendencies_of(study, asked.player, study.catalogue.find(asked.instrument))
    except TooLittleData:
        return ()


STAND_CHARTS: dict[str, Callable[[Study, Asked], Axes | None]] = {
    "last-hour": _last_hour,
    "time": _time,
    "temperature": _temperature,
    "playing": _playing,
    "notes": _notes,
}

NOTHING_YET = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 378 40">'
    '<text x="0" y="24" font-family="sans-serif" font-size="13">Nothing to draw yet</text></svg>'
)


def _axes(asked: Asked, height: float) -> Axes:
    return charts.new_axes(NARROW if asked.narrow else WIDTH, height)


def _rows(study: Study, rehearsal: str) -> pd.DataFrame:
    """Return the readings with what was expected of them; without, where there is no fit."""
    rows = (
        _part(study.known.rows, rehearsal) if len(study.known.rows) else study.paired.frame.iloc[:0]
    )
    return rows if len(rows) else _part(study.paired.frame, rehearsal)


def _part(table: pd.DataFrame, rehearsal: str) -> pd.DataFrame:
    return table[table["rehearsal"] == rehearsal]


def _zone(times: pd.Series[pd.Timestamp]) -> tzinfo:
    """Return the zone of the wall clock at the time of the rehearsal."""
    return (times.min().to_pydatetime().astimezone().tzinfo if len(times) else None) or UTC


def _of(rows: pd.DataFrame, asked: Asked) -> pd.DataFrame:
    """Return the rows of the player and the instrument that were asked for."""
    for column, name in (("player", asked.player), ("instrument", asked.instrument)):
        if name:
            rows = rows[rows[column] == name]
    return rows


@charts.style()
def _for_stand(ax: Axes, title: str, asked: Asked) -> Axes:
    """Say whose it is, and put the legend where it covers no point."""
    ax.set_title(title, loc="left")
    ax.set_ylabel("drift (cents)")
    charts.at_least(ax, LEAST_CENTS)
    if (drawn := ax.get_legend()) is not None:
        drawn.remove()
    if len(ax.get_legend_handles_labels()[0]) > 1:
        legend_below(ax, 1 if asked.narrow else 2)
    return ax
