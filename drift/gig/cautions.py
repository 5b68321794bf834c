"""What to watch for at an outdoor performance, by time, each with its source.

These are reminders for adults in charge. They never say that conditions are harmless, and they
never decide: local policy and licensed staff (athletic trainers, nurses, physicians) do.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from drift.degrees import fahrenheit_of_celsius
from drift.gig.exposure import FULL_SUN_CELSIUS, heat_index, wind_chill
from drift.gig.roster import Section

__all__ = ["MEASURED_WBGT", "Caution", "cautions"]

MEASURED_WBGT = "measured WBGT"
#: Where the bands of heat begin [°F] (NWS heat index chart), and those of cold [°C] (Environment
#: Canada); what they mean is written in `drift.words.gig_cautions`, with the sources.
HEAT_BANDS_FAHRENHEIT = (80.0, 90.0, 103.0, 125.0)
COLD_BANDS_CELSIUS = (0.0, -10.0, -28.0, -40.0, -48.0, -55.0)
#: Where metal on lips, wood in the cold and sudden changes are mentioned [°C]: common practice.
COLD_METAL_CELSIUS = 5.0
HOT_METAL_CELSIUS = 30.0
COLD_WOOD_CELSIUS = 10.0
SUDDEN_CELSIUS_PER_HOUR = 10.0
#: WBGT weighs wet bulb, globe and air 0.7, 0.2 and 0.1; even in full sun it stays nearer the air.
MOST_WBGT_ABOVE_AIR_CELSIUS = 10.0


@dataclass(frozen=True)
class Caution:
    """Something to watch for.

    Attributes
    ----------
    time, until : datetime
        From when to when, aware.
    kind : str
        ``heat index``, ``heat index in full sun``, ``measured WBGT``, ``wind chill``,
        ``cold air``, ``warm air`` (no humidity, so no heat index), ``cold metal``, ``hot metal``,
        ``wood``, ``sudden change``, ``stuck slide``.
    value : float or None
        The most extreme value in that time.
    unit : str
        Its unit: ``°C``, ``°C/h`` of what changes within an hour, at most, or empty.
    band : int
        Of heat index, wind chill or cold air, from 1 on; 0 for other kinds.
    sections : tuple of str
        Whom it is for, where not for all.
    slide : str
        The slide that is stuck.
    doubtful : bool
        Whether a measured value can hardly be.
    """

    time: datetime
    until: datetime
    kind: str
    value: float | None
    unit: str
    band: int = 0
    sections: tuple[str, ...] = ()
    slide: str = ""
    doubtful: bool = False


def cautions(
    times: pd.DatetimeIndex,
    celsius: NDArray[np.float64],
    *,
    humidity_percent: NDArray[np.float64] | None = None,
    wind_m_s: NDArray[np.float64] | None = None,
    metal_celsius: NDArray[np.float64] | None = None,
    sections: Sequence[Section] = (),
    sun: bool = False,
    wbgt: Sequence[tuple[datetime, float]] = (),
) -> tuple[Caution, ...]:
    """Return what to watch for, in order of time.

    Parameters
    ----------
    times : DatetimeIndex, shape (n,)
        Aware instants, rising.
    celsius, humidity_percent, wind_m_s : ndarray, shape (n,)
        Air [°C], relative humidity [%], wind [m/s]; NaN where not known.
    metal_celsius : ndarray, shape (n,), optional
        Temperature taken for the instruments [°C], the air's when left out.
    sections : sequence of Section
        Who plays what.
    sun : bool
        Whether the band stands in full sun.
    wbgt : sequence of (datetime, float)
        Wet-bulb globe temperatures measured on the spot [°C].

    Returns
    -------
    tuple of Caution
        One for each stretch of time within a band.

    Notes
    -----
    Illness has occurred at heat indices of 85 to 90 °F: a value below a band, or no caution at
    all, is no promise.
    """
    unknown = np.full(len(times), np.nan)
    humidity = unknown if humidity_percent is None else humidity_percent
    wind = unknown if wind_m_s is None else wind_m_s
    metal = celsius if metal_celsius is None else metal_celsius
    found = [
        *_heat(times, heat_index(celsius, humidity), sun),
        *_no_humidity(times, celsius, humidity),
        *_measured(wbgt, times, celsius),
        *_cold(times, celsius, wind_chill(celsius, wind)),
        *_metal(times, metal, sun),
        *_wood(times, metal, sections),
        *_stuck(times, sections),
    ]
    return tuple(sorted(found, key=lambda caution: caution.time))


def _stretches(inside: NDArray[np.bool_]) -> Iterator[slice]:
    """Yield the stretches where a condition holds."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], inside, [False])).astype(int)))
    for first, beyond in edges.reshape(-1, 2):
        yield slice(int(first), int(beyond))


def _span(times: pd.DatetimeIndex, stretch: slice) -> tuple[datetime, datetime]:
    chosen = times[stretch]
    return chosen[0].to_pydatetime(), chosen[-1].to_pydatetime()


