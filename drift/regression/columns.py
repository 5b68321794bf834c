"""The columns of the regression by name, and what player, day and note each reading belongs to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.regression.covariates import Covariate
from drift.regression.grouping import intercepts_of, numbered
from drift.regression.histories import Histories, histories_of, no_histories
from drift.regression.warmup import REFERENCE_CELSIUS

__all__ = ["CORE", "Columns", "columns_from", "columns_of", "names_only"]

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int64]

CORE = ("cold", "rise", "slow", "curvature")
"""The coefficients of every kind of instrument, in this order; covariates follow."""

LONGEST_HORIZON, SHORTEST_HORIZON = 3.0, 0.5
"""Slow drift is a straight line up to the longest playing time seen, kept within these hours."""


@dataclass(frozen=True)
class Columns:
    """Readings as numbers, sorted by unit (a player on an instrument) and by day.

    Parameters
    ----------
    cents : array of shape (n,)
    fixed : array of shape (n, 2 + covariates)
        Hours of playing, ``(T - 20)²`` and the covariates: what no time constant changes.
    histories : Histories
        What the rest is made of.
    own_sd : array of shape (n,)
        Standard uncertainty of each reading by itself [cents].
    harmful : array of shape (n,)
        Probability that the reading is an outlier, before looking at its residual.
    unit, day, group : arrays of shape (n,)
        Numbers of the player on an instrument, of that player's day, and of the intercept.
    rehearsal_of_day, kind_of_unit : arrays
        Which rehearsal a day belongs to; which kind of instrument a unit is.
    kinds, players, rehearsals : tuples of str
        Names of the kinds, of the player of each unit, and of the rehearsals.
    covariates : tuple of Covariate
        What the columns after the first two of `fixed` are.
    horizon_hours : array of shape (kinds,)
        Up to where the slow drift of each kind is a straight line.
    order : array of shape (n,)
        Row of the table that each reading was.
    """

    cents: Array
    fixed: Array
    histories: Histories
    own_sd: Array
    harmful: Array
    unit: Codes
    day: Codes
    group: Codes
    rehearsal_of_day: Codes
    kind_of_unit: Codes
    kinds: tuple[str, ...]
    players: tuple[str, ...]
    rehearsals: tuple[str, ...]
    covariates: tuple[Covariate, ...]
    horizon_hours: Array
    order: npt.NDArray[np.intp]

    def __len__(self) -> int:
        return len(self.cents)

    @property
    def shared(self) -> bool:
        """Whether any rehearsal has several players, so that what they share can be seen."""
        return bool((np.bincount(self.rehearsal_of_day) > 1).any()) and len(self.rehearsals) > 1

    @property
    def size(self) -> int:
        """Number of coefficients of a kind."""
        return int(2 + self.fixed.shape[1])

    def take(self, rows: Any) -> Columns:
        """Return some of the readings, in the order given, with all names."""
        parts = {one.name: getattr(self, one.name) for one in fields(self)}
        for name in ("cents", "fixed", "own_sd", "harmful", "unit", "day", "group", "order"):
            parts[name] = parts[name][rows]
        parts["histories"] = self.histories.take(rows)
        return Columns(**parts)


def columns_of(rows: pd.DataFrame, covariates: Sequence[Covariate] = ()) -> Columns:
    """Return the columns of complete rows.

    Parameters
    ----------
    rows : DataFrame
        From `drift.regression.rows.rows_to_fit`.
    covariates : sequence of Covariate
        More columns.

    Notes
    -----
    Numbers are given by name, in alphabetical order, so that neither the order of the rows nor a
    cut into parts changes anything.
    """
    kind, kinds = _sorted_codes(*numbered(rows, ["instrument"]))
    reh, rehearsals = _sorted_codes(*numbered(rows, ["rehearsal"]))
    who, names = _sorted_codes(*numbered(rows, ["player"]))
    units, unit = np.unique(kind * len(names) + who, return_inverse=True)
    days, day = np.unique(unit * len(rehearsals) + reh, return_inverse=True)
    hours = np.zeros(len(kinds))
    np.maximum.at(hours, kind, rows["playing_minutes"].to_numpy(dtype=float) / 60.0)
    known = names_only(
        kinds=kinds,
        players=[names[code] for code in units % len(names)],
        kind_of_unit=units // len(names),
        rehearsals=rehearsals,
        rehearsal_of_day=days % len(rehearsals),
        hours=hours,
        covariates=covariates,
    )
    return columns_from(rows, known, unit.astype(np.int64), day.astype(np.int64))


def names_only(
    *,
    kinds: Sequence[str],
    players: Sequence[str],
    kind_of_unit: Codes,
    rehearsals: Sequence[str],
    rehearsal_of_day: Codes,
    hours: Array,
    covariates: Sequence[Covariate] = (),
    carried: bool = False,
) -> Columns:
    """Return columns of no reading, which number the names of readings that are elsewhere.

    Parameters
    ----------
    kinds, rehearsals : sequences of str
        In alphabetical order.
    players : sequence of str
        The player of each unit; units by kind, then by name.
    kind_of_unit, rehearsal_of_day : arrays of int
        Days by unit, then by rehearsal.
    hours : array of shape (kinds,)
        The longest playing time seen.
    covariates : sequence of Covariate
    carried : bool
        Whether the course of the temperature is known of any reading.
    """
    nothing, none = np.zeros(0), np.zeros(0, dtype=np.int64)
    return Columns(
        cents=nothing,
        fixed=np.zeros((0, 2 + len(covariates))),
        histories=no_histories(carried),
        own_sd=nothing,
        harmful=nothing,
        unit=none,
        day=none,
        group=none,
        rehearsal_of_day=rehearsal_of_day,
        kind_of_unit=kind_of_unit,
        kinds=tuple(map(str, kinds)),
        players=tuple(map(str, players)),
        rehearsals=tuple(map(str, rehearsals)),
        covariates=tuple(covariates),
        horizon_hours=np.clip(hours, SHORTEST_HORIZON, LONGEST_HORIZON),
        order=np.zeros(0, dtype=np.intp),
    )


def columns_from(rows: pd.DataFrame, names: Columns, unit: Codes, day: Codes) -> Columns:
    """Return the columns of complete rows whose units and days are numbered.

    Parameters
    ----------
    rows : DataFrame
        As in `columns_of`.
    names : Columns
        From `names_only`: what the numbers stand for.
    unit, day : arrays of shape (n,)
        Those of each row.
    """
    # Within a day by row: the sums of a day do not depend on it beyond rounding.
    order = np.lexsort((intercepts_of(rows), day))
    celsius = rows["celsius"].to_numpy(dtype=float)
    hours = rows["playing_minutes"].to_numpy(dtype=float) / 60.0
    more = (one.column(rows) for one in names.covariates)
    whole = replace(
        names,
        cents=rows["reference_cents"].to_numpy(dtype=float),
        fixed=np.column_stack([hours, (celsius - REFERENCE_CELSIUS) ** 2, *more]),
        histories=histories_of(rows, names.histories.carried),
        own_sd=_column(rows, "cents_sd", 0.0),
        harmful=np.clip(_column(rows, "pair_probability", 0.0), 0.0, 0.99),
        unit=unit,
        day=day,
        group=intercepts_of(rows),
        order=np.arange(len(rows)),
    )
    return whole.take(order)


def _sorted_codes(codes: Codes, names: pd.Index[Any]) -> tuple[Codes, list[str]]:
    """Return numbers in alphabetical order of the names, and the names that occur."""
    texts = [str(name) for name in names]
    rank = np.argsort(np.argsort(np.array(texts, dtype=object), kind="stable"), kind="stable")
    return rank.astype(np.int64)[codes], sorted(texts)


def _column(rows: pd.DataFrame, name: str, otherwise: float) -> Array:
    """Return a column that may be missing, whole or in places."""
    if name not in rows:
        return np.full(len(rows), otherwise)
    values = pd.to_numeric(rows[name]).to_numpy(dtype=float, na_value=np.nan)
    return np.where(np.isfinite(values), values, otherwise)
