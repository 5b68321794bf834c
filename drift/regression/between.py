"""Whether what a fit leaves over from rehearsal to rehearsal follows the temperature.

How a rehearsal differs from the others is an effect of its own in the methods that have one. Where
rooms warm along with the instruments, and these do not warm as the method assumes, the slope of
temperature serves to mend the course within a rehearsal; the effects of the rehearsals then undo
what it does between them. Residuals show nothing of it: the effects have taken it all.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.regression.grouping import intercepts_of, less_means, numbered
from drift.regression.layout import WARMED_MINUTES

__all__ = ["follows_air", "warm_slope_in"]

FEWEST_REHEARSALS = 4
LEAST_CENTS_PER_CELSIUS = 0.5
LEAST_T = 5.0
"""Of 4 rehearsals this is chance in 4 % of seasons, of 8 in 0.2 %, when nothing follows."""


def follows_air(rows: pd.DataFrame, beside: Sequence[str] = ()) -> float | None:
    """Return by how much what is left over from rehearsal to rehearsal rises with the air.

    Parameters
    ----------
    rows : DataFrame
        Those of a fit, of one instrument: with ``reference_cents``, ``drift``, ``celsius``,
        ``rehearsal`` and what `drift.regression.grouping.intercepts_of` asks for.
    beside : sequence of str
        Columns of numbers whose effects the drift holds too: what is left over follows them as far
        as an effect was taken for another, so that they are allowed for.

    Returns
    -------
    float or None
        cents/°C, negative where rehearsals differ by less than the fit says; None where it is no
        more than chance, or too few rehearsals or temperatures tell.
    """
    rehearsals, names = numbered(rows, ["rehearsal"])
    if len(names) < FEWEST_REHEARSALS:
        return None
    left = rows["reference_cents"].to_numpy(dtype=float) - rows["drift"].to_numpy(dtype=float)
    known = rows[["celsius", *beside]].to_numpy(dtype=float)
    both = less_means(np.column_stack([known, left]), intercepts_of(rows))
    air, *others, over = (each - each.mean() for each in _means(both, rehearsals).T)
    free = len(names) - 2 - len(others)
    if free < 1:
        return None
    if others:
        air, over = _without(np.column_stack(others), np.column_stack([air, over])).T
    spread = float(air @ air)
    if spread <= 1e-9:
        return None
    slope = float(air @ over) / spread
    rest = over - slope * air
    error = float(np.sqrt(rest @ rest / free / spread))
    chance = abs(slope) < max(LEAST_CENTS_PER_CELSIUS, LEAST_T * error)
    return None if chance else slope


def warm_slope_in(rows: pd.DataFrame) -> float | None:
    """Return by how much the expected drift of warm instruments rises with the air [cents/°C].

    Parameters
    ----------
    rows : DataFrame
        Those of a fit, of one instrument, with ``playing_minutes`` and ``minutes_into_spell``.

    Returns
    -------
    float or None
        None where no readings of warm instruments tell.
    """
    warm = rows[rows["minutes_into_spell"] >= WARMED_MINUTES]
    if len(warm) < FEWEST_REHEARSALS:
        return None
    columns = warm[["celsius", "playing_minutes", "drift"]].to_numpy(dtype=float)
    within = less_means(columns, intercepts_of(warm))
    slopes, _, rank, _ = np.linalg.lstsq(within[:, :2], within[:, 2], rcond=None)
    return float(slopes[0]) if rank == 2 else None


def _without(
    others: npt.NDArray[np.float64], values: npt.NDArray[np.float64]
) -> npt.NDArray[np.float64]:
    """Return values without what a straight line in other columns explains of them."""
    return values - others @ np.linalg.lstsq(others, values, rcond=None)[0]


def _means(
    values: npt.NDArray[np.float64], groups: npt.NDArray[np.int64]
) -> npt.NDArray[np.float64]:
    """Return the mean of each column in each group, shape (groups, columns)."""
    counts = np.bincount(groups)
    return np.column_stack([np.bincount(groups, column) / counts for column in values.T])
