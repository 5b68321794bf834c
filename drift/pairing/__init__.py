"""Each reading with its temperature, its playing time and its slides undone."""

from __future__ import annotations

from drift.pairing.nearest import GAP_MINUTES, TYPED_MINUTES
from drift.pairing.paired import LeftOut, Paired, Reason
from drift.pairing.readings import SETTLE_SECONDS, pair
from drift.pairing.thermometers import chosen_thermometers, temperatures_at

__all__ = [
    "GAP_MINUTES",
    "SETTLE_SECONDS",
    "TYPED_MINUTES",
    "LeftOut",
    "Paired",
    "Reason",
    "chosen_thermometers",
    "pair",
    "temperatures_at",
]
