"""Mixtures of normal distributions: their means, quantiles and intervals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

__all__ = ["Mixture"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Mixture:
    """Several quantities, each a weighted mixture of normal distributions.

    Parameters
    ----------
    weights : array of shape (k,)
        Probability of each component; they add up to one.
    means, variances : arrays of shape (m, k)
        One row a quantity.
    """

    weights: Array
    means: Array
    variances: Array

    def mean(self) -> Array:
        """Return the mean of each quantity, shape (m,)."""
        return self.means @ self.weights

    def variance(self) -> Array:
        """Return the variance of each quantity, shape (m,): within the components and between."""
        centre = self.mean()[:, None]
        return (self.variances + (self.means - centre) ** 2) @ self.weights

    def quantile(self, probability: float) -> Array:
        """Return the quantile of each quantity, shape (m,).

        Notes
        -----
        The distribution function of a mixture is the mixture of the distribution functions; it is
        inverted by bisection, to a millionth of the mixture's own width.
        """
        centre, width = self.mean(), np.sqrt(self.variance())
        # Chebyshev: no quantile of this probability lies further from the mean.
        reach = 1.0001 / np.sqrt(min(probability, 1.0 - probability))
        low, high = centre - reach * width, centre + reach * width
        scale = np.sqrt(np.maximum(self.variances, 1e-18))
        for _ in range(24):
            middle = 0.5 * (low + high)
            below = ndtr((middle[:, None] - self.means) / scale) @ self.weights < probability
            low, high = np.where(below, middle, low), np.where(below, high, middle)
        return np.asarray(0.5 * (low + high))

    def interval(self, level: float = 0.95) -> tuple[Array, Array]:
        """Return the limits of the central interval of each quantity, each of shape (m,)."""
        tail = 0.5 * (1.0 - level)
        return self.quantile(tail), self.quantile(1.0 - tail)
