"""What is a player's own: taken out of the sums, and found again once all else is known."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from drift.regression.triangles import SMALL, forward, over_units, take_squares

__all__ = ["OWN", "Kept", "players_of", "root_of", "shrinkage", "take_players"]

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.intp]
Flags = npt.NDArray[np.bool_]

OWN = 3
"""A player's own coefficients: slope, rise, slow drift."""


class Kept(NamedTuple):
    """What is known of the players of one kind, given theta.

    Attributes
    ----------
    Q : array of shape (n, U, d + 1, d + 1)
        The products of every player.
    X : array of shape (m, U, 3, R)
        Those of what is a player's own with the rehearsals, where they differ.
    which : array of shape (n,)
        Which of X belongs to each theta.
    K : array of shape (n, U, 3, 3)
        The covariance of what is a player's own, given all else.
    """

    Q: Array
    X: Array
    which: npt.NDArray[np.intp]
    K: Array


def shrinkage(Q: Array, sds: Array) -> tuple[Array, Array]:
    """Return K of every unit, (n, U, 3, 3), and the log determinants of ``I + S Lambda``, (n,).

    ``K = S½ (I + S½ Lambda S½)⁻¹ S½`` is the covariance of a player's own part given the rest.
    """
    s = sds[:, None, 2:5]
    inner = np.eye(OWN) + s[..., :, None] * Q[..., :OWN, :OWN] * s[..., None, :]
    inner = 0.5 * (inner + np.swapaxes(inner, -1, -2))
    _, log_det = np.linalg.slogdet(inner)
    return s[..., :, None] * np.linalg.inv(inner) * s[..., None, :], log_det.sum(axis=1)


def root_of(K: Array, sds: Array) -> Array:
    """Return a root of K of every unit, ``K = root root'``, scaled so that no sd is too small."""
    s = sds[:, None, 2:5]
    scaled = K / (s[..., :, None] * s[..., None, :])
    try:
        root = np.linalg.cholesky(scaled)
    except np.linalg.LinAlgError:  # far from the posterior, as in `cholesky`
        values, vectors = np.linalg.eigh(scaled)
        root = vectors * np.sqrt(np.maximum(values, 0.0))[..., None, :]
    return np.asarray(s[..., :, None] * root)


def take_players(H: Array, tilt: Array, root: Array, X: Array, which: Codes, again: Flags) -> Array:
    """Take the players of a kind out of H, and return what is to be taken from C.

    Parameters
    ----------
    H : array of shape (n, R, R)
        Changed in place, but not where it will be that of the theta before.
    tilt, root : arrays of shape (n, U, d + 1, 3), (n, U, 3, 3)
    X, which
        As in `Kept`.
    again : array of shape (n,)
        Whether all but the sd of rehearsals is as in the theta before.
    """
    turned, tilted = np.swapaxes(root, -1, -2), np.swapaxes(np.matmul(tilt, root), -1, -2)
    if H.shape[1] <= SMALL:
        own = np.matmul(turned, X[which])  # (n, U, 3, R)
        H -= over_units(own, own)
        return over_units(tilted, own)
    taken = np.empty((len(H), tilt.shape[2], H.shape[1]))
    for place in range(len(H)):
        if again[place]:
            taken[place] = taken[place - 1]
            continue
        own = np.matmul(turned[place], X[which[place]]).reshape(-1, H.shape[1])
        take_squares(H[place], own)
        taken[place] = tilted[place].reshape(len(own), -1).T @ own
    return taken


def players_of(
    kept: Kept,
    place: npt.NDArray[np.intp],
    mean: Array,
    covariance: Array,
    root: Array,
    W: Array,
) -> tuple[Array, Array]:
    """Return mean and covariance of every player's coefficients, shapes (n, U, d), (n, U, d, d).

    Notes
    -----
    Given the common ``m`` and the rehearsals ``v`` a player is ``m + K (eta - Lambda m - X v)``
    with covariance K; ``v`` given ``m`` has precision ``H = root root'``.
    """
    Q, K = kept.Q, kept.K
    d, size = Q.shape[2] - 1, mean.shape[1]
    batch, units = Q.shape[:2]
    gain = np.matmul(K, Q[:, :, :OWN])  # (n, U, 3, d + 1)
    J = np.zeros((batch, units, d, size))  # of all common coefficients
    J[..., np.arange(d), place] = 1.0
    J[:, :, :OWN, place] -= gain[..., :d]
    off = np.zeros((batch, units, d))
    off[..., :OWN] = gain[..., d]
    cov = np.zeros((batch, units, d, d))
    cov[..., :OWN, :OWN] = K
    if kept.X.shape[3]:
        own = np.matmul(K, kept.X[kept.which])  # (n, U, 3, R)
        flat = np.swapaxes(own.reshape(batch, units * OWN, -1), 1, 2)
        Y = forward(root, flat).reshape(batch, -1, units, OWN)  # (n, R, U, 3)
        Y = np.ascontiguousarray(Y.transpose(0, 2, 3, 1))  # (n, U, 3, R)
        back = np.matmul(Y, W[:, None])  # (n, U, 3, p + 1)
        J[:, :, :OWN] += back[..., :size]
        off[..., :OWN] -= back[..., size]
        cov[..., :OWN, :OWN] += np.matmul(Y, np.swapaxes(Y, -1, -2))
    found = np.einsum("nudp,np->nud", J, mean) + off
    return found, cov + np.matmul(np.matmul(J, covariance[:, None]), np.swapaxes(J, -1, -2))
