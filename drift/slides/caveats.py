"""What there is to know about a correction beside its moves, as codes and numbers."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from drift.instruments.anatomy import Instrument
from drift.regression.results import Fit
from drift.slides.moves import MM_UNSEEN, Solution
from drift.slides.reference import Reference

__all__ = [
    "HEARD_CENTS",
    "About",
    "Caveat",
    "about_slides",
    "about_temperatures",
    "beyond",
    "moved_since",
]

HEARD_CENTS = 0.5
"""A smaller error that remains is not worth a word."""


class About(StrEnum):
    """What a notice is about."""

    OFF_WHERE_TUNED = "off_where_tuned"  # readings contradict that it is in tune there
    EXTRAPOLATED = "extrapolated"  # a temperature outside those measured so far
    STUCK = "stuck"  # a slide that would have to move
    END_OF_TRAVEL = "end_of_travel"  # a slide that would have to go further
    MOVED_SINCE = "moved_since"  # a slide that is not where it was tuned
    BEYOND_USUAL = "beyond_usual"  # a slide that would be further out than most models go
    POSITION_UNKNOWN = "position_unknown"  # a slide to be pushed in from nobody knows where
    REMAINING = "remaining_error"  # a side that cannot be corrected all the way


@dataclass(frozen=True)
class Caveat:
    """Something to know about a correction.

    Attributes
    ----------
    kind : About
    slide, side : str
        Which, where it is about one.
    value : float or None
        Degrees Celsius, millimetres or cents, as the kind has it.
    """

    kind: About
    slide: str = ""
    side: str = ""
    value: float | None = None

    def to_json(self) -> dict[str, Any]:
        """Return the notice as one JSON object."""
        return {**vars(self), "kind": self.kind.value}


def beyond(usual_mm: float | None, to_mm: float) -> bool:
    """Return whether a position is further out than most models go, as far as that is known."""
    return usual_mm is not None and to_mm > usual_mm + MM_UNSEEN


def about_temperatures(
    fit: Fit, horn: Instrument, temperatures: tuple[float, float]
) -> Iterator[Caveat]:
    """Yield the temperatures outside those measured so far."""
    if horn.fixed_pitch is not None:
        return
    for celsius in temperatures:
        if fit.extrapolation(celsius):
            yield Caveat(About.EXTRAPOLATED, value=float(celsius))


def about_slides(
    horn: Instrument,
    middle: Solution,
    at: Mapping[str, float],
    travel: Mapping[str, float],
    stuck: Collection[str],
) -> Iterator[Caveat]:
    """Yield what the moves of slides leave open, and what they take for granted."""
    fast, given = ({horn.slide(name).name for name in names} for names in (stuck, travel))
    for slide, move in middle.moves_mm.items():
        if slide in middle.at_end_of_travel:
            yield Caveat(About.STUCK if slide in fast else About.END_OF_TRAVEL, slide)
        usual, to = horn.slide(slide).usual_travel_mm, at.get(slide, 0.0) + move
        if move > MM_UNSEEN and slide not in given and beyond(usual, to):
            yield Caveat(About.BEYOND_USUAL, slide, value=usual)
        if move < -MM_UNSEEN and slide not in at:
            yield Caveat(About.POSITION_UNKNOWN, slide)
    for side, cents in middle.remaining_cents.items():
        if horn.slides and abs(cents) >= HEARD_CENTS:
            yield Caveat(About.REMAINING, side=side, value=cents)


def moved_since(reference: Reference | None, at: Mapping[str, float]) -> Iterator[Caveat]:
    """Yield the slides that are not where the tuning left them, which moves start from."""
    if reference is None:
        return
    for slide, mm in reference.moved_to_mm.items():
        if at.get(slide) == reference.positions_mm[slide]:
            yield Caveat(About.MOVED_SINCE, slide, value=mm)
