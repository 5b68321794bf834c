"""Covariates: one more column of the regression, by name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.errors import InputError
from drift.findings import Finding
from drift.regression.grouping import intercepts_of, less_means
from drift.regression.multiples import multiples_of
from drift.spelling import near

__all__ = [
    "Covariate",
    "absent",
    "covariates_of",
    "one_value_a_player",
    "which_columns",
    "with_short_names",
]

Array = npt.NDArray[np.float64]

MOST_LEVELS = 20
FLAT = 1e-6
"""Of its own sd a column varies more within a note than this, or not at all."""

IN_THE_MODEL = ("cents", "reference_cents", "celsius", "playing_minutes", "minutes_into_spell")
"""What a regression of drift is of, and on."""

SHORT_NAMES = {"humidity": "humidity_percent", "pressure": "pressure_hpa"}
"""What covariates may be called besides."""


@dataclass(frozen=True)
class Covariate:
    """A column, standardised.

    Parameters
    ----------
    name : str
        The column of the table.
    level : str, optional
        Of a column of words: the word whose effect against `against` this is.
    against : str, optional
        The first word of the alphabet.
    mean, sd : float
        Of the readings fitted; the effect is estimated for one sd and reported for one unit.
    at : float
        Where pitches are given: at the commonest word, at 0 for a column of 0 and 1, else at the
        mean.
    multiples : mapping of (str, str) to float
        Of a column that is so much for each °C from 20: how much, by instrument and player
        (`drift.regression.multiples`).
    """

    name: str
    level: str | None = None
    against: str | None = None
    mean: float = 0.0
    sd: float = 1.0
    at: float = 0.0
    multiples: Mapping[tuple[str, str], float] = field(default_factory=dict, repr=False)

    @property
    def label(self) -> str:
        """Name for a table: ``humidity_percent``, ``mute[straight]``."""
        return self.name if self.level is None else f"{self.name}[{self.level}]"

    @property
    def shift(self) -> float:
        """How far `at` lies from the mean, in sds."""
        return (self.at - self.mean) / self.sd

    def column(self, rows: pd.DataFrame) -> Array:
        """Return the standardised column of a table that has it."""
        if self.level is None:
            values = pd.to_numeric(rows[self.name]).to_numpy(dtype=float)
        else:
            values = (rows[self.name].astype(str) == self.level).to_numpy(dtype=float)
        return np.asarray((values - self.mean) / self.sd)


def covariates_of(rows: pd.DataFrame, names: Sequence[str]) -> tuple[Covariate, ...]:
    """Return the covariates that columns of a table make.

    Parameters
    ----------
    rows : DataFrame
        The rows to fit, complete in these columns.
    names : sequence of str
        Columns: numbers, or words (one effect a word, against the first of the alphabet).

    Raises
    ------
    InputError
        If a column is missing, never changes, has more than 20 words, or is what the regression
        is on anyway.
    """
    found: list[Covariate] = []
    for name in names:
        if name in IN_THE_MODEL:
            raise InputError(
                f"{name} is in the regression already, and cannot be a covariate beside it",
                "leave it out",
            )
        if name not in rows:
            raise InputError(
                f"no column {name!r} to take as a covariate",
                f"there are {', '.join(map(str, rows.columns))}",
            )
        found += [_numbers(rows, name)] if _numeric(rows[name]) else _words(rows[name], name)
    return tuple(found)


def _numeric(values: pd.Series[Any]) -> bool:
    return pd.api.types.is_numeric_dtype(values) and not pd.api.types.is_bool_dtype(values)


def _numbers(rows: pd.DataFrame, name: str) -> Covariate:
    numbers = rows[name].to_numpy(dtype=float)
    sd = float(numbers.std())
    if not sd > 1e-12:
        raise InputError(
            f"the covariate {name} is the same in every reading", "leave it out, or let it change"
        )
    mean = float(numbers.mean())
    at = 0.0 if set(numbers) == {0.0, 1.0} else mean
    return Covariate(name, mean=mean, sd=sd, at=at, multiples=multiples_of(rows, name))


def _words(values: pd.Series[Any], name: str) -> list[Covariate]:
    counts = values.astype(str).value_counts().sort_index()
    if not 2 <= len(counts) <= MOST_LEVELS:
        raise InputError(
            f"the covariate {name} has {len(counts)} different words",
            f"give one with 2 to {MOST_LEVELS}",
        )
    against, *levels = map(str, counts.index)
    commonest = counts.sort_values(ascending=False, kind="stable").index[0]
    return [Covariate(name, one, against, at=float(one == commonest)) for one in levels]


def one_value_a_player(rows: pd.DataFrame, covariates: Sequence[Covariate]) -> list[Finding]:
    """Return the warning for columns that never change in a note of a player, if there are any.

    Each note of a player has a pitch of its own: what such a column does is the prior of it.
    """
    codes = intercepts_of(rows)
    varies: dict[str, bool] = {}
    for one in covariates:
        away = np.abs(less_means(one.column(rows), codes)).max()
        varies[one.name] = varies.get(one.name, False) or bool(away > FLAT)
    names = [name for name, does in varies.items() if not does]
    return [Finding("one_value_a_player", {"covariates": names})] if names else []


def with_short_names(rows: pd.DataFrame, covariates: Sequence[str]) -> pd.DataFrame:
    """Return a table with the columns that are asked for by a short name."""
    asked = {
        short: rows[name]
        for short, name in SHORT_NAMES.items()
        if short in covariates and short not in rows and name in rows
    }
    return rows.assign(**asked) if asked else rows


def absent(rows: pd.DataFrame, covariates: Sequence[str]) -> npt.NDArray[np.bool_]:
    """Return the rows in which a covariate has no value, or no finite one."""
    given = rows[list(covariates)]
    endless = np.isinf(given.select_dtypes("number").to_numpy(dtype=float)).any(axis=1)
    return np.asarray(given.isna().any(axis=1).to_numpy() | endless)


def which_columns(missing: Sequence[str], given: Sequence[str]) -> str:
    """Return what to do about columns that are not there: what was meant, or how to add one."""
    known = [*given, *(short for short, name in SHORT_NAMES.items() if name in given)]
    meant = [name for one in missing for name in near(one, known, 1)]
    hint = f"did you mean {', '.join(meant)}? " if meant else ""
    return (
        f"{hint}there are {', '.join(known)}; columns of your own are given by --beside FILE, or "
        "drift.pair(logged, beside=table)"
    )
