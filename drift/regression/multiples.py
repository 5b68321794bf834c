"""Covariates that are so much for each degree: with them the slopes of players differ."""

from __future__ import annotations

import numpy as np
import pandas as pd

from drift.regression.grouping import numbered
from drift.regression.warmup import REFERENCE_CELSIUS

__all__ = ["multiples_of"]

AWAY = 0.02
"""Of its own size such a column may be elsewhere: temperatures are paired, columns are rounded."""
TEMPERATURES = 3
"""Readings of a player at fewer temperatures cannot tell such a column from another."""
APART = 0.05
"""Players who differ by less, of the greatest, have one slope in common."""


def multiples_of(rows: pd.DataFrame, name: str) -> dict[tuple[str, str], float]:
    """Return how much a column is for each °C from 20, by instrument and player.

    The age of an instrument, say, times ``celsius - 20``: what a warm day does grows with it.

    Parameters
    ----------
    rows : DataFrame
        Readings with ``instrument, player, celsius`` and the column, of numbers.
    name : str
        The column.

    Returns
    -------
    dict of (str, str) to float
        Empty where the column is no such product: where it is not a multiple of ``celsius - 20`` in
        the readings of every player, or the same one in all of them.

    Examples
    --------
    >>> rows = pd.DataFrame({"instrument": "horn", "player": list("aaabbb"),
    ...                      "celsius": [16.0, 21.0, 25.0] * 2})
    >>> rows["years_slope"] = (rows["celsius"] - 20.0) * ([10.0] * 3 + [-5.0] * 3)
    >>> multiples_of(rows, "years_slope")
    {('horn', 'a'): 10.0, ('horn', 'b'): -5.0}
    """
    codes, players = numbered(rows, ["instrument", "player"])
    away = rows["celsius"].to_numpy(dtype=float) - REFERENCE_CELSIUS
    values = rows[name].to_numpy(dtype=float)
    squares = np.bincount(codes, away**2)
    products = np.bincount(codes, away * values)
    each = np.divide(products, squares, out=np.zeros(len(squares)), where=squares > 0.0)
    elsewhere = values - each[codes] * away
    if not np.sqrt((elsewhere**2).mean()) <= AWAY * np.sqrt((values**2).mean()):
        return {}
    seen = pd.Series(away.round(1)).groupby(codes).nunique().to_numpy() >= TEMPERATURES
    telling = each[seen]
    if 2 * len(telling) < len(each) or not len(telling):
        return {}
    if not np.ptp(telling) > APART * np.abs(telling).max():
        return {}
    return {(str(what), str(who)): float(one)
            for (what, who), one in zip(players, each, strict=True)}  # fmt: skip
