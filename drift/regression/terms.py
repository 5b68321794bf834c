"""What a straight line holds beside temperature and playing time: covariates, or a formula."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.errors import InputError
from drift.regression.covariates import Covariate

if TYPE_CHECKING:
    from formulaic import ModelSpec

    from drift.regression.estimates import Settings

__all__ = ["NO_TERMS", "Terms", "covariate_columns", "terms_of", "variables_of"]

Array = npt.NDArray[np.float64]

NAMES = ("celsius", "playing_minutes")
"""The columns of the drift itself."""

EXAMPLE = 'write one like "cents ~ drift + humidity_percent + C(mute)"'


@dataclass(frozen=True)
class Terms:
    """More columns of a straight line.

    Parameters
    ----------
    labels : tuple of str
        What they are called.
    sds : tuple of float
        How many units of its own each column takes for one.
    covariates : tuple of Covariate
        Columns of the table, where they were named one by one.
    spec : ModelSpec, optional
        What makes them of a table, where they came from a formula.
    needs : tuple of str
        The columns of the table that they are made of.
    """

    labels: tuple[str, ...] = ()
    sds: tuple[float, ...] = ()
    covariates: tuple[Covariate, ...] = ()
    spec: ModelSpec | None = None
    needs: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.labels)

    def can_be_made_of(self, rows: pd.DataFrame) -> bool:
        """Return whether a table has the columns."""
        return all(name in rows for name in self.needs)

    def columns(self, rows: pd.DataFrame) -> Array:
        """Return the columns of a table, shape (n, terms)."""
        if self.spec is None:
            return np.column_stack(
                [np.empty((len(rows), 0)), *(one.column(rows) for one in self.covariates)]
            )
        return _matrix(self.spec, rows)


NO_TERMS = Terms()


def terms_of(
    rows: pd.DataFrame, covariates: Sequence[Covariate] = (), formula: str | None = None
) -> Terms:
    """Return the terms that covariates or a formula make of complete rows.

    Raises
    ------
    InputError
        If the formula cannot be read, or asks for what is not there.
    """
    if formula is None:
        return Terms(
            tuple(one.label for one in covariates),
            tuple(one.sd for one in covariates),
            tuple(covariates),
            needs=tuple(dict.fromkeys(one.name for one in covariates)),
        )
    from formulaic import Formula
    from formulaic.errors import FormulaicError

    needs = variables_of(formula)
    rest = [term for term in _right_side(formula) if str(term) != "drift"]
    try:
        spec = Formula(["1", *(str(term) for term in rest)]).get_model_matrix(rows).model_spec
    except FormulaicError as failure:
        raise _refusal(formula, failure) from failure
    labels = tuple(name for name in spec.column_names if name != "Intercept")
    return Terms(labels, (1.0,) * len(labels), (), spec, needs)


def variables_of(formula: str) -> tuple[str, ...]:
    """Return the columns of the table that a formula is made of, beside the drift.

    Raises
    ------
    InputError
        If it cannot be read, is not of cents, or has no drift or one that is combined.

    Examples
    --------
    >>> variables_of("cents ~ drift + humidity_percent + C(mute)")
    ('humidity_percent', 'mute')
    """
    from formulaic import Formula

    terms = _right_side(formula)
    if "drift" not in map(str, terms):
        raise InputError(f"the formula {formula!r} has no drift", EXAMPLE)
    rest = [term for term in terms if str(term) != "drift"]
    needs = Formula(rest).required_variables
    if "drift" in needs:
        raise InputError(
            f"the formula {formula!r} combines drift with something else",
            "drift stands for temperature and playing time: give celsius:mute in its place",
        )
    return tuple(sorted(map(str, needs)))


def covariate_columns(settings: Settings) -> tuple[str, ...]:
    """Return the columns that a fit took as covariates, beside temperature and playing time."""
    named = settings.covariates
    given = named if settings.formula is None else variables_of(settings.formula)
    return tuple(name for name in given if name not in NAMES)


def _right_side(formula: str) -> list[Any]:
    """Return the terms of a formula of cents."""
    try:
        from formulaic import Formula
        from formulaic.errors import FormulaicError
    except ImportError as missing:
        raise InputError(
            "a formula needs the package formulaic", "pip install rehearsal-drift[formula]"
        ) from missing
    try:
        parsed: Any = Formula(formula)
    except FormulaicError as failure:
        raise _refusal(formula, failure) from failure
    if not hasattr(parsed, "lhs") or str(parsed.lhs) != "cents":
        raise InputError(f"the formula {formula!r} is not one of cents", EXAMPLE)
    return list(parsed.rhs)


def _refusal(formula: str, failure: Exception) -> InputError:
    reason = str(failure).splitlines()[0]
    return InputError(f"the formula {formula!r} cannot be used: {reason}", EXAMPLE)


def _matrix(spec: ModelSpec, rows: pd.DataFrame) -> Array:
    matrix = pd.DataFrame(spec.get_model_matrix(rows))
    return matrix.drop(columns="Intercept").to_numpy(dtype=float)
