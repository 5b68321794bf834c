"""A grid for the numbers that can not be integrated by hand, narrowed to where they lie."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from drift.instruments.anatomy import Priors

__all__ = ["Grid", "first_grid"]

Array = npt.NDArray[np.float64]

SMALLEST_SD = 0.25
"""A tuner shows whole cents, which alone scatter by 0.29; no reading is steadier than this."""

LARGEST_SD = 40.0

SMALLEST_RATIO, LARGEST_RATIO = 0.02, 40.0

REACH = 3.2
"""The first grid reaches so many standard deviations of the priors."""

TAIL = 2e-4
"""Probability that the grid may leave out at either end of an axis."""

SD_NODES, RATIO_NODES, WARM_NODES, COOL_NODES, SLOPE_NODES = 12, 9, 13, 9, 15
START_NODES = 5

CLOSER = 0.7
"""An axis that would shrink below this share of its length is worth another round."""


@dataclass(frozen=True)
class Grid:
    """The nodes, each axis evenly spaced.

    Parameters
    ----------
    log_sd, log_ratio : arrays of shape (s,) and (q,)
        Reading sd (cents) and ratio of day to reading sd, shared by all instruments.
    slope : array of shape (b,)
        Slope of a cold instrument (cents/°C), shared by all instruments.
    log_warm, log_cool : tuples of arrays
        Time constants (minutes), for each instrument.
    start : array of shape (t,)
        Warmth at the start where it is not stated; one node where all starts are stated.
    """

    log_sd: Array
    log_ratio: Array
    slope: Array
    log_warm: tuple[Array, ...]
    log_cool: tuple[Array, ...]
    start: Array = field(default_factory=lambda: np.zeros(1))

    def cells(self, position: int) -> tuple[Array, Array, Array]:
        """Return all triples of time constants and start of one instrument, each (cells,)."""
        axes = self.log_warm[position], self.log_cool[position], self.start
        warm, cool, start = np.meshgrid(*axes, indexing="ij")
        return warm.ravel(), cool.ravel(), start.ravel()

    def spreads(self) -> tuple[Array, Array]:
        """Return all pairs of the two standard deviations in cents, each of shape (s, q)."""
        sd = np.exp(self.log_sd)[:, None]
        return np.broadcast_to(sd, (len(self.log_sd), len(self.log_ratio))), sd * np.exp(
            self.log_ratio
        )

    def narrowed(self, spread: Array, slope: Array | None, cells: Sequence[Array]) -> Grid:
        """Return a grid that ends where the probability does.

        Parameters
        ----------
        spread : array of shape (s, q)
            Probability of the standard deviations.
        slope : array of shape (b,), optional
            Probability of the slope; None where one instrument needs no such axis.
        cells : sequence of arrays of shape (cells,)
            Probability of the time constants of each instrument.
        """
        warm, cool = [], []
        for position, flat in enumerate(cells):
            axes = self.log_warm[position], self.log_cool[position]
            table = flat.reshape(len(axes[0]), len(axes[1]), -1).sum(axis=2)
            warm.append(_ends(axes[0], table.sum(axis=1), WARM_NODES))
            cool.append(_ends(axes[1], table.sum(axis=0), COOL_NODES))
        return Grid(
            _ends(self.log_sd, spread.sum(axis=1), SD_NODES, float(np.log(SMALLEST_SD))),
            _ends(self.log_ratio, spread.sum(axis=0), RATIO_NODES),
            self.slope if slope is None else _ends(self.slope, slope, SLOPE_NODES),
            tuple(warm),
            tuple(cool),
            self.start,
        )

    def is_much_wider_than(self, other: Grid) -> bool:
        """Say whether the other grid's nodes are placed much better."""
        pairs = zip(self._axes(), other._axes(), strict=True)
        return any(
            len(new) != len(old) or new[-1] - new[0] < CLOSER * (old[-1] - old[0])
            for old, new in pairs
        )

    def _axes(self) -> list[Array]:
        return [self.log_sd, self.log_ratio, self.slope, *self.log_warm, *self.log_cool]


def first_grid(
    priors: Sequence[Priors], slope: tuple[float, float], start_stated: bool = True
) -> Grid:
    """Return the grid that covers what the priors allow.

    Parameters
    ----------
    priors : sequence of Priors
        One an instrument.
    slope : tuple of two floats
        Prior mean and standard deviation of the shared slope.
    start_stated : bool
        Whether it is stated how warm instruments were at the start.
    """
    many, few = (np.linspace(-REACH, REACH, count) for count in (WARM_NODES, COOL_NODES))
    return Grid(
        np.linspace(np.log(SMALLEST_SD), np.log(LARGEST_SD), 18),
        np.linspace(np.log(SMALLEST_RATIO), np.log(LARGEST_RATIO), 10),
        slope[0] + slope[1] * np.linspace(-5.0, 5.0, 21),
        tuple(np.log(p.warm_minutes) + p.warm_log_sd * many for p in priors),
        tuple(np.log(p.cool_minutes) + p.cool_log_sd * few for p in priors),
        np.zeros(1) if start_stated else np.linspace(0.1, 0.9, START_NODES),
    )


def _ends(axis: Array, weights: Array, count: int, least: float = -np.inf) -> Array:
    """Return an axis from one step below to one step above where the probability lies."""
    reached = np.cumsum(weights) / weights.sum()
    low, high = np.searchsorted(reached, [TAIL, 1.0 - TAIL])
    step = axis[1] - axis[0]
    start = max(float(axis[low] - step), least)
    return np.linspace(start, float(axis[min(high, len(axis) - 1)] + step), count)
