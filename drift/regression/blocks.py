"""Sums over readings, by player, day and note: all that the regression reads. They merge."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from drift.regression.columns import Columns
from drift.regression.nodes import Box
from drift.regression.priors import InstrumentPriors

__all__ = ["Sums", "sums_of"]

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int64]

LARGEST_CHUNK, UNCUT = 500_000, 4
"""Numbers in the table of columns made at a time; of one unit so many times as many."""


@dataclass(frozen=True)
class Sums:
    """What the readings of one unit say, at every node of the time constants.

    The ``m`` columns are those of `Columns.fixed`, the cents, then cold, rise (and, where the start
    is estimated, what warmth at the start adds) at every node.

    Parameters
    ----------
    groups, days : arrays
        Numbers of the intercepts and of the days, ascending.
    group_weight, by_group : arrays of shape (G,), (G, m)
        Sum of weights, and of weighted columns, by intercept.
    day_weight, by_day : arrays of shape (D,), (D, m)
        The same by day.
    day_group : array of shape (D, G)
        Sum of weights by day and intercept.
    products : array of shape (m, m)
        Weighted products of the columns.
    counted : array of shape (G,)
        Readings of each intercept that are not outliers (a sum of probabilities).
    """

    groups: Codes
    days: Codes
    group_weight: Array
    by_group: Array
    day_weight: Array
    by_day: Array
    day_group: Array
    products: Array
    counted: Array

    def __add__(self, other: Sums) -> Sums:
        groups, days = np.union1d(self.groups, other.groups), np.union1d(self.days, other.days)
        width = self.products.shape[0]
        whole = Sums(
            groups,
            days,
            np.zeros(len(groups)),
            np.zeros((len(groups), width)),
            np.zeros(len(days)),
            np.zeros((len(days), width)),
            np.zeros((len(days), len(groups))),
            self.products + other.products,
            np.zeros(len(groups)),
        )
        for part in (self, other):
            i, j = np.searchsorted(groups, part.groups), np.searchsorted(days, part.days)
            whole.group_weight[i] += part.group_weight
            whole.counted[i] += part.counted
            whole.by_group[i] += part.by_group
            whole.day_weight[j] += part.day_weight
            whole.by_day[j] += part.by_day
            whole.day_group[np.ix_(j, i)] += part.day_group
        return whole


def sums_of(
    columns: Columns,
    weights: Array,
    counted: Array,
    box: Box,
    priors: Sequence[InstrumentPriors],
    start: bool = False,
) -> dict[int, Sums]:
    """Return the sums of every unit among some readings.

    Parameters
    ----------
    columns : Columns
        Any part of the readings: a file, a partition, what fits into memory.
    weights, counted : arrays of shape (n,)
        How much each reading weighs, and how much it counts as a reading that is no outlier.
    box : Box
        The nodes.
    priors : sequence of InstrumentPriors
        Of each kind.
    start : bool
        Whether the warmth at the start is to be estimated.

    Notes
    -----
    Readings of a unit that are cut apart give sums that add up, but for rounding.
    """
    found: dict[int, Sums] = {}
    cuts = np.flatnonzero(np.diff(columns.unit, prepend=-1))
    ends = np.append(cuts[1:], len(columns))
    kinds = columns.kind_of_unit[columns.unit[cuts]] if len(cuts) else cuts
    first = 0
    while first < len(cuts):
        kind = int(kinds[first])
        minutes = box.minutes(kind, priors[kind])
        most = max(LARGEST_CHUNK // (3 * len(minutes[0])), 1000)
        last = first
        while (
            last + 1 < len(cuts)
            and kinds[last + 1] == kind
            and ends[last + 1] - cuts[first] <= most
        ):
            last += 1
        # A unit by itself may be longer; to cut it costs more than the memory that it saves.
        step = most if ends[last] - cuts[first] > UNCUT * most else int(ends[last] - cuts[first])
        for low in range(int(cuts[first]), int(ends[last]), step):
            rows = slice(low, min(low + step, int(ends[last])))
            part = columns.take(rows)
            for unit, one in _of_kind(part, weights[rows], counted[rows], minutes, start).items():
                found[unit] = found[unit] + one if unit in found else one
        first = last + 1
    return found


def _of_kind(
    part: Columns, weights: Array, counted: Array, minutes: tuple[Array, Array], start: bool
) -> dict[int, Sums]:
    """Return the sums of readings of one kind, sorted by unit and day."""
    cold, rise, begun = part.histories.columns(*minutes, start)
    table = [part.fixed, part.cents[:, None], cold, rise, *([begun] if begun is not None else [])]
    values = np.concatenate(table, axis=1)
    weighted = values * weights[:, None]
    day_cuts = np.flatnonzero(np.diff(part.day, prepend=-1))
    by_day = np.add.reduceat(weighted, day_cuts, axis=0)
    day_weight = np.add.reduceat(weights, day_cuts)
    found = {}
    cuts = np.flatnonzero(np.diff(part.unit, prepend=-1))
    for low, high in zip(cuts, np.append(cuts[1:], len(weights)), strict=True):
        here = slice(low, high)
        days = slice(*np.searchsorted(day_cuts, [low, high]))
        groups, group = np.unique(part.group[here], return_inverse=True)
        count, own = len(groups), np.searchsorted(day_cuts[days], np.arange(low, high), "right") - 1
        total = days.stop - days.start
        hot = (group[None, :] == np.arange(count)[:, None]).astype(float)
        cells = _totals(own * count + group, weights[here], total * count)
        found[int(part.unit[low])] = Sums(
            groups,
            part.day[day_cuts[days]],
            _totals(group, weights[here], count),
            hot @ weighted[here],
            day_weight[days],
            by_day[days],
            cells.reshape(total, count),
            weighted[here].T @ values[here],
            _totals(group, counted[here], count),
        )
    return found


def _totals(codes: Codes, values: Array, count: int) -> Array:
    """Return the sum of values by code, shape (count,)."""
    return np.bincount(codes, values, count).astype(np.float64, copy=False)
