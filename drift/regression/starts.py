"""How warm instruments were when they began: stated, or estimated where nothing is said."""

from __future__ import annotations

import numpy as np
import pandas as pd

__all__ = ["STARTS", "with_start"]

STARTS = ("stated", "estimated")

COLD = 1e-9
"""Stands for a stated 0 in a table that leaves other rows open: 0 alone is nothing said."""


def with_start(rows: pd.DataFrame, start: str) -> pd.DataFrame:
    """Return rows in which an ``initial_warmth`` of 0 is one that is to be estimated.

    Parameters
    ----------
    rows : DataFrame
        With ``initial_warmth``. If it is empty anywhere, nothing is said there, and 0 is cold; if
        it is empty nowhere, 0 is nothing said, as `drift.pair` has it.
    start : str
        Of `STARTS`.

    Examples
    --------
    >>> rows = pd.DataFrame({"initial_warmth": [0.0, np.nan, 0.5]})
    >>> with_start(rows, "estimated")["initial_warmth"].tolist()
    [1e-09, 0.0, 0.5]
    """
    warmth = rows["initial_warmth"].to_numpy(dtype=float)
    unsaid = np.isnan(warmth)
    if start != "estimated" or not unsaid.any():
        return rows
    return rows.assign(initial_warmth=np.where(unsaid, 0.0, np.maximum(warmth, COLD)))
