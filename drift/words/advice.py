"""What to measure next, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from drift.notes import shown

if TYPE_CHECKING:
    from drift.regression.advice import Advice

__all__ = ["half_width", "summary_of"]


def summary_of(advice: Advice) -> str:
    """Return the best addition in a sentence."""
    best = advice.options.iloc[0]
    asked = "warm slope" if advice.celsius is None else f"drift at {round(advice.celsius, 1):g} °C"
    return (
        f"to know the {asked} of the {shown(advice.instrument)} better, read the same "
        f"notes {best['readings']:.0f} times at about {best['celsius']:.0f} °C, from minute "
        f"{best['first_minute']:.0f} to minute {best['last_minute']:.0f} of playing"
        f"{_why(advice, best['celsius'])}: the 95 % interval would narrow from "
        f"±{half_width(advice, advice.width_now)} to about "
        f"±{half_width(advice, best['width'])} {advice.unit}{_compared(advice)}"
    )


def half_width(advice: Advice, width: float) -> str:
    """Return how well an answer is known where its interval has a width, ± so much of its unit."""
    return f"{width / 2.0:.{2 if advice.celsius is None else 1}f}"


def _compared(advice: Advice) -> str:
    """Return which rooms were compared, and for what."""
    low, high = advice.options["celsius"].min(), advice.options["celsius"].max()
    return (
        "" if low == high else f" (of rooms of {low:.0f} to {high:.0f} °C, for this answer alone)"
    )


def _why(advice: Advice, celsius: float) -> str:
    """Return why a temperature at the end of those offered is the one to read at."""
    low, high = advice.options["celsius"].min(), advice.options["celsius"].max()
    if low == high or celsius not in (low, high):
        return ""
    end = "cold" if celsius == low else "warm"
    return f" (readings near the {end} end of your range determine the slope best)"
