"""From rows to the columns of a regression, or a clear refusal."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.errors import TooLittleData
from drift.regression.diagnostics import correlation_within
from drift.regression.grouping import intercepts_of, less_means
from drift.regression.line import NAMES
from drift.regression.terms import NO_TERMS, Terms

__all__ = [
    "FLAT",
    "design_of",
    "estimable",
    "prepared",
    "refuse_few",
    "refuse_flat",
    "refuse_tied",
    "time_order",
]

Array = npt.NDArray[np.float64]

FLAT = 1e-9
"""A column that stays this close to the mean of its intercept does not vary."""


def time_order(part: pd.DataFrame) -> npt.NDArray[np.intp]:
    """Return the order of time, where it is known, else of playing minutes in each rehearsal."""
    if "time" in part:
        instants = part["time"].to_numpy(dtype="datetime64[us]")
        if (instants[1:] >= instants[:-1]).all():
            return np.arange(len(part))
        return np.argsort(instants, kind="stable")
    minutes = part["playing_minutes"].to_numpy(dtype=float)
    return np.lexsort((minutes, pd.factorize(part["rehearsal"])[0]))


def prepared(part: pd.DataFrame, terms: Terms = NO_TERMS) -> tuple[pd.DataFrame, list[str], Any]:
    """Return the rows in order of time, the columns that can be estimated, and the intercepts.

    Raises
    ------
    TooLittleData
        If no slope can be told from them.
    """
    ordered = part.iloc[time_order(part)]
    # One kind of instrument may have only some of the numbers: close the gaps.
    groups = pd.factorize(intercepts_of(ordered))[0]
    name = ordered["instrument"].iloc[0]
    varies = {column: _varies(ordered, column, groups) for column in (*NAMES, "reference_cents")}
    columns = estimable(name, varies, lambda: correlation_within(ordered))
    refuse_tied(ordered, columns, groups, terms)
    refuse_few(name, len(ordered), int(groups.max()) + 1, len(columns) + len(terms))
    refuse_flat(name, varies)
    return ordered, columns, groups


def estimable(name: str, varies: Mapping[str, bool], together: Callable[[], float]) -> list[str]:
    """Return the columns of the line that can be estimated.

    Parameters
    ----------
    name : str
        The instrument.
    varies : mapping of str to bool
        Whether each column varies within the intercepts.
    together : callable
        Returns the correlation of temperature with playing time within the intercepts.

    Raises
    ------
    TooLittleData
        If no slope can be told from the readings.
    """
    columns = [column for column in NAMES if varies[column]]
    if "celsius" not in columns:
        raise TooLittleData(
            f"{name}: every note was read at one temperature only, which shows no slope",
            "log the same notes in a warmer or colder room, or use bayesian",
        )
    if len(columns) == 2 and abs(together()) > 1.0 - 1e-9:
        raise TooLittleData(
            f"{name}: temperature and playing time rise together exactly",
            "log a rehearsal at another temperature, or use bayesian",
        )
    return columns


def refuse_few(name: str, readings: int, intercepts: int, slopes: int) -> None:
    """Refuse fewer readings than there are numbers to estimate.

    Raises
    ------
    TooLittleData
        With how many more are needed.
    """
    needed = intercepts + slopes + 1
    if readings < needed:
        raise TooLittleData(
            f"{name}: {readings} readings for {needed - 1} numbers to estimate "
            "(an intercept for every note of every player, and the slopes)",
            f"log at least {needed - readings} more of the same notes, or use bayesian",
        )


def refuse_flat(name: str, varies: Mapping[str, bool]) -> None:
    """Refuse cents that never change.

    Raises
    ------
    TooLittleData
        If there is no scatter to judge by.
    """
    if not varies["reference_cents"]:
        raise TooLittleData(
            f"{name}: the cents of a note never change, so there is no scatter to judge by",
            "check that the tuner was read each time; log more readings",
        )


def _varies(rows: pd.DataFrame, column: str, groups: Any) -> bool:
    """Say whether a column varies within the intercepts."""
    return bool(np.abs(less_means(rows[column].to_numpy(dtype=float), groups)).max() > FLAT)


def refuse_tied(rows: pd.DataFrame, columns: list[str], groups: Any, terms: Terms) -> None:
    """Refuse terms that the intercepts, the drift or each other already hold.

    Raises
    ------
    TooLittleData
        With the first such term.
    """
    if not len(terms):
        return
    table = np.column_stack([rows[columns].to_numpy(dtype=float), terms.columns(rows)])
    away = less_means(table, groups)
    size, whole = np.linalg.norm(away, axis=0), np.linalg.norm(table, axis=0)
    # What is left by rounding must not be blown up to a column of its own.
    away = np.where(size > FLAT * whole, away, 0.0) / np.maximum(size, 1e-300)
    for place, label in enumerate(terms.labels):
        upto = len(columns) + place + 1
        if not away[:, upto - 1].any():
            raise TooLittleData(
                f"{rows['instrument'].iloc[0]}: {label} cannot be told from how high each player "
                "is: it is the same in all readings of a note",
                "leave it out, or take the method bayesian",
            )
        if np.linalg.matrix_rank(away[:, :upto], tol=1e-8) < upto:
            raise TooLittleData(
                f"{rows['instrument'].iloc[0]}: {label} cannot be told from the pitch of the "
                "notes, the drift or the terms before it",
                "leave it out, or read the same notes of a player at different values of it",
            )


def design_of(
    ordered: pd.DataFrame, columns: list[str], groups: Any, terms: Terms = NO_TERMS
) -> Array:
    """Return the slopes' columns, those of more terms, and a dummy for every intercept."""
    dummies = (groups[:, None] == np.arange(groups.max() + 1)).astype(float)
    slopes = ordered[columns].to_numpy(dtype=float)
    return np.column_stack([slopes, terms.columns(ordered), dummies])
