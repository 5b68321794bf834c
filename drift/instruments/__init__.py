"""The instruments: what they are made of, and the catalogue that lists them."""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

from drift.instruments.catalogue import Catalogue, canonical_name, find, known_name

if TYPE_CHECKING:
    from drift.instruments.anatomy import FixedPitch as FixedPitch
    from drift.instruments.anatomy import Instrument as Instrument
    from drift.instruments.anatomy import Priors as Priors
    from drift.instruments.anatomy import Side as Side
    from drift.instruments.anatomy import Slide as Slide
    from drift.instruments.anatomy import Valve as Valve

__all__ = [
    "Catalogue",
    "FixedPitch",
    "Instrument",
    "Priors",
    "Side",
    "Slide",
    "Valve",
    "canonical_name",
    "find",
    "known_name",
]


# Handed on when it is asked for: a log starts with the names of instruments alone.
def __getattr__(name: str) -> Any:
    if name in __all__:
        return getattr(importlib.import_module("drift.instruments.anatomy"), name)
    raise AttributeError(f"module 'drift.instruments' has no attribute {name!r}")
