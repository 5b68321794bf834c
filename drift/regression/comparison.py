"""Which method predicts best a rehearsal it has not seen, and which shape the time term has."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, cast

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.errors import DriftError, InputError, TooLittleData
from drift.findings import Finding
from drift.instruments import Catalogue
from drift.pairing.paired import LeftOut, Paired
from drift.regression.covariates import covariates_of
from drift.regression.fits import asked_columns, fit, method_named, rows_to_fit
from drift.regression.priors import Priors
from drift.regression.results import Fit
from drift.regression.same_everywhere import said_of, same_everywhere
from drift.regression.terms import terms_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from drift.regression.shapes import Shape

__all__ = ["Comparison", "compare", "compare_shapes"]

Array = npt.NDArray[np.float64]
Curve = Callable[[pd.DataFrame], Array]
Progress = Callable[[int, int], None]
Way = Callable[[int, pd.DataFrame], Curve]
"""Gives the drift that all rehearsals but one show, of the number of that one and their rows."""

NO_DRIFT = "no drift"

FEWEST_REHEARSALS = 3
"""Of two, each would be predicted from the other alone, without a day to tell chance from drift."""


@dataclass(frozen=True, eq=False)
class Comparison:
    """Errors in predicting rehearsals that were left out.

    Parameters
    ----------
    errors : DataFrame
        One row a method and rehearsal left out: ``method, rehearsal, readings, rms_cents`` (of the
        readings whose note the other rehearsals have), and ``refused`` with the reason where a
        method could not answer.
    warnings : tuple of Finding
        What the straight lines left out.
    left_out : tuple of LeftOut
        Readings that no method was given, by reason.
    """

    errors: pd.DataFrame
    warnings: tuple[Finding, ...] = ()
    left_out: tuple[LeftOut, ...] = ()

    def to_frame(self) -> pd.DataFrame:
        """Return one row a method, with how far its error differs from rehearsal to rehearsal.

        Returns
        -------
        DataFrame
            ``method``; ``rms_cents``, the root mean square over all readings left out;
            ``lowest_cents, highest_cents``, of the rehearsals; ``behind_cents``, how much more
            than the best method over the rehearsals that both answered, in the mean, with its
            ``behind_standard_error_cents`` (each rehearsal is one observation);
            ``readings``; ``rehearsals_refused``.
        """
        each = self._of_each("rms_cents")
        readings = self._of_each("readings").where(each.notna(), 0)
        rms = ((readings * each.fillna(0.0) ** 2).sum() / readings.sum()) ** 0.5
        best = each[rms.idxmin()] if rms.notna().any() else each.iloc[:, 0]
        behind = each.sub(best, axis=0)
        refused = (self._of_each("refused") != "").sum()
        return pd.DataFrame(
            {
                "rms_cents": rms,
                "lowest_cents": each.min(),
                "highest_cents": each.max(),
                "behind_cents": behind.mean(),
                "behind_standard_error_cents": behind.sem(),
                "readings": readings.sum().astype(int),
                "rehearsals_refused": refused,
            }
        ).reset_index(names="method")

    def _of_each(self, column: str) -> pd.DataFrame:
        """Return a column of the errors, a row a rehearsal and a column a method."""
        order = self.errors["method"].drop_duplicates()
        return self.errors.pivot(index="rehearsal", columns="method", values=column)[order]

    def summary(self) -> str:
        """Return the errors in words, a line a method."""
        from drift.words.comparison import summary_of

        return summary_of(self)

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the error of each method on each rehearsal left out.

        Parameters
        ----------
        ax : Axes, optional
            Where to draw (default: new axes).
        """
        from drift.charts import left_out_rehearsals

        return left_out_rehearsals(self.errors, ax)


