"""What each section brings to the question which A4 a band can share."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drift.gig.roster import Section

__all__ = ["AdjustablePart", "FixedPart"]


@dataclass(frozen=True)
class AdjustablePart:
    """What an adjustable section brings to the question.

    Attributes
    ----------
    section : Section
        Who it is.
    expected_cents : tuple of float
        Where its pitch stands with the slides untouched, on the mean of the playing after each
        tune, from the nominal A4 [cents].
    around_cents : tuple of ndarray
        How its pitch moves around each of those means, evenly in time [cents].
    """

    section: Section
    expected_cents: tuple[float, ...]
    around_cents: tuple[NDArray[np.float64], ...]

    def average_error(self, cents: float, slides: tuple[float, float]) -> float:
        """Return the mean distance from a pitch over all playing [cents].

        Each minute counts as far as it is off, so that a flat one and a sharp one cannot cancel.

        Parameters
        ----------
        cents : float
            The pitch, from the nominal A4 [cents].
        slides : tuple of two floats
            How far slides bring the section down and up; each tune goes as near as they do [cents].
        """
        left = [e - cents + min(max(cents - e, slides[0]), slides[1]) for e in self.expected_cents]
        return float(np.abs(np.concatenate(list(map(np.add, left, self.around_cents)))).mean())


@dataclass(frozen=True)
class FixedPart:
    """What a section of fixed pitch brings to the question.

    Attributes
    ----------
    section : Section
        Who it is.
    lowest_cents, highest_cents : float
        Between which its pitch lies while the band plays, from the nominal A4 [cents].
    """

    section: Section
    lowest_cents: float
    highest_cents: float
