"""How the air around a player changed from the beginning of playing, where that matters.

An instrument that is carried from a warm room into the cold follows with delay, so that the
temperature at a reading is not enough: what came before is needed as well. Where the air changes
slowly it is enough, and nothing is kept.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.groups import rows_of
from drift.logbook.rehearsals import Rehearsals
from drift.pairing.arrivals import Arrival
from drift.pairing.thermometers import Chosen, chosen_thermometers, filled

__all__ = ["ALIKE_CELSIUS", "CARRIED_CELSIUS", "Course", "courses_at", "thinned"]

Array = npt.NDArray[np.float64]
Course = tuple[tuple[float, float], ...]

CARRIED_CELSIUS, CARRIED_MINUTES = 1.5, 15
"""Air that changes by less than this in so many minutes is followed closely enough: what an
instrument lags behind is then worth about one cent."""

ALIKE_CELSIUS = 0.3
"""A course is thinned to straight lines that are off by this much at most."""


def courses_at(
    rehearsals: Rehearsals,
    readings: pd.DataFrame,
    began: Array,
    thermometer: Chosen = None,
    arrivals: Mapping[str, Arrival] | None = None,
) -> pd.Series[Any]:
    """Return the course of the temperature before each reading.

    Parameters
    ----------
    rehearsals : Rehearsals
        Where the temperatures are.
    readings : DataFrame
        ``time`` and ``rehearsal`` of n readings.
    began : array of shape (n,)
        When the player of each began to play [minutes since 1970].
    thermometer : str or sequence of str, optional
        As in `drift.pairing.thermometers.chosen_thermometers`.
    arrivals : mapping of str to Arrival, optional
        Where instruments were before, by rehearsal; playing began with a rest when they came in.

    Returns
    -------
    Series of tuples
        Pairs of (minutes since playing began, °C), between which the air changes evenly; one tuple
        for all who began together. Empty where the air changed by less than `CARRIED_CELSIUS` in
        any 15 minutes.

    Notes
    -----
    Where the thermometer has no sample within ten minutes the next one fills in, or typed ones.
    """
    found = np.empty(len(readings), dtype=object)
    choice = chosen_thermometers(rehearsals, thermometer)
    by_rehearsal = rehearsals.temperatures.groupby("rehearsal", sort=False)
    samples = {str(name): part for name, part in by_rehearsal}
    when = readings["time"].to_numpy(dtype="datetime64[us]").astype(np.int64) / 60e6
    for rehearsal, rows in rows_of(readings["rehearsal"]).items():
        starts, which = np.unique(began[rows], return_inverse=True)
        lookup = np.empty(len(starts), dtype=object)
        lookup[:] = [()] * len(starts)
        here = samples.get(str(rehearsal), rehearsals.temperatures.iloc[:0])
        times, celsius = filled(here, choice)
        if len(times):
            minutes = np.arange(starts[0], when[rows].max() + 1.0)
            around = np.interp(minutes, times, celsius)
            came = (arrivals or {}).get(str(rehearsal))
            if came is not None and came.minute == starts[0]:
                around[0] = came.celsius
            for number, start in enumerate(() if _even(around) else starts):
                some = minutes >= start - 1.0
                lookup[number] = _course(minutes[some] - start, around[some])
        found[rows] = lookup[which]
    return pd.Series(found, index=readings.index, dtype=object)


def _even(celsius: Array) -> bool:
    """Return whether the air changed so little that no part of the evening has a course."""
    return all(
        np.abs(celsius[apart:] - celsius[:-apart]).max() < CARRIED_CELSIUS
        for apart in range(1, min(CARRIED_MINUTES, len(celsius) - 1) + 1)
    )


def _course(minutes: Array, celsius: Array) -> Course:
    """Return the knots of a course given each minute; none where the air hardly changed."""
    apart = min(CARRIED_MINUTES, len(celsius) - 1)
    if apart < 1 or np.abs(celsius[apart:] - celsius[:-apart]).max() < CARRIED_CELSIUS:
        return ()
    some = thinned(minutes, celsius)
    return tuple(zip(minutes[some].tolist(), celsius[some].tolist(), strict=True))


def thinned(minutes: Array, celsius: Array) -> npt.NDArray[np.intp]:
    """Return which points a course needs so that the lines between them stay close to all.

    Parameters
    ----------
    minutes, celsius : arrays of shape (n,)
        The course [min, °C], in order of time.

    Returns
    -------
    array of int
        The first, the last, and as long as a point is more than `ALIKE_CELSIUS` off the line
        between two of them, the one that is furthest off.

    Examples
    --------
    >>> thinned(np.arange(6.0), np.array([20.0, 20.0, 20.1, 12.0, 4.0, 4.0])).tolist()
    [0, 2, 4, 5]
    """
    kept = {0, len(minutes) - 1}
    pending = [(0, len(minutes) - 1)]
    while pending:
        low, high = pending.pop()
        line = np.interp(minutes[low:high], minutes[[low, high]], celsius[[low, high]])
        off = np.abs(celsius[low:high] - line)
        if high - low > 1 and off.max() > ALIKE_CELSIUS:
            middle = low + int(off.argmax())
            kept.add(middle)
            pending += [(low, middle), (middle, high)]
    return np.array(sorted(kept), dtype=np.intp)
