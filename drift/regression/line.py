"""A straight line in temperature and playing time, and what is said about it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy import stats

from drift.errors import InputError
from drift.regression.estimates import Draws, Estimate

__all__ = ["FEW_CLUSTERS", "NAMES", "Line", "few_rehearsals", "flat_time", "line_of"]

Array = npt.NDArray[np.float64]

NAMES = {"celsius": "cents_per_celsius", "playing_minutes": "cents_per_playing_minute"}
"""The columns of the regression, and the names of their coefficients."""

TUNED_MINUTES = 30.0
FEW_CLUSTERS = 10


@dataclass(frozen=True)
class Line:
    """A straight line in temperature and playing minutes.

    Parameters
    ----------
    coefficients : array of shape (2,)
        Cents per °C and per minute of playing; 0 for a column that could not be estimated.
    covariance : array of shape (2, 2)
        Of the coefficients.
    freedom : float
        Degrees of freedom of the t distribution of the intervals.
    reading_sd, day_sd : float
        Standard deviation of a reading and of a day (0: not estimated).
    estimated : tuple of str
        The columns that were estimated.
    """

    coefficients: Array
    covariance: Array = field(repr=False)
    freedom: float
    reading_sd: float
    day_sd: float
    estimated: tuple[str, ...]

    def entries(self, level: float = 0.95) -> dict[str, Estimate]:
        """Return the coefficients with standard error, interval and p-value."""
        reach = float(stats.t.ppf(0.5 + 0.5 * level, self.freedom))
        found = {}
        for position, column in enumerate(NAMES):
            if column not in self.estimated:
                continue
            value = float(self.coefficients[position])
            error = float(np.sqrt(self.covariance[position, position]))
            p_value = float(2.0 * stats.t.sf(abs(value) / error, self.freedom))
            found[NAMES[column]] = Estimate(
                value,
                value - reach * error,
                value + reach * error,
                standard_error=error,
                p_value=p_value,
            )
        return found

    def covariate_entries(self, level: float = 0.95) -> dict[str, Estimate]:
        """Return the effect of each covariate, for one of its units [cents]."""
        return {}

    def contrast(
        self,
        celsius: Array,
        minutes: Array,
        tuned_celsius: float,
        tuned_minutes: float | None,
        *,
        reading: bool = False,
        level: float = 0.95,
    ) -> tuple[Array, Array, Array]:
        """Return estimate, low and high of the change of pitch between conditions (cents)."""
        tuned = TUNED_MINUTES if tuned_minutes is None else tuned_minutes
        steps = np.column_stack([celsius - tuned_celsius, minutes - tuned])
        value = steps @ self.coefficients
        variance = np.einsum("ij,jk,ik->i", steps, self.covariance, steps)
        if reading:
            variance = variance + self.reading_sd**2 + self.day_sd**2
        reach = stats.t.ppf(0.5 + 0.5 * level, self.freedom) * np.sqrt(variance)
        return value, value - reach, value + reach

    def expected(self, rows: pd.DataFrame) -> Array:
        """Return the expected drift of each row, against 20 °C and 30 minutes (cents)."""
        celsius, minutes = (rows[name].to_numpy(dtype=float) for name in NAMES)
        warm, late = self.coefficients
        return np.asarray(warm * (celsius - 20.0) + late * (minutes - TUNED_MINUTES))

    def draws(self, size: int, seed: int) -> Draws:
        """Refuse: a straight line has no warm-up to draw from.

        Raises
        ------
        InputError
            Always.
        """
        raise InputError(
            "a straight line in temperature and minutes knows no warming up",
            "use the method bayesian for this",
        )


def line_of(
    parameters: Array,
    covariance: Array,
    columns: list[str],
    freedom: float,
    variance: float,
    day_variance: float,
) -> Line:
    """Return the line from the first parameters of a regression."""
    where = [list(NAMES).index(column) for column in columns]
    coefficients, table = np.zeros(2), np.zeros((2, 2))
    coefficients[where] = np.asarray(parameters)[: len(where)]
    table[np.ix_(where, where)] = np.asarray(covariance)[: len(where), : len(where)]
    return Line(
        coefficients, table, freedom, np.sqrt(variance), np.sqrt(day_variance), tuple(columns)
    )


def few_rehearsals(count: int, because: str) -> list[str]:
    """Return the warning for few rehearsals."""
    if count >= FEW_CLUSTERS:
        return []
    word = "rehearsal" if count == 1 else "rehearsals"
    return [f"only {count} {word}: {because}, and fewer than {FEW_CLUSTERS} make them too small"]


def flat_time(columns: list[str]) -> list[str]:
    """Return the warning for readings that were all made at one minute."""
    if "playing_minutes" in columns:
        return []
    return ["every note was read after one playing time only: the effect of time is not estimated"]
