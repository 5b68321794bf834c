"""Moves of several slides that were solved together, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from drift.slides.moves import Solution

__all__ = ["summary_of"]


def summary_of(found: Solution) -> str:
    """Return the moves and the remaining error, one line each."""
    moves = [
        f"{slide} {move:+.1f} mm{' (at its end)' if slide in found.at_end_of_travel else ''}"
        for slide, move in found.moves_mm.items()
    ]
    left = [f"{side} {cents:+.1f} cents remain" for side, cents in found.remaining_cents.items()]
    return "\n".join(moves + [line.strip() for line in left])
