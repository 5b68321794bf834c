"""Where to measure so that temperature and playing time come apart."""

from __future__ import annotations

import itertools

import numpy as np

from drift.regression.layout import Lie

__all__ = ["where_to_measure"]

FEASIBLE_CELSIUS = (8.0, 32.0)
STEPS_CELSIUS = (-8.0, -5.0, -3.0, 0.0, 3.0, 5.0, 8.0)
"""Around the temperatures seen: another hall, another season, a window."""

FEASIBLE_MINUTES = (2.0, 15.0, 30.0, 60.0)
READINGS = 6


def where_to_measure(lie: Lie) -> tuple[float, float]:
    """Return the temperature and the minutes of playing that pull the two effects apart most.

    Parameters
    ----------
    lie : Lie
        How the readings so far lie.

    Returns
    -------
    celsius, minutes : float
        Where a few more readings of the same notes add most.

    Notes
    -----
    Of a few feasible conditions, the one that makes the variance of the temperature slope
    smallest: the element of ``(X'X)^-1``, where a new reading adds its distance from the mean of
    the readings so far. That needs no cents, only where they were read.
    """
    centre = lie.total / lie.readings
    have = lie.within + 1e-6 * np.eye(2)
    low, high = FEASIBLE_CELSIUS
    temperatures = sorted({round(min(max(centre[0] + step, low), high)) for step in STEPS_CELSIUS})

    def variance(place: tuple[float, float]) -> float:
        step = np.array(place) - centre
        return float(np.linalg.inv(have + READINGS * np.outer(step, step))[0, 0])

    celsius, minutes = min(itertools.product(temperatures, FEASIBLE_MINUTES), key=variance)
    return float(celsius), float(minutes)
