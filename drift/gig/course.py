"""How the pitch of one instrument runs through a schedule, slides untouched.

The air in an instrument that is carried follows as one state with its warmth
(`drift.regression.state`), as it does in the estimate of pitch tonight.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from drift.gig.basis import Basis, BasisKind, basis_of
from drift.gig.players import section_draws
from drift.gig.roster import Section
from drift.gig.timetable import Schedule
from drift.instruments.anatomy import FixedPitch
from drift.regression.fits import Fit
from drift.regression.results import Draws, Estimate
from drift.regression.state import drift_columns_of_state, states
from drift.regression.warmup import REFERENCE_CELSIUS, drift_columns
from drift.tonight.course import (
    AFTER_CARRYING_MINUTES,
    CARRIED_CELSIUS,
    CARRIED_MINUTES,
    share_at_once,
)
from drift.tonight.target import printed_interval

__all__ = ["Course", "Outdoors", "Served", "Tuned", "course_of"]

Array = NDArray[np.float64]

#: A ± given for a 95 % interval, in standard deviations of a normal distribution.
SD_IN_95_PERCENT = 1.959963984540054
#: Up to so much of an instrument, any share as likely, may follow this many times as slowly as the
#: rest: thick walls and those far from the mouthpiece. Readings indoors hardly show it.
LATE_SHARE, LATE_TIMES = 0.5, 2.7
GOLDEN = (5.0**0.5 - 1.0) / 2.0
#: No instrument follows faster than this, whatever lag was given [min].
SHORTEST_MINUTES = 0.5


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
    lag_minutes : float
        How much later than the fit says instruments follow [min], such as an evening has shown.
    """

    times: pd.DatetimeIndex
    celsius: Array
    error_celsius: Array
    forecast: NDArray[np.bool_]
    lag_minutes: float = 0.0

    @cached_property
    def drawn(self) -> Array:
        """The temperatures of each draw, shape (n, d)."""
        return self.celsius[:, None] + self.forecast[:, None] * self.error_celsius


@dataclass(frozen=True)
class Served:
    """A tune and the playing it has to serve, as places among the instants of a course.

    Attributes
    ----------
    window : ndarray of bool, shape (n,)
        The instants of that playing.
    read_at : float
        Where the tuner is read, between instants: three quarters through the tune.
    """

    window: NDArray[np.bool_]
    read_at: float


@dataclass(frozen=True)
class Course:
    """The pitch of an instrument through a performance, against where it was tuned.

    Attributes
    ----------
    cents, low, high : ndarray, shape (n,)
        Expected change of pitch and its 95 % interval [cents].
    mean : ndarray, shape (k,)
        The mean pitch of each block of playing [cents]: what its tune aims at.
    mean_low, mean_high : ndarray, shape (k,)
        Its 95 % interval [cents].
    mean_draws : ndarray, shape (k, d)
        The same of each draw [cents].
    show : tuple of Estimate
        For each tune, what the tuner should show so that the mean of the playing after it is
        right, at the pitch tuned to, with the interval to print [cents].
    based_on : Basis
        ``own, 84 %`` (that much of the slope of the warm instrument comes from its readings),
        ``acoustics, 3 readings`` where that is less than half, ``acoustics`` or ``bars``.
    """

    cents: Array
    low: Array
    high: Array
    mean: Array
    mean_low: Array
    mean_high: Array
    mean_draws: Array
    show: tuple[Estimate, ...]
    based_on: Basis

    def changes(self) -> tuple[Array, Array, Array]:
        """Return how far the mean moves from block to block, the first from zero [cents].

        Returns
        -------
        tuple of three ndarrays, shape (k,)
            Estimates and the ends of their 95 % intervals, taken draw by draw: what a fit does
            not know alike in both blocks cancels.
        """
        low, high = _interval(np.diff(self.mean_draws, axis=0, prepend=0.0))
        return np.diff(self.mean, prepend=0.0), low, high


def course_of(
    section: Section,
    fit: Fit,
    schedule: Schedule,
    outdoors: Outdoors,
    served: Sequence[Served],
    tuned: Tuned,
    seed: int = 0,
) -> Course:
    """Return how the pitch of an instrument runs through a schedule.

    Parameters
    ----------
    section : Section
        Who plays what. The players it names have their own readings; anybody else is a player
        nobody has read.
    fit : Fit
        What is known of drift: from rehearsals, or acoustics alone.
    schedule : Schedule
        Playing warms the instrument, resting cools it; before the first entry it is cold.
    outdoors : Outdoors
        Temperatures at n instants, with d draws of the error of the forecast.
    served : sequence of k Served
        The tunes, and the playing that each has to serve.
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
    ``D = b (A - 20) + r (E/14 - 1) + s h + q (A - 20)²`` with the air ``A`` in the instrument and
    the excess ``E`` of breath over it as one state, after ``h`` hours of playing, less the same
    where it was tuned: what `Fit.change` answers. Aiming at the mean of a
    block leaves less than aiming at the middle between its ends (7.9 against 8.7 cents in
    simulated bands in the cold). In each draw a share of the instrument, up to a half, follows 2.7
    times as slowly as the rest. Wind and sun on the wall are left out.
    """
    instrument = section.instrument
    if instrument.fixed_pitch is not None:
        expected, cents = _bars(instrument.fixed_pitch, outdoors)
        based_on = Basis(BasisKind.BARS)
    else:
        cents = _drawn(fit, section, schedule, outdoors, tuned, seed)
        expected = cents.mean(axis=1)
        based_on = basis_of(fit, section)
    mean_draws = np.array([cents[block.window].mean(axis=0) for block in served])
    low, high = _interval(cents)
    mean_low, mean_high = _interval(mean_draws)
    return Course(
        cents=expected,
        low=low,
        high=high,
        mean=np.array([expected[block.window].mean() for block in served]),
        mean_low=mean_low,
        mean_high=mean_high,
        mean_draws=mean_draws,
        show=tuple(
            printed_interval(_at(cents, block.read_at) - mean)
            for block, mean in zip(served, mean_draws, strict=True)
        ),
        based_on=based_on,
    )


