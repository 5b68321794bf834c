"""Numbers for the groups that rows belong to, and columns less the means of their group."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.groups import codes_of

__all__ = ["INTERCEPT", "days_of", "intercepts_of", "less_means", "numbered", "without_rows"]

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int64]

INTERCEPT = ("instrument", "player", "side", "note")
"""What has a pitch of its own."""


def numbered(rows: pd.DataFrame, by: Sequence[str]) -> tuple[Codes, pd.Index[Any]]:
    """Return a number for each row, from zero, and the keys of the groups in that order.

    Parameters
    ----------
    rows : DataFrame
        With the columns of ``by``; categorical ones are fastest.
    by : sequence of str
        What makes a group.

    Examples
    --------
    >>> rows = pd.DataFrame({"player": ["Rowan", "Isolde", "Rowan"], "note": ["F4", "F4", "F4"]})
    >>> codes, keys = numbered(rows, ["player", "note"])
    >>> codes.tolist(), keys.tolist()
    ([0, 1, 0], [('Rowan', 'F4'), ('Isolde', 'F4')])
    """
    parts = [codes_of(rows[name]) for name in by]
    if len(parts) == 1:
        return parts[0]
    combined = np.zeros(len(rows), dtype=np.int64)
    for codes, names in parts:
        combined = combined * len(names) + codes
    possible = math.prod(len(names) for _, names in parts)
    dense, occurring = pd.factorize(combined, size_hint=min(possible, len(rows)))
    labels = []
    for _, names in reversed(parts):
        labels.append(names.take(occurring % len(names)))
        occurring = occurring // len(names)
    return dense.astype(np.int64, copy=False), pd.MultiIndex.from_arrays(
        labels[::-1], names=list(by)
    )


def intercepts_of(rows: pd.DataFrame) -> Codes:
    """Return which intercept each row has: a note of a player, on a side of an instrument.

    Parameters
    ----------
    rows : DataFrame
        With ``intercept``, or the columns of `INTERCEPT` as far as there are any.
    """
    if "intercept" in rows:
        return rows["intercept"].to_numpy(dtype=np.int64)
    return numbered(rows, [name for name in INTERCEPT if name in rows])[0]


def days_of(rows: pd.DataFrame) -> Codes:
    """Return which day each row has: a player at a rehearsal.

    Parameters
    ----------
    rows : DataFrame
        With ``rehearsal, player``; where ``intercept`` is known, a player is looked up once for
        each.
    """
    if "intercept" not in rows:
        return numbered(rows, ["player", "rehearsal"])[0]
    intercepts = intercepts_of(rows)
    last_row = np.zeros(intercepts.max() + 1, dtype=np.intp)
    last_row[intercepts] = np.arange(len(rows))
    players = codes_of(rows["player"].iloc[last_row])[0][intercepts]
    rehearsals, names = codes_of(rows["rehearsal"])
    return pd.factorize(players * len(names) + rehearsals)[0]


def less_means(values: Array, codes: Codes) -> Array:
    """Return columns, shape (n,) or (n, m), less the mean of their group."""
    counts = np.maximum(np.bincount(codes), 1)
    columns = values.reshape(len(values), -1)
    away = np.empty(columns.shape)
    for number, column in enumerate(columns.T):
        away[:, number] = column - (np.bincount(codes, column) / counts)[codes]
    return away.reshape(values.shape)


def without_rows(rows: pd.DataFrame, column: str, out: npt.NDArray[np.bool_]) -> tuple[str, ...]:
    """Return the names in a column of which all rows are out; none where all rows are."""
    codes, names = numbered(rows, [column])
    left = np.bincount(codes[~out], minlength=len(names)) > 0
    gone = sorted(str(name) for name, some in zip(names, left, strict=True) if not some)
    return tuple(gone) if left.any() else ()
