"""The anchored method: Bayesian regression that begins at acoustics and hands over to the data."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import logsumexp

from drift.regression.grid import Grid, first_grid
from drift.regression.likelihood import Likelihood, Normals, Part
from drift.regression.posterior import DAY_SD, READING_SD, Posterior, sd_of_slope
from drift.regression.warmup import REFERENCE_CELSIUS, drift_columns, warmth

__all__ = ["Anchored", "Look", "Part", "fit_anchored"]

Array = npt.NDArray[np.float64]

WILD_SHARE, WILD_DENSITY = 0.01, 1.0 / 100.0
"""One reading in a hundred is taken to be wild: anywhere in the 100 cents a tuner can show."""

ROUNDS, SETTLED = 8, 0.05
"""Weighing the readings ends after so many rounds, or when no weight moves further than this."""

NARROWINGS = 8

LEAST_WEIGHT, DROPPED = 1e-6, 1e-5
"""A wild reading keeps this weight; components that together weigh this are dropped."""


@dataclass(frozen=True)
class Look:
    """The readings of one part, seen from the most likely node.

    Parameters
    ----------
    drift, residuals, weights : arrays of shape (n,)
        Expected drift (cents), distance of each reading from what was expected (cents), and the
        probability that it is not wild.
    entanglement, r_squared : float
        Correlation of the two columns and share of variance explained, within the intercepts.
    """

    drift: Array
    residuals: Array
    weights: Array
    entanglement: float
    r_squared: float


@dataclass(frozen=True)
class Anchored:
    """The posteriors of all kinds of instrument in one set of readings.

    Parameters
    ----------
    posteriors : tuple of Posterior
        One a part, in the order given.
    slope : tuple of two floats
        Mean and variance of the slope that all instruments share.
    looks : tuple of Look
        The readings of each part, seen from the most likely node.
    """

    posteriors: tuple[Posterior, ...]
    slope: tuple[float, float]
    looks: tuple[Look, ...]


def fit_anchored(parts: Sequence[Part], start_stated: bool = True) -> Anchored:
    """Return what the readings and the acoustics together say.

    Parameters
    ----------
    parts : sequence of Part
        One a kind of instrument. They share the slope of an unplayed instrument and the two
        standard deviations.
    start_stated : bool
        Whether it is stated how warm instruments were at the start; if not, one number for all
        whose start is not stated is estimated, even between cold and warm beforehand.

    Notes
    -----
    ``cents = intercept + b (T - 20) + r [w (34 - T)/14 - 1] + day + noise`` with normal priors of
    ``b`` and ``r``, log-normal time constants, flat intercepts, half-normal standard deviations.
    Given time constants and standard deviations it is linear, so those are put on a grid that is
    narrowed until it fits the posterior, and everything else is integrated by hand. Instruments
    meet only in ``b`` and the standard deviations, which are weighed on a grid of ``b``; what the
    others know of ``b`` then reaches each instrument as a normal distribution.

    A reading may be wild (a tuner that caught another octave or a neighbour): each reading counts
    with the probability that it is not, found by repeating the fit until it settles. The weights
    are then taken as known.

    How wrong it is: against another physics (a bore of segments) its 95 % intervals held 92 to
    94 % of the truth in 2000 simulated data sets, see ``tests/benchmarks/study_coverage.py``.

    References
    ----------
    .. [1] G. E. P. Box, G. C. Tiao, "A Bayesian approach to some outlier problems", Biometrika 55,
       119-129 (1968): the model of wild readings.
    """
    weights = [_first_weights(part) for part in parts]
    priors = [part.priors for part in parts]
    grid = first_grid(priors, (priors[0].cold_mean, sd_of_slope(priors[0])), start_stated)
    for _ in range(ROUNDS):
        belief = _believe(parts, weights, grid)
        grid = belief.grid
        looks = [_look(part, belief, position) for position, part in enumerate(parts)]
        renewed = [look.weights for look in looks]
        moved = [float(np.abs(new - old).max()) for new, old in zip(renewed, weights, strict=True)]
        if max(moved) < SETTLED:
            break
        weights = renewed
    posteriors = tuple(_posterior(part, belief, position) for position, part in enumerate(parts))
    first = posteriors[0]
    mean = float(first.weights @ first.slope)
    variance = float(first.weights @ (first.slope_variance + (first.slope - mean) ** 2))
    return Anchored(posteriors, (mean, variance), tuple(looks))


@dataclass(frozen=True)
class Belief:
    """The joint posterior on a grid.

    Parameters
    ----------
    grid : Grid
        The nodes.
    likelihoods : list of Likelihood
        Of each part.
    nodes : list of Normals
        Slope and rise of each part, at every node.
    spread : array of shape (s, q)
        Probability of the two standard deviations.
    slope : array of shape (b,), optional
        Probability of the shared slope at the nodes of the grid; None where nothing is shared.
    """

    grid: Grid
    likelihoods: list[Likelihood]
    nodes: list[Normals]
    spread: Array
    slope: Array | None

    def joint(self, position: int) -> Array:
        """Return the probability of every node of one part, shape (s, q, cells)."""
        logs = self.nodes[position].log_evidence
        within = np.exp(logs - logs.max(axis=2, keepdims=True))
        return np.asarray(self.spread[:, :, None] * within / within.sum(axis=2, keepdims=True))

    def narrowed(self) -> Grid:
        """Return a grid that ends where the posterior does."""
        cells = [self.joint(k).sum(axis=(0, 1)) for k in range(len(self.nodes))]
        return self.grid.narrowed(self.spread, self.slope, cells)


def _believe(parts: Sequence[Part], weights: Sequence[Array], grid: Grid) -> Belief:
    """Return the posterior on a grid narrowed to fit it."""
    for _ in range(NARROWINGS):
        likelihoods = [
            Likelihood(part, weight, grid, position)
            for position, (part, weight) in enumerate(zip(parts, weights, strict=True))
        ]
        belief = _meet(parts, likelihoods, grid)
        closer = belief.narrowed()
        if not grid.is_much_wider_than(closer):
            break
        grid = closer
    return belief


def _meet(parts: Sequence[Part], likelihoods: list[Likelihood], grid: Grid) -> Belief:
    """Let the instruments share what they know of the slope."""
    priors = parts[0].priors
    mean, sd = priors.cold_mean, sd_of_slope(priors)
    if len(parts) == 1:  # nothing to share: the integral over the slope is known
        known = np.full((len(grid.log_sd), len(grid.log_ratio)), sd**-2.0)
        nodes = [likelihoods[0].given(known, known * mean)]
        total = logsumexp(nodes[0].log_evidence, axis=2)
        return Belief(grid, likelihoods, nodes, _spread(grid, total), None)
    curves = [likelihood.of_slope(grid.slope) for likelihood in likelihoods]
    together = sum(curves) - 0.5 * ((grid.slope - mean) / sd) ** 2
    total = logsumexp(together, axis=2)
    mass = np.exp(together - total[:, :, None])
    others = [_parabola(grid.slope, together - curve, mass) for curve in curves]
    nodes = [like.given(*other) for like, other in zip(likelihoods, others, strict=True)]
    spread = _spread(grid, total)
    return Belief(grid, likelihoods, nodes, spread, np.einsum("sq,sqb->b", spread, mass))


def _spread(grid: Grid, log_evidence: Array) -> Array:
    """Return the probability of the two standard deviations, whose axes are logarithms."""
    reading_sd, day_sd = grid.spreads()
    total = log_evidence + np.log(reading_sd * day_sd)
    total = total - 0.5 * (reading_sd / READING_SD) ** 2 - 0.5 * (day_sd / DAY_SD) ** 2
    spread = np.exp(total - total.max())
    return np.asarray(spread / spread.sum())


def _parabola(slope: Array, logs: Array, weights: Array) -> tuple[Array, Array]:
    """Return precision and pull of the normal that follows a log density where it matters.

    Parameters
    ----------
    slope : array of shape (b,)
    logs, weights : arrays of shape (s, q, b)
        The log density, and where it matters.

    Notes
    -----
    Exact where the density is normal; and what a kind of instrument says of a slope that it shares
    with others is a sum of narrow normals close together.
    """
    middle, reach = float(slope.mean()), float(np.ptp(slope)) / 2.0
    x = (slope - middle) / reach
    powers = np.stack([np.ones_like(x), x, x**2])
    weights = weights / weights.sum(axis=2, keepdims=True) + 1e-9
    normal = np.einsum("sqb,ib,jb->sqij", weights, powers, powers)
    right = np.einsum("sqb,ib->sqi", weights * (logs - logs.max(axis=2, keepdims=True)), powers)
    _, line, bend = np.moveaxis(np.linalg.solve(normal, right[..., None])[..., 0], -1, 0)
    precision = np.maximum(-2.0 * bend / reach**2, 1e-3)
    return precision, line / reach + precision * middle


def _first_weights(part: Part) -> Array:
    """Return which readings to trust at first: those not far from what acoustics expects."""
    state = warmth(
        part.spells,
        part.minutes_into_spell,
        part.priors.warm_minutes,
        part.priors.cool_minutes,
        part.initial,
    )
    cold, rise = drift_columns(part.celsius, state)
    rest = part.cents - part.priors.cold_mean * cold - part.priors.rise_mean * rise
    away = np.abs(rest - pd.Series(rest).groupby(part.intercepts).transform("median").to_numpy())
    return np.where(away > max(25.0, 6.0 * 1.4826 * float(np.median(away))), 1e-3, 1.0)


def _look(part: Part, belief: Belief, position: int) -> Look:
    """Look at the readings from the most likely node of the grid."""
    grid, nodes, joint = belief.grid, belief.nodes[position], belief.joint(position)
    absorber = belief.likelihoods[position].absorber
    best = np.unravel_index(int(joint.argmax()), joint.shape)
    cell = [axis[[best[2]]] for axis in grid.cells(position)]
    sd, ratio = float(np.exp(grid.log_sd[best[0]])), float(np.exp(grid.log_ratio[best[1]]))
    rise = part.rise_columns(*cell)[:, 0]
    drift = nodes.slope[best] * (part.celsius - REFERENCE_CELSIUS) + nodes.rise[best] * rise
    residuals = absorber.residuals(part.cents - drift, ratio)
    tame = (1.0 - WILD_SHARE) * np.exp(-0.5 * (residuals / sd) ** 2) / (sd * np.sqrt(2.0 * np.pi))
    weights = np.maximum(tame / (tame + WILD_SHARE * WILD_DENSITY), LEAST_WEIGHT)
    inside = absorber.columns(np.column_stack([part.celsius, rise, part.cents, drift])).within
    a, b, y, d = (inside * np.sqrt(absorber.weights)[:, None]).T
    explained = 1.0 - (y - d) @ (y - d) / (y @ y) if y @ y > 1e-12 else np.nan
    return Look(drift, residuals, weights, _correlation(a, b), float(explained))


def _correlation(left: Array, right: Array) -> float:
    """Return the correlation of two centred columns; NaN where one of them is constant."""
    size = float(np.sqrt((left @ left) * (right @ right)))
    return float(left @ right) / size if size > 1e-9 else float("nan")


def _posterior(part: Part, belief: Belief, position: int) -> Posterior:
    """Return the mixture, without the components that together weigh next to nothing."""
    grid, nodes, joint = belief.grid, belief.nodes[position], belief.joint(position)
    flat = joint.ravel()
    order = np.argsort(flat)[::-1]
    kept = order[: int(np.searchsorted(np.cumsum(flat[order]), 1.0 - DROPPED)) + 1]
    s, q, cell = np.unravel_index(kept, joint.shape)
    warm, cool, start = grid.cells(position)
    axes = grid.log_warm[position], grid.log_cool[position]
    reading_sd, day_sd = grid.spreads()
    return Posterior(
        weights=flat[kept] / flat[kept].sum(),
        slope=nodes.slope.ravel()[kept],
        rise=nodes.rise.ravel()[kept],
        slope_variance=nodes.slope_variance.ravel()[kept],
        covariance=nodes.covariance.ravel()[kept],
        rise_variance=nodes.rise_variance.ravel()[kept],
        log_warm=warm[cell],
        log_cool=cool[cell],
        start=start[cell],
        steps=(float(axes[0][1] - axes[0][0]), float(axes[1][1] - axes[1][0])),
        reading_sd=reading_sd[s, q],
        day_sd=day_sd[s, q],
        priors=part.priors,
    )
