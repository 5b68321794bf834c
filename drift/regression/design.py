"""From rows to the columns of a regression, or a clear refusal."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.errors import TooLittleData
from drift.regression.diagnostics import correlation_within
from drift.regression.grouping import intercepts_of, less_means
from drift.regression.line import NAMES
from drift.regression.terms import NO_TERMS, Terms

__all__ = ["design_of", "prepared", "refuse_tied", "time_order"]

Array = npt.NDArray[np.float64]


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
    columns = [column for column in NAMES if _varies(ordered, column, groups)]
    if "celsius" not in columns:
        raise TooLittleData(
            f"{name}: every note was read at one temperature only, which shows no slope",
            "log the same notes in a warmer or colder room, or use bayesian",
        )
    if len(columns) == 2 and abs(correlation_within(ordered)) > 1.0 - 1e-9:
        raise TooLittleData(
            f"{name}: temperature and playing time rise together exactly",
            "log a rehearsal at another temperature, or use bayesian",
        )
    refuse_tied(ordered, columns, groups, terms)
    needed = int(groups.max()) + 1 + len(columns) + len(terms) + 1
    if len(ordered) < needed:
        raise TooLittleData(
            f"{name}: {len(ordered)} readings for {needed - 1} numbers to estimate "
            "(an intercept for every note of every player, and the slopes)",
            f"log at least {needed - len(ordered)} more of the same notes, or use bayesian",
        )
    if not _varies(ordered, "reference_cents", groups):
        raise TooLittleData(
            f"{name}: the cents of a note never change, so there is no scatter to judge by",
            "check that the tuner was read each time; log more readings",
        )
    return ordered, columns, groups


def _varies(rows: pd.DataFrame, column: str, groups: Any) -> bool:
    """Say whether a column varies within the intercepts."""
    return bool(np.abs(less_means(rows[column].to_numpy(dtype=float), groups)).max() > 1e-9)


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
    away = away / np.maximum(np.linalg.norm(away, axis=0), 1e-9 * np.sqrt(len(rows)))
    for place, label in enumerate(terms.labels):
        upto = len(columns) + place + 1
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
