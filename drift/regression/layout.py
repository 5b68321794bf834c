"""How readings lie in temperature and playing time: what the warnings ask of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import reduce
from operator import add

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.regression.grouping import INTERCEPT, intercepts_of, less_means, numbered
from drift.regression.warmup import warmth

__all__ = ["Layout", "Lie", "doubled_in", "layout_of", "lie_of", "warming_in"]

Array = npt.NDArray[np.float64]

WARM_MINUTES, COOL_MINUTES = 7.5, 15.0
"""Time constants of an instrument of which nothing is known; common practice is 5 to 15 minutes."""

WARMED_MINUTES = 15.0
"""After so many minutes of playing an instrument counts as warm: two time constants, 86 %."""


@dataclass(frozen=True)
class Lie:
    """Where some readings lie; those of other intercepts add to them.

    Parameters
    ----------
    readings : int
    total : array of shape (2,)
        Sums of temperature [°C] and playing time [min].
    within : array of shape (2, 2)
        Their products about the means of the intercepts.
    """

    readings: int
    total: Array
    within: Array

    def __add__(self, other: Lie) -> Lie:
        """Return where both lie."""
        return Lie(
            self.readings + other.readings, self.total + other.total, self.within + other.within
        )

    @property
    def correlation(self) -> float:
        """Correlation of the two within the intercepts; NaN where one of them is constant."""
        size = float(np.sqrt(self.within[0, 0] * self.within[1, 1]))
        return float(self.within[0, 1]) / size if size > 1e-9 else float("nan")


@dataclass(frozen=True)
class Layout:
    """How all readings lie.

    Parameters
    ----------
    kinds : mapping of str to Lie
        By instrument.
    alone : int
        Readings that are the only one of their intercept.
    days : int
        Days of players: combinations of player, instrument and rehearsal.
    doubled : int
        Readings that equal an earlier one in everything.
    warming : int, optional
        Readings made while an instrument was warming up, where they were counted.
    """

    kinds: Mapping[str, Lie]
    alone: int
    days: int
    doubled: int = 0
    warming: int | None = None

    def of(self, names: Iterable[str]) -> Lie:
        """Return how the readings of some instruments lie together."""
        return reduce(add, (self.kinds[name] for name in names))


def lie_of(rows: pd.DataFrame) -> Lie:
    """Return where rows lie: all there are of their intercepts."""
    table = rows[["celsius", "playing_minutes"]].to_numpy(dtype=float)
    away = less_means(table, intercepts_of(rows))
    return Lie(len(rows), table.sum(axis=0), away.T @ away)


def layout_of(rows: pd.DataFrame) -> Layout:
    """Return how the rows of a paired table lie."""
    codes, names = numbered(rows, ["instrument"])
    parts = [rows] if len(names) == 1 else [rows[codes == code] for code in range(len(names))]
    return Layout(
        {str(name): lie_of(part) for name, part in zip(names, parts, strict=True)},
        int((np.bincount(intercepts_of(rows)) == 1).sum()),
        len(numbered(rows, ["player", "instrument", "rehearsal"])[1]),
        doubled_in(rows),
    )


def warming_in(rows: pd.DataFrame) -> int:
    """Return how many readings were made in the first 15 minutes of playing, or soon after a rest.

    An instrument that was warm at the start, or rested for a few minutes only, is warm.
    """
    early = rows[rows["minutes_into_spell"].to_numpy(dtype=float) < WARMED_MINUTES]
    state = warmth(
        early["spells"].tolist(),
        early["minutes_into_spell"].to_numpy(dtype=float),
        WARM_MINUTES,
        COOL_MINUTES,
        early["initial_warmth"].to_numpy(dtype=float),
    )
    return int((state < warmth((), WARMED_MINUTES, WARM_MINUTES, COOL_MINUTES)).sum())


def doubled_in(rows: pd.DataFrame) -> int:
    """Return how many rows equal an earlier one: what, whose, when, and all numbers."""
    numbers = ["reference_cents", "playing_minutes", "celsius"]
    table = rows[numbers].to_numpy(dtype=float)
    # Rows that are alike have the same sum at least, and few others have.
    perhaps = (
        pd.Series(table @ np.array([1.0, np.pi, np.sqrt(2.0)])).duplicated(keep=False).to_numpy()
    )
    if not perhaps.any():
        return 0
    keys = [*numbers, *(name for name in ("time", "rehearsal", *INTERCEPT) if name in rows)]
    return int(rows.loc[perhaps, keys].duplicated().sum())
