"""What the interval of a move or a position is of: the way from the tuning, not the tuning."""

from __future__ import annotations

from collections.abc import Iterable

from drift.slides.correction import Correction
from drift.slides.moves import MM_UNSEEN
from drift.slides.moving import mm_of_cents
from drift.slides.positions import PositionTable
from drift.tonight.decision import TUNED_CENTS, Action
from drift.words.cents import millimetres, slide_noun

__all__ = ["in_brackets", "most_likely", "small_figures", "what_tuning_left"]

IN_TUNE = "if it was in tune where it was tuned"


def in_brackets(correction: Correction) -> str:
    """Return what the brackets behind moves hold; empty where nothing is moved."""
    left = what_tuning_left(correction)
    return f"In brackets: 95 % likely, {IN_TUNE}. {left}" if left else ""


def most_likely(correction: Correction) -> str:
    """Return what the interval beside a large position holds; empty where nothing is moved."""
    left = what_tuning_left(correction)
    return f"Most likely: 95 %, {IN_TUNE}. {left}" if left else ""


def small_figures(table: PositionTable) -> str:
    """Return what the small figures below positions hold."""
    return (
        f"Small figures: the right position lies between them (95 % likely), {IN_TUNE}. "
        f"{_left(table.corrections[0], table.slides)}"
    ).rstrip()


def what_tuning_left(correction: Correction) -> str:
    """Return what no interval holds, in millimetres of the slides that move; empty without any.

    Notes
    -----
    How far off a tuning leaves an instrument is not in the logbook; a tuning ends where a side
    is within 3 cents with a probability of 0.9.
    """
    if correction.decision.action is not Action.MOVE:
        return ""
    moved = [move.slide for move in correction.moves if abs(move.move_mm) >= MM_UNSEEN]
    return _left(correction, moved)


def _left(correction: Correction, slides: Iterable[str]) -> str:
    instrument = correction.instrument
    each = [
        f"{millimetres(mm_of_cents(instrument, slide, TUNED_CENTS, correction.calibration))} "
        f"of the {slide_noun(slide, instrument.name)}"
        for slide in slides
    ]
    if not each:
        return ""
    return f"What that tuning left comes on top: {TUNED_CENTS:g} cents are {', '.join(each)}."
