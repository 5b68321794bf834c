"""From checked columns to DataFrames, as `drift.logbook.rehearsals.Rehearsals` holds them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from drift.logbook.records import Column as Rule
from drift.tables.columns import Packed, arrow_of
from drift.tables.headers import columns_of

__all__ = ["frame_of"]


def frame_of(table: str, values: Mapping[str, Any]) -> pd.DataFrame:
    """Return the columns of a table, as `drift.tables.checking.checked_values` gives them."""
    return pd.DataFrame({rule.name: _series(rule, values[rule.name]) for rule in columns_of(table)})


def _series(rule: Rule, values: Any) -> pd.Series[Any]:
    if rule.kind == "time":
        return pd.Series(values.astype("datetime64[us]")).dt.tz_localize("UTC")
    if rule.is_number or rule.kind == "boolean":
        return pd.Series(values)
    if isinstance(values, Packed):
        return pd.Series(pd.array(arrow_of(values), dtype="str"))
    known = pd.array(values.known or [""], dtype="str")
    return pd.Series(known.take(values.codes))
