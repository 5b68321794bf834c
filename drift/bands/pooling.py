"""Random effects over bands: what a kind of instrument does, and how much bands differ in it.

``phi_band ~ N(mu_kind, T)`` and ``mu_kind = reference + root + family + kind``, in reference sds.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from drift.bands.likelihood import Likelihood
from drift.regression.sampling import importance, newton
from drift.regression.scores import half_normal

__all__ = ["OF_INSTRUMENTS", "OF_SPREADS", "Item", "Pooled", "Shares", "pool"]

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.intp]

SIZE = 6
SCALES = SIZE + 2
"""Numbers that are not linear: six sds between bands, those of families and of kinds."""

STUDENT = 4.0
"""Degrees of freedom with which bands differ: one that lies far off counts less."""

ROUNDS = 4
LIMIT = 5.0
DRAWS = 256
LEAST_VARIANCE = 1e-6
FAINT = 1e-9


@dataclass(frozen=True)
class Shares:
    """How much of the reference variance is what (assumptions; they add up to one).

    So a collection of no files expects of a new band about what the reference does.

    Parameters
    ----------
    root, family, kind : float
        What all kinds of instrument have in common, those of a family, and one kind by itself.
    band : float
        How bands differ in one kind.
    """

    root: float
    family: float
    kind: float
    band: float


OF_INSTRUMENTS = Shares(root=0.5, family=0.1, kind=0.25, band=0.15)
OF_SPREADS = Shares(root=0.8, family=0.0, kind=0.0, band=0.2)


@dataclass(frozen=True)
class Item:
    """What one band says of one kind of instrument.

    Parameters
    ----------
    band, kind : str
    likelihood : Likelihood
    """

    band: str
    kind: str
    likelihood: Likelihood


@dataclass(frozen=True)
class Pooled:
    """The posterior of the kinds, those of the items and others, and of how bands differ.

    Parameters
    ----------
    items : tuple of Item
    kinds : tuple of str
        K of them.
    student : array of shape (items,)
        Weight of each band: 1 or more as the others expect, less where it lies far off.
    shares : Shares
    weights : array of shape (n,)
        Of the draws; they add up to one.
    mean, covariance : arrays of shape (n, K, 6), (n, K, 6, K, 6)
        Of the kinds at each draw.
    between : array of shape (n, 6)
        Variance between bands at each draw.
    """

    items: tuple[Item, ...]
    kinds: tuple[str, ...]
    student: Array
    shares: Shares
    weights: Array
    mean: Array
    covariance: Array
    between: Array

    def joint(self) -> tuple[Array, Array]:
        """Return mean and covariance of all kinds, shapes (K, 6) and (K, 6, K, 6)."""
        mean = np.einsum("n,nki->ki", self.weights, self.mean)
        away = self.mean - mean
        covariance = np.einsum("n,nkilj->kilj", self.weights, self.covariance)
        return mean, covariance + np.einsum("n,nki,nlj->kilj", self.weights, away, away)

    def of_kind(self, kind: str, inflation: float = 1.0) -> tuple[Array, Array]:
        """Return mean and covariance of a kind over all bands, shapes (6,) and (6, 6).

        Parameters
        ----------
        kind : str
        inflation : float
            By which what the bands added to the reference is divided: where they say much, the
            covariance grows by so much, and where they say nothing, it stays that of the reference.
        """
        place = self.kinds.index(kind)
        mean, covariance = self.joint()
        values, vectors = np.linalg.eigh(covariance[place, :, place])
        start = 1.0 / (self.shares.root + self.shares.family + self.shares.kind)
        added = np.maximum(1.0 / values - start, 0.0)
        values = np.where(added > 0.0, 1.0 / (start + added / inflation), values)
        return mean[place], (vectors * values) @ vectors.T

    def of_new_band(self, kind: str, inflation: float = 1.0) -> tuple[Array, Array]:
        """Return mean and covariance of a kind in a band that is not in the collection."""
        mean, covariance = self.of_kind(kind, inflation)
        return mean, covariance + np.diag(self.weights @ self.between)


def pool(
    items: Sequence[Item],
    kinds: Sequence[str],
    family: Mapping[str, str],
    shares: Shares = OF_INSTRUMENTS,
    robust: bool = True,
) -> Pooled:
    """Combine what bands say.

    Parameters
    ----------
    items : sequence of Item
        One a band and kind.
    kinds : sequence of str
        All kinds wanted; those without items are expected to be like the others.
    family : mapping of str to str
        The family of each kind.
    shares : Shares
    robust : bool
        Whether a band that lies far off counts less.

    Notes
    -----
    A band's likelihood (A, g) is passed through ``N(mu, T)`` exactly: with ``B = I + AT`` the mean
    of its kind gets the information ``B⁻¹A`` and the pull ``B⁻¹g``, whether or not A is singular.
    The kinds are solved jointly, and the eight scales (half-normal priors) found by Newton and
    integrated by importance sampling.

    Robust: bands differ as a Student t, written as ``T/lambda`` with the expected ``lambda`` given
    how far a band lies from what all others say of it (leave one out), renewed four times.

    References
    ----------
    .. [1] J. P. T. Higgins, S. G. Thompson, D. J. Spiegelhalter, "A re-evaluation of random-effects
       meta-analysis", J. Royal Statistical Society A 172, 137-159 (2009): a new study's
       distribution. From memory.
    """
    model = _Model(
        np.array([one.likelihood.information for one in items]).reshape(-1, SIZE, SIZE),
        np.array([one.likelihood.pull for one in items]).reshape(-1, SIZE),
        np.array([list(kinds).index(one.kind) for one in items], dtype=np.intp),
        np.array([[float(family[a] == family[b]) for a in kinds] for b in kinds]),
        shares,
        np.ones(len(items)),
    )
    # A kind of which nobody says anything changes nothing but itself: it is left for the end.
    known = model.of_those_with_items()
    low, high = np.full(SCALES, -LIMIT), np.full(SCALES, LIMIT)
    mode = np.zeros(SCALES)
    for _ in range(ROUNDS if robust and len(items) else 1):
        mode, curvature = newton(known.log_posterior, mode, low, high)
        if robust and len(items):
            known = replace(known, student=known.student_weights(mode))
    sample = importance(known.log_posterior, mode, curvature, low, high, DRAWS)
    _, mean, covariance, between = replace(model, student=known.student).given(sample.theta)
    return Pooled(
        tuple(items), tuple(kinds), known.student, shares, sample.weights, mean, covariance, between
    )


@dataclass(frozen=True)
class _Model:
    """Items as arrays: information (I, 6, 6), pull (I, 6), kind (I,), same family (K, K)."""

    information: Array
    pull: Array
    kind: Codes
    same: Array
    shares: Shares
    student: Array

    def of_those_with_items(self) -> _Model:
        present, kind = np.unique(self.kind, return_inverse=True)
        return replace(self, kind=kind.ravel(), same=self.same[np.ix_(present, present)])

    def log_posterior(self, theta: Array) -> Array:
        return np.asarray(self.given(theta)[0] - 0.5 * (theta**2).sum(axis=1))

    def lifted(self, between: Array) -> tuple[Array, Array, Array]:
        """Return what each item says of the mean of its kind, and the logs of the constants.

        `between` has shape (n, 6); shapes (n, I, 6, 6), (n, I, 6) and (n,).
        """
        T = between[:, None, :] / self.student[:, None]
        B = np.eye(SIZE) + self.information * T[:, :, None, :]
        right = np.concatenate([self.information, self.pull[..., None]], axis=2)
        solved = np.linalg.solve(B, np.broadcast_to(right, (*B.shape[:2], *right.shape[1:])))
        W, h = solved[..., :SIZE], solved[..., SIZE]
        log = 0.5 * (self.pull * T * h).sum(axis=-1) - 0.5 * np.linalg.slogdet(B)[1]
        return W, h, log.sum(axis=1)

    def given(self, theta: Array) -> tuple[Array, Array, Array, Array]:
        """Return log evidence, mean and covariance of the kinds, and the variance between bands."""
        scales = half_normal(theta)
        between = self.shares.band * scales[:, :SIZE] ** 2 + LEAST_VARIANCE
        W, h, log = self.lifted(between)
        count, batch = len(self.same), len(theta)
        C = self._between_kinds(scales)
        P = np.einsum("nab,ij->naibj", np.linalg.inv(C), np.eye(SIZE))
        right = np.zeros((batch, count, SIZE))
        for item, kind in enumerate(self.kind):
            P[:, kind, :, kind] += W[:, item]
            right[:, kind] += h[:, item]
        size = count * SIZE
        whole, pulls = P.reshape(batch, size, size), right.reshape(batch, size)
        covariance = np.linalg.inv(whole)
        mean = np.einsum("nij,nj->ni", covariance, pulls)
        log = log - 0.5 * SIZE * np.linalg.slogdet(C)[1] - 0.5 * np.linalg.slogdet(whole)[1]
        log = log + 0.5 * (pulls * mean).sum(axis=1)
        shape = (batch, count, SIZE, count, SIZE)
        return log, mean.reshape(batch, count, SIZE), covariance.reshape(shape), between

    def _between_kinds(self, scales: Array) -> Array:
        count = len(self.same)
        family = self.shares.family * scales[:, SIZE, None, None] ** 2 * self.same
        kind = self.shares.kind * scales[:, SIZE + 1, None, None] ** 2 + LEAST_VARIANCE
        return np.asarray(self.shares.root + family + kind * np.eye(count))

    def student_weights(self, mode: Array) -> Array:
        """Return the expected precision of each item, from what all others say of it."""
        _, mean, covariance, between = self.given(mode[None])
        W, h, _ = self.lifted(between)
        found = np.ones(len(self.kind))
        for item, kind in enumerate(self.kind):
            precision = np.linalg.inv(covariance[0, kind, :, kind])
            others = np.linalg.inv(precision - W[0, item] + FAINT * np.eye(SIZE))
            centre = others @ (precision @ mean[0, kind] - h[0, item])
            found[item] = self._weight(item, centre, others + np.diag(between[0]))
        return found

    def _weight(self, item: int, centre: Array, spread: Array) -> float:
        """Return the weight of an item of which the others expect N(centre, spread)."""
        values, vectors = np.linalg.eigh(self.information[item])
        root = vectors[:, values > 1e-3] * np.sqrt(values[values > 1e-3])
        rank = root.shape[1]
        if not rank:
            return 1.0
        off = np.linalg.pinv(root) @ (self.pull[item] - self.information[item] @ centre)
        distance = off @ np.linalg.solve(np.eye(rank) + root.T @ spread @ root, off)
        return float((STUDENT + rank) / (STUDENT + distance))
