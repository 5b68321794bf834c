"""A straight line in temperature and playing time, and what is said about it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy import stats

from drift.errors import InputError
from drift.findings import Finding
from drift.regression.estimates import Draws, Estimate
from drift.regression.terms import Terms

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
    coefficients : array of shape (2 + terms,)
        Cents per °C and per minute of playing, 0 for a column that could not be estimated; then
        those of more terms.
    covariance : array of shape (2 + terms, 2 + terms)
        Of the coefficients.
    freedom : float
        Degrees of freedom of the t distribution of the intervals.
    reading_sd, day_sd : float
        Standard deviation of a reading and of a day (0: not estimated).
    estimated : tuple of str
        The columns that were estimated.
    terms : Terms
        What the line holds beside the two columns.
    """

    coefficients: Array
    covariance: Array = field(repr=False)
    freedom: float
    reading_sd: float
    day_sd: float
    estimated: tuple[str, ...]
    terms: Terms = field(default_factory=Terms, repr=False)

    def entries(self, level: float = 0.95) -> dict[str, Estimate]:
        """Return the coefficients with standard error, interval and p-value."""
        return {
            NAMES[column]: self._estimate(row, level)
            for column, row in zip(NAMES, self._slopes(), strict=True)
            if column in self.estimated
        }

    def held(self) -> dict[str, Any]:
        """Return the columns on which the slopes depend, with the values that they are given at."""
        return {name: self.terms.held[name] for name in self.terms.bend}

    def at(self, values: Mapping[str, Any]) -> Line:
        """Return the line with its slopes at other values of covariates, see `Terms.at`."""
        return replace(self, terms=self.terms.at(values))

    def _slopes(self) -> Array:
        """Return what the slopes are of the coefficients, (2, 2 + terms): exact up to squares."""
        celsius, minutes = (float(self.terms.held.get(name, 0.0)) for name in NAMES)
        step = np.array([0.5, -0.5])
        by_celsius = self._rows(celsius + step, np.full(2, minutes))
        by_minutes = self._rows(np.full(2, celsius), minutes + step)
        return np.stack([by_celsius[0] - by_celsius[1], by_minutes[0] - by_minutes[1]])

    def _rows(self, celsius: Array, minutes: Array) -> Array:
        """Return the columns at temperatures and minutes, (n, 2 + terms), all else as held."""
        return np.column_stack([celsius, minutes, self.terms.along(celsius, minutes)])

    def covariate_entries(self, level: float = 0.95) -> dict[str, Estimate]:
        """Return the effect of each further term, for one of its units [cents]."""
        return {
            label: self._estimate(row / sd, level)
            for label, sd, row in zip(
                self.terms.labels, self.terms.sds, np.eye(len(self.coefficients))[2:], strict=True
            )
        }

    def covariance_frame(self) -> pd.DataFrame:
        """Return the covariance of `entries` by name, further terms for one of their units.

        The rows and columns are ``cents_per_celsius, cents_per_playing_minute`` as far as they were
        estimated, then the terms.
        """
        names = [*NAMES.values(), *self.terms.labels]
        made = np.vstack([self._slopes(), np.eye(len(names))[2:]])
        made /= np.array([1.0, 1.0, *self.terms.sds])[:, None]
        table = pd.DataFrame(made @ self.covariance @ made.T, names, names)
        kept = [NAMES[column] for column in NAMES if column in self.estimated]
        kept += self.terms.labels
        return table.loc[kept, kept]

    def _estimate(self, row: Array, level: float) -> Estimate:
        """Return a sum of the coefficients with standard error, interval and p-value."""
        value = float(row @ self.coefficients)
        error = float(np.sqrt(np.maximum(row @ self.covariance @ row, 0.0)))
        reach = error * float(stats.t.ppf(0.5 + 0.5 * level, self.freedom))
        p_value = float(2.0 * stats.t.sf(abs(value) / error if error else np.inf, self.freedom))
        return Estimate(value, value - reach, value + reach, standard_error=error, p_value=p_value)

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
        steps = self._rows(celsius, minutes) - self._rows(
            np.full(1, tuned_celsius), np.full(1, tuned)
        )
        value = steps @ self.coefficients
        variance = np.einsum("ij,jk,ik->i", steps, self.covariance, steps)
        if reading:
            variance = variance + self.reading_sd**2 + self.day_sd**2
        variance = np.maximum(variance, 0.0)  # readings on a line leave none but rounding
        reach = stats.t.ppf(0.5 + 0.5 * level, self.freedom) * np.sqrt(variance)
        return value, value - reach, value + reach

    def expected(self, rows: pd.DataFrame) -> Array:
        """Return the expected drift of each row, against 20 °C and 30 minutes (cents).

        Further terms count where the table has their columns, or slopes depend on them.
        """
        celsius, minutes = (rows[name].to_numpy(dtype=float) for name in NAMES)
        warm, late = self.coefficients[:2]
        drift = warm * (celsius - 20.0) + late * (minutes - TUNED_MINUTES)
        if len(self.terms) and self.terms.can_be_made_of(rows):
            drift = drift + self.terms.columns(rows) @ self.coefficients[2:]
        return np.asarray(drift)

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
    terms: Terms,
) -> Line:
    """Return the line from the first parameters of a regression."""
    where = [list(NAMES).index(column) for column in columns]
    where += range(len(NAMES), len(NAMES) + len(terms))
    size, some = len(NAMES) + len(terms), slice(0, len(where))
    coefficients, table = np.zeros(size), np.zeros((size, size))
    coefficients[where] = np.asarray(parameters)[some]
    table[np.ix_(where, where)] = np.asarray(covariance)[some, some]
    return Line(
        coefficients, table, freedom, np.sqrt(variance), np.sqrt(day_variance), tuple(columns),
        terms,
    )  # fmt: skip


def few_rehearsals(count: int, clustered: bool) -> list[Finding]:
    """Return the warning for few rehearsals; one alone shows nothing of how they differ."""
    if count >= FEW_CLUSTERS:
        return []
    if count == 1:
        return [Finding("one_rehearsal")]
    values = {"count": count, "clustered": clustered, "enough": FEW_CLUSTERS}
    return [Finding("few_rehearsals", values)]


def flat_time(columns: list[str]) -> list[Finding]:
    """Return the warning for readings that were all made at one minute."""
    return [] if "playing_minutes" in columns else [Finding("one_playing_time")]
