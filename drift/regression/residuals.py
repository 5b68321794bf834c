"""What the model leaves of each reading, and how much each reading then counts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.regression.columns import Columns
from drift.regression.evidence import Evidence
from drift.regression.nodes import Axis, Box
from drift.regression.priors import InstrumentPriors
from drift.regression.scores import Scores

__all__ = [
    "Look",
    "Weights",
    "box_of",
    "effects_at",
    "far_off",
    "first_rest",
    "first_weights",
    "reweighed",
    "seen_with",
]

Array = npt.NDArray[np.float64]

LEAST_WEIGHT = 1e-6
FREEDOM_OF_SCATTER = 20.0
"""A player's own scatter is shrunk to that of all as if it came with so many degrees of freedom."""


@dataclass(frozen=True)
class Weights:
    """How much each reading counts.

    Parameters
    ----------
    tame : array of shape (n,)
        Probability that it is no outlier.
    precision : array of shape (n,)
        ``sd²/(sd² f² + u²)``: the variance of a reading over its own.
    scatter : array of shape (units,)
        ``f``, each player's scatter over that of all.
    """

    tame: Array
    precision: Array
    scatter: Array

    @property
    def whole(self) -> Array:
        """Both together."""
        return self.tame * self.precision


@dataclass(frozen=True)
class Look:
    """The readings, seen from the mode.

    Parameters
    ----------
    drift : array of shape (n,)
        Expected drift of the player, without note, day and rehearsal [cents].
    residual : array of shape (n,)
        What is left of each reading [cents].
    cold, rise : arrays of shape (n,)
        The two columns at the mode.
    used : array of shape (units,)
        Degrees of freedom that intercepts and days take.
    rehearsals : array of shape (R,)
        Effect of each rehearsal [cents].
    """

    drift: Array
    residual: Array
    cold: Array
    rise: Array
    used: Array
    rehearsals: Array


def first_rest(columns: Columns, priors: Sequence[InstrumentPriors]) -> Array:
    """Return how far each reading is from what acoustics expects of its note [cents], whole units.

    What is common to a note of a player is taken out by its median.
    """
    rest = columns.cents.copy()
    kinds = columns.kind_of_unit[columns.unit]
    for kind in np.unique(kinds):
        known, rows = priors[int(kind)], np.flatnonzero(kinds == kind)
        minutes = np.array([known.warm_minutes]), np.array([known.cool_minutes])
        cold, rise, _ = columns.histories.take(rows).columns(*minutes)
        rest[rows] -= known.cold_mean * cold[:, 0] + known.rise_mean * rise[:, 0]
    middle = pd.Series(rest).groupby(columns.group).transform("median").to_numpy()
    return np.asarray(np.abs(rest - middle), dtype=np.float64)


def far_off(median: float) -> float:
    """Return from how many cents on a reading is not trusted at first, by the median distance."""
    return max(25.0, 6.0 * 1.4826 * median)


def first_weights(columns: Columns, away: Array, far: float, sd: float) -> Weights:
    """Return which readings to trust at first: those not far from what acoustics expects.

    Parameters
    ----------
    columns : Columns
    away : array of shape (n,)
        From `first_rest` [cents].
    far : float
        From `far_off` [cents].
    sd : float
        About the standard deviation of a reading [cents].
    """
    precision = sd**2 / (sd**2 + columns.own_sd**2)
    tame = np.where(away > far, 1e-3, 1.0 - columns.harmful)
    return Weights(tame, precision, np.ones(len(columns.players)))


def effects_at(evidence: Evidence, names: Columns, theta: Array) -> tuple[Array, Array]:
    """Return each unit's coefficients, shape (units, d), and the rehearsals' effects, at a theta.

    Parameters
    ----------
    evidence : Evidence
        At `box_of` the theta.
    names : Columns
        The units; its readings are not looked at.
    theta : array of shape (k,)
    """
    found = evidence.given(theta[None], players=True)
    effects = np.zeros((len(names.players), names.size))
    for kind, block in enumerate(evidence.reduced.kinds):
        effects[block.units] = found.players[kind][0][0]
    return effects, found.rehearsals[0]


