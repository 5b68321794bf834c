"""Least squares over millions of readings: one pass, intercepts absorbed, parts that merge.

A player's notes have thousands of intercepts and nobody wants to see them. What the two slopes and
their clustered errors need of the readings is a table of sums, one row for each intercept in each
rehearsal. They add up: chunks of a file, halves of a data set and partitions of a cluster are all
the same to it.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.errors import TooLittleData
from drift.regression.grouping import numbered

__all__ = ["COLUMNS", "Slopes", "Sums", "absorb", "merged", "sums_of"]

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int64]

COLUMNS = ("celsius", "playing_minutes", "reference_cents")
SPARE = 2.0
"""Cells are added up when there are this many times as many as there can be different ones."""

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
        The cells: readings of one intercept in one cluster (several cells may be of the same).
    counts : array of shape (c,)
        Readings in each cell.
    means : array of shape (3, c)
        Means of the two columns and of the cents in each cell.
    scatter : array of shape (clusters, 6)
        Sums of products about the means of the cells, in the order of `PAIRS`.
    """

    intercepts: pd.Index[Any]
    clusters: pd.Index[Any]
    cell_intercept: Codes
    cell_cluster: Codes
    counts: Array
    means: Array
    scatter: Array

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


def sums_of(rows: pd.DataFrame, by: tuple[str, ...] = ("player", "side", "note")) -> Sums:
    """Return the sums of some readings, in one pass.

    Parameters
    ----------
    rows : DataFrame
        ``rehearsal``, the columns of ``by``, and `COLUMNS`; any subset of the readings.
    by : tuple of str
        What an intercept belongs to.
    """
    intercepts, keys = numbered(rows, by)
    clusters, names = numbered(rows, ["rehearsal"])
    means = np.stack([rows[name].to_numpy(dtype=float) for name in COLUMNS])
    scatter = np.zeros((len(names), len(PAIRS)))
    return _compressed(Sums(keys, names, intercepts, clusters, np.ones(len(rows)), means, scatter))


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
    scatter = np.zeros((len(clusters), len(PAIRS)))
    for part, where in zip(known, of_cluster, strict=True):
        scatter[where] += part.scatter
    return _compressed(
        Sums(
            intercepts,
            clusters,
            np.concatenate([c[p.cell_intercept] for c, p in zip(of_intercept, known, strict=True)]),
            np.concatenate([c[p.cell_cluster] for c, p in zip(of_cluster, known, strict=True)]),
            np.concatenate([part.counts for part in known]),
            np.concatenate([part.means for part in known], axis=1),
            scatter,
        )
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
    covariance sums outer products of the scores of the clusters, ``X~g'y~g - X~g'X~g b``. Products
    about the means of the intercepts are those about the means of the cells plus those of the
    cells' means, so no reading is needed twice. Corrections: ``G/(G-1) (n-1)/(n-k)``, with ``k``
    counting the intercepts, as for the same regression with a column for each intercept.

    References
    ----------
    .. [1] R. Frisch, F. V. Waugh, "Partial time regressions as compared with individual trends",
       Econometrica 1, 387-401 (1933): why absorbing gives the same slopes.
    """
    by_cluster = _within(sums)
    within = by_cluster.sum(axis=0)
    cross, right, total = within[:2, :2], within[:2, 2], within[2, 2]
    freedom = sums.readings - len(sums.intercepts) - 2
    size = float(np.sqrt(cross[0, 0] * cross[1, 1]))
    entanglement = float(cross[0, 1]) / size if size > 0.0 else float("nan")
    if freedom < 1 or not abs(entanglement) < 1.0 - 1e-9:
        raise TooLittleData(
            f"{sums.readings} readings cannot separate temperature from playing time"
            if freedom > 0
            else f"{sums.readings} readings for {len(sums.intercepts) + 2} numbers to estimate",
            "log the same notes at more than one temperature and more than one playing time",
        )
    coefficients = np.linalg.solve(cross, right)
    squares = float(total - right @ coefficients)
    bread = np.linalg.inv(cross)
    count = len(sums.clusters)
    if count > 1:
        score = by_cluster[:, :2, 2] - by_cluster[:, :2, :2] @ coefficients
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


def _within(sums: Sums) -> Array:
    """Return sums of products about the means of the intercepts, shape (clusters, 3, 3)."""
    where, groups = sums.cell_intercept, len(sums.intercepts)
    counts = np.bincount(where, sums.counts, groups)
    away = np.empty_like(sums.means)
    for row, values in enumerate(sums.means):
        centre = np.bincount(where, sums.counts * values, groups) / counts
        np.subtract(values, centre[where], out=away[row])
    products = sums.scatter + _by_cluster(sums, away)
    table = np.empty((len(sums.clusters), 3, 3))
    for position, (a, b) in enumerate(PAIRS):
        table[:, a, b] = table[:, b, a] = products[:, position]
    return table


def _by_cluster(sums: Sums, values: Array) -> Array:
    """Return the sums of products of each cluster's cells, shape (clusters, 6)."""
    codes, count = sums.cell_cluster, len(sums.clusters)
    weighted = sums.counts * values
    if (codes[1:] >= codes[:-1]).all():  # as readings come: one block a cluster
        ends = np.searchsorted(codes, np.arange(count + 1))
        blocks = [
            weighted[:, start:end] @ values[:, start:end].T
            for start, end in itertools.pairwise(ends)
        ]
        return np.array([[block[a, b] for a, b in PAIRS] for block in blocks])
    return np.stack([np.bincount(codes, weighted[a] * values[b], count) for a, b in PAIRS], axis=1)


def _compressed(sums: Sums) -> Sums:
    """Return the same sums with one cell for each that occurs, where that saves much."""
    width, deep = len(sums.intercepts), len(sums.clusters)
    if len(sums.counts) <= SPARE * width * deep:
        return sums
    combined = sums.cell_cluster * width + sums.cell_intercept
    size = width * deep
    counts = np.asarray(np.bincount(combined, sums.counts, size), dtype=float)
    occurs = np.flatnonzero(counts)
    totals = np.stack([np.bincount(combined, sums.counts * row, size) for row in sums.means])
    means = np.asarray(totals[:, occurs] / counts[occurs], dtype=float)
    number = np.cumsum(counts > 0) - 1
    apart = sums.means - means[:, number[combined]]
    return replace(
        sums,
        cell_intercept=occurs % width,
        cell_cluster=occurs // width,
        counts=counts[occurs],
        means=means,
        scatter=sums.scatter + _by_cluster(sums, apart),
    )


def _union(indexes: list[pd.Index[Any]]) -> pd.Index[Any]:
    """Return all keys, in order of first appearance."""
    whole = indexes[0]
    for index in indexes[1:]:
        whole = whole.append(index)
    return whole.drop_duplicates()
