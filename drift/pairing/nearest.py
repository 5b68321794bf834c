"""Which of some samples is near enough to a moment to speak of it."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

__all__ = ["GAP_MINUTES", "STEP_CELSIUS", "TYPED_MINUTES", "minutes_of", "nearer", "neighbours"]

Array = npt.NDArray[np.float64]
Places = npt.NDArray[np.int64]
Samples = tuple[Array, Array]
"""Minutes in order, and what was measured then."""

GAP_MINUTES = 10.0
"""Samples further apart than this are not interpolated, nor is one this far off taken."""

TYPED_MINUTES = 30.0
"""A temperature that a person typed holds this long, or until the next one; in a room that warms
as people play it lies below the air until then, so that between two the line is taken."""

STEP_CELSIUS = 3.0
"""Air between two typed temperatures that differ by so much was stepped into: the first holds."""


def nearer(probe: Samples, typed: Samples, away: Array, when: Array, step: float = np.inf) -> Array:
    """Return what a thermometer measured, or what a person typed where that is nearer.

    Parameters
    ----------
    probe, typed : tuple of two arrays
        Minutes in order, and what was measured then.
    away : array
        When the thermometer went away [min]: nothing is interpolated across.
    when : array of shape (n,)
        The moments asked for [min].
    step : float
        Between typed values that differ by so much nothing is interpolated either.

    Returns
    -------
    array of shape (n,)
        NaN where nothing is near enough.
    """
    found, distance = _from_probe(*probe, away, when)
    held, age = _from_typed(*typed, when, step)
    return np.where((age <= distance) & (distance > 0.0), held, found)


def neighbours(times: Array, when: Array) -> tuple[Places, Places, Places]:
    """Return the samples before and after each moment, and the nearer of both, by their place.

    Parameters
    ----------
    times : array of shape (m,)
        When samples were taken, sorted, one at least [min].
    when : array of shape (n,)
        The moments [min].

    Examples
    --------
    >>> left, right, nearest = neighbours(np.array([0.0, 10.0]), np.array([-5.0, 4.0, 6.0]))
    >>> nearest.tolist()
    [0, 0, 1]
    """
    after = np.clip(np.searchsorted(times, when), 1, max(len(times) - 1, 1))
    left, right = after - 1, np.minimum(after, len(times) - 1)
    sooner = np.abs(when - times[left]) <= np.abs(times[right] - when)
    return left, right, np.where(sooner, left, right)


def _from_probe(times: Array, celsius: Array, away: Array, when: Array) -> tuple[Array, Array]:
    """Interpolate where two samples are near enough; else take the nearest within the gap.

    Returns the temperatures and how far off their samples are [min]: 0 where interpolated,
    infinite where there is none.
    """
    if not len(times):
        return np.full(len(when), np.nan), np.full(len(when), np.inf)
    left, right, nearest = neighbours(times, when)
    between = (times[left] <= when) & (when <= times[right])
    near = times[right] - times[left] <= GAP_MINUTES
    absences = np.searchsorted(np.sort(away), times)
    bridged = absences[left] == absences[right]
    distance = np.abs(times[nearest] - when)
    distance[distance > GAP_MINUTES] = np.inf
    value = np.where(np.isfinite(distance), celsius[nearest], np.nan)
    interpolated = between & near & bridged
    return (
        np.where(interpolated, np.interp(when, times, celsius), value),
        np.where(interpolated, 0.0, distance),
    )


def _from_typed(times: Array, values: Array, when: Array, step: float) -> tuple[Array, Array]:
    """Return what was typed last, or lies between that and the next, and how far off the nearer is.

    Infinitely far [min] where the last one no longer holds.
    """
    if not len(times):
        return np.full(len(when), np.nan), np.full(len(when), np.inf)
    last = np.searchsorted(times, when, side="right") - 1
    known = last >= 0
    last = np.maximum(last, 0)
    after = np.minimum(last + 1, len(times) - 1)
    age = np.where(known, when - times[last], np.inf)
    age[age > TYPED_MINUTES] = np.inf
    between = (times[after] - times[last] <= TYPED_MINUTES) & (after > last)
    between &= np.isfinite(age) & (np.abs(values[after] - values[last]) < step)
    found = np.where(between, np.interp(when, times, values), values[last])
    distance = np.where(between, np.minimum(age, times[after] - when), age)
    return np.where(np.isfinite(age), found, np.nan), distance


def minutes_of(times: pd.Series[Any]) -> Array:
    """Return minutes since 1970 (differences of them are what is used)."""
    return times.to_numpy(dtype="datetime64[us]").astype(np.int64) / 60e6