def _at(cents: Array, place: float) -> Array:
    """Return the draws at a place between two instants."""
    first = int(place)
    second, share = min(first + 1, len(cents) - 1), place - first
    return np.asarray(cents[first] * (1.0 - share) + cents[second] * share)


def _interval(draws: Array) -> tuple[Array, Array]:
    """Return the ends of the 95 % intervals of draws along the last axis."""
    low, high = np.quantile(draws, [0.025, 0.975], axis=-1)
    return low, high


def _drawn(
    fit: Fit, section: Section, schedule: Schedule, outdoors: Outdoors, tuned: Tuned, seed: int
) -> Array:
    """Return the drift of each draw from where it was tuned, shape (n, d) [cents]."""
    draws = section_draws(fit, section, len(outdoors.error_celsius), seed)
    late = _late(len(outdoors.error_celsius))
    air, excess = _mixed(late[:, None], draws, lambda part: _states(part, schedule, outdoors))
    cold, rise = drift_columns_of_state(_perhaps_at_once(air, outdoors), excess)
    (warm,) = _mixed(late, draws, lambda part: (-np.expm1(-tuned.minutes / part.warm_minutes),))
    tuned_cold, tuned_rise = drift_columns(tuned.celsius, warm)
    bend = cold**2
    # In place: these are the largest arrays of a plan.
    bend -= tuned_cold**2
    bend *= draws.curvature[:, None]
    cold -= tuned_cold
    rise -= tuned_rise[:, None]
    cold *= draws.cold[:, None]
    rise *= draws.rise[:, None]
    rise += cold
    rise += bend
    late = np.minimum(_hours(schedule, outdoors), draws.horizon_hours)
    rise += draws.slow[:, None] * (late - min(tuned.minutes / 60.0, draws.horizon_hours))
    return np.ascontiguousarray(rise.T)


def _late(draws: int) -> Array:
    """Return how much of the instrument follows late in each draw, spread evenly over them."""
    return np.asarray(LATE_SHARE * np.mod(0.5 + GOLDEN * np.arange(draws), 1.0))


def _mixed(
    late: Array, draws: Draws, of: Callable[[Draws], tuple[Array, ...]]
) -> tuple[Array, ...]:
    """Return what instruments do of which a share follows late."""
    slow = replace(
        draws,
        warm_minutes=LATE_TIMES * draws.warm_minutes,
        cool_minutes=LATE_TIMES * draws.cool_minutes,
    )
    pairs = zip(of(draws), of(slow), strict=True)
    return tuple(one + late * (later - one) for one, later in pairs)


def _hours(schedule: Schedule, outdoors: Outdoors) -> Array:
    """Return hours of playing before each instant, shape (n,)."""
    played = _duty(schedule, outdoors.times) * _minutes(outdoors.times) / 60.0
    return np.append(0.0, np.cumsum(played))


def _states(draws: Draws, schedule: Schedule, outdoors: Outdoors) -> tuple[Array, Array]:
    """Return the air in an instrument and its excess at each instant, shape (d, n) [°C].

    Within an entry the air changes evenly from instant to instant; from one entry to the next the
    band has been carried, and the step belongs to the entry that it begins in.
    """
    times = outdoors.times
    entry = schedule.entry_at(times)
    around = outdoors.drawn.T
    # The last instant ends the schedule, and belongs to its last entry.
    after = np.where(entry[1:] == entry[:-1], around[:, 1:], around[:, :-1])
    air, excess = states(
        _minutes(times), after, _duty(schedule, times),
        _later(draws.warm_minutes, outdoors), _later(draws.cool_minutes, outdoors),
        air=around[:, 0], celsius_before=around[:, :-1],
    )  # fmt: skip
    return (
        np.concatenate([around[:, :1], air], axis=1),
        np.concatenate([np.zeros((len(air), 1)), excess], axis=1),
    )


def _later(minutes: Array, outdoors: Outdoors) -> Array:
    """Return time constants with the lag: a steady change is followed by that much later."""
    return np.asarray(np.maximum(minutes + outdoors.lag_minutes, SHORTEST_MINUTES))


def _minutes(times: pd.DatetimeIndex) -> Array:
    """Return the minutes between instants, shape (n - 1,)."""
    return np.asarray(np.diff(times) / pd.Timedelta(minutes=1), dtype=float)


def _duty(schedule: Schedule, times: pd.DatetimeIndex) -> Array:
    """Return the share of time blown from each instant to the next, shape (n - 1,)."""
    return np.array([found.duty for found in schedule.entries])[schedule.entry_at(times)[:-1]]


def _perhaps_at_once(air: Array, outdoors: Outdoors) -> Array:
    """Let a share of the draws have the air around it in an instrument that was just carried."""
    minutes = np.asarray((outdoors.times - outdoors.times[0]) / pd.Timedelta(minutes=1))
    before = np.interp(minutes - CARRIED_MINUTES, minutes, outdoors.celsius)
    carried = minutes[np.abs(outdoors.celsius - before) >= CARRIED_CELSIUS]
    since = minutes[:, None] - carried
    soon = ((since >= 0.0) & (since <= AFTER_CARRYING_MINUTES)).any(axis=1)
    at_once = share_at_once(len(air))
    return np.where(at_once[:, None] & soon, outdoors.drawn.T, air)


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
