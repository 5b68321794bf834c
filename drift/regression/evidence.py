"""What standard deviations and time constants are worth, and the coefficients given them.

Given ``theta`` the model is linear and normal, so everything else is integrated exactly: each
player's own slope, rise and slow drift (three numbers a player), the effect of each rehearsal (one
number each), and what all have in common.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
from scipy.linalg import solve_triangular

from drift.regression.nodes import Box
from drift.regression.reduce import Reduced
from drift.regression.scores import Scores
from drift.regression.tables import Tables, tables_of

__all__ = ["OWN", "Evidence", "Population", "prior_of"]

Array = npt.NDArray[np.float64]
Kept = tuple[Array, Array, Array]

BATCH = 8_000_000
"""Numbers that one batch of theta may hold at a time: less repeats the reading of large tables."""

HOPELESS = -1e12

SMALL = 40

OWN = 3
"""A player's own coefficients: slope, rise, slow drift."""


@dataclass(frozen=True)
class Population:
    """The coefficients given theta, N of them, K kinds, p in all, R rehearsals.

    Parameters
    ----------
    log : array of shape (N,)
        Log evidence.
    mean, covariance : arrays of shape (N, p), (N, p, p)
        Of the coefficients of all kinds.
    players : list of (means, covariances)
        One a kind, shapes (N, U, d) and (N, U, d, d); empty unless asked for.
    rehearsals : array of shape (N, R)
        Expected effect of each rehearsal [cents].
    """

    log: Array
    mean: Array
    covariance: Array
    players: tuple[tuple[Array, Array], ...]
    rehearsals: Array


def prior_of(scores: Scores, covariates: int) -> tuple[Array, Array]:
    """Return mean and covariance of the coefficients of all kinds before the data.

    The order is: slope of each kind, rise of each kind, slow drift of each kind, curvature,
    covariates.
    """
    priors, kinds = scores.priors, scores.kinds
    count = len(kinds)
    mean = np.concatenate([
        [one.cold_mean for one in kinds], [one.rise_mean for one in kinds],
        [one.slow_mean for one in kinds], [priors.curvature_mean], np.zeros(covariates),
    ])  # fmt: skip
    shared = [priors.curvature_sd**2, *[priors.covariate_sd**2] * covariates]
    covariance = np.diag([*np.zeros(3 * count), *shared])
    for number, one in enumerate(kinds):
        place = number + count * np.arange(3)
        covariance[np.ix_(place, place)] = one.covariance(priors.slow_sd)
    covariance[:count, :count] += priors.common_slope_sd**2
    return mean, covariance


