"""Products of one kind laid out so that polynomials between nodes are matrix products."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from drift.regression.reduce import KindBlock

__all__ = ["Tables", "tables_of"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Tables:
    """L nodes of v, U units, f fixed columns (the cents last), a and b columns of cold and rise.

    Parameters
    ----------
    fixed : array of shape (M, U f f)
        Products of fixed columns with one another; M = L + 1, as in `KindBlock.products`.
    with_fixed : tuple of two arrays of shape (M a, U f), (M b, U f)
        Products of cold, and of rise, with the fixed columns.
    quadratic : tuple of three arrays of shape (M a a, U), (M a b, U), (M b b, U)
        Cold with cold, cold with rise, rise with rise.
    cross : tuple of three arrays of shape (L a, U R), (L b, U R), (L, U R)
        Cold, rise and the first fixed column, slow drift, with the rehearsals: what is a player's
        own.
    cross_sums : tuple of three arrays of shape (L a, R), (L b, R), (L, f R)
        Cold, rise and all fixed columns with the rehearsals, summed over the units.
    units, fixed_count, rehearsals : int
    """

    fixed: Array
    with_fixed: tuple[Array, Array]
    quadratic: tuple[Array, Array, Array]
    cross: tuple[Array, Array, Array]
    cross_sums: tuple[Array, Array, Array]
    units: int
    fixed_count: int
    rehearsals: int

    def products(self, psi: Array, cold: Array, rise: Array) -> Array:
        """Return products of the core columns, shape (n, U, f + 2, f + 2).

        Parameters
        ----------
        psi : array of shape (n, L + 1)
            How much each node of v counts, and what days do not change.
        cold, rise : arrays of shape (n, a), (n, b)
            How much each column counts.

        Notes
        -----
        The order of the core columns is cold, rise, then the fixed ones.
        """
        n, f = len(psi), self.fixed_count
        found = np.empty((n, self.units, f + 2, f + 2))
        found[..., 2:, 2:] = (psi @ self.fixed).reshape(n, self.units, f, f)
        at = [_outer(psi, cold), _outer(psi, rise)]
        for row in range(2):
            found[..., row, 2:] = (at[row] @ self.with_fixed[row]).reshape(n, self.units, f)
            found[..., 2:, row] = found[..., row, 2:]
        found[..., 0, 0] = _outer(at[0], cold) @ self.quadratic[0]
        found[..., 0, 1] = found[..., 1, 0] = _outer(at[0], rise) @ self.quadratic[1]
        found[..., 1, 1] = _outer(at[1], rise) @ self.quadratic[2]
        return found

    def with_rehearsals(self, psi: Array, cold: Array, rise: Array) -> tuple[Array, Array]:
        """Return the products with the rehearsals.

        Returns
        -------
        own : array of shape (n, U, 3, R)
            Of cold, rise and slow drift, by unit.
        whole : array of shape (n, f + 2, R)
            Of all core columns, summed over the units.
        """
        n, f, rehearsals = len(psi), self.fixed_count, self.rehearsals
        own = np.empty((n, self.units, 3, rehearsals))
        whole = np.empty((n, f + 2, rehearsals))
        if not rehearsals:
            return own, whole
        at = (_outer(psi, cold), _outer(psi, rise), psi)
        for row in range(3):
            own[:, :, row] = (at[row] @ self.cross[row]).reshape(n, self.units, rehearsals)
        whole[:, 0], whole[:, 1] = at[0] @ self.cross_sums[0], at[1] @ self.cross_sums[1]
        whole[:, 2:] = (psi @ self.cross_sums[2]).reshape(n, f, rehearsals)
        return own, whole

    @property
    def numbers(self) -> int:
        """How many numbers one theta takes at a time."""
        f = self.fixed_count + 2
        return self.units * (3 * f * f + 6 * self.rehearsals) + len(self.quadratic[2])


def tables_of(block: KindBlock, fixed: int, nodes: int) -> Tables:
    """Return the tables of a kind.

    Parameters
    ----------
    block : KindBlock
    fixed : int
        How many fixed columns there are, with the cents.
    nodes : int
        How many columns rise has: one a node, or two where the start is estimated.
    """
    L, units, width, rehearsals = block.cross.shape
    cold, rise = slice(fixed, width - nodes), slice(width - nodes, width)
    Q, X = block.products, block.cross

    def pairs(left: slice, right: slice) -> Array:
        table = np.ascontiguousarray(np.moveaxis(Q[:, :, left, right], 1, 3))
        return table.reshape(table.shape[0] * table.shape[1] * table.shape[2], units)

    def beside(column: slice) -> Array:
        table = np.ascontiguousarray(np.moveaxis(Q[:, :, column, :fixed], 1, 2))
        return table.reshape(table.shape[0] * table.shape[1], units * fixed)

    def rooms(column: slice) -> Array:
        table = np.ascontiguousarray(np.moveaxis(X[:, :, column], 1, 2))
        return table.reshape(table.shape[0] * table.shape[1], units * rehearsals)

    together = X.sum(axis=1)

    return Tables(
        Q[:, :, :fixed, :fixed].reshape(L + 1, -1),
        (beside(cold), beside(rise)),
        (pairs(cold, cold), pairs(cold, rise), pairs(rise, rise)),
        (rooms(cold), rooms(rise), rooms(slice(0, 1))),
        (
            together[:, cold].reshape(L * (width - nodes - fixed), rehearsals),
            together[:, rise].reshape(L * nodes, rehearsals),
            together[:, :fixed].reshape(L, fixed * rehearsals),
        ),
        units,
        fixed,
        rehearsals,
    )


def _outer(left: Array, right: Array) -> Array:
    """Return the products of every pair of columns, shape (n, left right)."""
    return (left[:, :, None] * right[:, None, :]).reshape(len(left), -1)
