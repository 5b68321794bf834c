"""Taking note intercepts and day effects out of a regression, exactly and once.

Every note of every player has a pitch of its own (an intercept nobody is interested in) and every
player has better and worse days (a random effect). Both are taken out here, for all ratios of day
to reading standard deviation at once, so that the rest of the fit deals with two columns only.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import sparse

__all__ = ["Absorber", "Columns"]

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.intp]


@dataclass(frozen=True)
class Columns:
    """Columns with their intercepts taken out, and what is left of them seen by day.

    Parameters
    ----------
    within : array of shape (n, m)
        The columns less the mean of their intercept group.
    days : array of shape (d, m)
        The same, turned to the axes in which the day effects are independent.
    """

    within: Array
    days: Array


class Absorber:
    """Takes intercepts (flat prior) and day effects (normal prior) out of columns.

    Parameters
    ----------
    intercepts, days : integer arrays of shape (n,)
        Which intercept and which day effect each reading has, counted from zero.
    weights : array of shape (n,)
        How much each reading counts (1, or less when it is suspected).

    Notes
    -----
    With ``G`` and ``Z`` the indicators of intercepts and days, ``W`` the weights and ``rho`` the
    ratio of day to reading standard deviation, generalised least squares needs
    ``a' P b = a' M b - a' M Z (I/rho² + Z' M Z)^-1 Z' M b`` with
    ``M = W - W G (G' W G)^-1 G' W``. ``Z' M Z`` falls into one block a player; its eigenvalues
    ``lambda`` turn the inverse into ``rho²/(1 + rho² lambda)`` and the determinant into a product,
    for every ``rho`` without further work.

    References
    ----------
    .. [1] H. D. Patterson, R. Thompson, "Recovery of inter-block information when block sizes are
       unequal", Biometrika 58, 545-554 (1971): the restricted likelihood.
    """

    def __init__(self, intercepts: Codes, days: Codes, weights: Array) -> None:
        rows = np.arange(len(weights))
        ones = np.ones(len(weights))
        self.weights = weights
        self._groups = sparse.csr_array((ones, (rows, intercepts)))
        self._days = sparse.csr_array((ones, (rows, days)))
        self.group_weights = np.asarray(self._groups.T @ weights)
        self.free = float(np.maximum(self.group_weights - 1.0, 0.0).sum())
        self._turn, self.eigenvalues = self._axes()

    def _axes(self) -> tuple[sparse.csr_array, Array]:
        """Return the axes in which day effects are independent, and their information."""
        by_day = (self._days * self.weights[:, None]).T  # Z' W
        shared = sparse.csr_array(by_day @ self._groups)  # Z' W G
        which = _connected(shared)
        totals = np.asarray(by_day.sum(axis=1))
        blocks, eigenvalues, order = [], [], []
        for block in range(which.max() + 1):
            members = np.flatnonzero(which == block)
            part = shared[members]
            notes = np.unique(part.indices)
            dense = part[:, notes].toarray()
            information = np.diag(totals[members]) - (dense / self.group_weights[notes]) @ dense.T
            values, vectors = np.linalg.eigh(information)
            blocks.append(sparse.coo_array(vectors.T))
            eigenvalues.append(np.maximum(values, 0.0))
            order.append(members)
        turn = sparse.block_diag(blocks, format="csr")
        back = np.argsort(np.concatenate(order))
        return sparse.csr_array(turn[:, back]), np.concatenate(eigenvalues)

    def columns(self, values: Array) -> Columns:
        """Return columns of shape (n, m), or one of shape (n,), with their intercepts out."""
        table = values.reshape(len(values), -1)
        weighted = self.weights[:, None] * table
        means = (self._groups.T @ weighted) / self.group_weights[:, None]
        within = table - self._groups @ means
        days = self._turn @ (self._days.T @ (self.weights[:, None] * within))
        return Columns(within, np.asarray(days))

    def shrinkage(self, ratios: Array) -> Array:
        """Return ``rho²/(1 + rho² lambda)``, shape (ratios, days)."""
        squares = ratios[:, None] ** 2
        return np.asarray(squares / (1.0 + squares * self.eigenvalues))

    def log_determinant(self, ratios: Array) -> Array:
        """Return ``log |I + rho² Z'MZ|`` for each ratio."""
        return np.asarray(np.log1p(ratios[:, None] ** 2 * self.eigenvalues).sum(axis=1))

    def product(self, left: Columns, right: Columns, shrinkage: Array) -> Array:
        """Return ``a' P b`` column by column, shape (ratios, m)."""
        whole = np.einsum("i,ij,ij->j", self.weights, left.within, right.within)
        return np.asarray(whole - shrinkage @ (left.days * right.days))

    def residuals(self, values: Array, ratio: float) -> Array:
        """Return a column less its intercepts and its expected day effects, shape (n,)."""
        column = self.columns(values)
        effect = self.shrinkage(np.array([ratio]))[0] * column.days[:, 0]
        per_day = self._days @ (self._turn.T @ effect)
        return np.asarray(column.within[:, 0] - self.columns(per_day).within[:, 0])


def _connected(shared: sparse.csr_array) -> Codes:
    """Return which block each day belongs to; days that share an intercept are in one block."""
    from scipy.sparse.csgraph import connected_components

    graph = sparse.block_array([[None, shared], [shared.T, None]], format="csr")
    _, label = connected_components(graph, directed=False)
    _, codes = np.unique(label[: shared.shape[0]], return_inverse=True)
    return np.asarray(codes, dtype=np.intp)
