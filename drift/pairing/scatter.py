"""The even course of air, where single temperatures scatter about it.

Temperatures that people read off, or that come in whole degrees, lie to either side of what the air
was. A slope is then too shallow, for part of what temperature seems to do is nothing; each reading
should stand against what the air most likely was.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.linalg import cho_solve_banded, cholesky_banded, solveh_banded
from scipy.stats import chi2

from drift.groups import rows_of
from drift.pairing.nearest import STEP_CELSIUS, minutes_of

__all__ = ["LEAST_CELSIUS", "Even", "Unevenness", "even_of", "evened", "unevenness_in"]

Array = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]

LEAST_CELSIUS, MOST_CELSIUS = 0.1, 0.6
"""Scatter below is nothing; what looks like more is air that steps, not how well it was read."""

STEP_MINUTES = 15
"""Air that changes by `STEP_CELSIUS` in so many minutes was stepped into, and is left as read."""

FEWEST_SAMPLES, FEWEST_FREE = 3, 8
"""Of a rehearsal; and of what is left in all rehearsals when each has given up a straight line."""

LEAST_MINUTES, MOST_KNOTS = 0.5, 80
"""Samples of a rehearsal that are closer are averaged, and where there are more than so many."""

UNLIKELY = 1e-4
"""A rehearsal that scatters as much more than the others had air that stepped."""

SUPPLE = np.geomspace(1e-8, 1e4, 41)
"""How supple the course of air may be: variance of what bends it, over that of the scatter, per
cubed minute."""


@dataclass(frozen=True, eq=False)
class Unevenness:
    """How a thermometer's samples of one rehearsal depart from a straight line.

    Attributes
    ----------
    squares : array of shape (n,)
        Squares of the samples about the smoothest course of each of `SUPPLE`, as many as are free
        [°C²].
    logarithms : array of shape (n,)
        Of the determinant of what is expected of their second differences about each.
    free : int
        Samples less two.
    """

    squares: Array
    logarithms: Array
    free: int


@dataclass(frozen=True)
class Even:
    """How much a thermometer scatters, and how supple the course is that it scatters about.

    Attributes
    ----------
    celsius : float
        Standard deviation of a single sample [°C].
    supple : int
        Which of `SUPPLE`.
    """

    celsius: float
    supple: int


@dataclass(frozen=True, eq=False)
class _Knots:
    """Samples of one rehearsal, averaged where there are many, and second differences of them.

    ``within`` are the squares of samples off the mean of their knot [°C²]. ``weights`` has three
    rows: those of each knot, the next and the one after in a difference.
    ``bending`` and ``scatter`` are the covariances of differences by a course of variance 1 per
    cubed minute and by a scatter of 1 °C: the diagonal and two below it.
    """

    minutes: Array
    celsius: Array
    counts: Array
    within: float
    of_samples: Array
    weights: Array
    bending: Array
    scatter: Array

    @property
    def free(self) -> int:
        """Samples less two."""
        return len(self.of_samples) - 2

    @property
    def differences(self) -> Array:
        """Second differences of the samples [°C/min]."""
        n = len(self.celsius) - 2
        return np.asarray(sum(self.weights[k] * self.celsius[k : k + n] for k in range(3)))


def unevenness_in(temperatures: pd.DataFrame) -> dict[tuple[str, str], Unevenness]:
    """Return how samples depart from straight lines, by thermometer and rehearsal.

    Parameters
    ----------
    temperatures : DataFrame
        ``time, rehearsal, source, celsius`` of samples.
    """
    return {
        of: _unevenness(knots)
        for of, rows in _rows_of(temperatures)
        if (knots := _knots(temperatures.iloc[rows])) is not None
    }


def even_of(unevenness: Mapping[tuple[str, str], Unevenness]) -> dict[str, Even]:
    """Return the thermometers that scatter, and about what course.

    Parameters
    ----------
    unevenness : mapping
        Of all rehearsals, from `unevenness_in`.

    Returns
    -------
    dict of str to Even
        By thermometer; none whose scatter is too small to matter, cannot be told, or is air that
        steps.

    Notes
    -----
    The course is an integrated random walk (a cubic smoothing spline). Its two variances are those
    of the highest restricted likelihood of all rehearsals together, but for those whose air
    stepped.
    """
    found = {}
    for source in dict.fromkeys(source for source, _ in unevenness):
        even = _estimated([one for (name, _), one in unevenness.items() if name == source])
        if even is not None and LEAST_CELSIUS <= even.celsius <= MOST_CELSIUS:
            found[source] = even
    return found


def evened(temperatures: pd.DataFrame, even: Mapping[str, Even]) -> pd.DataFrame:
    """Return temperatures with what the air most likely was in place of those that scatter.

    Parameters
    ----------
    temperatures : DataFrame
        ``time, rehearsal, source, celsius`` of samples.
    even : mapping of str to Even
        From `even_of`.

    Returns
    -------
    DataFrame
        Rehearsals with fewer than three samples, or with air that stepped, as they were.
    """
    if not even:
        return temperatures
    celsius = temperatures["celsius"].to_numpy(dtype=float).copy()
    for (source, _), rows in _rows_of(temperatures):
        knots = _knots(temperatures.iloc[rows]) if source in even else None
        course = None if knots is None else _course(knots, even[source])
        if knots is not None and course is not None:
            celsius[rows] = np.interp(knots.of_samples, knots.minutes, course)
    return temperatures.assign(celsius=celsius)


def _rows_of(temperatures: pd.DataFrame) -> Iterator[tuple[tuple[str, str], Places]]:
    """Yield thermometer and rehearsal, and the rows of its samples there."""
    for source, of_source in rows_of(temperatures["source"]).items():
        for rehearsal, rows in rows_of(temperatures["rehearsal"].iloc[of_source]).items():
            yield (str(source), str(rehearsal)), of_source[rows]


def _knots(samples: pd.DataFrame) -> _Knots | None:
    """Return the samples of a rehearsal, averaged; None where they are too few, or step."""
    at = minutes_of(samples["time"])
    at = at - at.min()
    width = max(LEAST_MINUTES, float(at.max()) / MOST_KNOTS)
    cells, which = np.unique(np.floor(at / width), return_inverse=True)
    if len(cells) < FEWEST_SAMPLES:
        return None
    minutes = (cells + 0.5) * width
    counts = np.bincount(which).astype(float)
    values = samples["celsius"].to_numpy(dtype=float)
    celsius = np.bincount(which, values) / counts
    within = float(np.sum((values - celsius[which]) ** 2))
    near = np.abs(np.subtract.outer(minutes, minutes)) <= STEP_MINUTES
    if np.abs(np.subtract.outer(celsius, celsius))[near].max() >= STEP_CELSIUS:
        return None
    steps = np.diff(minutes)
    weights = np.array([1.0 / steps[:-1], -1.0 / steps[:-1] - 1.0 / steps[1:], 1.0 / steps[1:]])
    bending = np.zeros((3, len(steps) - 1))
    bending[0], bending[1, :-1] = (steps[:-1] + steps[1:]) / 3.0, steps[1:-1] / 6.0
    scatter = np.zeros_like(bending)
    for below in range(3):
        for k in range(3 - below):
            later, n = k + below, bending.shape[1] - below
            shared = weights[later, :n] * weights[k, below:] / counts[later : later + n]
            scatter[below, :n] += shared
    return _Knots(minutes, celsius, counts, within, at, weights, bending, scatter)


def _unevenness(knots: _Knots) -> Unevenness:
    differences = knots.differences
    squares, logarithms = [], []
    for supple in SUPPLE:
        factor = cholesky_banded(supple * knots.bending + knots.scatter, lower=True)
        squares.append(knots.within + differences @ cho_solve_banded((factor, True), differences))
        logarithms.append(2.0 * np.log(factor[0]).sum())
    return Unevenness(np.array(squares), np.array(logarithms), knots.free)


def _estimated(evenings: Sequence[Unevenness]) -> Even | None:
    """Return the scatter of a thermometer; None where there is too little to tell."""
    evenings = list(evenings)
    while (free := sum(one.free for one in evenings)) >= FEWEST_FREE:
        squares = np.sum([one.squares for one in evenings], axis=0)
        logarithms = np.sum([one.logarithms for one in evenings], axis=0)
        variance = np.maximum(squares / free, np.finfo(float).tiny)
        supple = int(np.argmin(logarithms + free * np.log(variance)))  # of the likelihood
        usual = [one.squares[supple] / chi2.median(one.free) for one in evenings]
        typical = Even(float(np.sqrt(np.median(usual))), supple)
        calm = [one for one in evenings if not _stepped(one.squares[supple], one.free, typical)]
        if len(calm) == len(evenings):
            return replace(typical, celsius=float(np.sqrt(squares[supple] / free)))
        evenings = calm
    return None


def _stepped(squares: float, free: int, even: Even) -> bool:
    """Return whether a rehearsal departs further from its course than scatter explains."""
    return bool(squares > float(chi2.isf(UNLIKELY, free)) * even.celsius**2)


def _course(knots: _Knots, even: Even) -> Array | None:
    """Return what the air most likely was at the knots [°C]; None where it stepped."""
    expected = SUPPLE[even.supple] * knots.bending + knots.scatter
    differences = knots.differences
    bent = solveh_banded(expected, differences, lower=True)
    if _stepped(knots.within + float(differences @ bent), knots.free, even):
        return None
    course, n = knots.celsius.copy(), len(bent)
    for k in range(3):
        course[k : k + n] -= knots.weights[k] * bent / knots.counts[k : k + n]
    return course
