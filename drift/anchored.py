"""The anchored method: Bayesian regression that begins at acoustics and hands over to the data."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.absorbing import Absorber
from drift.anatomy import Priors
from drift.posterior import DAY_SD, READING_SD, Posterior
from drift.warmup import drift_columns, warmth

__all__ = ["Anchored", "Part", "fit_anchored"]

Array = npt.NDArray[np.float64]

SMALLEST_SD = 0.05
"""A tuner shows tenths of a cent at best; nothing is steadier than this (cents)."""

LARGEST_SD = 40.0
WILD_SHARE = 0.01
WILD_DENSITY = 1.0 / 100.0
"""One reading in a hundred is taken to be wild: anywhere in the 100 cents a tuner can show."""

ROUNDS, SETTLED = 8, 0.05
"""Weighing the readings ends after so many rounds, or when no weight moves further than this."""

TAIL = 2e-4
"""Probability that the grid may leave out at either end of an axis."""

COUNTS = (12, 9, 13, 9)
"""Nodes of the narrowed grid: reading sd, ratio of sds, time of warming, time of cooling."""


@dataclass(frozen=True)
class Part:
    """The readings of one kind of instrument, and what is believed of it before.

    Parameters
    ----------
    cents, celsius, minutes_into_spell, initial : arrays of shape (n,)
        Response at reference slides, temperature, minutes of the current stretch, ``w`` at the
        start.
    spells : sequence of n sequences of float
        Completed stretches of playing and resting (minutes).
    intercepts, days : integer arrays of shape (n,)
        Which note of which player, and which day of which player.
    priors : Priors
        The instrument's priors.
    """

    cents: Array
    celsius: Array
    minutes_into_spell: Array
    initial: Array
    spells: Sequence[tuple[float, ...]]
    intercepts: npt.NDArray[np.intp]
    days: npt.NDArray[np.intp]
    priors: Priors

    def rise_columns(self, log_warm: Array, log_cool: Array) -> Array:
        """Return the column of ``r`` for each pair of time constants, shape (n, pairs)."""
        state = warmth(
            self.spells, self.minutes_into_spell, np.exp(log_warm), np.exp(log_cool), self.initial
        )
        return drift_columns(self.celsius[:, None], state)[1]


@dataclass(frozen=True)
class Grid:
    """Where the numbers that cannot be integrated by hand are tried, each axis evenly spaced.

    Parameters
    ----------
    log_sd, log_ratio : arrays of shape (s,) and (q,)
        Reading sd (cents) and ratio of day to reading sd, shared by all instruments.
    log_warm, log_cool : tuples of arrays
        Time constants (minutes), for each instrument.
    """

    log_sd: Array
    log_ratio: Array
    log_warm: tuple[Array, ...]
    log_cool: tuple[Array, ...]

    def log_prior_of_spread(self) -> Array:
        """Return the log prior density of the two standard deviations, shape (s, q)."""
        sd = np.exp(self.log_sd)[:, None]
        day = sd * np.exp(self.log_ratio)
        return np.asarray(
            np.log(sd) - 0.5 * (sd / READING_SD) ** 2 + np.log(day) - 0.5 * (day / DAY_SD) ** 2
        )


@dataclass(frozen=True)
class Normals:
    """Slope and rise given everything else: normal, for every node (s, q, cells) of the grid."""

    log_evidence: Array
    slope: Array
    rise: Array
    slope_variance: Array
    covariance: Array
    rise_variance: Array


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


class _Sums:
    """Cross-products of one part with intercepts and day effects taken out."""

    def __init__(self, part: Part, weights: Array, grid: Grid, position: int) -> None:
        warm, cool = _pairs(grid, position)
        ratios = np.exp(grid.log_ratio)
        absorber = Absorber(part.intercepts, part.days, weights)
        shrinkage = absorber.shrinkage(ratios)
        cold = absorber.columns(part.celsius - 20.0)
        cents = absorber.columns(part.cents)
        rise = absorber.columns(part.rise_columns(warm, cool))
        pairs = {"cc": (cold, cold), "cy": (cold, cents), "yy": (cents, cents)}
        pairs |= {"cr": (cold, rise), "rr": (rise, rise), "ry": (rise, cents)}
        self.products = {
            name: absorber.product(left, right, shrinkage) for name, (left, right) in pairs.items()
        }
        self.absorber = absorber
        self.free = absorber.free
        self.log_determinant = absorber.log_determinant(ratios)
        self.log_prior = -0.5 * (
            ((warm - np.log(part.priors.warm_minutes)) / part.priors.warm_log_sd) ** 2
            + ((cool - np.log(part.priors.cool_minutes)) / part.priors.cool_log_sd) ** 2
        )
        self.priors = part.priors

    def given(self, log_sd: Array, precision: Array, shift: Array) -> Normals:
        """Return slope and rise at every node, the slope's prior given by precision and shift.

        Parameters
        ----------
        log_sd : array of shape (s,)
        precision, shift : arrays of shape (s, q)
            Natural parameters of the normal that says what else is known of the slope.
        """
        scale = np.exp(-2.0 * log_sd)[:, None, None]
        known, pull = precision[:, :, None], shift[:, :, None]
        rise_known = self.priors.rise_sd**-2.0
        rise_pull = self.priors.rise_mean * rise_known
        p = self.products
        a = p["cc"] * scale + known
        b = p["cr"] * scale
        d = p["rr"] * scale + rise_known
        u = p["cy"] * scale + pull
        v = p["ry"] * scale + rise_pull
        determinant = a * d - b * b
        slope = (d * u - b * v) / determinant
        rise = (a * v - b * u) / determinant
        log_evidence = (
            0.5 * (u * slope + v * rise - p["yy"] * scale - np.log(determinant))
            + 0.5
            * (np.log(known * rise_known) - pull**2 / known - rise_pull * self.priors.rise_mean)
            - self.free * log_sd[:, None, None]
            - 0.5 * self.log_determinant[None, :, None]
            + self.log_prior
        )
        return Normals(
            log_evidence, slope, rise, d / determinant, -b / determinant, a / determinant
        )


def fit_anchored(parts: Sequence[Part]) -> Anchored:
    """Return what the readings and the acoustics together say.

    Parameters
    ----------
    parts : sequence of Part
        One a kind of instrument. They share the slope of an unplayed instrument and the two
        standard deviations.

    Notes
    -----
    ``cents = intercept + b (T - 20) + r [w (34 - T)/14 - 1] + day + noise`` with normal priors of
    ``b`` and ``r``, log-normal time constants, flat intercepts, half-normal standard deviations.
    Given time constants and standard deviations it is linear, so those are put on a grid that is
    narrowed until it fits the posterior, and everything else is integrated by hand. Instruments
    meet only in ``b`` and the standard deviations: each tells the others what it knows of ``b`` as
    a normal distribution (expectation propagation), which is exact for one kind of instrument.

    A reading may be wild (a tuner that caught another octave or a neighbour): each reading counts
    with the probability that it is not, found by repeating the fit until it settles.
    """
    weights = [_first_weights(part) for part in parts]
    grid = _first_grid(parts)
    for _ in range(ROUNDS):
        grid, sums, nodes, spread = _narrowed(parts, weights, grid)
        looks = [
            _look(part, part_sums, grid, position, _joint(normals, spread), normals)
            for position, (part, part_sums, normals) in enumerate(
                zip(parts, sums, nodes, strict=True)
            )
        ]
        renewed = [look.weights for look in looks]
        moved = max(
            float(np.abs(new - old).max()) for new, old in zip(renewed, weights, strict=True)
        )
        if moved < SETTLED:
            break
        weights = renewed
    posteriors = tuple(
        _posterior(part, grid, position, _joint(normals, spread), normals)
        for position, (part, normals) in enumerate(zip(parts, nodes, strict=True))
    )
    first = posteriors[0]
    mean = float(first.weights @ first.slope)
    variance = float(first.weights @ (first.slope_variance + (first.slope - mean) ** 2))
    return Anchored(posteriors, (mean, variance), tuple(looks))


def _pairs(grid: Grid, position: int) -> tuple[Array, Array]:
    """Return all pairs of the two time constants of one part, each of shape (cells,)."""
    warm, cool = np.meshgrid(grid.log_warm[position], grid.log_cool[position], indexing="ij")
    return warm.ravel(), cool.ravel()


def _first_grid(parts: Sequence[Part]) -> Grid:
    """Return the grid that covers everything the priors allow."""
    reach = np.linspace(-3.2, 3.2, 13)
    few = np.linspace(-3.2, 3.2, 9)
    return Grid(
        np.linspace(np.log(SMALLEST_SD), np.log(LARGEST_SD), 24),
        np.linspace(np.log(0.02), np.log(40.0), 12),
        tuple(np.log(p.priors.warm_minutes) + p.priors.warm_log_sd * reach for p in parts),
        tuple(np.log(p.priors.cool_minutes) + p.priors.cool_log_sd * few for p in parts),
    )


def _narrowed(
    parts: Sequence[Part], weights: Sequence[Array], grid: Grid
) -> tuple[Grid, list[_Sums], list[Normals], Array]:
    """Return the grid fitted to the posterior, and the posterior at its nodes."""
    for _ in range(8):
        sums = [
            _Sums(part, weight, grid, position)
            for position, (part, weight) in enumerate(zip(parts, weights, strict=True))
        ]
        nodes, spread = _meet(sums, grid)
        closer = _zoom(grid, nodes, spread)
        if not _much_closer(grid, closer):
            break
        grid = closer
    return grid, sums, nodes, spread


def _meet(sums: Sequence[_Sums], grid: Grid) -> tuple[list[Normals], Array]:
    """Let the instruments share what they know of the slope.

    Returns the nodes of each instrument and the probability of each pair of standard deviations,
    shape (s, q).
    """
    shape = (len(grid.log_sd), len(grid.log_ratio))
    priors = sums[0].priors
    precision = np.full(shape, priors.cold_sd**-2.0)
    shift = precision * priors.cold_mean
    told = [(np.zeros(shape), np.zeros(shape)) for _ in sums]
    for _ in range(1 if len(sums) == 1 else 4):
        total, nodes = grid.log_prior_of_spread(), []
        for position, part in enumerate(sums):
            others = [told[k] for k in range(len(sums)) if k != position]
            known = precision + sum(tell[0] for tell in others)
            pull = shift + sum(tell[1] for tell in others)
            here = part.given(grid.log_sd, known, pull)
            nodes.append(here)
            evidence, mean, variance = _moments(here)
            told[position] = (
                np.maximum(1.0 / variance - known, 0.0),
                mean / variance - pull,
            )
            total = total + evidence + _log_mass(known, pull)
        # What each has told is counted once for every other that heard it.
        all_known = precision + sum(tell[0] for tell in told)
        all_pull = shift + sum(tell[1] for tell in told)
        total = total - (len(sums) - 1) * _log_mass(all_known, all_pull)
    spread = np.exp(total - total.max())
    return nodes, spread / spread.sum()


def _log_mass(precision: Array, shift: Array) -> Array:
    """Return the logarithm of the integral of a normal given by its natural parameters."""
    return np.asarray(0.5 * (shift**2 / precision - np.log(precision)))


def _moments(nodes: Normals) -> tuple[Array, Array, Array]:
    """Return evidence, mean and variance of the slope over the cells, each of shape (s, q)."""
    top = nodes.log_evidence.max(axis=2, keepdims=True)
    weights = np.exp(nodes.log_evidence - top)
    total = weights.sum(axis=2)
    mean = (weights * nodes.slope).sum(axis=2) / total
    square = (weights * (nodes.slope_variance + nodes.slope**2)).sum(axis=2) / total
    return np.log(total) + top[:, :, 0], mean, square - mean**2


def _joint(nodes: Normals, spread: Array) -> Array:
    """Return the probability of every node of one instrument, shape (s, q, cells)."""
    within = np.exp(nodes.log_evidence - nodes.log_evidence.max(axis=2, keepdims=True))
    return np.asarray(spread[:, :, None] * within / within.sum(axis=2, keepdims=True))


def _zoom(grid: Grid, nodes: Sequence[Normals], spread: Array) -> Grid:
    """Return a grid that ends where the posterior does."""
    warm, cool = [], []
    for position, normals in enumerate(nodes):
        shape = (len(grid.log_warm[position]), len(grid.log_cool[position]))
        cells = _joint(normals, spread).sum(axis=(0, 1)).reshape(shape)
        warm.append(_closer(grid.log_warm[position], cells.sum(axis=1), COUNTS[2]))
        cool.append(_closer(grid.log_cool[position], cells.sum(axis=0), COUNTS[3]))
    return Grid(
        _closer(grid.log_sd, spread.sum(axis=1), COUNTS[0], np.log(SMALLEST_SD)),
        _closer(grid.log_ratio, spread.sum(axis=0), COUNTS[1]),
        tuple(warm),
        tuple(cool),
    )


def _closer(axis: Array, weights: Array, count: int, least: float = -np.inf) -> Array:
    """Return an axis from one step below to one step above where the probability lies."""
    reached = np.cumsum(weights) / weights.sum()
    low, high = np.searchsorted(reached, [TAIL, 1.0 - TAIL])
    step = axis[1] - axis[0]
    return np.linspace(max(axis[low] - step, least), axis[min(high, len(axis) - 1)] + step, count)


def _much_closer(grid: Grid, closer: Grid) -> bool:
    """Say whether another round would place the nodes much better."""
    before = [grid.log_sd, grid.log_ratio, *grid.log_warm, *grid.log_cool]
    after = [closer.log_sd, closer.log_ratio, *closer.log_warm, *closer.log_cool]
    return any(
        new[-1] - new[0] < 0.7 * (old[-1] - old[0]) or len(new) != len(old)
        for old, new in zip(before, after, strict=True)
    )


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


def _look(part: Part, sums: _Sums, grid: Grid, position: int, joint: Array, nodes: Normals) -> Look:
    """Look at the readings from the most likely node of the grid."""
    best = np.unravel_index(int(joint.argmax()), joint.shape)
    warm, cool = (pair[[best[2]]] for pair in _pairs(grid, position))
    sd, ratio = float(np.exp(grid.log_sd[best[0]])), float(np.exp(grid.log_ratio[best[1]]))
    rise = part.rise_columns(warm, cool)[:, 0]
    drift = nodes.slope[best] * (part.celsius - 20.0) + nodes.rise[best] * rise
    residuals = sums.absorber.residuals(part.cents - drift, ratio)
    tame = (1.0 - WILD_SHARE) * np.exp(-0.5 * (residuals / sd) ** 2) / (sd * np.sqrt(2.0 * np.pi))
    weights = np.maximum(tame / (tame + WILD_SHARE * WILD_DENSITY), 1e-6)
    inside = sums.absorber.columns(np.column_stack([part.celsius, rise, part.cents, drift])).within
    counts = sums.absorber.weights
    a, b, y, d = (inside * np.sqrt(counts)[:, None]).T
    return Look(
        drift,
        residuals,
        weights,
        _correlation(a, b),
        float(1.0 - (y - d) @ (y - d) / (y @ y)) if y @ y > 1e-12 else float("nan"),
    )


def _correlation(left: Array, right: Array) -> float:
    """Return the correlation of two centred columns; NaN where one of them is constant."""
    size = float(np.sqrt((left @ left) * (right @ right)))
    return float(left @ right) / size if size > 1e-9 else float("nan")


def _posterior(part: Part, grid: Grid, position: int, joint: Array, nodes: Normals) -> Posterior:
    """Return the mixture, without the components that together weigh next to nothing."""
    flat = joint.ravel()
    order = np.argsort(flat)[::-1]
    kept = order[: int(np.searchsorted(np.cumsum(flat[order]), 1.0 - 1e-5)) + 1]
    s, q, cell = np.unravel_index(kept, joint.shape)
    warm, cool = _pairs(grid, position)
    sd = np.exp(grid.log_sd[s])
    axes = grid.log_warm[position], grid.log_cool[position]
    return Posterior(
        weights=flat[kept] / flat[kept].sum(),
        slope=nodes.slope.ravel()[kept],
        rise=nodes.rise.ravel()[kept],
        slope_variance=nodes.slope_variance.ravel()[kept],
        covariance=nodes.covariance.ravel()[kept],
        rise_variance=nodes.rise_variance.ravel()[kept],
        log_warm=warm[cell],
        log_cool=cool[cell],
        steps=(float(axes[0][1] - axes[0][0]), float(axes[1][1] - axes[1][0])),
        reading_sd=sd,
        day_sd=sd * np.exp(grid.log_ratio[q]),
        priors=part.priors,
    )
