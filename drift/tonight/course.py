"""The air and the playing of an evening, and what they do to the pitch of each draw."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from drift.breath import BREATH_CELSIUS
from drift.errors import InputError
from drift.regression.results import Draws
from drift.regression.state import drift_columns_of_state, states
from drift.regression.warmup import REFERENCE_CELSIUS
from drift.tonight.assumptions import AT_ONCE_PROBABILITY

__all__ = ["Course", "Drifting", "air_ahead", "drift_along", "share_at_once"]

Array = npt.NDArray[np.float64]

SPAN = BREATH_CELSIUS - REFERENCE_CELSIUS
STEP_MINUTES = 1.0
"""The air is taken as even between two steps."""
CARRIED_CELSIUS, CARRIED_MINUTES, AFTER_CARRYING_MINUTES = 5.0, 5.0, 30.0
"""An instrument counts as carried elsewhere where its air changes by so much in so many minutes;
for so long afterwards it is not known how fast the air inside follows."""

TREND_MINUTES, TREND_DIES_MINUTES, TREND_LIMIT = 20.0, 20.0, 0.1
"""The air ahead goes on as in the last 20 minutes, less and less (at most 0.1 °C a minute)."""


@dataclass(frozen=True)
class Course:
    """The air around a player over an evening, and when the player played.

    Parameters
    ----------
    air_minutes, air_celsius : arrays of shape (n,)
        Samples of the air [min], [°C], in order of time.
    switches_minutes : tuple of float
        When playing began, a rest began, playing began again, ... [min].
    initial_warmth : float
        How warm the instrument was when playing began, 0 to 1.
    came_from_celsius : float or None
        The air in the instrument at the first switch, where it came in then from other air [°C].

    Raises
    ------
    InputError
        If there is no sample, or the times are not in order.
    """

    air_minutes: Array
    air_celsius: Array
    switches_minutes: tuple[float, ...] = ()
    initial_warmth: float = 0.0
    came_from_celsius: float | None = None

    def __post_init__(self) -> None:
        minutes, celsius = (
            np.asarray(x, dtype=float) for x in (self.air_minutes, self.air_celsius)
        )
        object.__setattr__(self, "air_minutes", minutes)
        object.__setattr__(self, "air_celsius", celsius)
        if not len(minutes) or minutes.shape != celsius.shape or not np.isfinite(celsius).all():
            raise InputError(
                f"{len(minutes)} times and {len(celsius)} temperatures of the air",
                "give one temperature for each time, at least one",
            )
        if (np.diff(minutes) < 0.0).any() or (np.diff(self.switches_minutes) < 0.0).any():
            raise InputError(
                "the times of the evening are not in order", "sort them, the earliest first"
            )

    def celsius_at(self, minutes: npt.ArrayLike) -> Array:
        """Return the temperature of the air [°C] at times [min], straight between samples."""
        when = np.asarray(minutes, dtype=float)
        return np.asarray(np.interp(when, self.air_minutes, self.air_celsius))

    def playing_at(self, minutes: npt.ArrayLike) -> npt.NDArray[np.bool_]:
        """Return whether the player plays at times [min]."""
        passed = np.searchsorted(self.switches_minutes, np.asarray(minutes), side="right")
        return np.asarray(passed % 2 == 1)

    def played_minutes_at(self, minutes: npt.ArrayLike) -> Array:
        """Return the minutes played before times [min], rests left out."""
        when = np.asarray(minutes, dtype=float)
        edges = [*self.switches_minutes, *[np.inf] * (len(self.switches_minutes) % 2)]
        played = np.zeros(when.shape)
        for begin, end in zip(edges[::2], edges[1::2], strict=True):
            played += np.clip(np.minimum(when, end) - begin, 0.0, None)
        return played

    @cached_property
    def carried_minutes(self) -> Array:
        """When the instrument was carried into other air [min]."""
        grid = np.arange(self.air_minutes[0], self.air_minutes[-1] + STEP_MINUTES, STEP_MINUTES)
        change = self.celsius_at(grid) - self.celsius_at(grid - CARRIED_MINUTES)
        came = [] if self.came_from_celsius is None else self.switches_minutes[:1]
        return np.sort(np.concatenate([came, grid[np.abs(change) >= CARRIED_CELSIUS]]))


@dataclass(frozen=True)
class Drifting:
    """What a course does to the pitch.

    Attributes
    ----------
    warmth : array of shape (m,)
        How far the instrument is warmed up at each time, the mean of the draws, about 0 to 1.
    cents : array of shape (n, m)
        Drift of each draw at each time [cents], against a warm instrument at 20 °C.
    """

    warmth: Array
    cents: Array


def drift_along(draws: Draws, course: Course, at_minutes: npt.ArrayLike) -> Drifting:
    """Return what the air and the playing do to the pitch at some times.

    Parameters
    ----------
    draws : Draws
        n draws of the drift.
    course : Course
        The evening.
    at_minutes : array of shape (m,)
        Times [min], in any order.

    Returns
    -------
    Drifting

    Notes
    -----
    One state for the air in the instrument and its excess over it (`drift.regression.state`). In
    0.15 of the draws the air in an instrument that was carried is taken to follow the air around
    it at once for half an hour: which of the two is true is not known.
    """
    wanted = np.atleast_1d(np.asarray(at_minutes, dtype=float))
    begin = min([*course.switches_minutes[:1], float(wanted.min())])
    grid = np.arange(begin, wanted.max(), STEP_MINUTES)
    times = np.unique(np.concatenate([[begin], grid, wanted, course.switches_minutes]))
    times = times[(times >= begin) & (times <= wanted.max())]
    around = course.celsius_at(times)
    warm = course.initial_warmth * (BREATH_CELSIUS - around[0])
    came_from = course.came_from_celsius
    inside = around[0] if came_from is None else came_from
    air, excess = states(
        np.diff(times, prepend=begin),
        around,
        course.playing_at(np.concatenate([[begin], 0.5 * (times[1:] + times[:-1])])).astype(float),
        draws.warm_minutes,
        draws.cool_minutes,
        air=inside,
        excess=warm,
        celsius_before=np.concatenate([around[:1], around[:-1]]),
    )
    places = np.searchsorted(times, wanted)
    air, excess = _perhaps_at_once(course, wanted, air[:, places]), excess[:, places]
    cold, rise = drift_columns_of_state(air, excess)
    late = np.minimum(course.played_minutes_at(wanted) / 60.0, draws.horizon_hours)
    cents = draws.cold[:, None] * cold + draws.rise[:, None] * rise
    cents = cents + draws.slow[:, None] * late + draws.curvature[:, None] * cold**2
    return Drifting(excess.mean(axis=0) / SPAN, np.asarray(cents))


def _perhaps_at_once(course: Course, at_minutes: Array, air: Array) -> Array:
    """Let some draws have the air of the room in the instrument, soon after it was carried."""
    carried = course.carried_minutes
    if not len(carried):
        return air
    last = np.searchsorted(carried, at_minutes, side="right") - 1
    since = np.where(last < 0, np.inf, at_minutes - carried[np.maximum(last, 0)])
    soon = since <= AFTER_CARRYING_MINUTES
    at_once = share_at_once(len(air))
    return np.where(at_once[:, None] & soon[None, :], course.celsius_at(at_minutes), air)


def share_at_once(draws: int) -> npt.NDArray[np.bool_]:
    """Return in which draws the air in a carried instrument follows at once.

    Parameters
    ----------
    draws : int
        How many there are. The share is spread evenly over them and depends on no seed.

    Examples
    --------
    >>> float(share_at_once(600).mean())
    0.15
    """
    so_far = np.floor(np.arange(1, draws + 1) * AT_ONCE_PROBABILITY + 1e-9)
    return np.asarray(np.diff(so_far, prepend=0.0) > 0)


def air_ahead(course: Course, now_minutes: float, ahead_minutes: npt.ArrayLike) -> Array:
    """Return the air to be expected [°C] so many minutes ahead.

    Parameters
    ----------
    course : Course
        The evening so far; samples after now are not used.
    now_minutes : float
        The moment [min].
    ahead_minutes : array of shape (m,)
        Minutes from now.

    Notes
    -----
    The straight line through the last 20 minutes, dying away with 20 minutes.

    Examples
    --------
    >>> steady = Course([0.0, 30.0], [20.0, 20.0])
    >>> air_ahead(steady, 30.0, [0.0, 30.0]).tolist()
    [20.0, 20.0]
    """
    ahead = np.asarray(ahead_minutes, dtype=float)
    minutes = course.air_minutes - now_minutes
    recent = (minutes > -TREND_MINUTES) & (minutes <= 0.0)
    if recent.sum() < 4 or np.ptp(minutes[recent]) < TREND_MINUTES / 4.0:
        return np.full(ahead.shape, float(course.celsius_at(now_minutes)))
    slope, level = np.polyfit(minutes[recent], course.air_celsius[recent], 1)
    slope = float(np.clip(slope, -TREND_LIMIT, TREND_LIMIT))
    fading = TREND_DIES_MINUTES * (1.0 - np.exp(-ahead / TREND_DIES_MINUTES))
    return np.asarray(level + slope * fading)
