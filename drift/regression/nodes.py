"""Nodes at which sums are taken, and the polynomials that join them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from drift.regression.priors import InstrumentPriors

__all__ = ["WIDEST_V", "Axis", "Box", "first_box", "narrowed"]

Array = npt.NDArray[np.float64]

REACH = 3.6
"""Time constants are looked for this many prior standard deviations each way."""

WIDEST_V = 9.0
"""``log(1 + 20 rho²)`` up to here: a day's sd of up to 20 times that of a reading."""


EDGE = 0.1
"""A mode in the outermost tenth of an interval may belong outside."""


@dataclass(frozen=True)
class Axis:
    """An interval with Chebyshev nodes in it.

    Parameters
    ----------
    low, high : float
        The ends of the interval.
    count : int
        How many nodes.
    """

    low: float
    high: float
    count: int

    @property
    def nodes(self) -> Array:
        """The nodes, in ascending order."""
        angles = np.pi * (2 * np.arange(self.count) + 1) / (2 * self.count)
        return np.asarray(self.low + (self.high - self.low) * (1.0 - np.cos(angles)) / 2.0)

    def ends_at(self, x: float) -> tuple[bool, bool]:
        """Return whether `x` lies at the lower and at the upper end, where there is more beyond."""
        edge = EDGE * (self.high - self.low)
        return 0.0 < self.low > x - edge, WIDEST_V > self.high < x + edge

    def weights(self, x: Array) -> Array:
        """Return the Lagrange polynomials of the nodes at `x` of shape (n,), shape (n, count).

        Notes
        -----
        In barycentric form, which stays accurate near a node; outside the interval the value at
        its end is taken.
        """
        if self.count == 1:
            return np.ones((len(x), 1))
        place = (-1.0) ** np.arange(self.count)
        angles = np.pi * (2 * np.arange(self.count) + 1) / (2 * self.count)
        away = np.clip(x, self.low, self.high)[:, None] - self.nodes
        away[np.abs(away) < 1e-13] = 1e-13
        terms = place * np.sin(angles) / away
        return np.asarray(terms / terms.sum(axis=1, keepdims=True))


@dataclass(frozen=True)
class Box:
    """Where the time constants of each kind and the ratio of sds may lie.

    Parameters
    ----------
    warm, cool : tuple of Axis
        Scores of the time constants, (log tau - log median)/log sd, of each kind.
    v : Axis
        ``log(1 + 20 (day sd / reading sd)²)``.
    """

    warm: tuple[Axis, ...]
    cool: tuple[Axis, ...]
    v: Axis

    def minutes(self, kind: int, priors: InstrumentPriors) -> tuple[Array, Array]:
        """Return the time constants at the nodes of a kind [min], each of shape (nodes,)."""
        warm, cool = np.meshgrid(self.warm[kind].nodes, self.cool[kind].nodes, indexing="ij")
        return (
            priors.warm_minutes * np.exp(priors.warm_log_sd * warm.ravel()),
            priors.cool_minutes * np.exp(priors.cool_log_sd * cool.ravel()),
        )

    def weights(self, kind: int, warm: Array, cool: Array) -> Array:
        """Return how much each node of a kind counts at scores of shape (n,), shape (n, nodes)."""
        first, second = self.warm[kind].weights(warm), self.cool[kind].weights(cool)
        return (first[:, :, None] * second[:, None, :]).reshape(len(warm), -1)

    @property
    def day_ratio_squared(self) -> Array:
        """``rho²`` at the nodes of v."""
        return np.asarray(np.expm1(self.v.nodes) / 20.0)


def axis_of_time(low: float, high: float, log_sd: float, fewest: int = 3) -> Axis:
    """Return an axis of scores with nodes enough for an error of a thousandth of the column."""
    width = (high - low) * log_sd
    return Axis(low, high, int(np.clip(np.ceil(3.2 + 1.4 * width), fewest, 9)))


def first_box(priors: list[InstrumentPriors]) -> Box:
    """Return a box that holds all that the priors allow."""
    warm = tuple(Axis(-REACH, REACH, 7) for _ in priors)
    cool = tuple(Axis(-REACH, REACH, 5) for _ in priors)
    return Box(warm, cool, Axis(0.0, WIDEST_V, 8))


def narrowed(
    priors: list[InstrumentPriors], warm: Array, cool: Array, v: tuple[float, float]
) -> Box:
    """Return a box around the posterior.

    Parameters
    ----------
    priors : list of InstrumentPriors
        Of each kind.
    warm, cool : arrays of shape (kinds, 2)
        Lowest and highest score wanted.
    v : tuple of two floats
        Lowest and highest v wanted.
    """
    warm, cool = np.clip(warm, -REACH, REACH), np.clip(cool, -REACH, REACH)
    width = v[1] - v[0]
    margin = 0.05 * width + 0.1
    count = int(np.clip(np.ceil(3.5 + 0.5 * width), 4, 8))
    return Box(
        tuple(
            axis_of_time(ends[0], ends[1], one.warm_log_sd)
            for one, ends in zip(priors, warm.tolist(), strict=True)
        ),
        tuple(
            axis_of_time(ends[0], ends[1], one.cool_log_sd)
            for one, ends in zip(priors, cool.tolist(), strict=True)
        ),
        Axis(max(v[0] - margin, 0.0), v[1] + margin, count),
    )
