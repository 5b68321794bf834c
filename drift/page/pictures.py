"""The charts of the page: drawn by the same functions as those of the report."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, tzinfo

import pandas as pd
from matplotlib.axes import Axes

from drift import charts
from drift.charts.style import figure_of
from drift.study import Study

__all__ = ["STAND_CHARTS", "of_rehearsal", "on_stand"]

#: Small enough that the letters stay large when the picture fills a column of the stand [inch].
WIDTH = 5.25


def on_stand(name: str, study: Study, rehearsal: str, instrument: str, now: datetime) -> str:
    """Return one chart of the rehearsal that goes on, as SVG; empty with nothing to draw yet.

    Parameters
    ----------
    name : str
        A key of `STAND_CHARTS`.
    study : Study
        The logbook as it was last looked at.
    rehearsal, instrument : str
        Which; with no instrument, the one with most readings.
    now : datetime
        The right end of the last hour.
    """
    ax = STAND_CHARTS[name](study, rehearsal, instrument, now)
    return "" if ax is None else charts.inline_svg(figure_of(ax), name)


def of_rehearsal(study: Study, rehearsal: str) -> str:
    """Return drift and temperature of one rehearsal against the time of day, as SVG."""
    rows = _rows(study, rehearsal)
    temperatures = _part(study.rehearsals.temperatures, rehearsal)
    if not len(rows):
        return NOTHING_YET
    figure = charts.rehearsal_figure(
        rows, temperatures, events=study.rehearsals.events, zone=_zone(rows["time"])
    )
    return charts.inline_svg(figure, "rehearsal")


def _last_hour(study: Study, rehearsal: str, instrument: str, now: datetime) -> Axes | None:
    here = _part(study.rehearsals.temperatures, rehearsal)
    return charts.last_hour(here, pd.Timestamp(now), _axes(2.25)) if len(here) else None


def _time(study: Study, rehearsal: str, instrument: str, now: datetime) -> Axes | None:
    rows, events = _rows(study, rehearsal), study.rehearsals.events
    if not len(rows):
        return None
    zone = _zone(rows["time"])
    return _for_stand(charts.drift_against_time(rows, _axes(3.6), events=events, zone=zone))


def _temperature(study: Study, rehearsal: str, instrument: str, now: datetime) -> Axes | None:
    if not (instrument or study.known.kinds):
        return None
    ax = charts.drift_against_temperature(study.known, _axes(3.6), instrument=instrument or None)
    return _for_stand(ax)


def _playing(study: Study, rehearsal: str, instrument: str, now: datetime) -> Axes | None:
    if not (instrument or study.known.kinds):
        return None
    ax = charts.drift_against_playing_time(study.known, _axes(3.6), instrument=instrument or None)
    return _for_stand(ax)


STAND_CHARTS: dict[str, Callable[[Study, str, str, datetime], Axes | None]] = {
    "last-hour": _last_hour,
    "time": _time,
    "temperature": _temperature,
    "playing": _playing,
}

NOTHING_YET = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 378 40">'
    '<text x="0" y="24" font-family="sans-serif" font-size="13">Nothing to draw yet</text></svg>'
)


def _axes(height: float) -> Axes:
    return charts.new_axes(WIDTH, height)


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


@charts.style()
def _for_stand(ax: Axes) -> Axes:
    """Leave to the page what it says itself, and put the legend where it covers no point."""
    ax.set_title("")
    ax.set_ylabel("drift (cents)")
    handles, words = ax.get_legend_handles_labels()
    if len(handles) > 1:
        ax.legend(
            handles, words, loc="upper left", bbox_to_anchor=(-0.02, -0.22), ncols=2, fontsize=9
        )
    return ax
