"""Forecasts: a table of temperature, humidity, wind and pressure, and its values in between."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo
from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from drift.degrees import celsius_of_fahrenheit
from drift.errors import InputError
from drift.findings import Finding
from drift.gig.rows import Row, Rows, read_rows
from drift.quantities import FAHRENHEIT, PERCENT, TEMPERATURE, read_quantity
from drift.tables.columns import Place
from drift.tables.problems import Problem, TablesRefused

__all__ = ["Forecast", "Weather", "constant_forecast", "read_forecast"]

#: Longest stretch without a temperature that is bridged, and the one from which it is said [h].
LONGEST_GAP_HOURS = 6.0
GAP_SAID_HOURS = 3.0
#: How long the first and the last value are held beyond the ends [h].
HELD_HOURS = 1.0
#: No band plays in hotter air, and a whole evening from here on may be in °F: it is asked [°C].
HOTTEST_CELSIUS, HOT_CELSIUS = 48.0, 36.0

QUANTITIES = ("celsius", "humidity_percent", "wind_m_s", "pressure_hpa")
_TEMPERATURES = ("celsius", "fahrenheit")
# Statute mile 1609.344 m and international knot 1852 m, both exact by definition.
_WINDS = {"wind_m_s": 1.0, "wind_km_h": 1 / 3.6, "wind_mph": 0.44704, "wind_knots": 1852 / 3600}
_OTHERS = ("humidity_percent", "pressure_hpa")


@dataclass(frozen=True)
class Weather:
    """A forecast at the instants asked for.

    Attributes
    ----------
    celsius, humidity_percent, wind_m_s, pressure_hpa : ndarray
        One value an instant; NaN where the forecast says nothing (never for `celsius`).
    notices : tuple of Finding
        What had to be bridged or held.
    """

    celsius: NDArray[np.float64]
    humidity_percent: NDArray[np.float64]
    wind_m_s: NDArray[np.float64]
    pressure_hpa: NDArray[np.float64]
    notices: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class Forecast:
    """A weather forecast.

    Attributes
    ----------
    table : DataFrame
        ``celsius, humidity_percent, wind_m_s, pressure_hpa``, NaN where nothing is said; the
        index ``time`` is in UTC and rises.
    name : str
        The file it came from, for messages.
    notices : tuple of Finding
        What was left out in reading.
    """

    table: pd.DataFrame
    name: str = "forecast"
    notices: tuple[Finding, ...] = ()

    def to_frame(self) -> pd.DataFrame:
        """Return a copy of the table."""
        return self.table.copy()

    def shifted(self, celsius: float) -> Forecast:
        """Return the same forecast, warmer by a number of degrees [°C]."""
        return Forecast(
            self.table.assign(celsius=self.table["celsius"] + celsius), self.name, self.notices
        )

    def at(self, times: pd.DatetimeIndex) -> Weather:
        """Return the weather at some instants, interpolated in time.

        Parameters
        ----------
        times : DatetimeIndex, shape (n,)
            Instants, aware, rising.

        Returns
        -------
        Weather
            Values between the rows are interpolated linearly; the first and the last are held
            for an hour beyond the ends.

        Raises
        ------
        InputError
            When the temperature is not known for the instants: the forecast starts too late, ends
            too early, or has a gap of more than six hours there.
        """
        known = self.table["celsius"].dropna()
        notices = self._covered(pd.DatetimeIndex(known.index), times)
        columns = {name: _between(self.table[name].dropna(), times) for name in QUANTITIES}
        return Weather(**columns, notices=(*self.notices, *notices))

    def _covered(self, known: pd.DatetimeIndex, times: pd.DatetimeIndex) -> list[Finding]:
        """Refuse instants the temperature is unknown for; say what is bridged or held."""
        zone = times.tz
        held = pd.Timedelta(hours=HELD_HOURS)
        first, last = known[0], known[-1]
        if times[0] < first - held or times[-1] > last + held:
            raise InputError(
                f"{self.name} covers {_clock(first, zone)} to {_clock(last, zone)}, the schedule "
                f"{_clock(times[0], zone)} to {_clock(times[-1], zone)}",
                "add rows to the forecast so that it covers the whole schedule",
            )
        notices = []
        if times[0] < first or times[-1] > last:
            notices.append(Finding("temperature_held", self._ends(first, last, zone)))
        for start, end in pairwise(known):
            hours = (end - start) / pd.Timedelta(hours=1)
            if hours <= GAP_SAID_HOURS or not ((times > start) & (times < end)).any():
                continue
            if hours > LONGEST_GAP_HOURS:
                raise InputError(
                    f"{self.name} has no temperature between {_clock(start, zone)} and "
                    f"{_clock(end, zone)} ({hours:.0f} hours)",
                    "add a row in between",
                )
            bridged = {**self._ends(start, end, zone), "hours": hours}
            notices.append(Finding("temperature_bridged", bridged))
        return notices

    def _ends(self, start: pd.Timestamp, end: pd.Timestamp, zone: tzinfo | None) -> dict[str, str]:
        ends = {"start": start, "end": end}
        return {"file": self.name} | {
            name: time.tz_convert(zone).isoformat() for name, time in ends.items()
        }


def _clock(time: pd.Timestamp, zone: tzinfo | None) -> str:
    return time.tz_convert(zone).strftime("%Y-%m-%d %H:%M")


def _between(known: pd.Series[float], times: pd.DatetimeIndex) -> NDArray[np.float64]:
    """Interpolate one quantity; NaN where no value lies near enough."""
    if known.empty:
        return np.full(len(times), np.nan)
    hours = _hours(times, known.index[0])
    at = _hours(pd.DatetimeIndex(known.index), known.index[0])
    values = np.interp(hours, at, known.to_numpy(dtype=float))
    after = np.searchsorted(at, hours, side="left").clip(0, len(at) - 1)
    before = (np.searchsorted(at, hours, side="right") - 1).clip(0, None)
    beyond = np.maximum(at[0] - hours, hours - at[-1])
    unknown = (at[after] - at[before] > LONGEST_GAP_HOURS) | (beyond > HELD_HOURS)
    return np.where(unknown, np.nan, values)


def _hours(times: pd.DatetimeIndex, origin: pd.Timestamp) -> NDArray[np.float64]:
    return np.asarray((times - origin) / pd.Timedelta(hours=1), dtype=float)


def read_forecast(
    path: Path,
    zone: tzinfo | None = None,
    columns: Mapping[str, str] | None = None,
    date: datetime | None = None,
    order: str | None = None,
) -> Forecast:
    """Read ``forecast.csv``.

    Parameters
    ----------
    path : Path
        A CSV file with ``time`` and ``celsius`` (or ``fahrenheit``), and if known
        ``humidity_percent``, ``wind_m_s`` (or ``wind_km_h``, ``wind_mph``, ``wind_knots``;
        ``5-10`` counts as 10) and ``pressure_hpa``. Times carry their offset from UTC.
    zone : tzinfo, optional
        The zone of times without an offset.
    columns : mapping of str to str, optional
        Names of columns by what is written over them, for the table of any service.
    date : datetime, optional
        Midnight of the day that a first time of day belongs to; later ones follow it.
    order : str, optional
        ``day-first`` or ``month-first``, where the dates of the file do not show it.

    Returns
    -------
    Forecast
        Rows in order of time, whatever their order in the file; °C and m/s.

    Raises
    ------
    TablesRefused
        When cells cannot be taken (each with line and value), a time is there twice, or no row
        has a temperature.
    """
    extra: list[str] = []
    known = [*_TEMPERATURES, *_WINDS, *_OTHERS, "date"]
    rows = read_rows(path, ["time"], known, columns, extra, "forecast")
    rows, days = rows.days_for(["time"], zone, date, order)
    temperature = _one_of(rows, _TEMPERATURES, required=True, extra=extra)
    wind = _one_of(rows, _WINDS)
    seen: dict[datetime, str] = {}
    last = None

    def taken(row: Row) -> tuple[object, ...]:
        nonlocal last
        time = row.instant("time", days, after=last)
        if time in seen:
            row.note(f"time {row.text('time')} is on {seen[time]} too", "keep one row", "time")
        elif time is not None:
            seen[time], last = row.where, time
        return time, _celsius(row, temperature), *_beside(row, wind)

    frame = pd.DataFrame(rows.taken(taken), columns=["time", *QUANTITIES])
    frame["time"] = pd.to_datetime(frame["time"], utc=True)
    frame = frame.set_index("time").astype(float).sort_index()
    name = Path(path).name
    missing = int(frame["celsius"].isna().sum())
    if missing == len(frame):
        raise InputError(f"{name} has no temperature", f"fill in the column {temperature}")
    notices = _perhaps_fahrenheit(frame, name, temperature)
    if extra:
        notices += (Finding("columns_left_out", {"file": name, "columns": extra}),)
    if missing:
        values = {"file": name, "missing": missing, "rows": len(frame)}
        notices += (Finding("rows_without_temperature", values),)
    return Forecast(frame, name, notices)


def _perhaps_fahrenheit(frame: pd.DataFrame, name: str, column: str) -> tuple[Finding, ...]:
    low, high = frame["celsius"].min(), frame["celsius"].max()
    if column != "celsius" or low < HOT_CELSIUS:
        return ()
    read = {"file": name, "low_celsius": float(low), "high_celsius": float(high)}
    return (Finding("perhaps_fahrenheit", read),)


def _one_of(
    rows: Rows, names: Iterable[str], required: bool = False, extra: Sequence[str] = ()
) -> str:
    """Return the one of these columns that is there; what is wrong with the heading otherwise."""
    present = [name for name in names if name in rows.columns]
    problem = None
    if required and not present and rows.unclear:
        raise TablesRefused(rows.problems)
    if len(present) > 1:
        problem = InputError(f"{rows.file} has both {' and '.join(present)}", "keep one of them")
    elif not present and required:
        others = f"; not understood: {', '.join(map(repr, extra))}" if extra else ""
        problem = InputError(
            f"{rows.file} has no column celsius{others}",
            f"add one of {', '.join(names)}, or name a column as with --columns Temp=celsius",
        )
    if problem is not None:
        named = Problem(Place(""), "", "", problem.problem, problem.remedy)
        raise TablesRefused((*rows.problems, named))
    return present[0] if present else ""


def _celsius(row: Row, column: str) -> float | None:
    if column == "fahrenheit":
        value = row.number(column, -76, 140, FAHRENHEIT)
        return None if value is None else float(celsius_of_fahrenheit(value))
    remedy = ""
    if read_quantity(row.text(column), TEMPERATURE) is not None:  # a number, beyond the limits
        remedy = "is it °F? then name the column fahrenheit"
    return row.number(column, -60, HOTTEST_CELSIUS, TEMPERATURE, remedy)


def _beside(row: Row, wind: str) -> tuple[float | None, float | None, float | None]:
    """Return humidity [%], wind [m/s] and pressure [hPa] of a row."""
    speed = _wind(row, wind) if wind else None
    return (
        row.number("humidity_percent", 0, 100, PERCENT),
        None if speed is None else speed * _WINDS[wind],
        row.number("pressure_hpa", 500, 1100),
    )


_WIND = re.compile(
    r"(?:[nesw]{1,3}\b|variable\b)?\s*(?P<low>\d+(?:[.,]\d+)?)"
    r"(?:\s*(?:-|–|to|g|gusts?(?: to)?)\s*(?P<high>\d+(?:[.,]\d+)?)|\s*\?)?\s*(?P<unit>[a-z/]+)?"
    r"(?:\s+(?:from\s+)?(?:[nesw]{1,3}|variable))?",
    re.IGNORECASE,
)
_WIND_UNITS = {"wind_m_s": ("m/s",), "wind_km_h": ("km/h", "kmh", "kph"), "wind_mph": ("mph",),
               "wind_knots": ("kn", "kt", "knots")}  # fmt: skip


def _wind(row: Row, column: str) -> float | None:
    """Return the wind of a cell; of one in doubt (``5-10``, ``NW 10 gusts 20``), the stronger."""
    text = row.text(column)
    if text.casefold() == "calm":
        return 0.0
    found = _WIND.fullmatch(text)
    if found is None or (found["unit"] or "").casefold() not in ("", *_WIND_UNITS[column]):
        return row.number(column, 0, 400)
    speed = float((found["high"] or found["low"]).replace(",", "."))
    return speed if speed <= 400 else row.number(column, 0, 400)


def constant_forecast(
    celsius: float,
    start: datetime,
    end: datetime,
    *,
    humidity_percent: float | None = None,
    wind_m_s: float | None = None,
) -> Forecast:
    """Return the forecast of someone without a file: one temperature from start to end.

    Parameters
    ----------
    celsius : float
        Air temperature [°C].
    start, end : datetime
        Aware instants.
    humidity_percent, wind_m_s : float, optional
        Relative humidity [%] and wind [m/s], where known.

    Returns
    -------
    Forecast
        A row an hour, all alike.
    """
    hours = pd.date_range(start, end, freq="1h").union(pd.DatetimeIndex([end]))
    frame = pd.DataFrame(
        {
            "celsius": celsius,
            "humidity_percent": humidity_percent,
            "wind_m_s": wind_m_s,
            "pressure_hpa": None,
        },
        index=hours.tz_convert("UTC").rename("time"),
    )
    return Forecast(frame.astype(float), "the temperature given")
