"""How long to warm up, in words: what is known of it, and what an answer counts on."""

from __future__ import annotations

from drift.regression.estimates import Estimate
from drift.regression.warmup import TIMES_TO_95_PERCENT
from drift.slides.correction import Correction
from drift.slides.warming import warm_share

__all__ = ["counts_on", "little_known", "rests_on_readings", "span", "warm_up", "warm_up_briefly"]

KNOWN_SHARE = 0.5
"""A warm-up time is known once so much of it came from the readings."""
LONGEST_MINUTES = 40.0
"""Nobody warms up for longer before playing (common practice)."""
WARM_ENOUGH = 0.87
"""An instrument as warm as this is called warm."""


def warm_up(correction: Correction) -> str:
    """Return how long to warm up first, with how well that is known.

    The usual time of the catalogue is the advice as long as the readings know little.

    Examples
    --------
    >>> import drift
    >>> said = warm_up(drift.correct(drift.physics(), "double horn", 5.0))
    >>> for sentence in said.split(". "):
    ...     print(sentence)
    Warm up first where you are going to play: about 18 minutes are usual for its size
    How long yours takes is little known yet (6 to 59 minutes).
    """
    found = correction.warm_after
    if little_known(correction):
        usual = TIMES_TO_95_PERCENT * correction.instrument.priors.warm_minutes
        return (
            f"Warm up first where you are going to play: about {usual:.0f} minutes are usual "
            f"for its size. How long yours takes is little known yet ({span(correction)})."
        )
    if found.estimate > LONGEST_MINUTES:
        return (
            "Warm up first as long as you can where you are going to play: "
            f"it takes about {found.estimate:.0f} minutes ({span(correction)})."
        )
    low, high = found.low, found.high
    return (
        f"Warm up first, about {found.estimate:.0f} minutes ({low:.0f} to {high:.0f}), where you "
        "are going to play."
    )


def warm_up_briefly(correction: Correction) -> str:
    """Return the same in one line, for a card."""
    found = correction.warm_after
    if little_known(correction) or found.estimate > LONGEST_MINUTES:
        usual = TIMES_TO_95_PERCENT * correction.instrument.priors.warm_minutes
        return f"Warm up first: {usual:.0f} minutes are usual; yours: {span(correction)}."
    return (
        f"Warm up first, about {found.estimate:.0f} minutes ({found.low:.0f} to {found.high:.0f})."
    )


def little_known(correction: Correction) -> bool:
    """Return whether the time to warm up rests on what is usual more than on readings."""
    return not rests_on_readings(correction.warm_after)


def rests_on_readings(warming: Estimate) -> bool:
    """Return whether half or more of what is known of the warm-up came from readings."""
    return (warming.from_data or 0.0) >= KNOWN_SHARE


def span(correction: Correction) -> str:
    """Return from where to where the minutes until warm may lie (95 %)."""
    return f"{correction.warm_after.low:.0f} to {correction.warm_after.high:.0f} minutes"


def counts_on(correction: Correction) -> str:
    """Return how warm the answer takes the instrument to be; empty where it is warm by then."""
    share = warm_share(correction.minutes, correction.warm_after.estimate)
    if share >= WARM_ENOUGH or not correction.instrument.slides:
        return ""
    tens = round(10.0 * share) * 10
    state = f"about {tens} % warm" if tens else "still cold"
    return (
        f"After {correction.minutes:g} minutes of playing it is {state} by what is known so far; "
        "the millimetres count on that."
    )
