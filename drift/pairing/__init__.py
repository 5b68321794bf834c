"""Each reading with its temperature, its playing time and its slides undone."""

from __future__ import annotations

from drift.pairing.readings import (
    GAP_MINUTES,
    SETTLE_SECONDS,
    TYPED_MINUTES,
    left_out,
    pair,
    temperatures_at,
)

__all__ = [
    "GAP_MINUTES",
    "SETTLE_SECONDS",
    "TYPED_MINUTES",
    "left_out",
    "pair",
    "temperatures_at",
]
