"""How well the answer of tonight is known, and how many more readings make it good, and when."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil

import numpy as np

from drift.tonight.course import Drifting
from drift.tonight.evening import Evening, Reading, usable
from drift.tonight.following import (
    Belief,
    drift_ahead,
    follow,
    off_samples,
    read_as_expected,
)
from drift.tonight.knowledge import Knowledge

__all__ = ["GOOD_CENTS", "AtTheEnd", "Progress", "progress"]

GOOD_CENTS = 3.0
"""An answer known so well, each way, asks for nothing more tonight."""
WORTH_CENTS = 1.0
"""Readings that narrow it by less are not worth asking for."""
MOST_MORE = 4
SPACING_MINUTES = 0.3
COURSES, PROMISED_SHARE = 10, 0.8
"""Of so many courses that further readings may take, the answer is as good in this share."""
AHEAD_MINUTES = 10.0
"""An end that is nearer needs no plan of its own."""


@dataclass(frozen=True)
class AtTheEnd:
    """How well the pitch will be known at the end of the rehearsal.

    Attributes
    ----------
    in_minutes : float
        Until then [min].
    half_cents : float
        Half the width of the 95 % interval then, if nothing more is read [cents].
    more : int
        Readings to take then; 0 where it stays good, or where a few would change little.
    then_cents : float
        Half the width that is expected with them [cents].
    """

    in_minutes: float
    half_cents: float
    more: int = 0
    then_cents: float = 0.0


@dataclass(frozen=True)
class Progress:
    """How well the pitch now is known, and what a few more readings would make of that.

    Attributes
    ----------
    half_cents : float
        Half the width of the 95 % interval now [cents].
    more : int
        Readings to take; 0 where it is good, or where a few would change little.
    then_cents : float
        Half the width that is expected after them [cents].
    end : AtTheEnd or None
        The same at the end of the rehearsal, where that lies ahead.
    """

    half_cents: float
    more: int = 0
    then_cents: float = 0.0
    end: AtTheEnd | None = None


def progress(
    knowledge: Knowledge,
    evening: Evening,
    now_minutes: float,
    *,
    end_minutes: float | None = None,
    good_cents: float = GOOD_CENTS,
) -> Progress | None:
    """Return how well the pitch now is known; None before the first reading.

    Parameters
    ----------
    knowledge : Knowledge
        As in `drift.tonight.pitch_now`.
    evening : Evening
        What was logged tonight.
    now_minutes : float
        Now, on the clock of the evening [min].
    end_minutes : float, optional
        When the rehearsal is expected to end, on the same clock, to plan readings there [min].
    good_cents : float
        What is good enough, each way [cents].

    Notes
    -----
    Further readings are drawn as they are expected, with their scatter, now and then an outlier
    or a slide that has moved, and put to the same estimate, in ten courses; what is promised
    holds in four of five of them. A made-up reading that agrees with what is expected would
    promise too much: it takes no reading that surprises into account.
    """
    readings, _ = usable(knowledge.instrument, evening, now_minutes)
    readings = [r for r in readings if (r.side, r.note) in knowledge.notes]
    if not readings:
        return None
    found = Progress(*_narrowed(knowledge, evening, readings, now_minutes, good_cents))
    if end_minutes is None or end_minutes - now_minutes < AHEAD_MINUTES:
        return found
    then = _narrowed(knowledge, evening, readings, end_minutes, good_cents)
    return replace(found, end=AtTheEnd(end_minutes - now_minutes, *then))


def _narrowed(
    knowledge: Knowledge,
    evening: Evening,
    readings: Sequence[Reading],
    minutes: float,
    good_cents: float,
) -> tuple[float, int, float]:
    """Return how well the pitch is known at a moment, the readings to take then, and the gain."""
    side, random = readings[-1].side, np.random.default_rng(0)
    belief = follow(knowledge, evening, readings, minutes)
    (first,) = _halves([belief], evening, minutes, side, _drifting(knowledge, evening, minutes))
    if ceil(first) <= good_cents:
        return first, 0, 0.0
    wanted, best = 0, 0.0
    beliefs = [belief] * COURSES
    for more in range(1, MOST_MORE + 1):
        at = minutes + more * SPACING_MINUTES
        drifting = _drifting(knowledge, evening, at)
        beliefs = read_as_expected(beliefs, evening, side, at, drifting, random)
        halves = _halves(beliefs, evening, at, side, drifting)
        then = float(np.quantile(halves, PROMISED_SHARE))
        if then < (best if wanted else first) - WORTH_CENTS * (more - wanted) / 2.0:
            wanted, best = more, then
        if ceil(then) <= good_cents:
            break
    return (first, wanted, best) if first - best >= WORTH_CENTS else (first, 0, 0.0)


def _drifting(knowledge: Knowledge, evening: Evening, minutes: float) -> Drifting:
    return drift_ahead(knowledge, evening.course, minutes, np.zeros(1))


def _halves(
    beliefs: Sequence[Belief], evening: Evening, minutes: float, side: str, drifting: Drifting
) -> list[float]:
    """Return half the width of the 95 % interval of each belief at a moment [cents]."""
    samples = [
        off_samples(belief, evening, minutes, (0.0,), drifting=drifting)[side][:, 0]
        for belief in beliefs
    ]
    low, high = np.quantile(samples, (0.025, 0.975), axis=1)
    return [float(width) / 2.0 for width in high - low]
