"""How the pitch of one instrument runs through a schedule, slides untouched."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from drift.gig.timetable import Schedule
from drift.instruments.anatomy import FixedPitch, Instrument
from drift.regression.fits import Fit
from drift.regression.warmup import REFERENCE_CELSIUS, drift_columns, warmth

__all__ = ["Course", "Outdoors", "Tuned", "course_of"]

Array = NDArray[np.float64]
Spells = tuple[list[tuple[float, ...]], Array]

#: A ± given for a 95 % interval, in standard deviations of a normal distribution.
SD_IN_95_PERCENT = 1.959963984540054
#: With less of its slope than this from its own readings, acoustics is what speaks.
HALF = 0.5


@dataclass(frozen=True)
class Tuned:
    """The conditions the band was last tuned in.

    Attributes
    ----------
    celsius : float
        Temperature of that room [°C].
    minutes : float
        Minutes of playing before tuning there.
    a4_hz : float
        The pitch tuned to [Hz].
    """

    celsius: float = 20.0
    minutes: float = 30.0
    a4_hz: float = 440.0


@dataclass(frozen=True)
class Outdoors:
    """The temperatures of a performance, with what is not known of them.

    Attributes
    ----------
    times : DatetimeIndex, shape (n,)
        Instants.
    celsius : ndarray, shape (n,)
        Temperature around the instruments [°C].
    error_celsius : ndarray, shape (d,)
        Draws of the error of the forecast [°C], each the same all through the performance.
    forecast : ndarray of bool, shape (n,)
        Where the temperature comes from the forecast, and not from the schedule.
    """

    times: pd.DatetimeIndex
    celsius: Array
    error_celsius: Array
    forecast: NDArray[np.bool_]

    @cached_property
    def drawn(self) -> Array:
        """The temperatures of each draw, shape (n, d)."""
        return self.celsius[:, None] + self.forecast[:, None] * self.error_celsius


@dataclass(frozen=True)
class Course:
    """The pitch of an instrument through a performance, against where it was tuned.

    Attributes
    ----------
    cents, low, high : ndarray, shape (n,)
        Expected change of pitch and its 95 % interval [cents].
    middle : ndarray, shape (k,)
        For each block of playing the middle between the lowest and the highest pitch [cents]:
        correcting by it leaves the least worst deviation.
    middle_low, middle_high : ndarray, shape (k,)
        Its 95 % interval [cents].
    middle_draws : ndarray, shape (k, d)
        The same of each draw [cents].
    based_on : str
        ``own, 84 %`` (that much of the slope of the warm instrument comes from its readings),
        ``acoustics, 3 readings`` where that is less than half, ``acoustics`` or ``bars``.
    """

    cents: Array
    low: Array
    high: Array
    middle: Array
    middle_low: Array
    middle_high: Array
    middle_draws: Array
    based_on: str

    def changes(self) -> tuple[Array, Array, Array]:
        """Return how far the middle moves from block to block, the first from zero [cents].

        Returns
        -------
        tuple of three ndarrays, shape (k,)
            Estimates and the ends of their 95 % intervals, taken draw by draw: what a fit does
            not know alike in both blocks cancels.
        """
        low, high = _interval(np.diff(self.middle_draws, axis=0, prepend=0.0))
        return np.diff(self.middle, prepend=0.0), low, high


def course_of(
    instrument: Instrument,
    fit: Fit,
    schedule: Schedule,
    outdoors: Outdoors,
    windows: Sequence[NDArray[np.bool_]],
    tuned: Tuned,
    seed: int = 0,
) -> Course:
    """Return how the pitch of an instrument runs through a schedule.

    Parameters
    ----------
    instrument : Instrument
        What is played.
    fit : Fit
        What is known of drift: from rehearsals, or acoustics alone.
    schedule : Schedule
        Playing warms the instrument, resting cools it; before the first entry it is cold.
    outdoors : Outdoors
        Temperatures at n instants, with d draws of the error of the forecast.
    windows : sequence of k ndarrays of bool, shape (n,)
        The instants of playing that a tune has to serve.
    tuned : Tuned
        The conditions that pitch is counted from.
    seed : int
        Of the draws.

    Returns
    -------
    Course
        Every draw of the fit goes with one draw of the forecast's error.

    Notes
    -----
    ``b (T - T0) + r [w (Tb - T)/(Tb - T0) - 1]``, less the same where it was tuned. The air in
    the bore is taken to follow the air around it at once, apart from ``w``.
    """
    if instrument.fixed_pitch is not None:
        expected, cents = _bars(instrument.fixed_pitch, outdoors)
        based_on = "bars"
    else:
        spells = schedule.spells_at(outdoors.times)
        expected = _expected(fit, instrument.name, spells, outdoors.celsius, tuned)
        cents = _drawn(fit, instrument.name, spells, outdoors, tuned, seed)
        cents += (expected - cents.mean(axis=1))[:, None]  # the mean is known: no need of chance
        based_on = _basis(fit, instrument.name)
    middle_draws = np.array([_middle(cents[window]) for window in windows])
    low, high = _interval(cents)
    middle_low, middle_high = _interval(middle_draws)
    return Course(
        cents=expected,
        low=low,
        high=high,
        middle=np.array([_middle(expected[window]) for window in windows]),
        middle_low=middle_low,
        middle_high=middle_high,
        middle_draws=middle_draws,
        based_on=based_on,
    )


def _basis(fit: Fit, instrument: str) -> str:
    """Return what the course of a blown instrument rests on, in a word or two."""
    kind = fit.kinds.get(instrument)
    if kind is None:
        return "acoustics"
    slope = kind.curve.entries().get("warm_cents_per_celsius")
    if slope is None or slope.from_data is None:  # a method that knows no acoustics
        return "own rehearsals"
    if slope.from_data < HALF:
        return f"acoustics, {kind.readings} reading{'s' if kind.readings != 1 else ''}"
    return f"own, {100 * slope.from_data:.0f} %"


def _interval(draws: Array) -> tuple[Array, Array]:
    """Return the ends of the 95 % intervals of draws along the last axis."""
    low, high = np.quantile(draws, [0.025, 0.975], axis=-1)
    return low, high


def _middle(cents: Array) -> Array:
    return np.asarray((cents.max(axis=0) + cents.min(axis=0)) / 2)


def _expected(fit: Fit, instrument: str, spells: Spells, celsius: Array, tuned: Tuned) -> Array:
    """Return the expected drift of a blown instrument from where it was tuned, shape (n,)."""
    rows = pd.DataFrame(
        {
            "celsius": [*celsius, tuned.celsius],
            "spells": [*spells[0], ()],
            "minutes_into_spell": [*spells[1], tuned.minutes],
            "initial_warmth": 0.0,
        }
    )
    cents = fit.curve(instrument).expected(rows)
    return np.asarray(cents[:-1] - cents[-1])


def _drawn(
    fit: Fit, instrument: str, spells: Spells, outdoors: Outdoors, tuned: Tuned, seed: int
) -> Array:
    """Return the same for each draw, shape (n, d)."""
    draws = fit.draws(instrument, len(outdoors.error_celsius), seed)
    constants = draws.warm_minutes, draws.cool_minutes
    cold, rise = drift_columns(outdoors.drawn, warmth(*spells, *constants))
    tuned_cold, tuned_rise = drift_columns(tuned.celsius, warmth((), tuned.minutes, *constants))
    # In place: these are the largest arrays of a plan.
    cold -= tuned_cold
    rise -= tuned_rise
    cold *= draws.cold
    rise *= draws.rise
    rise += cold
    return rise


def _bars(bars: FixedPitch, outdoors: Outdoors) -> tuple[Array, Array]:
    """Return the drift of bars from the pitch they were built to at 20 °C, and its draws.

    The room where the band tuned does not matter to them. Where sources disagree on the slope,
    draws are spread over what they span, half below the usual value and half above it.
    """
    count = len(outdoors.error_celsius)
    rank = (np.arange(count) + 0.5) / count
    slope = np.interp(rank, [0.0, 0.5, 1.0], [bars.low, bars.cents_per_celsius, bars.high])
    expected = bars.cents_per_celsius * (outdoors.celsius - REFERENCE_CELSIUS)
    return expected, slope * (outdoors.drawn - REFERENCE_CELSIUS)
