"""Shapes of the time term, each fitted by least squares with the intercepts absorbed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.optimize import least_squares

from drift.errors import InputError, TooLittleData
from drift.regression.grouping import intercepts_of, less_means
from drift.regression.terms import NO_TERMS, Terms
from drift.regression.warmup import drift_columns, warmth

__all__ = ["SHAPES", "Shape", "fit_saturation", "fit_shape", "fit_shape_to_parts"]

Array = npt.NDArray[np.float64]

WARM_MINUTES = np.geomspace(1.5, 30.0, 14)
COOL_MINUTES = np.geomspace(3.0, 60.0, 8)


@dataclass(frozen=True)
class Shape:
    """A shape of the time term: how temperature and playing are thought to change the pitch.

    Parameters
    ----------
    columns : callable
        ``columns(rows, warm, cool)`` gives the columns of the regression, shape (n, m), for rows of
        the paired table and two time constants [min]. Each column has a slope, in cents for one of
        its units; intercepts are taken off, so that a constant column says nothing. It is called
        with rows it has not seen, and must know of a row nothing but that row: no means, no ranks.
    warm_minutes, cool_minutes : arrays
        The time constants to try, every pair of them [min]; by default the shape has none.

    Raises
    ------
    InputError
        If there is no time constant to try, or one that is not above zero.

    Notes
    -----
    Of a row there are ``celsius``; ``playing_minutes``, in all; ``minutes_into_spell`` since
    playing, or rest, began; ``spells``, the stretches before, played and rested in turns; and
    ``initial_warmth``, 0 from the case to 1 when just played.

    Examples
    --------
    A warm-up that goes with the square root of the minutes played:

    >>> rooted = Shape(lambda rows, warm, cool: rows[["celsius", "playing_minutes"]] ** [1, 0.5])
    >>> rooted.of(pd.DataFrame({"celsius": [20.0], "playing_minutes": [9.0]}))
    array([[20.,  3.]])
    """

    columns: Callable[[pd.DataFrame, float, float], npt.ArrayLike]
    warm_minutes: npt.ArrayLike = (1.0,)
    cool_minutes: npt.ArrayLike = (1.0,)

    def __post_init__(self) -> None:
        """Refuse time constants that are none."""
        for name in ("warm_minutes", "cool_minutes"):
            tried = np.atleast_1d(np.asarray(getattr(self, name), dtype=float))
            if not len(tried) or not (np.isfinite(tried) & (tried > 0.0)).all():
                raise InputError(
                    f"{name} {tried.tolist()} are not time constants to try",
                    "give minutes above 0, or leave them out where the shape has none",
                )
            object.__setattr__(self, name, tried)

    def of(self, rows: pd.DataFrame, warm: float = 1.0, cool: float = 1.0) -> Array:
        """Return the columns for rows and two time constants, shape (n, m).

        Raises
        ------
        InputError
            If what the callable gives are not as many finite numbers as there are rows.
        """
        found = np.asarray(self.columns(rows, warm, cool), dtype=float)
        if found.ndim != 2 or len(found) != len(rows):
            raise InputError(
                f"the columns of a shape are {found.shape}, for {len(rows)} rows",
                "return an array of shape (rows, columns)",
            )
        if not np.isfinite(found).all():
            raise InputError(
                f"the columns of a shape are not all numbers, at {warm:g} and {cool:g} minutes",
                "return a finite number for each row",
            )
        return found

    def pairs(self) -> Iterator[tuple[float, float]]:
        """Return the pairs of time constants to try."""
        yield from product(np.ravel(self.warm_minutes), np.ravel(self.cool_minutes))


def _linear(rows: pd.DataFrame, _: float, __: float) -> Array:
    return rows[["celsius", "playing_minutes"]].to_numpy(dtype=float)


def _saturating(rows: pd.DataFrame, warm: float, _: float) -> Array:
    played = rows["playing_minutes"].to_numpy(dtype=float)
    return np.column_stack([rows["celsius"], 1.0 - np.exp(-played / warm)])


def _state(rows: pd.DataFrame, warm: float, cool: float) -> Array:
    return np.column_stack([rows["celsius"], _warmth(rows, warm, cool)])


def _state_and_product(rows: pd.DataFrame, warm: float, cool: float) -> Array:
    celsius = rows["celsius"].to_numpy(dtype=float)
    return np.column_stack(drift_columns(celsius, _warmth(rows, warm, cool)))


def _warmth(rows: pd.DataFrame, warm: float, cool: float) -> Array:
    elapsed = rows["minutes_into_spell"].to_numpy(dtype=float)
    initial = rows["initial_warmth"].to_numpy(dtype=float)
    return warmth(rows["spells"].tolist(), elapsed, warm, cool, initial)


SHAPES = {
    "linear time": Shape(_linear),
    "saturating time": Shape(_saturating, WARM_MINUTES),
    "play and rest state": Shape(_state, WARM_MINUTES, COOL_MINUTES),
    "state and its product with temperature": Shape(_state_and_product, WARM_MINUTES, COOL_MINUTES),
}


def fit_shape(rows: pd.DataFrame, shape: Shape) -> Callable[[pd.DataFrame], Array]:
    """Return the drift curve of a shape at the time constants that fit best.

    Parameters
    ----------
    rows : DataFrame
        Complete rows, as `drift.regression.fits.rows_to_fit` gives; several instruments share the
        shape.
    shape : Shape
        Which shape.

    Returns
    -------
    callable
        Gives the drift of each row of a table, up to a constant (cents).
    """
    return fit_shape_to_parts(rows, shape, [np.arange(len(rows))])[0]


def fit_shape_to_parts(
    rows: pd.DataFrame,
    shape: Shape,
    parts: Sequence[npt.NDArray[np.intp]],
    terms: Terms = NO_TERMS,
    shown: Callable[[int], None] = lambda _: None,
) -> list[Callable[[pd.DataFrame], Array]]:
    """Return the drift curve of a shape for each of several parts of the rows.

    Parameters
    ----------
    rows, shape
        As for `fit_shape`. The columns of the shape are worked out once for all parts.
    parts : sequence of integer arrays
        The numbers of the rows of each part.
    terms : Terms
        What the line holds beside.
    shown : callable
        Called with the number of pairs of time constants that are done.
    """
    groups, beside = intercepts_of(rows), terms.columns(rows)
    cents = rows["reference_cents"].to_numpy(dtype=float)
    best: list[tuple[float, float, float, Array]] = [(np.inf, 1.0, 1.0, np.zeros(0))] * len(parts)
    for done, (warm, cool) in enumerate(shape.pairs(), start=1):
        table = np.column_stack([shape.of(rows, warm, cool), beside])
        for number, part in enumerate(parts):
            left, slopes = _least(table[part], cents[part], groups[part])
            if left < best[number][0]:
                best[number] = left, warm, cool, slopes
        shown(done)

    def curve(warm: float, cool: float, slopes: Array) -> Callable[[pd.DataFrame], Array]:
        return lambda table: np.asarray(
            np.column_stack([shape.of(table, warm, cool), terms.columns(table)]) @ slopes
        )

    return [curve(*found[1:]) for found in best]


def _least(columns: Array, cents: Array, groups: npt.NDArray[np.intp]) -> tuple[float, Array]:
    """Return the sum of squares that least squares leave, and the slopes."""
    codes = pd.factorize(groups)[0]
    away, rest = less_means(columns, codes), less_means(cents, codes)
    slopes = np.asarray(np.linalg.lstsq(away, rest, rcond=None)[0], dtype=np.float64)
    rest = rest - away @ slopes
    return float(rest @ rest), slopes


def fit_saturation(
    minutes: npt.ArrayLike, cents: npt.ArrayLike, start: tuple[float, float] = (10.0, 6.0)
) -> tuple[Array, Array]:
    """Fit ``rise (1 - exp(-minutes/tau))``, the shape of a warm-up, to readings at one temperature.

    Parameters
    ----------
    minutes, cents : arrays of shape (n,)
        Minutes of playing and rise of pitch since the start.
    start : tuple of two floats
        Where to begin: rise (cents) and time constant (minutes).

    Returns
    -------
    values, standard_errors : arrays of shape (2,)
        Rise (cents) and rate ``1/tau`` (per minute), with their standard errors.

    Raises
    ------
    TooLittleData
        If there are not more readings than numbers to estimate.

    Notes
    -----
    Non-linear least squares (Levenberg-Marquardt); standard errors from the curvature at the
    solution and the residual variance with ``n - 2`` degrees of freedom.
    """
    x, y = np.asarray(minutes, dtype=float), np.asarray(cents, dtype=float)
    if len(x) < 3:
        raise TooLittleData(
            f"{len(x)} readings for a rise and a time constant", "take at least three readings"
        )

    def rest(values: Array) -> Array:
        return np.asarray(values[0] * -np.expm1(-values[1] * x) - y)

    def slopes(values: Array) -> Array:
        fading = np.exp(-values[1] * x)
        return np.column_stack([1.0 - fading, values[0] * x * fading])

    begin = np.array([start[0], 1.0 / start[1]])
    found = least_squares(
        rest, begin, jac=slopes, method="lm", x_scale="jac", xtol=1e-15, ftol=1e-15, gtol=1e-15
    )
    variance = float(found.fun @ found.fun) / (len(x) - 2)
    # Columns of very different size: scale before inverting.
    size = np.sqrt((found.jac**2).sum(axis=0))
    inverse = np.linalg.inv((found.jac / size).T @ (found.jac / size)) / np.outer(size, size)
    return np.asarray(found.x), np.sqrt(variance * np.diag(inverse))
