"""The Bayesian method: it begins at acoustics and hands over to the readings.

``cents = a_g + b_p (A - 20) + r_p (E/14 - 1) + s_p h + q (T - 20)² + x'c + v_t + u_d + e`` for a
reading of note ``g`` by player ``p`` on day ``d`` of rehearsal ``t`` after ``h`` hours of playing,
with the air ``A`` in the instrument and what breath adds, ``E`` (`drift.regression.state`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt
from scipy.special import ndtri

from drift.regression.blocks import sums_of
from drift.regression.columns import Columns
from drift.regression.evidence import Evidence, Population
from drift.regression.nodes import WIDEST_V, Box, first_box, narrowed
from drift.regression.priors import InstrumentPriors, Priors
from drift.regression.reduce import reduce
from drift.regression.residuals import (
    Look,
    Weights,
    box_of,
    effects_at,
    far_off,
    first_rest,
    first_weights,
    reweighed,
    seen_with,
)
from drift.regression.sampling import Sample, importance, newton, sobol
from drift.regression.scores import Scores

__all__ = [
    "Found",
    "Here",
    "Moved",
    "Posterior",
    "Readings",
    "Some",
    "evidence_of",
    "fit_bayesian",
    "posterior",
    "some_of",
]

Array = npt.NDArray[np.float64]

ROUNDS = 5
"""Weighing the readings ends after so many rounds at the latest."""

STARTS = 128
ROUGH_READINGS, ROUGH_UNITS = 20_000, 80
"""The first look takes whole days of so many readings, and so many players of a kind."""

DRAWS, FEW_DRAWS = 1024, 256
COSTLY = 30_000
"""Numbers in one evaluation (three a player times rehearsals) from which on fewer draws are made:
with so many readings the posterior is close to normal, and 256 draws cover it."""


@dataclass(frozen=True)
class Found:
    """The posterior.

    Parameters
    ----------
    columns : Columns
        The readings, in their own order (none where they are elsewhere, see `Readings`).
    scores : Scores
    evidence : Evidence
        What theta is worth, from sums alone.
    sample : Sample
        Draws of theta.
    population : Population
        Coefficients at each draw, with those of players.
    mode : array of shape (k,)
    curvature : array of shape (k, k)
        Minus the second derivatives of the log posterior at the mode.
    seen : Look
        The readings at the mode.
    weights : Weights
    rounds : int
        How often the readings were weighed.
    settled : bool
        Whether weighing came to rest.
    log_at_mode : float
        Log posterior there, up to a constant of the number of readings.
    """

    columns: Columns
    scores: Scores
    evidence: Evidence
    sample: Sample
    population: Population
    mode: Array
    curvature: Array
    seen: Look
    weights: Weights
    rounds: int
    settled: bool
    log_at_mode: float


@dataclass(frozen=True)
class Some:
    """Some of the readings: those of some units on some days.

    Parameters
    ----------
    units, days : arrays of bool
    """

    units: npt.NDArray[np.bool_]
    days: npt.NDArray[np.bool_]

    def rows(self, columns: Columns) -> npt.NDArray[np.intp]:
        """Return which readings they are."""
        return np.flatnonzero(self.units[columns.unit] & self.days[columns.day])


@dataclass(frozen=True)
class Moved:
    """How far the weights of readings moved: how many there are, by more than a little, by much.

    Parts add up.
    """

    readings: int
    largest: float
    little: int
    much: int

    @classmethod
    def between(cls, before: Weights, after: Weights) -> Moved:
        """Return how far they moved."""
        moved = np.abs(after.whole - before.whole)
        largest = float(moved.max(initial=0.0))
        return cls(len(moved), largest, int((moved > 0.05).sum()), int((moved >= 0.2).sum()))

    def __add__(self, other: Moved) -> Moved:
        return Moved(
            self.readings + other.readings,
            max(self.largest, other.largest),
            self.little + other.little,
            self.much + other.much,
        )

    @property
    def settled(self) -> bool:
        """Whether they have come to rest: all, or of many all but one in a thousand."""
        if self.readings <= 2000:
            return self.largest < 0.08
        few = self.readings // 1000
        return self.little < few and self.much < few


class Readings(Protocol):
    """What the method asks of the readings, wherever they are: `Here`, or on other machines."""

    @property
    def names(self) -> Columns:
        """Kinds, units, days and rehearsals, with or without the readings."""

    @property
    def counts(self) -> npt.NDArray[np.int64]:
        """How many readings each unit has."""

    def weigh(self, kinds: tuple[InstrumentPriors, ...], sd: float) -> None:
        """Give each reading its first weight."""

    def evidence(self, scores: Scores, box: Box, some: Some | None = None) -> Evidence:
        """Return what theta is worth, from the sums of all readings, or of some."""

    def look(self, scores: Scores, theta: Array) -> Array:
        """Look at the readings from a theta; return the effects of the rehearsals [cents]."""

    def reweigh(self, sd: float, share: float, density: float) -> Moved:
        """Give each reading the weight that it deserves after the last look."""


class Here:
    """Readings in the memory of this process.

    Parameters
    ----------
    columns : Columns
        All of them.
    """

    def __init__(self, columns: Columns) -> None:
        self.names = columns
        self.weights: Weights
        self.seen: Look

    @property
    def counts(self) -> npt.NDArray[np.int64]:
        """How many readings each unit has."""
        return np.bincount(self.names.unit, minlength=len(self.names.players))

    def weigh(self, kinds: tuple[InstrumentPriors, ...], sd: float) -> None:
        """Give each reading its first weight."""
        away = first_rest(self.names, kinds)
        self.weights = first_weights(self.names, away, far_off(float(np.median(away))), sd)

    def evidence(self, scores: Scores, box: Box, some: Some | None = None) -> Evidence:
        """Return what theta is worth, from the sums of all readings, or of some."""
        if some is None:
            return evidence_of(self.names, self.weights, scores, box)
        rows = some.rows(self.names)
        return evidence_of(self.names.take(rows), some_of(self.weights, rows), scores, box)

    def look(self, scores: Scores, theta: Array) -> Array:
        """Look at the readings from a theta; return the effects of the rehearsals [cents]."""
        near = self.evidence(scores, box_of(theta, scores))
        known = effects_at(near, self.names, theta)
        self.seen = seen_with(self.names, self.weights, scores, theta, *known)
        return known[1]

    def reweigh(self, sd: float, share: float, density: float) -> Moved:
        """Give each reading the weight that it deserves after the last look."""
        before = self.weights
        self.weights = reweighed(self.names, self.seen, before, sd, share, density)
        return Moved.between(before, self.weights)


def fit_bayesian(
    columns: Columns,
    priors: Priors,
    kinds: tuple[InstrumentPriors, ...],
    start: bool = False,
    progress: Callable[[int, int], None] | None = None,
) -> Found:
    """Return the posterior of the readings.

    Parameters
    ----------
    columns : Columns
        The readings.
    priors : Priors
        What is believed before.
    kinds : tuple of InstrumentPriors
        Of each kind, in the order of the columns.
    start : bool
        Whether to estimate how warm instruments were at the start, where nothing is stated.
    progress : callable, optional
        Called with the number of steps that are done and of those that may be needed.
    """
    here = Here(columns)
    found = posterior(here, priors, kinds, start, progress)
    return Found(columns=columns, seen=here.seen, weights=here.weights, **vars(found))


@dataclass(frozen=True)
class Posterior:
    """What the posterior is apart from the single readings; the fields are those of `Found`."""

    scores: Scores
    evidence: Evidence
    sample: Sample
    population: Population
    mode: Array
    curvature: Array
    rounds: int
    settled: bool
    log_at_mode: float


def posterior(
    readings: Readings,
    priors: Priors,
    kinds: tuple[InstrumentPriors, ...],
    start: bool = False,
    progress: Callable[[int, int], None] | None = None,
) -> Posterior:
    """Return the posterior of readings, wherever they are; as `fit_bayesian`.

    Notes
    -----
    Standard deviations and time constants are found by Newton and integrated by importance
    sampling; given them all else is linear and integrated exactly, from sums that are taken once
    at Chebyshev nodes. Readings are weighed (outliers, each player's scatter) at the mode and the
    weights then taken as known; so are the nodes, which are moved to the posterior with them.

    Cost: linear in readings and players. With R rehearsals that players share, each evaluation
    solves R equations at once, so the cost grows as ``R² players + R³``.
    """
    told, steps = progress or (lambda done, of: None), ROUNDS + 3
    scores = Scores(priors, kinds, readings.names.shared, start)
    readings.weigh(kinds, 0.67 * priors.reading_sd)
    box = first_box(list(kinds))
    evidence = readings.evidence(scores, box, _rough(readings.names, readings.counts))
    low, high = scores.limits(box)
    tries = np.clip(ndtri(sobol(STARTS, scores.count, 3)), low + 0.1, high - 0.1)
    tries = np.vstack([np.zeros(scores.count), tries])
    mode, curvature = newton(
        evidence.log_posterior, tries[int(np.argmax(evidence.log_posterior(tries)))], low, high
    )
    told(1, steps)
    settled, rounds = False, 0
    while not settled and rounds < ROUNDS:
        rounds += 1
        readings.look(scores, mode)
        sd = float(scores.sds(mode[None])[0, 0])
        settled = readings.reweigh(sd, priors.outlier_share, priors.outlier_density).settled
        box = _around(mode, curvature, scores, box)
        evidence = readings.evidence(scores, box)
        low, high = scores.limits(box)
        begin = np.clip(mode, low, high)
        mode, curvature = newton(evidence.log_posterior, begin, low, high, about=curvature)
        settled &= not any(box.v.ends_at(float(scores.v(mode[None])[0])))
        told(1 + rounds, steps)
    costly = _cost(readings.names, scores) > COSTLY
    sample, population = _drawn(evidence, mode, curvature, low, high, costly)
    told(steps - 1, steps)
    readings.look(scores, mode)
    told(steps, steps)
    at_mode = float(evidence.log_posterior(mode[None])[0])
    return Posterior(
        scores, evidence, sample, population, mode, curvature, rounds, settled, at_mode
    )


def _drawn(
    evidence: Evidence, mode: Array, curvature: Array, low: Array, high: Array, costly: bool
) -> tuple[Sample, Population]:
    """Return draws of theta, and the coefficients at each.

    Where an evaluation is costly there are fewer draws, and each brings its players at once: nearly
    all are kept, and to come back for them would solve everything again.
    """
    if not costly:
        sample = importance(evidence.log_posterior, mode, curvature, low, high, DRAWS)
        return sample, evidence.given(sample.theta, players=True)
    population: list[Population] = []

    def target(theta: Array) -> Array:
        population[:] = [evidence.given(theta, players=True)]
        return evidence.with_prior(theta, population[0].log)

    sample = importance(target, mode, curvature, low, high, FEW_DRAWS)
    return sample, population[0].take(sample.asked)


def evidence_of(columns: Columns, weights: Weights, scores: Scores, box: Box) -> Evidence:
    """Return what theta is worth after some readings, from their sums at the nodes of a box."""
    sums = sums_of(columns, weights.whole, weights.tame, box, scores.kinds, scores.start)
    return Evidence(
        reduce(sums, columns, box, scores.shared),
        box,
        scores,
        len(columns.covariates),
        columns.histories.carried,
    )


def some_of(weights: Weights, rows: npt.NDArray[np.intp]) -> Weights:
    """Return the weights of some of the readings."""
    return Weights(weights.tame[rows], weights.precision[rows], weights.scatter)


def _rough(names: Columns, counts: npt.NDArray[np.int64]) -> Some:
    """Return readings for a first look: whole days, so that their sd stays estimable."""
    units, days = len(names.players), len(names.rehearsal_of_day)
    if counts.sum() <= ROUGH_READINGS:
        return Some(np.ones(units, dtype=bool), np.ones(days, dtype=bool))
    random = np.random.default_rng(0)
    chosen = np.zeros(units, dtype=bool)
    for kind in range(len(names.kinds)):
        members = np.flatnonzero(names.kind_of_unit == kind)
        chosen[random.permutation(members)[:ROUGH_UNITS]] = True
    share = min(1.0, ROUGH_READINGS / int(counts[chosen].sum()))
    return Some(chosen, random.random(days) < share)


def _around(mode: Array, curvature: Array, scores: Scores, last: Box, reach: float = 5.0) -> Box:
    """Return the box of nodes that the posterior needs, after a mode was found in the last one.

    Where it lies at an end of the ratio of day to reading it may belong anywhere beyond.
    """
    covariance = np.linalg.inv(curvature)
    margin = reach * np.sqrt(np.diag(covariance)) + 0.05
    ends = np.stack([mode - margin, mode + margin], axis=1)
    places = np.array([scores.places(kind) for kind in range(len(scores.kinds))])
    away = ndtri(sobol(512, scores.count, 5)) @ np.linalg.cholesky(covariance).T
    v = scores.v(mode + 1.6 * away)
    low, high = last.v.ends_at(float(scores.v(mode[None])[0]))
    wanted = 0.0 if low else float(v.min()), WIDEST_V if high else float(v.max())
    return narrowed(list(scores.kinds), ends[places[:, 0]], ends[places[:, 1]], wanted)


def _cost(columns: Columns, scores: Scores) -> float:
    """Return the numbers that one evaluation handles, about."""
    rehearsals = len(columns.rehearsals) if scores.shared else 0
    return 3.0 * len(columns.players) * max(rehearsals, 10)
