"""What days that are off, and sides of a day that are off beside it, leave of a unit's readings.

Each day of a unit has a number of its own, and where several sides of an instrument were read on
it, so has each side: sides are tuned one after the other. Both are normal and taken out in closed
form.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

__all__ = ["Days", "days_at", "sides_of_days"]

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int64]
Rows = slice | npt.NDArray[np.intp]

ALL = slice(None)


@dataclass(frozen=True)
class Days:
    """The days of one unit, r readings, at given ratios of days and sides to the noise.

    Parameters
    ----------
    weight : array of shape (r,)
        One over the variance of each reading.
    day : array of shape (r,)
        Numbers of the days, in order.
    part : array of shape (r,), optional
        Numbers of the sides of days, those of a day together; None where no day has several.
    left : array of shape (r,)
        What sides leave of the weights.
    of_day, of_part : arrays of shape (days,), (parts,)
        How far the sum of a day, of a side of it, is taken out.
    half_log : float
        Half the logarithm of what days and sides multiply the determinant of the variance by.
    """

    weight: Array
    day: Codes
    part: Codes | None
    left: Array
    of_day: Array
    of_part: Array
    half_log: float

    def without(self, values: Array, rows: Rows = ALL) -> Array:
        """Return ``V⁻¹ values``, V the variance of readings with days and sides in it.

        Parameters
        ----------
        values : array of shape (k, m)
            Columns on the rows.
        rows : slice or array
            Of whole days, in order.
        """
        weight, day = self.weight[rows], self.day[rows]
        found = weight[:, None] * values
        if self.part is not None:
            part = self.part[rows]
            order = np.argsort(part, kind="stable")
            taken, back = part[order], np.argsort(order, kind="stable")
            starts = _starts(taken)
            sums = np.add.reduceat(found[order], starts, axis=0)
            sums *= self.of_part[taken[starts], None]
            found -= weight[:, None] * np.repeat(sums, _lengths(starts, len(taken)), axis=0)[back]
            weight = self.left[rows]
        starts = _starts(day)
        sums = np.add.reduceat(found, starts, axis=0) * self.of_day[day[starts], None]
        found -= weight[:, None] * np.repeat(sums, _lengths(starts, len(day)), axis=0)
        return np.asarray(found)


def days_at(weight: Array, day: Codes, part: Codes | None, ratio: float, of_sides: float) -> Days:
    """Return days at ratios of a day, and of a side of a day, to the noise.

    Parameters
    ----------
    weight, day, part : arrays of shape (r,)
        As `Days` has them.
    ratio, of_sides : float
        Standard deviations over that of the noise.
    """
    half_log, of_part, left = 0.0, np.zeros(0), weight
    if part is not None:
        several = of_sides * _several(day, part)
        by_part = np.bincount(part, weight).astype(np.float64)
        of_part = several**2 / (1.0 + several**2 * by_part)
        half_log += 0.5 * float(np.log1p(several**2 * by_part).sum())
        left = weight * (1.0 - of_part * by_part)[part]
    by_day = np.bincount(day, left).astype(np.float64)
    half_log += 0.5 * float(np.log1p(ratio**2 * by_day).sum())
    of_day = ratio**2 / (1.0 + ratio**2 * by_day)
    return Days(weight, day, part, left, of_day, of_part, half_log)


def sides_of_days(day: Codes, side: Codes) -> Codes | None:
    """Return numbers of the sides of each day, None where no day has several.

    Examples
    --------
    >>> sides_of_days(np.array([0, 0, 0, 1]), np.array([2, 1, 2, 1])).tolist()
    [1, 0, 1, 2]
    >>> sides_of_days(np.array([0, 0, 1]), np.array([2, 2, 1]))
    """
    pairs = np.column_stack([day, side])
    distinct, part = np.unique(pairs, axis=0, return_inverse=True)
    if len(np.unique(distinct[:, 0])) == len(distinct):
        return None
    return np.asarray(part.reshape(-1), dtype=np.int64)


def _several(day: Codes, part: Codes) -> Array:
    """Return 1 for parts of a day that has several, else 0: a day's number is enough there."""
    of = np.zeros(int(part.max()) + 1, dtype=np.int64)
    of[part] = day
    return np.asarray(np.bincount(of)[of] > 1, dtype=np.float64)


def _starts(codes: Codes) -> npt.NDArray[np.intp]:
    return np.flatnonzero(np.diff(codes, prepend=-1))


def _lengths(starts: npt.NDArray[np.intp], count: int) -> npt.NDArray[np.intp]:
    return np.diff(np.append(starts, count))
