"""The charts of the page: drawn by the same functions as those of the report."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, tzinfo

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from drift import charts
from drift.page.outlook import Learnt
from drift.results import Fit

__all__ = ["STAND_CHARTS", "of_rehearsal", "on_stand"]

#: Small enough that the letters stay large when the picture fills a column of the stand [inch].
WIDTH = 5.25


def on_stand(name: str, found: Learnt, rehearsal: str, instrument: str, now: datetime) -> str:
    """Return one chart of the rehearsal that goes on, as SVG.

    Parameters
    ----------
    name : str
        A key of `STAND_CHARTS`.
    found : Outlook
        What was worked out last.
    rehearsal, instrument : str
        Which; an instrument without readings gives the one with most.
    now : datetime
        The right end of the last hour.
    """
    return _svg(STAND_CHARTS[name](found, rehearsal, instrument, now), name)


def of_rehearsal(found: Learnt, rehearsal: str) -> str:
    """Return drift and temperature of one rehearsal against the time of day, as SVG."""
    rows = _part(_rows(found.known, found.paired), rehearsal)
    temperatures = _part(found.season.temperatures, rehearsal)
    figure = charts.rehearsal_figure(
        rows, temperatures, events=found.season.events, zone=_zone(rows["time"])
    )
    return _svg(figure, "rehearsal")


def _last_hour(found: Learnt, rehearsal: str, instrument: str, now: datetime) -> Figure:
    here = _part(found.season.temperatures, rehearsal)
    return _figure(charts.last_hour(here, pd.Timestamp(now), _axes(2.25)))


def _time(found: Learnt, rehearsal: str, instrument: str, now: datetime) -> Figure:
    rows = _part(_rows(found.known, found.paired), rehearsal)
    events = found.season.events
    zone = now.astimezone().tzinfo or UTC
    return _figure(charts.drift_against_time(rows, _axes(3.15), events=events, zone=zone))


def _temperature(found: Learnt, rehearsal: str, instrument: str, now: datetime) -> Figure:
    name = _known(found.known, instrument)
    return _figure(charts.drift_against_temperature(found.known, _axes(3.4), instrument=name))


def _playing(found: Learnt, rehearsal: str, instrument: str, now: datetime) -> Figure:
    name = _known(found.known, instrument)
    return _figure(charts.drift_against_playing_time(found.known, _axes(3.4), instrument=name))


STAND_CHARTS: dict[str, Callable[[Learnt, str, str, datetime], Figure]] = {
    "last-hour": _last_hour,
    "time": _time,
    "temperature": _temperature,
    "playing": _playing,
}


def _axes(height: float) -> Axes:
    return charts.new_axes(WIDTH, height)


def _rows(found: Fit, paired: pd.DataFrame) -> pd.DataFrame:
    """Return the readings with what was expected of them; without, where there is no fit."""
    return found.rows if len(found.rows) else paired


def _part(table: pd.DataFrame, rehearsal: str) -> pd.DataFrame:
    return table[table["rehearsal"] == rehearsal]


def _known(found: Fit, instrument: str) -> str | None:
    return instrument if instrument in found.kinds else None


def _zone(times: pd.Series[pd.Timestamp]) -> tzinfo:
    """Return the zone of the wall clock at the time of the rehearsal."""
    return (times.min().to_pydatetime().astimezone().tzinfo if len(times) else None) or UTC


def _figure(ax: Axes) -> Figure:
    figure = ax.figure
    assert isinstance(figure, Figure)
    return figure


def _svg(figure: Figure, name: str) -> str:
    return charts.inline_svg(figure, name)
