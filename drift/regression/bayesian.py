"""The Bayesian method: it begins at acoustics and hands over to the readings.

``cents = a_g + b_p (A - 20) + r_p (E/14 - 1) + s_p h + q (T - 20)² + x'c + v_t + u_d + e`` for a
reading of note ``g`` by player ``p`` on day ``d`` of rehearsal ``t`` after ``h`` hours of playing,
with the air ``A`` in the instrument and what breath adds, ``E`` (`drift.regression.state`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import ndtri

from drift.regression.blocks import Sums, sums_of
from drift.regression.columns import Columns
from drift.regression.evidence import Evidence, Population
from drift.regression.nodes import Box, first_box, narrowed
from drift.regression.priors import InstrumentPriors, Priors
from drift.regression.reduce import reduce
from drift.regression.residuals import Look, Weights, first_weights, look, reweighed
from drift.regression.sampling import Sample, importance, newton, sobol
from drift.regression.scores import Scores

__all__ = ["Found", "Summing", "evidence_of", "fit_bayesian", "some_of"]

Array = npt.NDArray[np.float64]

Summing = Callable[
    [Columns, Array, Array, Box, tuple[InstrumentPriors, ...], bool], dict[int, Sums]
]
"""What makes the sums: `sums_of`, or an engine that merges those of parts."""

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
        The readings, in their own order.
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


def fit_bayesian(
    columns: Columns,
    priors: Priors,
    kinds: tuple[InstrumentPriors, ...],
    start: bool = False,
    summing: Summing = sums_of,
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
    summing : callable
        Makes the sums over readings.

    Notes
    -----
    Standard deviations and time constants are found by Newton and integrated by importance
    sampling; given them all else is linear and integrated exactly, from sums that are taken once
    at Chebyshev nodes. Readings are weighed (outliers, each player's scatter) at the mode and the
    weights then taken as known; so are the nodes, which are moved to the posterior with them.

    Cost: linear in readings and players. With R rehearsals that players share, each evaluation
    solves R equations at once, so the cost grows as ``R² players + R³``.
    """
    scores = Scores(priors, kinds, columns.shared, start)
    weights = first_weights(columns, kinds, 0.67 * priors.reading_sd)
    some = _rough(columns)
    box = first_box(list(kinds))
    evidence = evidence_of(columns.take(some), some_of(weights, some), scores, box, summing)
    low, high = scores.limits(box)
    tries = np.clip(ndtri(sobol(STARTS, scores.count, 3)), low + 0.1, high - 0.1)
    tries = np.vstack([np.zeros(scores.count), tries])
    mode, curvature = newton(
        evidence.log_posterior, tries[int(np.argmax(evidence.log_posterior(tries)))], low, high
    )
    settled, rounds = False, 0
    while not settled and rounds < ROUNDS:
        rounds += 1
        seen = look(columns, weights, scores, mode)
        sd = float(scores.sds(mode[None])[0, 0])
        renewed = reweighed(
            columns, seen, weights, sd, priors.outlier_share, priors.outlier_density
        )
        settled = _settled(np.abs(renewed.whole - weights.whole))
        weights = renewed
        box = _around(mode, curvature, scores)
        evidence = evidence_of(columns, weights, scores, box, summing)
        low, high = scores.limits(box)
        mode, curvature = newton(evidence.log_posterior, np.clip(mode, low, high), low, high)
    size = FEW_DRAWS if _cost(columns, scores) > COSTLY else DRAWS
    sample = importance(evidence.log_posterior, mode, curvature, low, high, size)
    population = evidence.given(sample.theta, players=True)
    seen = look(columns, weights, scores, mode)
    return Found(
        columns, scores, evidence, sample, population, mode, curvature, seen, weights, rounds,
        settled, float(evidence.log_posterior(mode[None])[0]),
    )  # fmt: skip


def evidence_of(
    columns: Columns, weights: Weights, scores: Scores, box: Box, summing: Summing = sums_of
) -> Evidence:
    """Return what theta is worth after some readings, from their sums at the nodes of a box."""
    sums = summing(columns, weights.whole, weights.tame, box, scores.kinds, scores.start)
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


def _rough(columns: Columns) -> npt.NDArray[np.intp]:
    """Return readings for a first look: whole days, so that their sd stays estimable."""
    if len(columns) <= ROUGH_READINGS:
        return np.arange(len(columns))
    random = np.random.default_rng(0)
    chosen = np.zeros(len(columns.players), dtype=bool)
    for kind in range(len(columns.kinds)):
        members = np.flatnonzero(columns.kind_of_unit == kind)
        chosen[random.permutation(members)[:ROUGH_UNITS]] = True
    share = min(1.0, ROUGH_READINGS / int(chosen[columns.unit].sum()))
    days = random.random(len(columns.rehearsal_of_day)) < share
    return np.flatnonzero(chosen[columns.unit] & days[columns.day])


def _settled(moved: Array) -> bool:
    """Say whether weights have come to rest: all, or of many all but one in a thousand."""
    if len(moved) <= 2000:
        return bool(moved.max() < 0.08)
    few = len(moved) // 1000
    return bool((moved > 0.05).sum() < few and np.sort(moved)[-few] < 0.2)


def _around(mode: Array, curvature: Array, scores: Scores, reach: float = 5.0) -> Box:
    """Return the box of nodes that the posterior needs."""
    covariance = np.linalg.inv(curvature)
    margin = reach * np.sqrt(np.diag(covariance)) + 0.05
    ends = np.stack([mode - margin, mode + margin], axis=1)
    places = np.array([scores.places(kind) for kind in range(len(scores.kinds))])
    away = ndtri(sobol(512, scores.count, 5)) @ np.linalg.cholesky(covariance).T
    v = scores.v(mode + 1.6 * away)
    return narrowed(
        list(scores.kinds), ends[places[:, 0]], ends[places[:, 1]], (float(v.min()), float(v.max()))
    )


def _cost(columns: Columns, scores: Scores) -> float:
    """Return the numbers that one evaluation handles, about."""
    rehearsals = len(columns.rehearsals) if scores.shared else 0
    return 3.0 * len(columns.players) * max(rehearsals, 10)
