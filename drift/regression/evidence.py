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

from drift.regression.nodes import Box
from drift.regression.players import OWN, Kept, players_of, root_of, shrinkage, take_players
from drift.regression.reduce import Reduced
from drift.regression.scores import Scores
from drift.regression.tables import Tables, tables_of
from drift.regression.triangles import backward, cholesky, forward

__all__ = ["Evidence", "Population", "prior_of"]

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.intp]

BATCH = 16_000_000
"""Numbers that one batch of theta may hold at a time: less repeats the reading of large tables."""


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

    def take(self, rows: Codes) -> Population:
        """Return what belongs to some of theta."""
        return Population(
            self.log[rows],
            self.mean[rows],
            self.covariance[rows],
            tuple((mean[rows], covariance[rows]) for mean, covariance in self.players),
            self.rehearsals[rows],
        )


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
        return self.with_prior(theta, self.given(theta).log)

    def with_prior(self, theta: Array, log: Array) -> Array:
        """Return the log posterior of theta from its log evidence."""
        v = self.scores.v(theta)
        outside = np.maximum(np.maximum(self.box.v.low - v, v - self.box.v.high), 0.0)
        return np.asarray(log - 0.5 * (theta**2).sum(axis=1) - 50.0 * outside**2)

    def given(self, theta: Array, players: bool = False) -> Population:
        """Return evidence and coefficients given theta of shape (n, k)."""
        step = max(1, BATCH // self.numbers)
        order = np.lexsort(self._what_differs(theta).T[::-1])
        parts = [
            self._given(theta[order[i : i + step]], players) for i in range(0, len(theta), step)
        ]
        players_found = [
            (np.concatenate([one[0] for one in kind]), np.concatenate([one[1] for one in kind]))
            for kind in zip(*(one.players for one in parts), strict=True)
        ]
        return Population(
            np.concatenate([one.log for one in parts]),
            np.concatenate([one.mean for one in parts]),
            np.concatenate([one.covariance for one in parts]),
            tuple(players_found),
            np.concatenate([one.rehearsals for one in parts]),
        ).take(np.argsort(order))

    @property
    def numbers(self) -> int:
        """How many numbers one theta takes at a time."""
        of_rehearsals: int = 2 * self.reduced.rehearsals.shape[1] ** 2
        return sum(one.numbers for one in self.tables) + of_rehearsals

    def _what_differs(self, theta: Array) -> Array:
        """Return theta with what costs most to change first: what the tables are read at.

        On the way to the mode two of three theta differ in less than that.
        """
        count = self.scores.sds_count
        return np.hstack([theta[:, :2], theta[:, count:], theta[:, 2:count]])

    def core(self, theta: Array, kind: int) -> tuple[Array, Array, Array, Codes, Array]:
        """Return the products of the core columns given theta, over the reading's variance.

        Returns
        -------
        products : array of shape (n, U, d + 1, d + 1)
            Cold, rise, slow, curvature, covariates, cents.
        log_det : array of shape (n,)
        cross : array of shape (m, U, 3, R)
            What is a player's own, with the rehearsals, where theta differs enough.
        which : array of shape (n,)
            Which of these belongs to each theta.
        whole : array of shape (n, d + 1, R)
            All of them with the rehearsals, summed over the units.
        """
        tables = self.tables[kind]
        psi = self.box.v.weights(self.scores.v(theta))
        warm, cool = self.scores.places(kind)
        phi = self.box.weights(kind, theta[:, warm], theta[:, cool])
        cold = phi if self.carried else np.ones((len(theta), 1))
        if self.scores.start:
            phi = np.hstack([phi, phi * self.scores.warmth_at_start(theta, kind)[:, None]])
        over = self.scores.sds(theta)[:, :1] ** -2.0
        flat = over / self.reduced.flattening(self._ratio(theta))[:, None]
        first, which = _runs(self._what_differs(theta)[:, : -OWN - self.scores.shared])
        cross, whole = tables.with_rehearsals((psi * flat)[first], cold[first], phi[first])
        # What is beyond the nodes of v is that of days which may be off by anything.
        along = np.hstack([psi * flat, over])
        return (
            tables.products(along[first], cold[first], phi[first])[which],
            (psi @ self.reduced.kinds[kind].log_det).sum(axis=1),
            cross,
            which,
            whole[which],
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
            Precision of the rehearsals; only its lower triangles are meant.
        log : array of shape (n,)
            Log evidence so far.
        kept : list of Kept
            Of each kind.
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
            H = (along @ self.reduced.rehearsals.reshape(len(along[0]), -1)).reshape(H.shape)
            log -= count * np.log(sds[:, 5])
        again = np.ones(batch, dtype=bool)
        again[_runs(self._what_differs(theta)[:, : -int(self.scores.shared) or None])[0]] = False
        kept = []
        for kind in range(len(self.scores.kinds)):
            Q, log_det, X, which, whole = self.core(theta, kind)
            K, log_own = shrinkage(Q, sds)
            place = np.append(self.places(kind), size)
            tilt = Q[..., :OWN]
            total = (Q - np.matmul(np.matmul(tilt, K), np.swapaxes(tilt, -1, -2))).sum(axis=1)
            P[np.ix_(np.arange(batch), place, place)] += total
            log -= 0.5 * (log_det + log_own)
            if count:
                C[:, place] += whole - take_players(H, tilt, root_of(K, sds), X, which, again)
            kept.append(Kept(Q, X, which, K))
        if count:
            for number in np.flatnonzero(again):
                H[number] = H[number - 1]
            H[:, np.arange(count), np.arange(count)] += sds[:, 5:] ** -2.0
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
            root, log = cholesky(H, log)
            W = forward(root, W)  # (n, R, p + 1)
            P = P - np.matmul(np.swapaxes(W, 1, 2), W)
            log = log - np.log(np.diagonal(root, axis1=1, axis2=2)).sum(axis=1)
        chol, log = cholesky(P[:, :size, :size], log)
        right = P[:, :size, size]
        half = forward(chol, np.eye(size)[None] + np.zeros_like(chol))
        covariance = np.matmul(np.swapaxes(half, 1, 2), half)
        mean = np.matmul(covariance, right[..., None])[..., 0]
        log = log + 0.5 * (np.einsum("ni,ni->n", right, mean) - P[:, size, size])
        log = log - np.log(np.diagonal(chol, axis1=1, axis2=2)).sum(axis=1)
        rehearsals = np.zeros((len(log), count))
        if count and players:
            left = W[..., size] - np.einsum("nrp,np->nr", W[..., :size], mean)
            rehearsals = backward(root, left[..., None])[..., 0]
        found: tuple[tuple[Array, Array], ...]
        if players:
            found = tuple(
                players_of(kept[kind], self.places(kind), mean, covariance, root, W)
                for kind in range(len(self.scores.kinds))
            )
        else:
            empty = np.zeros((len(log), 0, 0))
            found = tuple((empty, empty[..., None]) for _ in self.scores.kinds)
        return Population(log, mean, covariance, found, rehearsals)


def _runs(rows: Array) -> tuple[Codes, Codes]:
    """Return where rows begin that are like those before, and the number of each row's run."""
    new = np.append(True, (rows[1:] != rows[:-1]).any(axis=1))
    return np.flatnonzero(new), np.cumsum(new) - 1
