"""Least squares over millions of readings: intercepts absorbed, six products a rehearsal.

A player's notes have thousands of intercepts and nobody wants to see them. Readings of whole
intercepts are solved for them and dropped: what is left are six products a rehearsal, however many
the readings and the intercepts are. Those of other players add to them.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.errors import TooLittleData
from drift.regression.grouping import less_means

__all__ = ["COLUMNS", "Blocks", "Slopes", "blocks_of", "solved"]

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int64]

COLUMNS = ("celsius", "playing_minutes", "reference_cents")

PAIRS = ((0, 0), (0, 1), (1, 1), (0, 2), (1, 2), (2, 2))
"""Which products are summed: XX, XY, YY of the two columns and the cents."""


@dataclass(frozen=True)
class Blocks:
    """What least squares with clustered errors needs of some intercepts, all their readings in it.

    Parameters
    ----------
    products : array of shape (clusters, 6)
        Sums of products about the means of the intercepts, in the order of `PAIRS`; zero for
        clusters that have no readings here.
    seen : array of bool, shape (clusters,)
        Which clusters have readings here.
    readings, intercepts : int
        How many.
    """

    products: Array
    seen: npt.NDArray[np.bool_]
    readings: int
    intercepts: int

    def __add__(self, other: Blocks) -> Blocks:
        """Return what both say that have no intercept in common."""
        return Blocks(
            self.products + other.products,
            self.seen | other.seen,
            self.readings + other.readings,
            self.intercepts + other.intercepts,
        )


@dataclass(frozen=True)
class Slopes:
    """Two slopes and their clustered covariance.

    Parameters
    ----------
    coefficients : array of shape (2,)
        Cents per °C and per minute of playing; 0 where it was not asked for.
    covariance : array of shape (2, 2)
        Clustered (one cluster: not clustered).
    variance : float
        Residual variance (cents²).
    readings, intercepts, clusters : int
        How many.
    r_squared : float
        Within the intercepts.
    regressor_correlation : float
        Correlation of the two columns within the intercepts.
    """

    coefficients: Array
    covariance: Array
    variance: float
    readings: int
    intercepts: int
    clusters: int
    r_squared: float
    regressor_correlation: float


def blocks_of(rows: pd.DataFrame, intercepts: Codes, clusters: Codes, count: int) -> Blocks:
    """Return what some readings say, in one pass.

    Parameters
    ----------
    rows : DataFrame
        `COLUMNS` of n readings: all there are of their intercepts.
    intercepts, clusters : arrays of shape (n,)
        Numbers from 0; every intercept up to the largest occurs.
    count : int
        How many clusters there are, here or elsewhere.
    """
    table = np.column_stack([rows[name].to_numpy(dtype=float) for name in COLUMNS])
    away = less_means(table, intercepts).T
    return Blocks(
        _by_cluster(away, clusters, count),
        np.bincount(clusters, minlength=count) > 0,
        len(rows),
        int(intercepts.max(initial=-1)) + 1,
    )


def solved(blocks: Blocks, columns: tuple[int, ...] = (0, 1)) -> Slopes:
    """Return the slopes of least squares with every intercept absorbed.

    Parameters
    ----------
    blocks : Blocks
        Of all readings.
    columns : tuple of int
        Which of the two columns to estimate.

    Raises
    ------
    TooLittleData
        If the two columns can not be told apart, or there are too few readings.

    Notes
    -----
    With ``~`` for "less the mean of its intercept", ``b = (X~'X~)^-1 X~'y~``. The clustered
    covariance sums outer products of the scores of the clusters, ``X~g'y~g - X~g'X~g b``.
    Corrections: ``G/(G-1) (n-1)/(n-k)``, with ``k`` counting the intercepts, as for the same
    regression with a column for each intercept.

    References
    ----------
    .. [1] R. Frisch, F. V. Waugh, "Partial time regressions as compared with individual trends",
       Econometrica 1, 387-401 (1933): why absorbing gives the same slopes.
    """
    by_cluster = np.empty((int(blocks.seen.sum()), 3, 3))
    for position, (a, b) in enumerate(PAIRS):
        by_cluster[:, a, b] = by_cluster[:, b, a] = blocks.products[blocks.seen, position]
    within = by_cluster.sum(axis=0)
    freedom = blocks.readings - blocks.intercepts - len(columns)
    size = float(np.sqrt(within[0, 0] * within[1, 1]))
    regressor_correlation = float(within[0, 1]) / size if size > 1e-9 else float("nan")
    if refusal := _refused_by(blocks, freedom, regressor_correlation, columns):
        raise refusal
    where = np.ix_(columns, columns)
    cross, right, total = within[where], within[list(columns), 2], within[2, 2]
    some = np.linalg.solve(cross, right)
    squares = float(total - right @ some)
    bread = np.linalg.inv(cross)
    count = len(by_cluster)
    if count > 1:
        inner = by_cluster[:, list(columns)][:, :, list(columns)]
        score = by_cluster[:, list(columns), 2] - inner @ some
        correction = count / (count - 1) * (blocks.readings - 1) / freedom
        covariance = correction * bread @ (score.T @ score) @ bread
    else:
        covariance = squares / freedom * bread
    coefficients, table = np.zeros(2), np.zeros((2, 2))
    coefficients[list(columns)], table[where] = some, covariance
    return Slopes(
        coefficients,
        table,
        squares / freedom,
        blocks.readings,
        blocks.intercepts,
        count,
        1.0 - squares / float(total),
        regressor_correlation,
    )


def _refused_by(
    blocks: Blocks, freedom: int, regressor_correlation: float, columns: tuple[int, ...]
) -> TooLittleData | None:
    """Return why no slope can be told from the readings, if none can."""
    if freedom < 1:
        numbers = blocks.intercepts + len(columns)
        problem = f"{blocks.readings} readings for {numbers} numbers to estimate"
    elif len(columns) == 2 and not abs(regressor_correlation) < 1.0 - 1e-9:
        problem = f"{blocks.readings} readings cannot separate temperature from playing time"
    else:
        return None
    remedy = "log the same notes at more than one temperature and more than one playing time"
    return TooLittleData(problem, remedy)


def _by_cluster(away: Array, clusters: Codes, count: int) -> Array:
    """Return the sums of products of each cluster, shape (clusters, 6)."""
    if (clusters[1:] >= clusters[:-1]).all():  # as readings come: one block a cluster
        ends = np.searchsorted(clusters, np.arange(count + 1))
        blocks = [away[:, low:high] @ away[:, low:high].T for low, high in itertools.pairwise(ends)]
        return np.array([[block[a, b] for a, b in PAIRS] for block in blocks]).reshape(count, 6)
    return np.stack([np.bincount(clusters, away[a] * away[b], count) for a, b in PAIRS], axis=1)
