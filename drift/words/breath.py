"""The air in a played bore, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from drift.breath import PlayedAir

__all__ = ["summary_of"]


def summary_of(air: PlayedAir) -> str:
    """Return the parts and their sum."""
    return (
        f"air in the bore {air.celsius:.1f} °C, water {100 * air.water_fraction:.1f} %, "
        f"carbon dioxide {100 * air.co2_fraction:.1f} %\n"
        f"warmth {air.warmth_cents:+.1f}, water {air.water_cents:+.1f}, "
        f"carbon dioxide {air.co2_cents:+.1f}: together {air.cents:+.1f} cents"
    )
