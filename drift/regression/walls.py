"""Allowances for walls that do not all warm alike, which the model's one time constant lacks.

With a variance ``V0`` of the slow drift before the readings and ``V`` after them it gains
``walls_sd² (1 - V/V0)``: what readings have not taught they cannot have taught wrongly. In the same
way the rise gains ``quick_walls_sd² (1 - V/V0)``, and with each cent of it the slope of a cold
instrument 1/14 cent/°C, so that nothing changes for a warm one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from drift.regression.answers import SPAN
from drift.regression.players import OWN
from drift.regression.priors import Priors
from drift.regression.scores import Scores

if TYPE_CHECKING:
    from drift.regression.bayesian import Found

__all__ = ["before_readings", "drawn_walls", "taught_of", "taught_of_kind", "with_walls"]

Array = npt.NDArray[np.float64]

WHEN_COLD = np.array([1.0 / SPAN, 1.0, 0.0])
"""Slope, rise and slow drift of a cent that is missing when the instrument is cold."""

LATE = np.array([0.0, 0.0, 1.0])
"""The same of a cent an hour of slow drift."""


def taught_of(covariance: Array, before: Array) -> Array:
    """Return which share of the variance of slope, rise and slow drift the readings took away.

    Parameters
    ----------
    covariance : array of shape (..., d, d)
        After the readings.
    before : array that broadcasts to (..., 3)
        Variances before them.
    """
    after = np.diagonal(covariance, axis1=-2, axis2=-1)[..., :OWN]
    return np.asarray(np.clip(1.0 - after / before, 0.0, 1.0))


def taught_of_kind(found: Found, priors: Priors, kind: int) -> tuple[Array, Array]:
    """Return `taught_of` at each theta: of a kind, (n, 3), and of its players, (n, players, 3).

    Parameters
    ----------
    found : Found
    priors : Priors
    kind : int
        Which, in the order of the columns.
    """
    scores, population = found.scores, found.population
    place = kind + len(scores.kinds) * np.arange(OWN)
    known, of_player = before_readings(scores, found.sample.theta, priors, kind)
    return (
        taught_of(population.covariance[:, place[:, None], place], known),
        taught_of(population.players[kind][1], of_player[:, None]),
    )


def before_readings(scores: Scores, theta: Array, priors: Priors, kind: int) -> tuple[Array, Array]:
    """Return variances before the readings: of a kind, (3,), and of its players, (n, 3)."""
    known = np.diag(scores.kinds[kind].covariance(priors.slow_sd))[:OWN]
    return known, known + scores.sds(theta)[:, 2:5] ** 2


def with_walls(covariance: Array, taught: Array, priors: Priors) -> Array:
    """Return covariances (n, d, d) with the allowances, as `taught_of` says how much of them."""
    covariance = covariance.copy()
    covariance[:, 2, 2] += priors.walls_sd**2 * taught[:, 2]
    when_cold = np.outer(WHEN_COLD, WHEN_COLD)
    covariance[:, :OWN, :OWN] += priors.quick_walls_sd**2 * taught[:, 1, None, None] * when_cold
    return covariance


def drawn_walls(taught: Array, priors: Priors, quick: Array, late: Array) -> Array:
    """Return draws of the allowances: what slope, rise and slow drift gain, (n, 3).

    Parameters
    ----------
    taught : array of shape (n, 3)
        As `taught_of` gives it, one line a draw.
    priors : Priors
    quick, late : arrays of shape (n,)
        Standard normal draws of walls near the lips, and of those that still warm.
    """
    share = np.sqrt(taught)
    rise, slow = priors.quick_walls_sd * share[:, 1] * quick, priors.walls_sd * share[:, 2] * late
    return np.outer(rise, WHEN_COLD) + np.outer(slow, LATE)
