"""What does not fit in tonight's readings, and the move of a slide that would explain it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from drift.tonight.following import Belief
from drift.tonight.stories import INLIER, OUTLIER

__all__ = ["Jump", "Surprise", "jump_of", "surprises_of"]

SURPRISE_PROBABILITY = 0.5
"""A reading is called unexpected when it is more likely so than not."""
JUMP_PROBABILITY, SHIFT_PROBABILITY = 0.5, 0.2
"""From these on an unlogged move is announced, or a look at the slide is asked for: on simulated
evenings 0.2 finds half of the moves of six cents or more, and is wrong at 3 % of moments."""


class Surprise(StrEnum):
    """What does not fit in tonight's readings."""

    UNEXPECTED = "unexpected"  # the last reading: an outlier, or a slide was moved
    JUMPED = "jumped"  # several readings agree: a slide was moved and not logged
    SHIFTED = "shifted"  # they may: a look at the slide would tell
    LOGGED_LATE = "logged_late"  # they jumped, and the slide was logged only after they had
    WATCHING = "watching"  # the readings move less than the air asks


@dataclass(frozen=True)
class Jump:
    """The move of a slide that most likely explains why readings jumped.

    Attributes
    ----------
    slide : str
        Which slide.
    minutes_ago : float
        How long ago the first reading behind it was taken [min].
    logged_mm : float or None
        Where the slide was logged since the last reading, from fully in [mm]; None: it was not,
        so that nobody knows where it is.
    before_minutes_ago : float or None
        How long ago the reading before those was taken [min]; None: there is none.
    """

    slide: str
    minutes_ago: float
    logged_mm: float | None = None
    before_minutes_ago: float | None = None

    def to_json(self) -> dict[str, Any]:
        """Return the move as one JSON object (numbers unrounded)."""
        return {
            "slide": self.slide,
            "minutes_ago": self.minutes_ago,
            "logged_mm": self.logged_mm,
        }


def surprises_of(belief: Belief) -> tuple[Surprise, ...]:
    """Return what does not fit in the readings so far.

    A slide that was logged since the last reading is where it was logged, whenever it came there.
    """
    if not belief.expected:
        return ()
    stories, found = belief.stories, []
    fits = {INLIER, OUTLIER, *belief.logged_mm}
    before = stories.chance(lambda verdicts, gain: any(v not in fits for v in verdicts[:-1]))
    unexpected = stories.chance(
        lambda verdicts, gain: verdicts[-1] not in {INLIER, *belief.logged_mm}
    )
    late = stories.chance(lambda verdicts, gain: any(v in belief.logged_mm for v in verdicts))
    if before >= JUMP_PROBABILITY:
        found.append(Surprise.JUMPED)
    elif unexpected >= SURPRISE_PROBABILITY:
        found.append(Surprise.UNEXPECTED)
    elif before >= SHIFT_PROBABILITY:
        found.append(Surprise.SHIFTED)
    elif late >= JUMP_PROBABILITY:
        found.append(Surprise.LOGGED_LATE)
    if belief.watching > SURPRISE_PROBABILITY:
        found.append(Surprise.WATCHING)
    return tuple(found)


def jump_of(belief: Belief, surprises: Collection[Surprise], now_minutes: float) -> Jump | None:
    """Return the likeliest move behind a jump that is told, if one is.

    Parameters
    ----------
    belief : Belief
        After the last reading.
    surprises : collection of Surprise
        What is told of it.
    now_minutes : float
        The moment [min].
    """
    late = Surprise.LOGGED_LATE in surprises
    if not late and not {Surprise.JUMPED, Surprise.SHIFTED} & set(surprises):
        return None
    last = len(belief.expected) - 1
    shares = {
        (place, slide): share
        for (place, slide), share in belief.stories.moves().items()
        if (slide in belief.logged_mm if late else place < last and slide not in belief.logged_mm)
    }
    place, slide = max(shares, key=lambda move: shares[move])
    ago = [now_minutes - one.reading.minutes for one in belief.expected]
    before = ago[place - 1] if place else None
    return Jump(slide, ago[place], belief.logged_mm.get(slide), before)
