"""The next playing of a planned evening: what a target at the tuner is for."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, tzinfo
from itertools import pairwise
from pathlib import Path

import pandas as pd

from drift.errors import DriftError, InputError
from drift.gig.days import day_of_table
from drift.gig.folder import files_in, written_by_a_plan
from drift.gig.gridded import GRIDDED, read_gridded
from drift.gig.timetable import Entry, Schedule, read_schedule
from drift.gig.weather import Forecast, read_forecast
from drift.tables.problems import parts_of

__all__ = ["NextPlaying", "example_typed", "next_playing", "read_next_playing"]


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


def read_next_playing(folder: Path, now: datetime, fahrenheit: bool = False) -> NextPlaying:
    """Return the next playing of the plan that was written into a folder, or of its tables.

    Parameters
    ----------
    folder : Path
        Where ``drift gig --out`` wrote its files, or a folder around it, or one with a schedule
        and a forecast, whatever they are called.
    now : datetime
        The moment; times without a zone are in its zone.
    fahrenheit : bool
        Whether who asks types °F.

    Raises
    ------
    InputError
        When a file cannot be taken, or nothing is played any more.
    """
    places = (folder / "timeline.csv", *sorted(folder.glob("*/timeline.csv")))
    if written := [path for path in places if path.is_file() and written_by_a_plan(path)]:
        return next_playing(*_of_a_plan(written[0]), now, fahrenheit)
    schedule, forecast = _of_tables(folder, now.tzinfo)
    return next_playing(schedule, lambda playing: _mean(playing, forecast), now, fahrenheit)


def next_playing(
    schedule: Schedule,
    celsius_of: Callable[[Entry], float],
    now: datetime,
    fahrenheit: bool = False,
) -> NextPlaying:
    """Return the playing that follows the next tune, or goes on after the present one.

    Parameters
    ----------
    schedule : Schedule
        The evening.
    celsius_of : callable
        The mean temperature of the air over an entry [°C].
    now : datetime
        The moment.
    fahrenheit : bool
        Whether who asks types °F.

    Raises
    ------
    InputError
        When nothing is played any more.
    """
    for block in schedule.blocks():
        for playing in schedule.played_between(block.ready, block.end):
            if playing.start > now:
                return NextPlaying(playing.start, celsius_of(playing))
    raise InputError(
        f"the plan is of {schedule.start:%Y-%m-%d}: nothing of it is played any more",
        f"type when and in what air you play next: {example_typed(fahrenheit)}",
    )


def example_typed(fahrenheit: bool) -> str:
    """Return a target as it is typed, in °F or °C."""
    return f"target 18:30 {40 if fahrenheit else 4}"


def _of_a_plan(path: Path) -> tuple[Schedule, Callable[[Entry], float]]:
    """Return the evening as a plan understood it, and the air of its entries."""
    rows = pd.read_csv(path).drop_duplicates("time")
    zone = datetime.fromisoformat(rows["time"].iloc[0]).tzinfo
    times = pd.DatetimeIndex(pd.to_datetime(rows["time"], utc=True)).tz_convert(zone)
    celsius = rows["celsius"] if "celsius" in rows else (rows["fahrenheit"] - 32.0) / 1.8
    activity = list(rows["activity"])
    first = [0, *(n for n in range(1, len(activity)) if activity[n] != activity[n - 1])]
    entries = tuple(
        Entry(times[start].to_pydatetime(), times[end].to_pydatetime(), activity[start])
        for start, end in pairwise([*first, len(rows) - 1])
    )

    def mean(entry: Entry) -> float:
        start, end = times.searchsorted([pd.Timestamp(entry.start), pd.Timestamp(entry.end)])
        return float(celsius.iloc[start:end].mean())

    return Schedule(entries), mean


def _of_tables(folder: Path, zone: tzinfo | None) -> tuple[Schedule, Forecast]:
    found, _ = files_in(folder)
    for kind in ("schedule", "forecast"):
        if len(found[kind]) != 1:
            names = ", ".join(path.name for path in found[kind])
            several = f"more than one {kind}: {names}" if names else f"no plan and no {kind}"
            raise _to_be_planned(f"{folder} has {several}")
    timetable, weather = found["schedule"][0], found["forecast"][0]
    day = day_of_table(timetable) or day_of_table(weather)
    try:
        return _schedule(timetable, zone, day), _forecast(weather, zone, day)
    except DriftError as refusal:
        raise _to_be_planned(parts_of(refusal)[0].told) from None


def _to_be_planned(problem: str) -> InputError:
    """Return the refusal of tables that need more to be understood than a folder."""
    return InputError(
        problem, "plan that evening with drift gig --out FOLDER, and give --plan that folder"
    )


def _schedule(path: Path, zone: tzinfo | None, day: datetime | None) -> Schedule:
    if path.suffix.lower() == ".ics":
        from drift.gig.calendar import read_calendar

        return read_calendar(path, zone)
    return read_schedule(path, zone, day)


def _forecast(path: Path, zone: tzinfo | None, day: datetime | None) -> Forecast:
    if path.suffix.lower() in GRIDDED:
        return read_gridded(path, None)
    return read_forecast(path, zone, date=day)


def _mean(playing: Entry, forecast: Forecast) -> float:
    if playing.celsius is not None:
        return playing.celsius
    times = pd.date_range(playing.start, playing.end, freq="1min")
    return float(forecast.at(times).celsius.mean()) + playing.offset_celsius
