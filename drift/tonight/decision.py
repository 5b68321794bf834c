"""The one decision: move a slide, leave it, or take a reading first.

Two modes. *Playing* weighs the next twenty minutes: a slide is moved for five cents or more that
are sure. *Tuning* goes on until a side is within three cents with a probability of 0.9.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import erf, sqrt

import numpy as np
import numpy.typing as npt

__all__ = [
    "TUNED_PROBABILITY",
    "Action",
    "Decision",
    "Reason",
    "chance_within",
    "decide_playing",
    "decide_tuning",
    "round_mm",
]

NOTICED_CENTS = 5.0
"""Listeners and players notice about so much (common practice)."""
SURE = 2.0
"""A deviation is sure when it is so many times its standard deviation."""
ASK_PROBABILITY = 0.25
"""With a higher chance of being noticeably off, a reading is worth its while ..."""
DOUBT_CENTS = 3.0
"""... unless the spread is already as small as a reading can make it."""

TUNED_CENTS, TUNED_PROBABILITY = 3.0, 0.9
"""A side is in tune when it is within so many cents with such a probability."""

Array = npt.NDArray[np.float64]


class Action(StrEnum):
    """What to do."""

    MOVE = "move"
    LEAVE = "leave"
    READ = "read"


class Reason(StrEnum):
    """Why."""

    OFF = "off"  # far enough off, and sure
    IN_TUNE = "in_tune"  # near enough
    WARMING_UP = "warming_up"  # off now, and right by itself soon
    UNSURE = "unsure"  # not known well enough
    NO_READING = "no_reading"  # nothing was read tonight
    SURPRISE = "surprise"  # the last reading does not fit the others
    FIXED_PITCH = "fixed_pitch"  # nothing can be moved


@dataclass(frozen=True)
class Decision:
    """What to do about the pitch, and why.

    Attributes
    ----------
    action : Action
        Move, leave or read first.
    reason : Reason
        Why.
    cents : float
        The deviation that it is about, sharp positive: what a move is to take away [cents].
    sd_cents : float
        Its standard deviation [cents].
    """

    action: Action
    reason: Reason
    cents: float
    sd_cents: float


def decide_playing(off_cents: Array, *, may_ask: bool = True) -> Decision:
    """Decide while playing.

    Parameters
    ----------
    off_cents : array of shape (n,)
        Draws of the mean deviation over the next twenty minutes of playing, slides untouched.
    may_ask : bool
        Whether a reading can be taken.

    Returns
    -------
    Decision

    Notes
    -----
    With M the median and S the (robust) standard deviation: move if ``|M| >= 5`` and
    ``|M| >= 2 S``; take a reading first if ``S > 3`` and ``P(|X| >= 5) > 0.25``; else leave.

    Examples
    --------
    >>> import numpy as np
    >>> off = np.random.default_rng(0).normal(9.0, 2.0, 2000)
    >>> str(decide_playing(off).action), str(decide_playing(off / 3).action)
    ('move', 'leave')
    """
    middle = float(np.median(off_cents))
    low, high = np.quantile(off_cents, [0.16, 0.84])
    spread, whole = float(high - low) / 2.0, float(off_cents.std())
    spread = max(spread, whole if whole < 3.0 * spread else spread)
    far = float((np.abs(off_cents) >= NOTICED_CENTS).mean())
    if abs(middle) >= NOTICED_CENTS and abs(middle) >= SURE * spread:
        return Decision(Action.MOVE, Reason.OFF, middle, spread)
    unsure = spread > DOUBT_CENTS and far > ASK_PROBABILITY
    if unsure and may_ask:
        return Decision(Action.READ, Reason.UNSURE, middle, spread)
    return Decision(Action.LEAVE, Reason.UNSURE if unsure else Reason.IN_TUNE, middle, spread)


def chance_within(
    mixture: Sequence[tuple[float, float, float]],
    cents: float = TUNED_CENTS,
    shift: float = 0.0,
    more_variance: float = 0.0,
) -> float:
    """Return the probability that a mixture of normals lies within some cents of zero.

    Parameters
    ----------
    mixture : sequence of (float, float, float)
        Weight, mean and standard deviation of each part [cents].
    cents : float
        Half the width.
    shift, more_variance : float
        Added to each mean and variance.

    Examples
    --------
    >>> round(chance_within([(1.0, 0.0, 1.0)], cents=1.96), 3)
    0.95
    """
    total = 0.0
    for weight, mean, sd in mixture:
        scale = sqrt(2.0 * (sd**2 + more_variance)) or 1e-9
        centre = mean + shift
        total += weight * 0.5 * (erf((cents - centre) / scale) - erf((-cents - centre) / scale))
    return total


def decide_tuning(
    mixture: Sequence[tuple[float, float, float]],
    *,
    read: bool,
    chance_after: float = 0.0,
) -> Decision:
    """Decide while tuning a side.

    Parameters
    ----------
    mixture : sequence of (float, float, float)
        Weight, mean and standard deviation of how far off the side is [cents].
    read : bool
        Whether the side was read since its tuning began.
    chance_after : float
        Probability that it is within three cents after the best move; 0 where there is none.

    Returns
    -------
    Decision
        Leave it when it is within three cents with a probability of 0.9. Move when the move
        makes that sure, or the side is more than six cents off and it is clear which way. Else
        read.

    Examples
    --------
    >>> str(decide_tuning([(1.0, 18.0, 4.0)], read=True).action)
    'move'
    """
    mean = sum(weight * centre for weight, centre, _ in mixture)
    spread = sqrt(sum(w * (sd**2 + (centre - mean) ** 2) for w, centre, sd in mixture))
    if not read:
        return Decision(Action.READ, Reason.NO_READING, mean, spread)
    if chance_within(mixture) >= TUNED_PROBABILITY:
        return Decision(Action.LEAVE, Reason.IN_TUNE, mean, spread)
    clear = abs(mean) > 2.0 * TUNED_CENTS and abs(mean) > spread
    if clear or chance_after >= TUNED_PROBABILITY:
        return Decision(Action.MOVE, Reason.OFF, mean, spread)
    return Decision(Action.READ, Reason.UNSURE, mean, spread)


def round_mm(length_mm: float, step_mm: float = 0.5) -> float:
    """Return a length as it is shown and set, to whole steps.

    Parameters
    ----------
    length_mm : float
        Length [mm].
    step_mm : float
        Step [mm]: 0.5 by eye, 1 on paper, 0.25 on a rule.

    Examples
    --------
    >>> round_mm(4.3), round_mm(-4.3), round_mm(4.3, 1.0), round_mm(0.2)
    (4.5, -4.5, 4.0, 0.0)
    """
    return float(np.floor(abs(length_mm) / step_mm + 0.5) * step_mm * np.sign(length_mm)) + 0.0