def compare(
    paired: Paired | pd.DataFrame,
    methods: tuple[str, ...] = ("bayesian", "least-squares", "mixed"),
    *,
    start: str = "stated",
    covariates: Sequence[str] = (),
    formula: str | None = None,
    priors: Priors | None = None,
    catalogue: Catalogue | None = None,
    progress: Progress | None = None,
) -> Comparison:
    """Leave out each rehearsal in turn and predict it by each method, and by "no drift".

    Parameters
    ----------
    paired : Paired or DataFrame
        As for `drift.fit`, of at least three rehearsals.
    methods : tuple of str
        The methods to compare.
    start, covariates, formula, priors
        As for `drift.fit`. Covariates count in every method; the start and the priors in the
        Bayesian one, which refuses a formula: the others have it.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.
    progress : callable, optional
        Called with the number of fits that are done and of all.

    Raises
    ------
    InputError
        If a column is missing, or both covariates and a formula are given.
    TooLittleData
        If there are fewer than three rehearsals.

    Notes
    -----
    Every method predicts in the same way: the pitch of each note of each player is the median of
    what the other rehearsals leave after the method's drift is taken off; "no drift" takes nothing
    off, covariates neither. The day effect of the rehearsal left out is not known to any of them.
    """
    given = asked_columns(covariates, formula)
    asked: dict[str, Any] = {"covariates": covariates, "formula": formula}

    def way_of(method: str) -> Way:
        own = asked | ({"start": start, "priors": priors} if method == "bayesian" else {})
        return lambda _, known: _drift_of(fit(known, method, catalogue=catalogue, **own))

    rows, left_out = _several(paired, catalogue, given, start)
    ways = {name: way_of(method_named(name)) for name in methods}
    found = replace(_leave_out(rows, ways, progress), left_out=left_out)
    if not given or set(ways) <= {"bayesian"}:
        return found
    same = same_everywhere(rows, terms_of(rows, covariates_of(rows, covariates), formula))
    return replace(found, warnings=tuple(said_of(same)))


def compare_shapes(
    paired: Paired | pd.DataFrame,
    more: Mapping[str, Shape] | None = None,
    *,
    covariates: Sequence[str] = (),
    formula: str | None = None,
    catalogue: Catalogue | None = None,
    progress: Progress | None = None,
) -> Comparison:
    """Leave out each rehearsal in turn and predict it with several shapes of the time term.

    Parameters
    ----------
    paired : Paired or DataFrame
        As for `drift.fit`, of at least three rehearsals.
    more : mapping of str to Shape, optional
        Shapes of one's own by name, which are compared as well; see
        `drift.regression.shapes.Shape`.
    covariates : sequence of str
    formula : str, optional
        As for `drift.fit`: what every shape has beside.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.
    progress : callable, optional
        Called with the number of pairs of time constants that are done and of all.

    Raises
    ------
    InputError
        If a shape does not give the columns that it should, or has the name of another.
    TooLittleData
        If there are fewer than three rehearsals.

    Notes
    -----
    All by least squares with a linear term in temperature: ``linear time``; ``saturating time``,
    ``1 - exp(-minutes/tau)`` of the minutes played in all; ``play and rest state``, the warmth
    ``w`` that also cools in rests; ``w`` and its product with temperature, as the Bayesian method
    has it. Time constants are those that fit the other rehearsals best.
    """
    from drift.regression.shapes import SHAPES, fit_shape_to_parts

    own = more or {}
    if taken := sorted(own.keys() & {*SHAPES, NO_DRIFT}):
        raise InputError(f"there is a shape {taken[0]!r} already", "give yours another name")
    rows, left_out = _several(paired, catalogue, asked_columns(covariates, formula))
    for shape in own.values():
        shape.of(rows)
    terms = terms_of(rows, covariates_of(rows, covariates), formula)
    parts = [np.flatnonzero(rows["rehearsal"] != name) for name in _rehearsals(rows)]
    every = {**SHAPES, **own}
    show = _in_all(progress, [len(list(shape.pairs())) for shape in every.values()])

    def way_of(shape: Shape, shown: Callable[[int], None]) -> Way:
        curves = fit_shape_to_parts(rows, shape, parts, terms, shown)
        return lambda number, _: curves[number]

    ways = {
        name: way_of(shape, shown) for (name, shape), shown in zip(every.items(), show, strict=True)
    }
    return replace(_leave_out(rows, ways), left_out=left_out)


