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

from drift.regression.grouping import days_of, intercepts_of, less_means, numbered
from drift.regression.layout import WARMED_MINUTES

__all__ = ["follows_air", "warm_slope_in"]

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int64]

FEWEST_REHEARSALS = 4
LEAST_CENTS_PER_CELSIUS = 0.5
LEAST_T = 5.0
"""Of 4 rehearsals this is chance in 4 % of seasons, of 8 in 0.2 %, when nothing follows."""
LEAST_SHARE = 0.02
"""Of the variance of the air: where other columns leave less of it, air and these cannot be told
apart, and a small fault of the course is divided by next to nothing."""


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
        more than chance, too few rehearsals or temperatures tell, or other columns are the air.

    Notes
    -----
    The line goes through the means of each player's days: a column that differs between players at
    the same rehearsal, such as age times temperature, is told from the air by that, however alike
    their means of a rehearsal are. What is left over is taken to be common to a rehearsal, so that
    the standard error counts rehearsals, not days.
    """
    rehearsals, names = numbered(rows, ["rehearsal"])
    if len(names) < FEWEST_REHEARSALS:
        return None
    left = rows["reference_cents"].to_numpy(dtype=float) - rows["drift"].to_numpy(dtype=float)
    known = rows[["celsius", *beside]].to_numpy(dtype=float)
    free = len(names) - 2 - len(beside)
    if free < 1:
        return None
    both = less_means(np.column_stack([known, left]), intercepts_of(rows))
    days = days_of(rows)
    means = _means(both, days)
    means -= means.mean(axis=0)
    whole = float(means[:, 0] @ means[:, 0])
    air, over = _without(means[:, 1:-1], means[:, [0, -1]]).T
    spread = float(air @ air)
    if spread <= max(1e-9, LEAST_SHARE * whole):
        return None
    slope = float(air @ over) / spread
    of_day = rehearsals[np.unique(days, return_index=True)[1]]
    rest = _means((over - slope * air)[:, None], of_day)[:, 0]
    pull = np.bincount(of_day, air) / spread
    error = float(np.sqrt(rest @ rest / free * (pull @ pull)))
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


def _without(others: Array, values: Array) -> Array:
    """Return values without what a straight line in other columns explains of them."""
    return np.asarray(values - others @ np.linalg.lstsq(others, values, rcond=None)[0])


def _means(values: Array, groups: Codes) -> Array:
    """Return the mean of each column in each group, shape (groups, columns)."""
    counts = np.bincount(groups)
    return np.column_stack([np.bincount(groups, column) / counts for column in values.T])
