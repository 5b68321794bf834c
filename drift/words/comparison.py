"""How methods do on rehearsals that they have not seen, in words."""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping
from typing import TYPE_CHECKING, Any

from drift.regression.comparison import NO_DRIFT
from drift.words.fit import warning_text
from drift.words.left_out import why
from drift.words.letters import capital

if TYPE_CHECKING:
    from drift.regression.comparison import Comparison

__all__ = ["refusals", "summary_of"]

ENOUGH_REHEARSALS = 6
"""With fewer, one odd day decides between methods."""


def summary_of(found: Comparison) -> str:
    """Return the errors, a line a method."""
    lines = ["left out each rehearsal in turn and predicted it from the others:"]
    for row in found.to_frame().to_dict("records"):
        line = f"  {row['method']}: {_off(row)}"
        if row["behind_standard_error_cents"] > 0.0:
            line += (
                f"; in the mean of rehearsals {row['behind_cents']:.2f} more than the best "
                f"(standard error {row['behind_standard_error_cents']:.2f})"
            )
        line += _refused(found, row["method"])
        lines.append(line)
    rehearsals = found.errors["rehearsal"].nunique()
    if rehearsals < ENOUGH_REHEARSALS:
        lines.append(f"  note: few rehearsals ({rehearsals}): one odd day decides between them")
    lines += [f"  note: {one}" for one in _notes(found)]
    return "\n".join(lines)


def refusals(found: Comparison) -> list[str]:
    """Return a sentence for each method that refused, left a term out, or is worth nothing here."""
    methods = (str(one) for one in found.errors["method"].unique())
    refused = [f"{one}{told}." for one in methods if (told := _refused(found, one))]
    return refused + [f"{capital(one)}." for one in _notes(found)]


def _notes(found: Comparison) -> list[str]:
    """Return which methods are worth nothing here, and what the straight lines left out."""
    left_out = [f"left out: {one.count} {why(one)}" for one in found.left_out]
    left_out += [f"straight lines: {warning_text(one)}" for one in found.warnings]
    rms = found.to_frame().set_index("method")["rms_cents"]
    worse = [str(method) for method in rms.index if rms[method] > rms.get(NO_DRIFT, math.inf)]
    if not worse:
        return left_out
    which = "it" if len(worse) == 1 else "them"
    told = f"worse than no drift at all: {', '.join(worse)}; do not use {which} here"
    return [told, *left_out]


def _refused(found: Comparison, method: str) -> str:
    """Return how often a method refused, and why, the first time where reasons differ."""
    rows = found.errors[found.errors["method"] == method]
    reasons = rows.loc[rows["refused"] != "", "refused"]
    if reasons.empty:
        return ""
    if len(reasons) == len(rows) and reasons.nunique() == 1:
        return f", refused: {reasons.iloc[0]}"
    first = "first" if reasons.nunique() > 1 else "each time"
    how = {1: "once", 2: f"twice, {first}"}.get(len(reasons), f"{len(reasons)} times, {first}")
    return f", refused {how}: {reasons.iloc[0]}"


def _off(row: Mapping[Hashable, Any]) -> str:
    """Return an error in words; a method that never answered has none."""
    if math.isnan(row["rms_cents"]):
        return "—"
    return (
        f"{row['rms_cents']:.2f} cents off (root mean square; "
        f"{row['lowest_cents']:.1f} to {row['highest_cents']:.1f} in single rehearsals)"
    )
