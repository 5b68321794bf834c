"""How well the answer of tonight is known, and how many more readings make it good, and when."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil

from drift.tonight.evening import Evening, Reading, usable
from drift.tonight.following import Belief, follow, off_samples
from drift.tonight.knowledge import Knowledge

__all__ = ["GOOD_CENTS", "AtTheEnd", "Progress", "progress"]

GOOD_CENTS = 3.0
"""An answer known so well, each way, asks for nothing more tonight."""
WORTH_CENTS = 1.0
"""Readings that narrow it by less are not worth asking for."""
MOST_MORE = 4
SPACING_MINUTES = 0.3
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
    Each further reading is made up as it is expected, scattered by the spread of a reading in turn
    above and below, and put to the same estimate: it takes account of everything that is known,
    and cannot know that a reading will surprise.
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
    side = readings[-1].side
    first = _half(follow(knowledge, evening, readings, minutes), evening, minutes, side)
    if ceil(first) <= good_cents:
        return first, 0, 0.0
    wanted, best = 0, 0.0
    for more in range(1, MOST_MORE + 1):
        at = minutes + more * SPACING_MINUTES
        readings = [*readings, _made_up(knowledge, evening, readings, side, at, more)]
        then = _half(follow(knowledge, evening, readings, at), evening, at, side)
        if then < (best if wanted else first) - WORTH_CENTS * (more - wanted) / 2.0:
            wanted, best = more, then
        if round(then) <= good_cents:
            break
    return (first, wanted, best) if first - best >= WORTH_CENTS else (first, 0, 0.0)


def _half(belief: Belief, evening: Evening, minutes: float, side: str) -> float:
    off = off_samples(belief, evening, minutes, (0.0,))[side][:, 0]
    off.sort()
    return float(off[int(0.975 * len(off))] - off[int(0.025 * len(off))]) / 2.0


def _made_up(
    knowledge: Knowledge,
    evening: Evening,
    readings: Sequence[Reading],
    side: str,
    minutes: float,
    number: int,
) -> Reading:
    """Return the next reading: the note of the side read least, as it is expected."""
    read = Counter(r.note for r in readings if r.side == side)
    note = min(knowledge.tuning_notes[side], key=lambda name: read[name])
    asked = Reading(minutes, note, 0.0, side)
    expected = follow(knowledge, evening, [*readings, asked], minutes).expected[-1].cents
    way = 1.0 if number % 2 else -1.0
    return replace(asked, cents=expected + way * knowledge.reading_sd_cents)