@dataclass(frozen=True)
class Evidence:
    """The posterior of theta, from sums alone.

    Parameters
    ----------
    reduced : Reduced
    box : Box
    scores : Scores
    covariates : int
        How many there are.
    carried : bool
        Whether the air in the instrument follows that around it (then it depends on theta).
    """

    reduced: Reduced
    box: Box
    scores: Scores
    covariates: int
    carried: bool

    @cached_property
    def tables(self) -> tuple[Tables, ...]:
        """The products of each kind, laid out for matrix products."""
        each = 2 if self.scores.start else 1
        return tuple(
            tables_of(
                block, 3 + self.covariates, each * self.box.warm[k].count * self.box.cool[k].count
            )
            for k, block in enumerate(self.reduced.kinds)
        )

    def places(self, kind: int) -> npt.NDArray[np.intp]:
        """Return where the coefficients of a kind stand among those of all."""
        count = len(self.scores.kinds)
        shared = np.arange(3 * count, 3 * count + 1 + self.covariates)
        return np.concatenate([[kind, count + kind, 2 * count + kind], shared]).astype(np.intp)

    def log_posterior(self, theta: Array) -> Array:
        """Return the log posterior of theta of shape (n, k), up to a constant."""
        v = self.scores.v(theta)
        outside = np.maximum(np.maximum(self.box.v.low - v, v - self.box.v.high), 0.0)
        log = self.given(theta).log
        return np.asarray(log - 0.5 * (theta**2).sum(axis=1) - 50.0 * outside**2)

    def given(self, theta: Array, players: bool = False) -> Population:
        """Return evidence and coefficients given theta of shape (n, k)."""
        largest = sum(one.numbers for one in self.tables)
        largest += 2 * self.reduced.rehearsals.shape[1] ** 2
        step = max(1, BATCH // largest)
        parts = [self._given(theta[i : i + step], players) for i in range(0, len(theta), step)]
        players_of = [
            (np.concatenate([one[0] for one in kind]), np.concatenate([one[1] for one in kind]))
            for kind in zip(*(one.players for one in parts), strict=True)
        ]
        return Population(
            np.concatenate([one.log for one in parts]),
            np.concatenate([one.mean for one in parts]),
            np.concatenate([one.covariance for one in parts]),
            tuple(players_of),
            np.concatenate([one.rehearsals for one in parts]),
        )

    def core(self, theta: Array, kind: int) -> tuple[Array, Array, Array]:
        """Return the products of the core columns given theta, over the reading's variance.

        Returns
        -------
        products : array of shape (n, U, d + 1, d + 1)
            Cold, rise, slow, curvature, covariates, cents.
        log_det : array of shape (n,)
        cross : array of shape (n, U, d + 1, R)
        """
        tables = self.tables[kind]
        psi = self.box.v.weights(self.scores.v(theta))
        warm, cool = self.scores.places(kind)
        phi = self.box.weights(kind, theta[:, warm], theta[:, cool])
        cold = phi if self.carried else np.ones((len(theta), 1))
        if self.scores.start:
            phi = np.hstack([phi, phi * self.scores.warmth_at_start(theta, kind)[:, None]])
        over = (self.scores.sds(theta)[:, 0] ** -2.0)[:, None, None, None]
        flat = self.reduced.flattening(self._ratio(theta))[:, None, None, None]
        return (
            tables.products(psi, cold, phi) * over,
            (psi @ self.reduced.kinds[kind].log_det).sum(axis=1),
            tables.with_rehearsals(psi, cold, phi) * (over / flat),
        )

    def _ratio(self, theta: Array) -> Array:
        """Return ``rho²`` as far as the box reaches."""
        return np.asarray(
            np.expm1(np.clip(self.scores.v(theta), self.box.v.low, self.box.v.high)) / 20.0
        )

    def _given(self, theta: Array, players: bool) -> Population:
        return self._solved(*self.parts(theta), players)

    def parts(self, theta: Array) -> tuple[Array, Array, Array, Array, list[Kept]]:
        """Return what is to be solved given theta of shape (n, k), players integrated out.

        Returns
        -------
        P : array of shape (n, p + 1, p + 1)
            Precision of the coefficients of all kinds, and in the last place what the cents add.
        C : array of shape (n, p + 1, R)
            The same with the rehearsals.
        H : array of shape (n, R, R)
            Precision of the rehearsals.
        log : array of shape (n,)
            Log evidence so far.
        kept : list of (Q, X, K)
            Of each kind: the products of every player, those with the rehearsals, and the
            covariance of what is a player's own.
        """
        sds = self.scores.sds(theta)
        mean0, covariance0 = prior_of(self.scores, self.covariates)
        precision0 = np.linalg.inv(covariance0)
        size, batch = len(mean0), len(theta)
        P = np.zeros((batch, size + 1, size + 1))  # the last row and column belong to the cents
        P[:, :size, :size] = precision0
        P[:, :size, size] = P[:, size, :size] = precision0 @ mean0
        log = np.full(
            batch, 0.5 * float(np.linalg.slogdet(precision0)[1] - mean0 @ precision0 @ mean0)
        )
        ratio = self._ratio(theta)
        log -= self.reduced.free * np.log(sds[:, 0])
        log -= 0.5 * np.log1p(ratio[:, None] * self.reduced.day_weights) @ self.reduced.day_counts
        count = self.reduced.rehearsals.shape[1]
        H = np.zeros((batch, count, count))
        C = np.zeros((batch, size + 1, count))
        if count:
            along = self.box.v.weights(self.scores.v(theta)) / sds[:, :1] ** 2
            along /= self.reduced.flattening(ratio)[:, None]
            H += (along @ self.reduced.rehearsals.reshape(len(along[0]), -1)).reshape(H.shape)
            H[:, np.arange(count), np.arange(count)] += sds[:, 5:] ** -2.0
            log -= count * np.log(sds[:, 5])
        kept = []
        for kind in range(len(self.scores.kinds)):
            Q, log_det, X = self.core(theta, kind)
            K, log_own = shrinkage(Q, sds)
            place = np.append(self.places(kind), size)
            tilt = Q[..., :OWN]
            total = (Q - np.matmul(np.matmul(tilt, K), np.swapaxes(tilt, -1, -2))).sum(axis=1)
            P[np.ix_(np.arange(batch), place, place)] += total
            log -= 0.5 * (log_det + log_own)
            if count:
                root = _root(K, sds)
                own = np.matmul(np.swapaxes(root, -1, -2), X[:, :, :OWN])  # (n, U, 3, R)
                tilted = np.swapaxes(np.matmul(tilt, root), -1, -2)
                C[:, place] += X.sum(axis=1) - _over_units(tilted, own)
                H -= _over_units(own, own)
            kept.append((Q, X, K))
        return P, C, H, log, kept

    def _solved(
        self,
        P: Array,
        C: Array,
        H: Array,
        log: Array,
        kept: list[Kept],
        players: bool,
    ) -> Population:
        """Take the rehearsals out, then solve for what all have in common."""
        size, count = P.shape[1] - 1, H.shape[1]
        root, W = H, np.swapaxes(C, 1, 2)
        if count:
            root, log = _cholesky(H, log)
            W = _forward(root, W)  # (n, R, p + 1)
            P = P - np.matmul(np.swapaxes(W, 1, 2), W)
            log = log - np.log(np.diagonal(root, axis1=1, axis2=2)).sum(axis=1)
        chol, log = _cholesky(P[:, :size, :size], log)
        right = P[:, :size, size]
        half = _forward(chol, np.eye(size)[None] + np.zeros_like(chol))
        covariance = np.matmul(np.swapaxes(half, 1, 2), half)
        mean = np.matmul(covariance, right[..., None])[..., 0]
        log = log + 0.5 * (np.einsum("ni,ni->n", right, mean) - P[:, size, size])
        log = log - np.log(np.diagonal(chol, axis1=1, axis2=2)).sum(axis=1)
        rehearsals = np.zeros((len(log), count))
        if count and players:
            left = W[..., size] - np.einsum("nrp,np->nr", W[..., :size], mean)
            rehearsals = np.linalg.solve(np.swapaxes(root, 1, 2), left[..., None])[..., 0]
        found: tuple[tuple[Array, Array], ...]
        if players:
            found = tuple(
                _players(kept[kind], self.places(kind), mean, covariance, root, W)
                for kind in range(len(self.scores.kinds))
            )
        else:
            empty = np.zeros((len(log), 0, 0))
            found = tuple((empty, empty[..., None]) for _ in self.scores.kinds)
        return Population(log, mean, covariance, found, rehearsals)


def shrinkage(Q: Array, sds: Array) -> tuple[Array, Array]:
    """Return K of every unit, (n, U, 3, 3), and the log determinants of ``I + S Lambda``, (n,).

    ``K = S½ (I + S½ Lambda S½)⁻¹ S½`` is the covariance of a player's own part given the rest.
    """
    s = sds[:, None, 2:5]
    inner = np.eye(OWN) + s[..., :, None] * Q[..., :OWN, :OWN] * s[..., None, :]
    inner = 0.5 * (inner + np.swapaxes(inner, -1, -2))
    _, log_det = np.linalg.slogdet(inner)
    return s[..., :, None] * np.linalg.inv(inner) * s[..., None, :], log_det.sum(axis=1)


def _root(K: Array, sds: Array) -> Array:
    """Return a root of K of every unit, ``K = root root'``, scaled so that no sd is too small."""
    s = sds[:, None, 2:5]
    scaled = K / (s[..., :, None] * s[..., None, :])
    try:
        root = np.linalg.cholesky(scaled)
    except np.linalg.LinAlgError:  # far from the posterior, see `_cholesky`
        values, vectors = np.linalg.eigh(scaled)
        root = vectors * np.sqrt(np.maximum(values, 0.0))[..., None, :]
    return np.asarray(s[..., :, None] * root)


def _players(
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
    Q, X, K = kept
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
    if X.shape[3]:
        own = np.matmul(K, X[:, :, :OWN])  # (n, U, 3, R)
        flat = np.swapaxes(own.reshape(batch, units * OWN, -1), 1, 2)
        Y = _forward(root, flat).reshape(batch, -1, units, OWN)  # (n, R, U, 3)
        Y = np.ascontiguousarray(Y.transpose(0, 2, 3, 1))  # (n, U, 3, R)
        back = np.matmul(Y, W[:, None])  # (n, U, 3, p + 1)
        J[:, :, :OWN] += back[..., :size]
        off[..., :OWN] -= back[..., size]
        cov[..., :OWN, :OWN] += np.matmul(Y, np.swapaxes(Y, -1, -2))
    found = np.einsum("nudp,np->nud", J, mean) + off
    return found, cov + np.matmul(np.matmul(J, covariance[:, None]), np.swapaxes(J, -1, -2))


def _over_units(left: Array, right: Array) -> Array:
    """Return the sum over units of ``left' right``, shapes (n, U, a, b), (n, U, a, c)."""
    batch, units, own, width = left.shape
    rows = left.reshape(batch, units * own, width)
    # Of one and the same array numpy takes half of the products, as they are symmetric.
    others = rows if left is right else right.reshape(batch, units * own, -1)
    return np.asarray(np.matmul(np.swapaxes(rows, 1, 2), others))


def _cholesky(matrices: Array, log: Array) -> tuple[Array, Array]:
    """Return the roots, and the log evidence, very low where the nodes are too far apart for one.

    Far from the posterior the polynomials between wide nodes can break a matrix of which next to
    nothing but the prior keeps one direction; such a theta is not looked at further.
    """
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


def _forward(root: Array, right: Array) -> Array:
    """Return ``root⁻¹ right`` for lower triangles (n, R, R) and (n, R, c)."""
    if root.shape[1] <= SMALL:  # all at once; the general solver costs little more then
        return np.asarray(np.linalg.solve(root, right))
    return np.stack([
        solve_triangular(one, other, lower=True, check_finite=False)
        for one, other in zip(root, right, strict=True)
    ])  # fmt: skip
