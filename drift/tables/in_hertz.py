"""Cents that are the frequency of the note in their row: a tuner shows both."""

from __future__ import annotations

from contextlib import suppress

import numpy as np
import numpy.typing as npt

from drift.errors import DriftError, InputError
from drift.notes import cents_between, hertz_of, shown
from drift.quantities import HERTZ, read_quantity
from drift.tables.columns import Column, Floats, Packed, Texts

__all__ = ["in_hertz", "refused_as_hertz"]

NEAR_CENTS = 100.0
"""A number no farther from the pitch of its note than this is its frequency."""


def in_hertz(cents: Column, notes: Texts, wrong: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Return which of the cents that cannot be taken are the frequency of their note [Hz]."""
    found = np.zeros(len(wrong), dtype=bool)
    for row in np.flatnonzero(wrong).tolist():
        hertz = _number(cents, row)
        if hertz is not None and hertz > 0.0:
            with suppress(DriftError):  # not a note
                off = cents_between(hertz, hertz_of(notes.at(row)))
                found[row] = abs(off) <= NEAR_CENTS
    return found


def refused_as_hertz(cents: Column, notes: Texts, row: int) -> tuple[str, str, str]:
    """Return value, problem and remedy of such a row."""
    value = f"{_number(cents, row):g}"
    refusal = InputError(
        f"{value} is the pitch of {shown(notes.at(row))} in Hz, not in cents",
        "give how many cents the note was off: 1200 log2(Hz read / Hz of the note)",
    )
    return value, refusal.problem, refusal.remedy


def _number(column: Column, row: int) -> float | None:
    if isinstance(column, Floats):
        return float(column.values[row])
    if isinstance(column, Texts | Packed):
        return read_quantity(column.at(row), HERTZ)
    return None
