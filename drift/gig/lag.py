"""How much later than planned pitch followed the air on an evening."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from drift.regression.results import Estimate

__all__ = ["LAGS_MINUTES", "lag_of"]

Array = NDArray[np.float64]

#: An evening is planned again for instruments that follow the air so much later [min].
LAGS_MINUTES = (-3.0, 3.0, 6.0, 12.0)
#: The lag is given from so many readings beyond the means on, where it is known to within this.
FEWEST_FREE, WIDEST_MINUTES = 4, 5.0


def lag_of(
    cents: Array, lags: Array, planned: Array, groups: NDArray[np.object_]
) -> Estimate | None:
    """Return the lag that explains readings best, None where they do not show it.

    Parameters
    ----------
    cents : ndarray, shape (n,)
        What was read while the band played [cents].
    lags : ndarray, shape (k,)
        Lags that were planned with, rising [min].
    planned : ndarray, shape (k, n)
        What each of them plans for each reading [cents].
    groups : ndarray, shape (n,)
        Section and block: each keeps a mean of its own, which takes in where slides were left.

    Returns
    -------
    Estimate or None
        With its 95 % interval [min], as far as lags were planned with; None where that is wider
        than 5 minutes each way or too few were read.

    Notes
    -----
    Between the lags planned with, the plan is interpolated. The sum of squares ``S`` of the
    errors, less the mean of each group, is smallest at the estimate; the interval is where
    ``S <= S_min (1 + t²/f)`` with the 97.5 % quantile ``t`` of ``f`` degrees of freedom.

    Examples
    --------
    >>> minutes = np.arange(8.0)
    >>> planned = np.array([10 * np.exp(-minutes / (5 + lag)) for lag in (0.0, 4.0)])
    >>> noise = np.array([0.1, -0.1] * 4)
    >>> round(lag_of(planned.mean(axis=0) + noise, np.array([0.0, 4.0]), planned,
    ...              np.array(["horns"] * 8)).estimate)
    2
    """
    from scipy.stats import t

    names, place = np.unique(groups, return_inverse=True)
    free = len(cents) - len(names) - 1
    if free < FEWEST_FREE:
        return None
    fine = np.arange(lags[0], lags[-1] + 0.05, 0.1)
    at = np.clip(np.searchsorted(lags, fine, side="right") - 1, 0, len(lags) - 2)
    share = ((fine - lags[at]) / (lags[at + 1] - lags[at]))[:, None]
    errors = cents - ((1 - share) * planned[at] + share * planned[at + 1])
    counts = np.bincount(place)
    means = np.array([np.bincount(place, row) / counts for row in errors])
    squares = ((errors - means[:, place]) ** 2).sum(axis=1)
    best = int(squares.argmin())
    bound = squares[best] * (1.0 + t.ppf(0.975, free) ** 2 / free) + 1e-9
    inside = fine[squares <= bound]
    low, high = float(inside[0]), float(inside[-1])
    if math.isclose(low, high) or high - low > 2 * WIDEST_MINUTES:
        return None
    return Estimate(float(fine[best]), low, high)
