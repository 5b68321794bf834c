"""Figures that show whether a regression can be believed."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy import stats

from drift.regression.grouping import days_of, intercepts_of, less_means

__all__ = [
    "breusch_pagan_p",
    "condition_number",
    "correlation_within",
    "diagnostics_of",
    "durbin_watson",
    "steps_within",
    "within",
]

Array = npt.NDArray[np.float64]


def within(rows: pd.DataFrame, columns: list[str]) -> Array:
    """Return columns less their mean in each intercept (of a note of a player), shape (n, m)."""
    return less_means(rows[columns].to_numpy(dtype=float), intercepts_of(rows))


def correlation_within(rows: pd.DataFrame) -> float:
    """Return the correlation of temperature with playing time after absorbing the intercepts.

    Parameters
    ----------
    rows : DataFrame
        With ``player, side, note, celsius, playing_minutes``.

    Returns
    -------
    float
        Near ±1, the readings can not tell the two apart; NaN where one of them is constant.
    """
    first, second = within(rows, ["celsius", "playing_minutes"]).T
    size = float(np.sqrt((first @ first) * (second @ second)))
    return float(first @ second) / size if size > 1e-9 else float("nan")


def condition_number(correlation: float) -> float:
    """Return the condition number of two columns of unit length that are so correlated.

    Notes
    -----
    ``sqrt((1 + |c|)/(1 - |c|))`` with their correlation ``c``: above 30 is commonly called
    serious, but 3 (a correlation of 0.8) already makes standard errors 1.7 times as large.
    """
    size = abs(correlation)
    return float(np.sqrt((1.0 + size) / max(1.0 - size, 1e-16)))


def diagnostics_of(rows: pd.DataFrame, residuals: Array, correlation: float) -> dict[str, Any]:
    """Return the usual diagnostics of a regression.

    Parameters
    ----------
    rows : DataFrame
        The rows that were fitted.
    residuals : array of shape (n,)
        In the order of the rows (cents).
    correlation : float
        Of the two columns, from `correlation_within`.

    Returns
    -------
    dict
        ``durbin_watson`` (2: no correlation from reading to reading; taken within each player's
        rehearsals, in order of time), ``breusch_pagan_p`` (small: the scatter changes with
        temperature or time), ``condition_number``.

    References
    ----------
    .. [1] J. Durbin, G. S. Watson, "Testing for serial correlation in least squares regression",
       Biometrika 37, 409-428 (1950).
    .. [2] T. S. Breusch, A. R. Pagan, "A simple test for heteroscedasticity and random coefficient
       variation", Econometrica 47, 1287-1294 (1979).
    """
    steps = steps_within(residuals, days_of(rows), _order(rows))
    return {
        "durbin_watson": durbin_watson(*_count_and_mean(steps**2), float(np.mean(residuals**2))),
        "breusch_pagan_p": _breusch_pagan(rows, residuals),
        "condition_number": condition_number(correlation),
    }


def _count_and_mean(values: Array) -> tuple[int, float]:
    return len(values), float(values.mean()) if len(values) else float("nan")


def durbin_watson(steps: int, step_squared: float, residual_squared: float) -> float:
    """Return the statistic from the number and the mean square of steps, and that of residuals.

    Steps are fewer than readings, so both are means.
    """
    return float(step_squared / residual_squared) if residual_squared > 0.0 and steps else np.nan


def steps_within(residuals: Array, run: npt.NDArray[np.int64], when: npt.NDArray[Any]) -> Array:
    """Return the steps from each residual to the next of the same run [cents].

    Parameters
    ----------
    residuals : array of shape (n,)
    run : array of shape (n,)
        Numbers of the runs: a player's rehearsals.
    when : array of shape (n,)
        In which order they were made.
    """
    # Small numbers are sorted fastest, and readings mostly come in order of time.
    order = np.argsort(run.astype(np.min_scalar_type(run.max())), kind="stable")
    same = np.diff(run[order]) == 0
    if (np.diff(when[order])[same] < 0).any():
        order = np.lexsort((when, run))
    return np.asarray(np.diff(residuals[order])[same])


def _order(rows: pd.DataFrame) -> npt.NDArray[Any]:
    if "time" in rows:
        return rows["time"].to_numpy(dtype="datetime64[us]").astype(np.int64)
    return rows["playing_minutes"].to_numpy(dtype=float)


def _breusch_pagan(rows: pd.DataFrame, residuals: Array) -> float:
    """Return the p-value of the test in its studentised form, ``n R²`` of the squared residuals."""
    names = [name for name in ("celsius", "playing_minutes") if np.ptp(rows[name]) > 1e-9]
    squares = residuals**2 - np.mean(residuals**2)
    if len(rows) <= len(names) + 1 or not names or np.ptp(squares) < 1e-12:
        return float("nan")
    columns = rows[names].to_numpy(dtype=float)
    columns = columns - columns.mean(axis=0)
    with_squares, own = columns.T @ squares, float(squares @ squares)
    return breusch_pagan_p(len(rows), columns.T @ columns, with_squares, own)


def breusch_pagan_p(readings: int, cross: Array, with_squares: Array, squares: float) -> float:
    """Return the p-value from sums about the means.

    Parameters
    ----------
    readings : int
    cross : array of shape (m, m)
        Products of the columns.
    with_squares : array of shape (m,)
        Products of the columns with the squared residuals.
    squares : float
        The squared residuals, squared.
    """
    slopes = np.linalg.lstsq(cross, with_squares, rcond=None)[0]
    explained = float(with_squares @ slopes) / squares
    return float(stats.chi2.sf(readings * explained, len(cross)))
