"""Gaps of a logger: rows of temperatures in which it wrote none."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from drift.tables.columns import Column, Floats, Packed, Table, Texts, rows_of
from drift.tables.understood import Gaps

__all__ = ["without_gaps"]


def without_gaps(table: Table) -> tuple[Table, list[Gaps]]:
    """Return a table of temperatures without the rows that hold none, and how many they are.

    A table with no temperature at all is no gap: it is left as it is, to be refused. So is one of
    another name.
    """
    degrees = [name for name in ("celsius", "fahrenheit") if name in table.columns]
    if table.name != "temperatures" or len(degrees) != 1:
        return table, []
    filled = _filled(table.columns[degrees[0]])
    if filled.all() or not filled.any():
        return table, []
    gone = np.flatnonzero(~filled)
    first = str(table.place(gone[:1])[0])
    return rows_of(table, np.flatnonzero(filled)), [Gaps(table.source, len(gone), first)]


def _filled(column: Column) -> npt.NDArray[np.bool_]:
    if isinstance(column, Floats):
        return np.asarray(~np.isnan(column.values))
    if isinstance(column, Packed):
        return column.filled()
    if isinstance(column, Texts) and column.known:
        known = np.array([bool(text.strip()) for text in column.known], dtype=bool)
        return np.asarray(known[column.codes])
    return np.ones(0, dtype=bool)
