"""The measured slope of a slide in words."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from typing import TYPE_CHECKING

from drift.findings import Finding
from drift.notes import shown
from drift.slides.calibration import GOOD_SHARE

if TYPE_CHECKING:
    from drift.slides.calibration import SlideSlope

__all__ = ["found_in_words", "positions", "saved_in_words", "summary_of", "warning_text"]

WARNINGS = {
    "includes_zero": "the interval includes zero: measure with positions further apart",
    "pulling_sharpens": "pulling seems to sharpen, which no slide does: check the signs of the "
    "readings, and that positions are measured from fully in",
    "unlike_calculated": "measured and calculated differ by {percent:+.0f} %: check the positions, "
    "the side and the note, and measure again",
    "drift_not_removed": "no position was visited twice, so drift of the instrument counts as the "
    "slide's; go back to the first position at the end",
    "long_sitting": "the readings span {minutes:.0f} minutes: measure in one go",
}
"""What to know about a slope, by kind."""

MANY = 24
"""So many readings nobody takes of one slide."""


def warning_text(found: Finding) -> str:
    """Return one warning of a measured slope in words.

    Examples
    --------
    >>> warning_text(Finding("long_sitting", {"minutes": 31.4}))
    'the readings span 31 minutes: measure in one go'
    """
    return WARNINGS[found.kind].format(**found.values)


def summary_of(slope: SlideSlope) -> str:
    """Return a measured slope in a few lines."""
    lines = [
        f"{slope.player}, {shown(slope.instrument)}: {found_in_words(slope)}",
        f"from {slope.readings} readings{_earlier(slope)} at {positions(slope)} mm; its length "
        f"alone says {slope.theory:.2f} cents/mm",
    ]
    if slope.more_readings:
        lines.append(_more(slope))
    if len(slope.by_rehearsal) > 1:
        last = shlex.quote([*slope.by_rehearsal][-1])
        lines.append(f"to leave others out, name what counts: --rehearsal {last}")
    return "\n".join(lines + [f"note: {warning_text(found)}" for found in slope.warnings])


def _earlier(slope: SlideSlope) -> str:
    """Return how many of the readings are not of the last rehearsal; empty where all are."""
    earlier = [*slope.by_rehearsal.values()][:-1]
    if not earlier:
        return ""
    rehearsals = (
        "an earlier rehearsal" if len(earlier) == 1 else f"{len(earlier)} earlier rehearsals"
    )
    return f", {sum(earlier)} of them of {rehearsals},"


def _more(slope: SlideSlope) -> str:
    count, good = slope.more_readings, f"±{100 * GOOD_SHARE:.0f} %"
    if count > MANY:
        return f"to know it to {good}, read at positions further apart"
    readings = "1 more reading" if count == 1 else f"{count} more readings"
    return f"about {readings} at these positions, and it is known to {good}"


def saved_in_words(book: str, slopes: Sequence[SlideSlope], kept: Sequence[SlideSlope]) -> str:
    """Return what of a measurement was saved, where at least one side was."""
    left = [slope for slope in slopes if slope not in kept]
    if not left:
        return f"saved in {book}"
    return (
        f"saved in {book}: the {_sides(kept)} side; the {_sides(left)} side was not measured well "
        "enough and is left as it was"
    )


def _sides(slopes: Sequence[SlideSlope]) -> str:
    return " and ".join(shown(slope.side) for slope in slopes)


def found_in_words(slope: SlideSlope) -> str:
    """Return what the slide does, with the interval."""
    where = f" on the {shown(slope.side)} side" if slope.side else ""
    return (
        f"the {shown(slope.slide)} slide{where} does {slope.cents_per_mm:+.2f} cents/mm "
        f"({slope.low:+.2f} to {slope.high:+.2f})"
    )


def positions(slope: SlideSlope) -> str:
    """Return the positions that were read [mm]."""
    return ", ".join(f"{mm:g}" for mm in slope.positions_mm)
