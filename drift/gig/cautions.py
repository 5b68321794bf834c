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

__all__ = ["DEFER", "Caution", "cautions"]

DEFER = "Local policy and licensed staff decide."

NWS_HEAT = (
    "heat index: Rothfusz 1990 (NWS SR 90-23) with the NWS adjustments; bands 80, 90, 103, 125 °F: "
    "NWS heat index chart (second-hand)"
)
COLD_BANDS = "wind chill 2001 (Environment Canada, NWS); bands: Environment Canada (second-hand)"
MEASURED_WBGT = "measured WBGT"
PRACTICE = "common practice; no published threshold"

_HEAT = (
    (80.0, "caution band", "fatigue possible with long exposure or activity"),
    (90.0, "extreme caution band", "heat cramps, heat exhaustion or heat stroke possible"),
    (103.0, "danger band", "heat cramps or heat exhaustion likely, heat stroke possible"),
    (125.0, "extreme danger band", "heat stroke highly likely"),
)
_COLD = (
    (0.0, "discomfort; watch hands and faces"),
    (-10.0, "hypothermia possible when outside for long without enough protection"),
    (-28.0, "exposed skin can freeze in 10 to 30 minutes"),
    (-40.0, "exposed skin can freeze in 5 to 10 minutes"),
    (-48.0, "exposed skin can freeze in 2 to 5 minutes"),
    (-55.0, "exposed skin can freeze in less than 2 minutes"),
)
#: Where metal on lips, wood in the cold and sudden changes are mentioned [°C]: common practice.
COLD_METAL_CELSIUS = 5.0
HOT_METAL_CELSIUS = 30.0
COLD_WOOD_CELSIUS = 10.0
SUDDEN_CELSIUS_PER_HOUR = 10.0
#: WBGT weighs wet bulb, globe and air 0.7, 0.2 and 0.1; even in full sun it stays nearer the air.
MOST_WBGT_ABOVE_AIR_CELSIUS = 10.0
IMPLAUSIBLE_WBGT = (
    "this can hardly be: it lies more than 10 °C (18 °F) above the air then, which even full sun "
    "does not do (common practice). Check the value, its unit and its time. Otherwise: "
)


@dataclass(frozen=True)
class Caution:
    """Something to watch for.

    Attributes
    ----------
    time, until : datetime
        From when to when, aware.
    kind : str
        ``heat index``, ``heat index in full sun``, ``measured WBGT``, ``wind chill``,
        ``cold air``, ``cold metal``, ``hot metal``, ``wood``, ``sudden change``, ``stuck slide``.
    value : float or None
        The most extreme value in that time.
    unit : str
        Its unit: ``°C``, ``°C/h`` or empty.
    text : str
        What it means, without numbers in units of temperature.
    source : str
        Where formula, bands or advice come from.
    """

    time: datetime
    until: datetime
    kind: str
    value: float | None
    unit: str
    text: str
    source: str

    def shown_value(self, fahrenheit: bool = False) -> str:
        """Return the value as people read it, empty where there is none."""
        if self.value is None:
            return ""
        if not fahrenheit:
            return f"{self._digits(self.value)} {self.unit}".replace("-", "−")
        value = self.value * 1.8 if self.unit == "°C/h" else fahrenheit_of_celsius(self.value)
        return f"{self._digits(float(value))} {self.unit.replace('C', 'F')}".replace("-", "−")

    def _digits(self, value: float) -> str:
        """Return a measured value as it was typed: policies switch at fixed values."""
        return f"{value:.4g}" if self.kind == MEASURED_WBGT else f"{value:.0f}"


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
        band = np.searchsorted([low for low, _, _ in _HEAT], fahrenheit, side="right")
        for number, (_, name, effect) in enumerate(_HEAT, start=1):
            for stretch in _stretches(band == number):
                up_to = "up to: full sun can add 15 °F to the heat index. " if "sun" in kind else ""
                yield Caution(
                    *_span(times, stretch), kind, float(value[stretch].max()), "°C",
                    f"{up_to}{name}: {effect}. Illness occurs below this band too. Water, shade, "
                    f"breaks. {DEFER}",
                    NWS_HEAT,
                )  # fmt: skip


def _no_humidity(
    times: pd.DatetimeIndex, celsius: NDArray[np.float64], humidity: NDArray[np.float64]
) -> Iterator[Caution]:
    for stretch in _stretches(np.isnan(humidity) & (fahrenheit_of_celsius(celsius) >= 80)):
        yield Caution(
            *_span(times, stretch), "warm air", float(celsius[stretch].max()), "°C",
            f"no humidity in the forecast, so no heat index: get one. {DEFER}",
            "heat index chart of the NWS starts at 80 °F",
        )  # fmt: skip


