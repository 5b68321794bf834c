"""Least squares over millions of readings: one pass, intercepts absorbed, parts that merge.

A player's notes have thousands of intercepts and nobody wants to see them. What the two slopes and
their clustered errors need of the readings is a table of sums, one row for each intercept in each
rehearsal. Sums add up: chunks of a file, halves of a data set and partitions of a cluster are all
the same to it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.errors import TooLittleData

__all__ = ["COLUMNS", "Slopes", "Sums", "absorb", "merged", "sums_of"]

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int64]

COLUMNS = ("celsius", "playing_minutes", "reference_cents")
SHIFTS = np.array([20.0, 0.0, 0.0])
"""Subtracted first: sums of squares of numbers near zero keep more digits."""

PAIRS = ((0, 0), (0, 1), (1, 1), (0, 2), (1, 2), (2, 2))
"""Which products are summed: XX, XY, YY of the two columns and the cents."""


@dataclass(frozen=True)
class Sums:
    """Everything that least squares with clustered errors needs of some readings.

    Parameters
    ----------
    intercepts, clusters : Index
        Keys of the intercepts and of the clusters, in the order of their codes.
    cell_intercept, cell_cluster : integer arrays of shape (c,)
        The cells: which intercepts occur in which clusters.
    counts : array of shape (c,)
        Readings in each cell.
    totals : array of shape (c, 3)
        Sums of the two columns and of the cents in each cell.
    products : array of shape (clusters, 6)
        Sums of products in each cluster, in the order of `PAIRS`.
    """

    intercepts: pd.Index[Any]
    clusters: pd.Index[Any]
    cell_intercept: Codes
    cell_cluster: Codes
    counts: Array
    totals: Array
    products: Array

    def __add__(self, other: Sums) -> Sums:
        """Return the sums of both sets of readings together."""
        return merged([self, other])

    @property
    def readings(self) -> int:
        """Number of readings."""
        return int(self.counts.sum())


@dataclass(frozen=True)
class Slopes:
    """Two slopes and their clustered covariance.

    Parameters
    ----------
    coefficients : array of shape (2,)
        Cents per °C and per minute of playing.
    covariance : array of shape (2, 2)
        Clustered (one cluster: not clustered).
    variance : float
        Residual variance (cents²).
    readings, intercepts, clusters : int
        How many.
    r_squared : float
        Within the intercepts.
    entanglement : float
        Correlation of the two columns within the intercepts.
    """

    coefficients: Array
    covariance: Array
    variance: float
    readings: int
    intercepts: int
    clusters: int
    r_squared: float
    entanglement: float

    @property
    def standard_errors(self) -> Array:
        """Standard errors of the two slopes."""
        return np.asarray(np.sqrt(np.diag(self.covariance)))


def sums_of(rows: pd.DataFrame, by: tuple[str, ...] = ("player", "side", "note")) -> Sums:
    """Return the sums of some readings, in one pass.

    Parameters
    ----------
    rows : DataFrame
        ``rehearsal``, the columns of ``by``, and `COLUMNS`; any subset of the readings.
    by : tuple of str
        What an intercept belongs to.
    """
    codes, keys = _codes(rows, list(by))
    clusters, names = pd.factorize(rows["rehearsal"])
    values = rows[list(COLUMNS)].to_numpy(dtype=float) - SHIFTS
    return _summed(
        pd.Index(keys),
        pd.Index(names),
        codes,
        clusters.astype(np.int64),
        np.ones(len(rows)),
        values,
        _products(values, clusters, len(names)),
    )


def merged(parts: Iterable[Sums]) -> Sums:
    """Return the sums of several sets of readings together.

    Parameters
    ----------
    parts : iterable of Sums
        Of chunks, files or partitions; in any order.
    """
    known = list(parts)
    intercepts = _union([part.intercepts for part in known])
    clusters = _union([part.clusters for part in known])
    of_intercept = [intercepts.get_indexer(part.intercepts) for part in known]
    of_cluster = [clusters.get_indexer(part.clusters) for part in known]
    products = np.zeros((len(clusters), len(PAIRS)))
    for part, where in zip(known, of_cluster, strict=True):
        products[where] += part.products
    return _summed(
        intercepts,
        clusters,
        np.concatenate([c[p.cell_intercept] for c, p in zip(of_intercept, known, strict=True)]),
        np.concatenate([c[p.cell_cluster] for c, p in zip(of_cluster, known, strict=True)]),
        np.concatenate([part.counts for part in known]),
        np.concatenate([part.totals for part in known]),
        products,
    )


def absorb(sums: Sums) -> Slopes:
    """Return the slopes of least squares with every intercept absorbed.

    Parameters
    ----------
    sums : Sums
        Of all readings.

    Raises
    ------
    TooLittleData
        If the two columns can not be told apart, or there are too few readings.

    Notes
    -----
    With ``~`` for "less the mean of its intercept", ``b = (X~'X~)^-1 X~'y~``. The clustered
    covariance sums outer products of the scores ``s_g = sum over g of x~ e~``, which expand into
    sums of products in the cluster and products of the intercepts' means with the sums of its
    cells; so no reading is needed twice. Corrections: ``G/(G-1) (n-1)/(n-k)``, with ``k`` counting
    the intercepts, as for the same regression with a column for each intercept.
    """
    within, scores = _within(sums)
    cross, right, total = within[:2, :2], within[:2, 2], within[2, 2]
    freedom = sums.readings - len(sums.intercepts) - 2
    size = float(np.sqrt(cross[0, 0] * cross[1, 1]))
    entanglement = float(cross[0, 1]) / size if size > 0.0 else float("nan")
    if freedom < 1 or not abs(entanglement) < 1.0 - 1e-9:
        raise TooLittleData(
            f"{sums.readings} readings can not tell temperature from playing time"
            if freedom > 0
            else f"{sums.readings} readings for {len(sums.intercepts) + 2} numbers to estimate",
            "log the same notes at more than one temperature and more than one playing time",
        )
    coefficients = np.linalg.solve(cross, right)
    squares = float(total - right @ coefficients)
    bread = np.linalg.inv(cross)
    count = len(sums.clusters)
    if count > 1:
        score = scores[:, :2, 2] - scores[:, :2, :2] @ coefficients
        correction = count / (count - 1) * (sums.readings - 1) / freedom
        covariance = correction * bread @ (score.T @ score) @ bread
    else:
        covariance = squares / freedom * bread
    return Slopes(
        np.asarray(coefficients, dtype=float),
        covariance,
        squares / freedom,
        sums.readings,
        len(sums.intercepts),
        count,
        1.0 - squares / float(total),
        entanglement,
    )


def _within(sums: Sums) -> tuple[Array, Array]:
    """Return products within the intercepts, in all and by cluster: (3, 3) and (clusters, 3, 3)."""
    groups, clusters = len(sums.intercepts), len(sums.clusters)
    counts = np.bincount(sums.cell_intercept, sums.counts, groups)
    means = (
        np.column_stack(
            [np.bincount(sums.cell_intercept, column, groups) for column in sums.totals.T]
        )
        / counts[:, None]
    )
    rows = sums.cell_cluster
    here = means[sums.cell_intercept]
    products = np.empty((clusters, 3, 3))
    for position, (first, second) in enumerate(PAIRS):
        # sum of (a - A)(b - B) over a cell = ab - A b - B a + n A B
        less = (
            here[:, first] * sums.totals[:, second]
            + here[:, second] * sums.totals[:, first]
            - sums.counts * here[:, first] * here[:, second]
        )
        value = sums.products[:, position] - np.bincount(rows, less, clusters)
        products[:, first, second] = products[:, second, first] = value
    return np.asarray(products.sum(axis=0)), products


def _codes(rows: pd.DataFrame, by: list[str]) -> tuple[Codes, Any]:
    """Return a code for each row and the keys, as tuples, of the codes that occur."""
    parts = [pd.factorize(rows[name]) for name in by]
    combined = np.zeros(len(rows), dtype=np.int64)
    for codes, names in parts:
        combined = combined * len(names) + codes
    dense, occurring = pd.factorize(combined)
    labels = []
    for _, names in reversed(parts):
        labels.append(np.asarray(names)[occurring % len(names)])
        occurring = occurring // len(names)
    return dense.astype(np.int64), pd.MultiIndex.from_arrays(labels[::-1], names=by)


def _products(values: Array, clusters: Any, count: int) -> Array:
    """Return the sums of products in each cluster, shape (clusters, 6)."""
    return np.column_stack(
        [np.bincount(clusters, values[:, a] * values[:, b], count) for a, b in PAIRS]
    )


def _summed(
    intercepts: pd.Index[Any],
    clusters: pd.Index[Any],
    of_intercept: Codes,
    of_cluster: Codes,
    counts: Array,
    totals: Array,
    products: Array,
) -> Sums:
    """Return sums with one row for each cell that occurs."""
    cells, which = _cells(
        of_cluster * len(intercepts) + of_intercept, len(intercepts) * len(clusters)
    )
    size = len(cells)
    return Sums(
        intercepts,
        clusters,
        cells % len(intercepts),
        cells // len(intercepts),
        np.asarray(np.bincount(which, counts, size), dtype=float),
        np.column_stack([np.bincount(which, column, size) for column in totals.T]),
        products,
    )


def _cells(combined: Codes, space: int) -> tuple[Codes, Codes]:
    """Return the cells that occur and which of them each row belongs to."""
    if space > 20_000_000:
        which, cells = pd.factorize(combined)
        return cells, which.astype(np.int64)
    occurs = np.zeros(space, dtype=bool)
    occurs[combined] = True
    number = np.cumsum(occurs) - 1
    return np.flatnonzero(occurs), number[combined]


def _union(indexes: list[pd.Index[Any]]) -> pd.Index[Any]:
    """Return all keys, in order of first appearance."""
    whole = indexes[0]
    for index in indexes[1:]:
        whole = whole.append(index)
    return whole.drop_duplicates()
