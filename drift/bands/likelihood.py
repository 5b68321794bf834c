"""What readings alone say of some numbers, in units of a reference prior N(0, I)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

__all__ = ["Likelihood", "divided", "proper"]

Array = npt.NDArray[np.float64]

SIZE = 6
LEARNED = 0.1
"""Directions in which less than a tenth of the prior's own information was found count as not
learned: they are mostly the scatter of the draws that the moments were taken from."""

NOT_NEGATIVE = 1e-3
DIGITS = 3


@dataclass(frozen=True)
class Likelihood:
    """A normal likelihood ``exp(-x'Ax/2 + g'x)`` of ``x`` in reference sds.

    Parameters
    ----------
    information : array of shape (6, 6)
        A, positive semidefinite: 1 in a direction is as much as the reference prior itself says.
    pull : array of shape (6,)
        g.

    Notes
    -----
    It is what a band adds to the prior, not its posterior: posteriors of many bands, multiplied,
    would count the prior once a band.
    """

    information: Array
    pull: Array

    @classmethod
    def nothing(cls) -> Likelihood:
        """Return that of no readings."""
        return cls(np.zeros((SIZE, SIZE)), np.zeros(SIZE))

    def __add__(self, other: Likelihood) -> Likelihood:
        return Likelihood(self.information + other.information, self.pull + other.pull)

    def rounded(self) -> Likelihood:
        """Return it with three digits of the larger of row and column, still symmetric."""
        diagonal = np.diag(self.information)
        scale = np.sqrt(np.outer(diagonal, diagonal))
        return Likelihood(
            _to_digits(self.information, scale), _to_digits(self.pull, np.abs(self.pull))
        )

    def packed(self) -> dict[str, list[float]]:
        """Return it as numbers for a file: the lower triangle row by row, and the pull."""
        lower = self.information[np.tril_indices(SIZE)]
        return {
            "information": [float(f"{one:.6g}") for one in lower],
            "pull": [float(f"{one:.6g}") for one in self.pull],
        }

    @classmethod
    def unpacked(cls, numbers: dict[str, list[float]]) -> Likelihood:
        """Return it from the numbers of a file."""
        half = np.zeros((SIZE, SIZE))
        half[np.tril_indices(SIZE)] = numbers["information"]
        return cls(half + np.tril(half, -1).T, np.array(numbers["pull"], dtype=float))

    def alone(self, faint: float = 0.01) -> tuple[Array, Array]:
        """Return mean and covariance of what it says by itself, under a prior next to flat."""
        covariance = np.asarray(np.linalg.inv(self.information + faint * np.eye(SIZE)), np.float64)
        return covariance @ self.pull, covariance


def divided(mean: Array, covariance: Array) -> Likelihood:
    """Divide the prior N(0, I) out of a posterior.

    Parameters
    ----------
    mean, covariance : arrays of shape (6,), (6, 6)
        Of the posterior, in reference sds.

    Returns
    -------
    Likelihood
        ``A = cov⁻¹ - I`` and ``g = cov⁻¹ mean``, in the directions in which something was learned;
        exactly zero in the others.

    Examples
    --------
    >>> found = divided(np.full(6, 0.5), np.eye(6) / 2.0)
    >>> found.information[0, 0].round(6), found.pull[0].round(6)
    (np.float64(1.0), np.float64(1.0))
    """
    precision = np.linalg.inv(covariance)
    return proper(Likelihood(precision - np.eye(SIZE), precision @ mean), LEARNED)


def proper(given: Likelihood, least: float = NOT_NEGATIVE) -> Likelihood:
    """Return the part of a likelihood in the directions of more than `least` information.

    Rounding and sampling make others, of which some are negative.
    """
    values, vectors = np.linalg.eigh(given.information)
    kept = vectors[:, values > least]
    return Likelihood((kept * values[values > least]) @ kept.T, kept @ (kept.T @ given.pull))


def _to_digits(values: Array, scale: Array) -> Array:
    unit = 10.0 ** (np.floor(np.log10(np.maximum(scale, 1e-3))) - DIGITS + 1)
    return np.asarray(np.round(values / unit) * unit)
