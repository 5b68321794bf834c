"""What the drift explains of the readings of a kind, and how entangled its two columns are."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from drift.regression.columns import Columns
from drift.regression.residuals import Look, Weights

__all__ = ["Shares", "looked_at"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Shares:
    """Sums over the readings of a kind; those of other intercepts add to them.

    Parameters
    ----------
    readings : int
    products : array of shape (4, 4)
        Weighted products, about the means of the intercepts, of cold, rise, the cents, and the
        cents without the drift.
    """

    readings: int
    products: Array

    def __add__(self, other: Shares) -> Shares:
        """Return what both say."""
        return Shares(self.readings + other.readings, self.products + other.products)

    @property
    def explained(self) -> float:
        """Share of the variance within the intercepts that the drift explains; NaN: none there."""
        before, after = self.products[2, 2], self.products[3, 3]
        return 1.0 - float(after) / float(before) if before > 1e-12 else float("nan")

    @property
    def regressor_correlation(self) -> float:
        """Correlation of cold with rise; NaN where one of them is constant."""
        size = float(np.sqrt(self.products[0, 0] * self.products[1, 1]))
        return float(self.products[0, 1]) / size if size > 1e-9 else float("nan")


def looked_at(columns: Columns, seen: Look, weights: Weights) -> dict[int, Shares]:
    """Return the sums of every kind among some readings, all there are of their intercepts."""
    found = {}
    kinds = columns.kind_of_unit[columns.unit]
    for kind in np.unique(kinds):
        here = np.flatnonzero(kinds == kind)
        w, cents = weights.whole[here], columns.cents[here]
        table = np.column_stack([seen.cold[here], seen.rise[here], cents, cents - seen.drift[here]])
        groups = np.unique(columns.group[here], return_inverse=True)[1]
        total = np.maximum(np.bincount(groups, w), 1e-300)
        means = np.column_stack([np.bincount(groups, w * one) / total for one in table.T])
        away = (table - means[groups]) * np.sqrt(w)[:, None]
        found[int(kind)] = Shares(len(here), away.T @ away)
    return found
