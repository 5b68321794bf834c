"""Which method predicts best a rehearsal it has not seen, and which shape the time term has."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, cast

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.errors import DriftError, InputError, TooLittleData
from drift.instruments import Catalogue
from drift.pairing.paired import Paired
from drift.regression.fits import fit, rows_to_fit
from drift.regression.results import Fit

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from drift.regression.shapes import Shape

__all__ = ["Comparison", "compare", "compare_shapes"]

Array = npt.NDArray[np.float64]
Curve = Callable[[pd.DataFrame], Array]

NO_DRIFT = "no drift"

FEWEST_REHEARSALS = 3
"""Of two, each would be predicted from the other alone, without a day to tell chance from drift."""


@dataclass(frozen=True)
class Comparison:
    """Errors in predicting rehearsals that were left out.

    Parameters
    ----------
    errors : DataFrame
        One row a method and rehearsal left out: ``method, rehearsal, readings, rms_cents`` (of the
        readings whose note the other rehearsals have), and ``refused`` with the reason where a
        method could not answer.
    """

    errors: pd.DataFrame

    def to_frame(self) -> pd.DataFrame:
        """Return one row a method: root mean square over all readings left out (cents)."""
        table = self.errors.assign(square=lambda rows: rows["readings"] * rows["rms_cents"] ** 2)
        sums = (
            table[table["refused"] == ""]
            .groupby("method", sort=False)[["square", "readings"]]
            .sum()
        )
        order = list(dict.fromkeys(table["method"]))
        sums = sums.reindex(order)
        refused = (
            table[table["refused"] != ""].groupby("method").size().reindex(order, fill_value=0)
        )
        return pd.DataFrame(
            {
                "method": order,
                "rms_cents": np.sqrt(sums["square"].to_numpy() / sums["readings"].to_numpy()),
                "readings": sums["readings"].fillna(0).astype(int).to_numpy(),
                "rehearsals_refused": refused.to_numpy(),
            }
        )

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
    catalogue: Catalogue | None = None,
) -> Comparison:
    """Leave out each rehearsal in turn and predict it by each method, and by "no drift".

    Parameters
    ----------
    paired : Paired or DataFrame
        As for `drift.fit`, of at least three rehearsals.
    methods : tuple of str
        The methods to compare.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.

    Raises
    ------
    TooLittleData
        If there are fewer than three rehearsals.

    Notes
    -----
    Every method predicts in the same way: the pitch of each note of each player is the median of
    what the other rehearsals leave after the method's drift is taken off; "no drift" takes nothing
    off. The day effect of the rehearsal left out is not known to any of them.
    """

    def curve_of(method: str) -> Callable[[pd.DataFrame], Curve]:
        return lambda rows: _drift_of(fit(rows, method, catalogue=catalogue))

    ways: dict[str, Callable[[pd.DataFrame], Curve]] = {name: curve_of(name) for name in methods}
    ways[NO_DRIFT] = lambda _: lambda rows: np.zeros(len(rows))
    return _leave_out(paired, ways, catalogue)


def compare_shapes(
    paired: Paired | pd.DataFrame,
    more: Mapping[str, Shape] | None = None,
    *,
    catalogue: Catalogue | None = None,
) -> Comparison:
    """Leave out each rehearsal in turn and predict it with several shapes of the time term.

    Parameters
    ----------
    paired : Paired or DataFrame
        As for `drift.fit`, of at least three rehearsals.
    more : mapping of str to Shape, optional
        Shapes of one's own by name, which are compared as well; see
        `drift.regression.shapes.Shape`.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.

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
    from drift.regression.shapes import SHAPES, fit_shape

    def curve_of(shape: Shape) -> Callable[[pd.DataFrame], Curve]:
        return lambda rows: fit_shape(rows, shape)

    own = more or {}
    if taken := sorted(own.keys() & {*SHAPES, NO_DRIFT}):
        raise InputError(f"there is a shape {taken[0]!r} already", "give yours another name")
    for shape in own.values():
        shape.of(rows_to_fit(paired, catalogue)[0])
    ways = {name: curve_of(shape) for name, shape in {**SHAPES, **own}.items()}
    ways[NO_DRIFT] = lambda _: lambda rows: np.zeros(len(rows))
    return _leave_out(paired, ways, catalogue)


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


def _leave_out(
    paired: Paired | pd.DataFrame,
    ways: Mapping[str, Callable[[pd.DataFrame], Curve]],
    catalogue: Catalogue | None,
) -> Comparison:
    """Return the errors of each way for each rehearsal left out."""
    rows, _ = rows_to_fit(paired, catalogue)
    names = rows["rehearsal"].drop_duplicates().tolist()
    if len(names) < FEWEST_REHEARSALS:
        raise TooLittleData(
            f"too few rehearsals ({len(names)}) to compare methods: each is left out in turn and "
            f"predicted from the others, and that takes {FEWEST_REHEARSALS}",
            "log more rehearsals, at another temperature if you can; until then leave the "
            "comparison out",
        )
    records = []
    for name in names:
        away = (rows["rehearsal"] == name).to_numpy()
        for method, way in ways.items():
            row = {"method": method, "rehearsal": name, "readings": 0, "rms_cents": np.nan}
            try:
                errors = _errors(rows[~away], rows[away], way(rows[~away]))
                if len(errors):
                    row |= {
                        "readings": len(errors),
                        "rms_cents": float(np.sqrt(np.mean(errors**2))),
                    }
                records.append(row | {"refused": "" if len(errors) else "no note in common"})
            except DriftError as refusal:
                records.append(row | {"refused": refusal.problem})
    return Comparison(pd.DataFrame(records))


def _errors(known: pd.DataFrame, new: pd.DataFrame, drift: Curve) -> Array:
    """Return what a curve leaves of the rehearsal left out, for the notes the others have."""
    keys = ["instrument", "player", "side", "note"]
    rest = known[keys].assign(pitch=known["reference_cents"].to_numpy() - drift(known))
    pitch = rest.groupby(keys)["pitch"].median()
    expected = new[keys].merge(pitch.reset_index(), on=keys, how="left")["pitch"].to_numpy()
    errors = new["reference_cents"].to_numpy() - expected - drift(new)
    return np.asarray(errors[np.isfinite(errors)])
