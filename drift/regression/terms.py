"""What a straight line holds beside temperature and playing time: covariates, or a formula."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from numbers import Real
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

_DRIFT = ("Intercept", *NAMES)

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
    bend : mapping of str to tuple of str
        Of each column that changes what temperature or playing time do, the labels of the terms it
        is in.
    held : mapping of str to number or text
        Where a slope is given: the mean of each column of numbers, the commonest of others.
    """

    labels: tuple[str, ...] = ()
    sds: tuple[float, ...] = ()
    covariates: tuple[Covariate, ...] = ()
    spec: ModelSpec | None = None
    needs: tuple[str, ...] = ()
    bend: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    held: Mapping[str, Any] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.labels)

    def without(self, labels: Collection[str]) -> Terms:
        """Return the terms but for some, by their labels."""
        kept = [place for place, label in enumerate(self.labels) if label not in labels]
        left = {name: tuple(x for x in own if x not in labels) for name, own in self.bend.items()}
        covariates = tuple(self.covariates[place] for place in kept if self.covariates)
        return replace(
            self,
            labels=tuple(self.labels[place] for place in kept),
            sds=tuple(self.sds[place] for place in kept),
            covariates=covariates,
            needs=self.needs if self.spec else tuple(dict.fromkeys(c.name for c in covariates)),
            bend={name: own for name, own in left.items() if own},
        )

    def can_be_made_of(self, rows: pd.DataFrame) -> bool:
        """Return whether a table has the columns, or what is held in their place is known."""
        return all(name in rows or name in self.held for name in self.needs)

    def of_usual(self, part: pd.DataFrame) -> Terms:
        """Return the terms with slopes given where the readings of an instrument mostly are."""
        if not self.bend:
            return self
        return replace(self, held={name: self._usual(part[name]) for name in (*NAMES, *self.needs)})

    def _usual(self, values: pd.Series[Any]) -> Any:
        """Return the mean of numbers, or the commonest of 0 and 1, of words and of categories."""
        numbers = pd.api.types.is_numeric_dtype(values) and not set(values.unique()) <= {0, 1}
        if numbers and not any(f"C({values.name}" in label for label in self.labels):
            return float(values.mean())
        counts = values.value_counts().sort_index().sort_values(ascending=False, kind="stable")
        return counts.index[0]

    def of_players(self, part: pd.DataFrame) -> tuple[str, ...]:
        """Return the labels of the terms that hold a column with one value a player.

        The player is no such column: a slope for each of them is no sample of players.
        """
        if self.spec is None:
            return ()
        given = [name for name in self.needs if name not in (*NAMES, "player")]
        each = part.groupby("player")[given].nunique()
        single = {name for name in given if each[name].max() == 1}
        found = [
            label
            for term, variables in self.spec.term_variables.items()
            if single & set(map(str, variables))
            for label in self.spec.column_names[self.spec.term_slices[term]]
        ]
        return tuple(label for label in found if label in self.labels)

    def at(self, values: Mapping[str, Any]) -> Terms:
        """Return the terms with slopes given at other values of columns.

        Raises
        ------
        InputError
            If a column changes no slope, or has no such value.
        """
        for name, value in values.items():
            if name not in self.bend or name in NAMES:
                changes = [known for known in self.bend if known not in NAMES]
                raise InputError(
                    f"the change of pitch does not depend on {name}",
                    f"it depends on {', '.join(changes)}" if changes
                    else 'it depends on what a formula multiplies with celsius, as in "cents ~ '
                    'drift + celsius:years"',
                )  # fmt: skip
            if isinstance(value, Real) != isinstance(self.held[name], Real):
                raise InputError(
                    f"{name} {value!r} is not like the readings, which have {self.held[name]!r}",
                    "give a value such as they have",
                )
        return replace(self, held={**self.held, **values})

    def along(self, celsius: Array, minutes: Array) -> Array:
        """Return the columns at temperatures and minutes of playing, all else as it is held."""
        if not self.bend:
            return np.zeros((len(celsius), len(self)))
        rows = pd.DataFrame({name: [value] * len(celsius) for name, value in self.held.items()})
        return self.columns(rows.assign(celsius=celsius, playing_minutes=minutes))

    def columns(self, rows: pd.DataFrame) -> Array:
        """Return the columns of a table, shape (n, terms)."""
        rows = rows.assign(**{name: self.held[name] for name in self.needs if name not in rows})
        if self.spec is None:
            return np.column_stack(
                [np.empty((len(rows), 0)), *(one.column(rows) for one in self.covariates)]
            )
        matrix = pd.DataFrame(self.spec.get_model_matrix(rows))
        return matrix[list(self.labels)].to_numpy(dtype=float)


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
        # With the drift in it, so that words that multiply it are set against their commonest.
        every = ["1", *NAMES, *(str(term) for term in rest)]
        spec = Formula(every).get_model_matrix(rows).model_spec
    except FormulaicError as failure:
        raise _refusal(formula, failure) from failure
    labels = tuple(name for name in spec.column_names if name not in _DRIFT)
    return Terms(labels, (1.0,) * len(labels), (), spec, needs, _bend(spec))


def _bend(spec: ModelSpec) -> dict[str, tuple[str, ...]]:
    """Return the columns on which slopes depend, each with the labels of its terms."""
    found: dict[str, list[str]] = {}
    columns = set(map(str, spec.variables_by_source["data"]))
    for term, variables in spec.term_variables.items():
        names = columns & set(map(str, variables))
        drift = names & set(NAMES)
        factors = [str(factor) for factor in term.factors]
        straight = len(drift) == 1 and drift < {*factors, ""}
        for name in sorted(names - drift if straight else names) if drift else ():
            found.setdefault(name, []).extend(spec.column_names[spec.term_slices[term]])
    return {
        name: tuple(label for label in labels if label not in NAMES)
        for name, labels in found.items()
    }


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
