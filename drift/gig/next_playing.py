"""The next playing of a planned evening: what a target at the tuner is for."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import pandas as pd

from drift.errors import InputError
from drift.gig.timetable import Schedule, read_schedule
from drift.gig.weather import Forecast, read_forecast

__all__ = ["NextPlaying", "next_playing", "read_next_playing"]


@dataclass(frozen=True)
class NextPlaying:
    """When the band plays next, and in what air.

    Attributes
    ----------
    at : datetime
        When the playing begins, in the zone of the schedule.
    celsius : float
        Mean temperature of the air over it [°C].
    """

    at: datetime
    celsius: float


def read_next_playing(folder: Path, now: datetime) -> NextPlaying:
    """Return the next playing of the schedule and the forecast in a folder.

    Parameters
    ----------
    folder : Path
        With ``schedule.csv`` and ``forecast.csv``, as ``drift gig --templates`` writes them.
    now : datetime
        The moment; times without a zone are in its zone.

    Raises
    ------
    InputError
        When a file cannot be taken, or nothing is played any more.
    """
    schedule = read_schedule(folder / "schedule.csv", now.tzinfo)
    return next_playing(schedule, read_forecast(folder / "forecast.csv", now.tzinfo), now)


def next_playing(schedule: Schedule, forecast: Forecast, now: datetime) -> NextPlaying:
    """Return the playing that follows the next tune, or goes on after the present one.

    Parameters
    ----------
    schedule : Schedule
        The evening.
    forecast : Forecast
        Its weather.
    now : datetime
        The moment.

    Raises
    ------
    InputError
        When nothing is played any more.
    """
    for block in schedule.blocks():
        coming = [one for one in schedule.played_between(block.ready, block.end) if one.start > now]
        if not coming:
            continue
        playing = coming[0]
        times = pd.date_range(playing.start, playing.end, freq="1min")
        celsius = playing.celsius
        if celsius is None:
            celsius = float(forecast.at(times).celsius.mean()) + playing.offset_celsius
        return NextPlaying(playing.start, celsius)
    raise InputError(
        f"nothing is played any more after {now:%H:%M} in the schedule",
        "type when and in what air you play next: target 18:30 4",
    )
