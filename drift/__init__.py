"""Measures how pitch drifts with temperature and playing, and says how far to move each slide.

Examples
--------
>>> import drift
>>> season = drift.load(drift.shipped.folder("datasets/cold-hall-season"))
>>> paired = drift.pair(season)
>>> fit = drift.fit(paired)
>>> moves = drift.correct(fit, instrument="double horn", celsius=33, minutes=30)
>>> [move.slide for move in moves.moves][:1]
['main']
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from drift import air as air
    from drift import notes as notes
    from drift import shipped as shipped
    from drift.logbook.rehearsals import load as load
    from drift.pairing import pair as pair
    from drift.regression.fits import fit as fit
    from drift.regression.fits import physics as physics
    from drift.regression.priors import InstrumentPriors as InstrumentPriors
    from drift.regression.priors import Priors as Priors
    from drift.slides.correction import correct as correct
    from drift.study import Study as Study

__version__ = "0.2.0.dev0"

__all__ = [
    "InstrumentPriors",
    "Priors",
    "Study",
    "air",
    "correct",
    "fit",
    "load",
    "notes",
    "pair",
    "physics",
    "shipped",
]

# Names are handed on when they are asked for: `drift --help` must not wait for pandas.
_HOMES = {
    "correct": "drift.slides.correction",
    "fit": "drift.regression.fits",
    "load": "drift.logbook.rehearsals",
    "pair": "drift.pairing",
    "physics": "drift.regression.fits",
    "InstrumentPriors": "drift.regression.priors",
    "Priors": "drift.regression.priors",
    "Study": "drift.study",
}


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(importlib.import_module(_HOMES[name]), name)
    if name in __all__:
        return importlib.import_module(f"drift.{name}")
    raise AttributeError(f"module 'drift' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
