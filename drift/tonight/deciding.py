"""How many more readings of a side will most likely decide whether to move, and of which note."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from drift.tonight.decision import Action, decide_playing
from drift.tonight.evening import Evening
from drift.tonight.following import Belief, drift_ahead, off_samples, read_as_expected

__all__ = ["Wanted", "least_read", "readings_wanted"]

MOST_MORE = 3
SPACING_MINUTES = 0.3
COURSES, DECIDED_SHARE = 10, 0.7
"""Of so many courses that further readings may take, this share must end without a question."""


@dataclass(frozen=True)
class Wanted:
    """The readings of one side that are wanted before a decision.

    Attributes
    ----------
    count : int
        After so many it will most likely be clear; 0 where a few readings now do not decide.
    note : str
        The note to read: of the side's tuning notes the one that was read least tonight.
    """

    count: int
    note: str


def readings_wanted(
    belief: Belief,
    evening: Evening,
    side: str,
    now_minutes: float,
    ahead_minutes: Sequence[float],
    a4_hz: float,
) -> Wanted:
    """Return the readings that will most likely decide about a side.

    Parameters
    ----------
    belief : Belief
        After the last thing logged.
    evening : Evening
        What was logged.
    side : str
        Which.
    now_minutes : float
        Now [min].
    ahead_minutes : sequence of float
        The times from now that a decision weighs [min].
    a4_hz : float
        What tonight is tuned to [Hz].

    Notes
    -----
    Further readings are drawn as they are expected, as in `drift.tonight.progress`, and put to
    the same decision.
    """
    note = least_read(belief, side)
    random, beliefs = np.random.default_rng(0), [belief] * COURSES
    ahead = np.asarray(ahead_minutes, dtype=float)
    for count in range(1, MOST_MORE + 1):
        at = now_minutes + count * SPACING_MINUTES
        drifting = drift_ahead(belief.knowledge, evening.course, at, ahead)
        beliefs = read_as_expected(beliefs, evening, side, at, drifting, random)
        decided = [
            decide_playing(
                off_samples(one, evening, at, ahead_minutes, a4_hz, drifting=drifting)[side].mean(
                    axis=1
                )
            ).action
            is not Action.READ
            for one in beliefs
        ]
        if np.mean(decided) >= DECIDED_SHARE:
            return Wanted(count, note)
    return Wanted(0, note)


def least_read(belief: Belief, side: str) -> str:
    """Return the tuning note of a side that was read least tonight."""
    readings = (expected.reading for expected in belief.expected)
    read = Counter(reading.note for reading in readings if reading.side == side)
    return min(belief.knowledge.tuning_notes[side], key=lambda note: read[note])
