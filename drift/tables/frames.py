"""From checked columns to DataFrames, as `drift.logbook.rehearsals.Rehearsals` holds them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from drift.logbook.records import Column as Rule
from drift.tables.columns import Packed, arrow_of
from drift.tables.headers import columns_of

__all__ = ["frame_of", "in_order"]


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


def in_order(frame: pd.DataFrame) -> pd.DataFrame:
    """Return the rows of a table by rehearsal, in order of time within each."""
    if "rehearsal" not in frame:
        return frame.sort_values("time", kind="stable", ignore_index=True)
    first = pd.factorize(frame["rehearsal"])[0]
    order = np.lexsort((frame["time"].to_numpy(dtype="datetime64[us]"), first))
    if (order[1:] > order[:-1]).all():
        return frame
    return frame.iloc[order].reset_index(drop=True)
