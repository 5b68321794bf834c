"""What the tuner should show at a tune so that the next playing is right on the mean."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from drift.regression.results import Draws, Estimate
from drift.tonight.course import Course, drift_along
from drift.tonight.knowledge import Knowledge

__all__ = ["Target", "printed_interval", "target_at"]

READ_AT = 0.75
"""The slide is set by what the tuner shows three quarters through a tune."""
LEAST_HALF_WIDTH_CENTS = 3.0
"""Printed intervals are at least 3 cents each way, else as wide as drawn: so they hold 94 to 97 %
of the truths of simulated players (``docs/explanation/evening.md``)."""

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Target:
    """What the tuner should show at a tune.

    Attributes
    ----------
    show_cents : Estimate
        The mean of the tuning notes [cents], with the interval to print.
    notes : dict of str to Estimate
        The same for each note of the side: the target and the note's own tendency [cents].
    remaining_cents : float
        What the side is still off it with its slides at their ends, sharp positive [cents]; 0
        where they reach it, and where it is not known how far they can go.
    """

    show_cents: Estimate
    notes: dict[str, Estimate]
    remaining_cents: float = 0.0


def target_at(
    draws: Draws,
    course: Course,
    tune_minutes: tuple[float, float],
    block_minutes: tuple[float, float],
    *,
    a4_cents: float = 0.0,
    knowledge: Knowledge | None = None,
    side: str = "",
) -> Target:
    """Return what the tuner should show so that the mean of the next playing is right.

    Parameters
    ----------
    draws : Draws
        Draws of the drift.
    course : Course
        The air and the playing from before the tune to the end of the block [min], [°C].
    tune_minutes, block_minutes : (float, float)
        Begin and end of the tune, and of the playing that it is for [min].
    a4_cents : float
        What is to be played above the pitch the tuner is set to [cents].
    knowledge : Knowledge, optional
        The player's notes, for a target of each.
    side : str
        Side of the instrument, for its notes.

    Returns
    -------
    Target

    Notes
    -----
    ``D(three quarters through the tune) - mean of D over the block``, of each draw. Aiming at the
    mean of the block leaves less than aiming at its middle (7.9 cents against 8.7 in simulated
    bands in the cold). The printed half-width is ``max(3, drawn)``.

    Examples
    --------
    >>> import drift
    >>> draws = drift.physics().draws("Bb trumpet", 400, 1)
    >>> out = Course([0.0, 10.0, 10.1, 60.0], [21.0, 21.0, 5.0, 5.0], (0.0, 10.0, 25.0))
    >>> show = target_at(draws, out, (6.0, 10.0), (25.0, 40.0)).show_cents
    >>> 10.0 < show.estimate < 50.0  # in the warm room the tuner shows sharp
    True
    """
    begin, end = tune_minutes
    moments = begin + READ_AT * (end - begin)
    block = np.linspace(*block_minutes, max(int(np.ptp(block_minutes)) + 1, 2))
    cents = drift_along(draws, course, [moments, *block]).cents
    show = cents[:, 0] - cents[:, 1:].mean(axis=1) + a4_cents
    target = printed_interval(show)
    tendencies = {} if knowledge is None else knowledge.tendencies(side)
    notes = {note: _with_tendency(target, own) for note, own in tendencies.items()}
    return Target(target, notes)


def printed_interval(samples: Array) -> Estimate:
    """Return the mean of samples with the interval that is printed.

    Parameters
    ----------
    samples : array of shape (n,)
        Draws [cents].

    Examples
    --------
    >>> import numpy as np
    >>> print(printed_interval(np.zeros(10)))
    0.00 (-3.00 to 3.00)
    """
    low, high = np.quantile(samples, [0.025, 0.975])
    mean = float(samples.mean())
    half = max(LEAST_HALF_WIDTH_CENTS, float(high - low) / 2.0)
    return Estimate(mean, mean - half, mean + half)


def _with_tendency(target: Estimate, own: Estimate) -> Estimate:
    """Return the target of one note: both uncertainties together."""
    mean = target.estimate + own.estimate
    half = float(np.hypot((target.high - target.low) / 2.0, (own.high - own.low) / 2.0))
    return Estimate(mean, mean - half, mean + half)
