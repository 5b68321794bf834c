"""What the search weighs: columns of one fault, and what each is about."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from drift.regression.notices.faults import NoticeKind
from drift.regression.notices.null import Piece

__all__ = ["Batch", "Where"]

Rows = npt.NDArray[np.intp]


@dataclass(frozen=True)
class Where:
    """What a column is about.

    Parameters
    ----------
    rows : array
        The readings concerned, numbers within the season.
    rehearsal, unit : int or None
    other : int
        The other unit, or the other intercept.
    size : float
        A number that the effect alone does not tell: hertz, minutes.
    side : int or None
    more : tuple of int
        Further rehearsals of the same evening.
    section : bool
        Whether it is about all who play the instrument of those readings.
    """

    rows: Rows
    rehearsal: int | None = None
    unit: int | None = None
    other: int = -1
    size: float = 0.0
    side: int | None = None
    more: tuple[int, ...] = ()
    section: bool = False


@dataclass(frozen=True)
class Batch:
    """Columns of one fault that touch the same days.

    Parameters
    ----------
    kind : NoticeKind
    pieces : tuple of Piece
        Of each unit; all with as many columns.
    mean, sd : float
        Of the effect, before looking.
    where : tuple of Where
        Of each column.
    odds : tuple of float
        How likely each column is beside a usual one of that fault, before looking; empty: alike.
    """

    kind: NoticeKind
    pieces: tuple[Piece, ...]
    mean: float
    sd: float
    where: tuple[Where, ...]
    odds: tuple[float, ...] = ()

    def only(self, column: int) -> tuple[Piece, ...]:
        """Return the pieces of one column."""
        return tuple(Piece(one.unit, one.rows, one.values[:, [column]]) for one in self.pieces)