def _measured(
    wbgt: Sequence[tuple[datetime, float]],
    times: pd.DatetimeIndex,
    celsius: NDArray[np.float64],
) -> Iterator[Caution]:
    for time, value in wbgt:
        air = celsius[min(int(times.searchsorted(pd.Timestamp(time))), len(times) - 1)]
        doubt = IMPLAUSIBLE_WBGT if value - air > MOST_WBGT_ABOVE_AIR_CELSIUS else ""
        yield Caution(
            time, time, MEASURED_WBGT, value, "°C",
            f"{doubt}thresholds differ between regions and between policies: read this value in "
            f"the table of your own policy. {DEFER}",
            "measured on the spot, as typed; never estimated here",
        )  # fmt: skip


def _cold(
    times: pd.DatetimeIndex, celsius: NDArray[np.float64], chill: NDArray[np.float64]
) -> Iterator[Caution]:
    for kind, value, source in (
        ("wind chill", chill, COLD_BANDS),
        # Where wind is calm or not known, the air itself is what is known.
        ("cold air", np.where(np.isnan(chill), celsius, np.nan), COLD_BANDS + ", read as calm"),
    ):
        lows = [-low for low, _ in _COLD]
        band = np.searchsorted(lows, np.nan_to_num(-value, nan=-np.inf), side="right")
        for number, (_, effect) in enumerate(_COLD, start=1):
            for stretch in _stretches(band == number):
                yield Caution(
                    *_span(times, stretch), kind, float(value[stretch].min()), "°C",
                    f"{effect}. Layers, gloves, somewhere warm to wait. {DEFER}",
                    source,
                )  # fmt: skip


def _metal(times: pd.DatetimeIndex, metal: NDArray[np.float64], sun: bool) -> Iterator[Caution]:
    for stretch in _stretches(metal <= COLD_METAL_CELSIUS):
        frozen = metal[stretch].min() <= 0
        ice = " Below freezing, lips can freeze to metal and valves freeze up." if frozen else ""
        yield Caution(
            *_span(times, stretch), "cold metal", float(metal[stretch].min()), "°C",
            "mouthpieces in a warm pocket until the last moment; ask about plastic ones." + ice,
            PRACTICE,
        )  # fmt: skip
    for stretch in _stretches(metal >= HOT_METAL_CELSIUS) if sun else ():
        yield Caution(
            *_span(times, stretch), "hot metal", float(metal[stretch].max()), "°C",
            "metal in the sun is hotter than the air and can hurt skin: keep instruments shaded.",
            PRACTICE,
        )  # fmt: skip


def _wood(
    times: pd.DatetimeIndex, metal: NDArray[np.float64], sections: Sequence[Section]
) -> Iterator[Caution]:
    wooden = [section.name for section in sections if section.instrument.wooden]
    if not wooden:
        return
    who = ", ".join(wooden)
    for stretch in _stretches(metal <= COLD_WOOD_CELSIUS):
        yield Caution(
            *_span(times, stretch), "wood", float(metal[stretch].min()), "°C",
            f"{who}: a wooden instrument can crack in the cold or when blown warm in haste; "
            "use one of plastic, or keep it warm until it is played.",
            PRACTICE,
        )  # fmt: skip
    ahead = np.minimum(np.searchsorted(times, times + pd.Timedelta(hours=1)), len(times) - 1)
    change = metal[ahead] - metal
    sudden = np.abs(change) >= SUDDEN_CELSIUS_PER_HOUR
    if sudden.any():
        first = int(np.argmax(np.abs(change)))
        yield Caution(
            times[first].to_pydatetime(), times[ahead[first]].to_pydatetime(),
            "sudden change", float(change[first]), "°C/h",
            f"{who}: let a wooden instrument come to the new temperature in its closed case.",
            PRACTICE,
        )  # fmt: skip


def _stuck(times: pd.DatetimeIndex, sections: Sequence[Section]) -> Iterator[Caution]:
    for section in sections:
        for slide in section.stuck:
            yield Caution(
                times[0].to_pydatetime(), times[-1].to_pydatetime(), "stuck slide", None, "",
                f"{section.name}: the {slide} slide is stuck. Do not force it, least of all when "
                "the metal is cold: a repair technician frees it.",
                "common practice",
            )  # fmt: skip