def _heat(times: pd.DatetimeIndex, index: NDArray[np.float64], sun: bool) -> Iterator[Caution]:
    for kind, value in (
        ("heat index", index),
        *((("heat index in full sun", index + FULL_SUN_CELSIUS),) if sun else ()),
    ):
        fahrenheit = np.nan_to_num(fahrenheit_of_celsius(value), nan=-np.inf)
        bands = np.searchsorted(HEAT_BANDS_FAHRENHEIT, fahrenheit, side="right")
        for band in range(1, len(HEAT_BANDS_FAHRENHEIT) + 1):
            for stretch in _stretches(bands == band):
                worst = float(value[stretch].max())
                yield Caution(*_span(times, stretch), kind, worst, "°C", band)


def _no_humidity(
    times: pd.DatetimeIndex, celsius: NDArray[np.float64], humidity: NDArray[np.float64]
) -> Iterator[Caution]:
    low = HEAT_BANDS_FAHRENHEIT[0]
    for stretch in _stretches(np.isnan(humidity) & (fahrenheit_of_celsius(celsius) >= low)):
        yield Caution(*_span(times, stretch), "warm air", float(celsius[stretch].max()), "°C")


def _measured(
    wbgt: Sequence[tuple[datetime, float]],
    times: pd.DatetimeIndex,
    celsius: NDArray[np.float64],
) -> Iterator[Caution]:
    for time, value in wbgt:
        air = celsius[min(int(times.searchsorted(pd.Timestamp(time))), len(times) - 1)]
        doubtful = bool(value - air > MOST_WBGT_ABOVE_AIR_CELSIUS)
        yield Caution(time, time, MEASURED_WBGT, value, "°C", doubtful=doubtful)


def _cold(
    times: pd.DatetimeIndex, celsius: NDArray[np.float64], chill: NDArray[np.float64]
) -> Iterator[Caution]:
    for kind, value in (
        ("wind chill", chill),
        # Where wind is calm or not known, the air itself is what is known.
        ("cold air", np.where(np.isnan(chill), celsius, np.nan)),
    ):
        lows = [-low for low in COLD_BANDS_CELSIUS]
        bands = np.searchsorted(lows, np.nan_to_num(-value, nan=-np.inf), side="right")
        for band in range(1, len(COLD_BANDS_CELSIUS) + 1):
            for stretch in _stretches(bands == band):
                worst = float(value[stretch].min())
                yield Caution(*_span(times, stretch), kind, worst, "°C", band)


def _metal(times: pd.DatetimeIndex, metal: NDArray[np.float64], sun: bool) -> Iterator[Caution]:
    for stretch in _stretches(metal <= COLD_METAL_CELSIUS):
        yield Caution(*_span(times, stretch), "cold metal", float(metal[stretch].min()), "°C")
    for stretch in _stretches(metal >= HOT_METAL_CELSIUS) if sun else ():
        yield Caution(*_span(times, stretch), "hot metal", float(metal[stretch].max()), "°C")


def _wood(
    times: pd.DatetimeIndex, metal: NDArray[np.float64], sections: Sequence[Section]
) -> Iterator[Caution]:
    wooden = tuple(section.name for section in sections if section.instrument.wooden)
    if not wooden:
        return
    for stretch in _stretches(metal <= COLD_WOOD_CELSIUS):
        coldest = float(metal[stretch].min())
        yield Caution(*_span(times, stretch), "wood", coldest, "°C", sections=wooden)
    for first, last in _changes(times, metal):
        change = float(metal[last] - metal[first])
        span = _span(times, slice(first + 1, last + 1))  # a step is of its moment
        yield Caution(*span, "sudden change", change, "°C/h", sections=wooden)


def _changes(times: pd.DatetimeIndex, metal: NDArray[np.float64]) -> Iterator[tuple[int, int]]:
    """Yield where each sudden change begins and ends: a step is named at its moment."""
    within = np.searchsorted(times, times + pd.Timedelta(hours=1), side="right")
    hours = np.diff(times) / pd.Timedelta(hours=1)
    first = 0
    while first < len(times):
        far = np.abs(metal[first : within[first]] - metal[first]) >= SUDDEN_CELSIUS_PER_HOUR
        if not far.any():
            first += 1
            continue
        last = first + int(far.argmax())
        before = np.abs(metal[first:last] - metal[last]) >= SUDDEN_CELSIUS_PER_HOUR
        first += int(np.flatnonzero(before)[-1])
        way = np.sign(metal[last] - metal[first])
        while last + 1 < within[first] and (
            way * (metal[last + 1] - metal[last]) >= SUDDEN_CELSIUS_PER_HOUR * hours[last]
        ):
            last += 1
        yield first, last
        first = last


def _stuck(times: pd.DatetimeIndex, sections: Sequence[Section]) -> Iterator[Caution]:
    start, end = times[0].to_pydatetime(), times[-1].to_pydatetime()
    for section in sections:
        for slide in section.stuck:
            who = (section.name,)
            yield Caution(start, end, "stuck slide", None, "", sections=who, slide=slide)
