"""An instrument as an answer of a program to a program."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from drift.instruments.anatomy import Instrument

__all__ = ["to_json"]


def to_json(instrument: Instrument) -> dict[str, Any]:
    """Return an instrument as one JSON object, units in the names (numbers unrounded)."""
    answer = asdict(instrument)
    for side, entry in zip(instrument.sides, answer["sides"], strict=True):
        entry["length_m"] = side.length_m
    for slide, entry in zip(instrument.slides, answer["slides"], strict=True):
        entry["cents_per_mm"] = {
            side: instrument.cents_per_mm(side, slide.name) for side in slide.sides
        }
    if instrument.fixed_pitch is not None:
        answer |= {"sides": (), "priors": None}
    return answer
