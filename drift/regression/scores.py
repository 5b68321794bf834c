"""The numbers that make the model non-linear, as normal scores of their own priors."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr, ndtri

from drift.regression.nodes import Box
from drift.regression.priors import SDS, InstrumentPriors, Priors, SpreadPrior

__all__ = ["FLOOR_SD", "SDS", "Scores"]

Array = npt.NDArray[np.float64]

FLOOR_SD = 0.25
"""No tuner and no player repeats a reading better than this [cents]."""


@dataclass(frozen=True)
class Scores:
    """Where each number stands in a vector ``theta``, whose prior is exactly N(0, I).

    First the standard deviations, in the order of `SDS` (the last only where a rehearsal is
    shared), then for each kind the scores of its time constants of warming and of cooling, and of
    the warmth at the start where that is estimated.

    Parameters
    ----------
    priors : Priors
        The scales of the half-normal priors.
    kinds : tuple of InstrumentPriors
        Medians and spreads of the time constants.
    shared, start : bool
        Whether there is an effect of the rehearsal; whether the start is estimated.
    """

    priors: Priors
    kinds: tuple[InstrumentPriors, ...]
    shared: bool
    start: bool

    @property
    def sds_count(self) -> int:
        """How many standard deviations come first."""
        return len(SDS) if self.shared else len(SDS) - 1

    @property
    def each(self) -> int:
        """How many scores a kind has."""
        return 3 if self.start else 2

    @property
    def count(self) -> int:
        """Length of theta."""
        return self.sds_count + self.each * len(self.kinds)

    def sds(self, theta: Array) -> Array:
        """Return the standard deviations, shape (n, 6): zero for the rehearsal's if not shared."""
        scales = np.array([getattr(self.priors, name) for name in SDS])
        believed = [self.priors.spreads.get(name, SpreadPrior()) for name in SDS[: self.sds_count]]
        middle = np.array([one.score_mean for one in believed])
        width = np.array([one.score_sd for one in believed])
        found = np.zeros((len(theta), len(SDS)))
        found[:, : self.sds_count] = half_normal(middle + width * theta[:, : self.sds_count])
        found *= scales
        found[:, 0] = np.hypot(found[:, 0], FLOOR_SD)
        if self.shared:
            found[:, 5] += 1e-3
        return found

    def v(self, theta: Array) -> Array:
        """Return ``log(1 + 20 rho²)``, shape (n,)."""
        sds = self.sds(theta)
        return np.asarray(np.log1p(20.0 * (sds[:, 1] / sds[:, 0]) ** 2))

    def places(self, kind: int) -> tuple[int, int]:
        """Return where the scores of the time constants of a kind are."""
        first = self.sds_count + self.each * kind
        return first, first + 1

    def times(self, theta: Array, kind: int) -> tuple[Array, Array]:
        """Return the time constants of a kind [min], each of shape (n,)."""
        warm, cool = (theta[:, place] for place in self.places(kind))
        known = self.kinds[kind]
        return (
            known.warm_minutes * np.exp(known.warm_log_sd * warm),
            known.cool_minutes * np.exp(known.cool_log_sd * cool),
        )

    def warmth_at_start(self, theta: Array, kind: int) -> Array:
        """Return how warm instruments were where nothing is stated: even between 0 and 1."""
        if not self.start:
            return np.zeros(len(theta))
        return np.asarray(ndtr(theta[:, self.places(kind)[1] + 1]))

    def limits(self, box: Box) -> tuple[Array, Array]:
        """Return the lowest and the highest theta that is looked at."""
        low, high = np.full(self.count, -5.0), np.full(self.count, 5.0)
        high[0] = 7.0
        for kind in range(len(self.kinds)):
            for place, axis in zip(
                self.places(kind), (box.warm[kind], box.cool[kind]), strict=True
            ):
                low[place], high[place] = axis.low, axis.high
        return low, high


def half_normal(score: Array) -> Array:
    """Return the half-normal number of scale 1 that has a standard normal score."""
    return np.asarray(-ndtri(0.5 * ndtr(-score)))
