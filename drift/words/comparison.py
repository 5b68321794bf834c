"""How methods do on rehearsals that they have not seen, in words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from drift.regression.comparison import Comparison

__all__ = ["summary_of"]

ENOUGH_REHEARSALS = 6
"""With fewer, one odd day decides between methods."""


def summary_of(found: Comparison) -> str:
    """Return the errors, a line a method."""
    lines = ["left out each rehearsal in turn and predicted it from the others:"]
    for row in found.to_frame().to_dict("records"):
        line = f"  {row['method']}: {_off(row['rms_cents'])}"
        if row["rehearsals_refused"]:
            line += f", refused {row['rehearsals_refused']} times"
        lines.append(line)
    rehearsals = found.errors["rehearsal"].nunique()
    if rehearsals < ENOUGH_REHEARSALS:
        lines.append(f"  note: few rehearsals ({rehearsals}): one odd day decides between them")
    return "\n".join(lines)


def _off(rms_cents: float) -> str:
    """Return an error in words; a method that never answered has none."""
    return "—" if math.isnan(rms_cents) else f"{rms_cents:.2f} cents off (root mean square)"
