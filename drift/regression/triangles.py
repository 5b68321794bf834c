"""Many positive definite matrices at once: their roots, and what is solved with these.

Of matrices up to `SMALL` numpy handles all together. Larger ones go to BLAS and LAPACK one by one,
which write into the matrix that they are given: of those only the lower triangles are meant, and
the upper ones may hold anything.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.linalg.blas import dsyrk, dtrsm
from scipy.linalg.lapack import dpotrf

__all__ = ["HOPELESS", "SMALL", "backward", "cholesky", "forward", "over_units", "take_squares"]

Array = npt.NDArray[np.float64]

HOPELESS = -1e12
"""Log evidence of a theta that is not looked at further."""
SMALL = 40
"""Equations up to which numpy solves many sets at once faster than BLAS one by one."""


def over_units(left: Array, right: Array) -> Array:
    """Return the sum over units of ``left' right``, shapes (n, U, a, b), (n, U, a, c)."""
    batch, units, own, width = left.shape
    rows = left.reshape(batch, units * own, width)
    # Of one and the same array numpy takes half of the products, as they are symmetric.
    others = rows if left is right else right.reshape(batch, units * own, -1)
    return np.asarray(np.matmul(np.swapaxes(rows, 1, 2), others))


def take_squares(matrix: Array, rows: Array) -> None:
    """Take ``rows' rows`` from the lower triangle of a matrix (m, m), where it is."""
    # What is the lower triangle by rows is the upper one by columns, as BLAS reads it.
    dsyrk(-1.0, rows.T, beta=1.0, c=matrix.T, lower=0, overwrite_c=1)


def cholesky(matrices: Array, log: Array) -> tuple[Array, Array]:
    """Return the roots, and the log evidence, very low where the nodes are too far apart for one.

    Far from the posterior the polynomials between wide nodes can break a matrix of which next to
    nothing but the prior keeps one direction; such a theta is not looked at further.
    """
    if matrices.shape[1] > SMALL:
        return _in_place(matrices, log)
    try:
        return np.asarray(np.linalg.cholesky(matrices), dtype=np.float64), log
    except np.linalg.LinAlgError:
        roots, log = np.empty_like(matrices), log.copy()
        for number, matrix in enumerate(matrices):
            try:
                roots[number] = np.linalg.cholesky(matrix)
            except np.linalg.LinAlgError:
                roots[number], log[number] = np.eye(len(matrix)), HOPELESS
        return roots, log


def _in_place(matrices: Array, log: Array) -> tuple[Array, Array]:
    matrices, log = np.ascontiguousarray(matrices), log.copy()
    for number, matrix in enumerate(matrices):
        _, failed = dpotrf(matrix.T, lower=0, clean=0, overwrite_a=1)
        if failed:
            matrix[:], log[number] = np.eye(len(matrix)), HOPELESS
    return matrices, log


def forward(root: Array, right: Array) -> Array:
    """Return ``root⁻¹ right`` for lower triangles (n, R, R) and (n, R, c)."""
    return _solved(root, right, False)


def backward(root: Array, right: Array) -> Array:
    """Return ``root'⁻¹ right`` for lower triangles (n, R, R) and (n, R, c)."""
    return _solved(root, right, True)


def _solved(root: Array, right: Array, turned: bool) -> Array:
    if root.shape[1] <= SMALL:  # all at once; the general solver costs little more then
        return np.asarray(np.linalg.solve(np.swapaxes(root, 1, 2) if turned else root, right))
    # By columns, as BLAS reads them, these are upper triangles to the right of what is solved.
    return np.stack([
        dtrsm(1.0, one.T, other.T, side=1, lower=0, trans_a=int(turned)).T
        for one, other in zip(root, right, strict=True)
    ])  # fmt: skip
