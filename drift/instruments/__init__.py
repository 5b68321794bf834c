"""The instruments: what they are made of, and the catalogue that lists them."""

from __future__ import annotations

from drift.instruments.anatomy import FixedPitch, Instrument, Priors, Side, Slide, Valve
from drift.instruments.finding import canonical_name, catalogue, entry_text, find

__all__ = [
    "FixedPitch",
    "Instrument",
    "Priors",
    "Side",
    "Slide",
    "Valve",
    "canonical_name",
    "catalogue",
    "entry_text",
    "find",
]