def seen_with(
    columns: Columns,
    weights: Weights,
    scores: Scores,
    theta: Array,
    effects: Array,
    rehearsals: Array,
) -> Look:
    """Return whole units of readings as seen from one theta, given what `effects_at` returns."""
    cold, rise = np.zeros(len(columns)), np.zeros(len(columns))
    kinds = columns.kind_of_unit[columns.unit]
    for kind in np.unique(kinds):
        rows = np.flatnonzero(kinds == kind)
        minutes = scores.times(theta[None], int(kind))
        one, two, begun = columns.histories.take(rows).columns(*minutes, scores.start)
        cold[rows], rise[rows] = one[:, 0], two[:, 0]
        if begun is not None:
            rise[rows] += scores.warmth_at_start(theta[None], int(kind))[0] * begun[:, 0]
    table = np.column_stack([cold, rise, columns.fixed])
    drift = np.einsum("nd,nd->n", table, effects[columns.unit])
    rest = columns.cents - drift
    if scores.shared:
        rest -= rehearsals[columns.rehearsal_of_day[columns.day]]
    sds = scores.sds(theta[None])[0]
    residual, used = _without_notes_and_days(columns, weights.whole, rest, (sds[1] / sds[0]) ** 2)
    return Look(drift, residual, cold, rise, used, rehearsals)


def box_of(theta: Array, scores: Scores) -> Box:
    """Return the box whose only node is theta."""
    ends = [theta[list(scores.places(kind))].tolist() for kind in range(len(scores.kinds))]
    v = float(scores.v(theta[None])[0])
    return Box(
        tuple(Axis(warm, warm, 1) for warm, _ in ends),
        tuple(Axis(cool, cool, 1) for _, cool in ends),
        Axis(v, v, 1),
    )


def _without_notes_and_days(
    columns: Columns, weights: Array, rest: Array, ratio: float
) -> tuple[Array, Array]:
    """Return residuals, and the degrees of freedom that notes and days take of each unit."""
    residual, used = np.zeros(len(rest)), np.zeros(len(columns.players))
    cuts = np.flatnonzero(np.diff(columns.unit, prepend=-1))
    for low, high in zip(cuts, np.append(cuts[1:], len(rest)), strict=True):
        w, e = weights[low:high], rest[low:high]
        groups, group = np.unique(columns.group[low:high], return_inverse=True)
        days, day = np.unique(columns.day[low:high], return_inverse=True)
        G, D = len(groups), len(days)
        n = np.bincount(day, w, D)
        c = ratio / (1.0 + ratio * n)
        N = np.bincount(day * G + group, w, D * G).reshape(D, G)
        inner = np.diag(np.bincount(group, w, G)) - N.T @ (c[:, None] * N) + 1e-9 * np.eye(G)
        right = np.bincount(group, w * e, G) - N.T @ (c * np.bincount(day, w * e, D))
        e = e - np.linalg.solve(inner, right)[group]
        residual[low:high] = e - (c * np.bincount(day, w * e, D))[day]
        used[columns.unit[low]] = G + float((c * n).sum())
    return residual, used


def reweighed(
    columns: Columns, seen: Look, weights: Weights, sd: float, share: float, density: float
) -> Weights:
    """Return how much each reading counts after its residual.

    Parameters
    ----------
    columns : Columns
    seen : Look
        The readings at the mode.
    weights : Weights
        As they were.
    sd : float
        Standard deviation of a reading at the mode [cents].
    share, density : float
        Of outliers, see `Priors`.

    Notes
    -----
    An outlier lies anywhere, with one density; the weight is the probability that a reading is
    none (Box and Tiao), and is then taken as known. A reading's own probability of being a harmful
    pair is one more way to be an outlier.

    References
    ----------
    .. [1] G. E. P. Box, G. C. Tiao, "A Bayesian approach to some outlier problems", Biometrika 55,
       119-129 (1968).
    """
    units = len(columns.players)
    own = columns.own_sd**2 / sd**2
    squares = weights.tame * seen.residual**2 / (weights.scatter[columns.unit] ** 2 + own)
    squares = squares * weights.scatter[columns.unit] ** 2  # as if it brought no uncertainty itself
    count = np.bincount(columns.unit, weights.tame, units)
    left = np.maximum(count - seen.used, 0.0)
    total = np.bincount(columns.unit, squares, units) / sd**2
    scatter = np.sqrt((FREEDOM_OF_SCATTER + total) / (FREEDOM_OF_SCATTER + left))
    precision = 1.0 / (scatter[columns.unit] ** 2 + own)
    spread = sd / np.sqrt(precision)
    outlying = 1.0 - (1.0 - share) * (1.0 - columns.harmful)
    near = (1.0 - outlying) * np.exp(-0.5 * (seen.residual / spread) ** 2)
    near = near / (spread * np.sqrt(2.0 * np.pi))
    tame = np.maximum(near / (near + outlying * density), LEAST_WEIGHT)
    return Weights(tame, precision, scatter)