def _in_all(progress: Progress | None, sizes: Sequence[int]) -> list[Callable[[int], None]]:
    """Return what shows the progress of each of several tasks as that of all."""
    ends = np.cumsum(sizes)

    def shown(before: int) -> Callable[[int], None]:
        return lambda done: progress(before + done, int(ends[-1])) if progress else None

    return [shown(int(end) - size) for end, size in zip(ends, sizes, strict=True)]


def _drift_of(found: Fit) -> Curve:
    """Return the function that gives each row's expected drift, by its player where known."""

    def drift(rows: pd.DataFrame) -> Array:
        result = np.zeros(len(rows))
        for key, where in rows.groupby(["instrument", "player"], sort=False).indices.items():
            name, player = cast(tuple[str, str], key)
            kind = found.kinds.get(name)
            one_line = kind is not None and kind.pooled_players > 1
            curve = found.curve(name, None if one_line else player)
            result[where] = curve.expected(rows.iloc[where])
        return result

    return drift


def _several(
    paired: Paired | pd.DataFrame,
    catalogue: Catalogue | None,
    covariates: Sequence[str],
    start: str = "stated",
) -> tuple[pd.DataFrame, tuple[LeftOut, ...]]:
    """Return the rows that can be used, of rehearsals enough to leave one out, and what cannot."""
    rows, left_out = rows_to_fit(paired, catalogue, covariates, start)
    count = len(_rehearsals(rows))
    if count < FEWEST_REHEARSALS:
        raise TooLittleData(
            f"too few rehearsals ({count}) to compare methods: each is left out in turn and "
            f"predicted from the others, and that takes {FEWEST_REHEARSALS}",
            "log more rehearsals, at another temperature if you can; until then leave the "
            "comparison out",
        )
    return rows, left_out


def _rehearsals(rows: pd.DataFrame) -> list[str]:
    return rows["rehearsal"].drop_duplicates().tolist()


def _leave_out(
    rows: pd.DataFrame, ways: Mapping[str, Way], progress: Progress | None = None
) -> Comparison:
    """Return the errors of each way, and of no drift, for each rehearsal left out."""
    ways = {**ways, NO_DRIFT: lambda _, __: lambda table: np.zeros(len(table))}
    records = []
    names = _rehearsals(rows)
    for number, name in enumerate(names):
        away = (rows["rehearsal"] == name).to_numpy()
        for method, way in ways.items():
            row = {"method": method, "rehearsal": name, "readings": 0, "rms_cents": np.nan}
            try:
                errors = _errors(rows[~away], rows[away], way(number, rows[~away]))
                if len(errors):
                    row |= {
                        "readings": len(errors),
                        "rms_cents": float(np.sqrt(np.mean(errors**2))),
                    }
                records.append(row | {"refused": "" if len(errors) else "no note in common"})
            except DriftError as refusal:
                records.append(row | {"refused": refusal.problem})
            if progress:
                progress(len(records), len(names) * len(ways))
    return Comparison(pd.DataFrame(records))


def _errors(known: pd.DataFrame, new: pd.DataFrame, drift: Curve) -> Array:
    """Return what a curve leaves of the rehearsal left out, for the notes the others have."""
    keys = ["instrument", "player", "side", "note"]
    rest = known[keys].assign(pitch=known["reference_cents"].to_numpy() - drift(known))
    pitch = rest.groupby(keys)["pitch"].median()
    expected = new[keys].merge(pitch.reset_index(), on=keys, how="left")["pitch"].to_numpy()
    errors = new["reference_cents"].to_numpy() - expected - drift(new)
    return np.asarray(errors[np.isfinite(errors)])
