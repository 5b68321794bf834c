"""The mode of a posterior by Newton, and weighted draws around it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import gammaln, ndtri
from scipy.stats import chi2, qmc

__all__ = ["Sample", "importance", "newton", "pareto_index", "sobol"]

Array = npt.NDArray[np.float64]
Target = Callable[[Array], Array]

SHARE_OF_PRIOR = 0.1
"""Draws from the prior itself, which bounds every weight."""

ENOUGH = 0.25
"""Effective draws among all with which the proposal is content."""

EVEN = 0.5
"""Pareto index up to which it is: below one half the variance of the weights is finite."""

DRAW_SEED = 7


@dataclass(frozen=True)
class Sample:
    """Weighted draws.

    Parameters
    ----------
    theta : array of shape (n, k)
    weights : array of shape (n,)
        They add up to one.
    effective : float
        Number of independent draws that these are worth.
    tail : float
        Pareto index of the weights: above 0.7 the draws are not to be trusted.
    asked : array of shape (n,)
        Which of the points that the target was last asked for these are.
    """

    theta: Array
    weights: Array
    effective: float
    tail: float
    asked: npt.NDArray[np.intp]


def sobol(size: int, dimensions: int, seed: int) -> Array:
    """Return quasi-random numbers between 0 and 1, shape (size, dimensions)."""
    whole = (size - 1).bit_length()  # the sequence is balanced where it ends at a power of two
    points = qmc.Sobol(dimensions, scramble=True, seed=seed).random_base2(whole)[:size]
    return np.asarray(np.clip(points, 1e-10, 1.0 - 1e-10))


def newton(
    target: Target,
    x: Array,
    low: Array,
    high: Array,
    rounds: int = 25,
    about: Array | None = None,
) -> tuple[Array, Array]:
    """Return the mode of a log density and minus its second derivatives there.

    Parameters
    ----------
    target : callable
        Log density of many points at once, (n, k) to (n,).
    x : array of shape (k,)
        Where to begin.
    low, high : arrays of shape (k,)
        Limits.
    rounds : int
        At most so many steps.
    about : array of shape (k, k), optional
        About what the second derivatives will be, so that the first are taken at the right place.
    """
    size = len(x)
    steps = _steps(size)
    h = np.full(size, 0.1) if about is None else _reach(about)
    for _ in range(rounds):
        x = np.clip(x, low + h, high - h)
        gradient, curvature, here = _derivatives(target(x + h * steps), h)
        values, vectors = np.linalg.eigh(curvature)
        curvature = (vectors * np.maximum(values, 0.3)) @ vectors.T
        move = np.linalg.solve(curvature, gradient)
        lengths = np.array([1.0, 0.5, 0.2, 0.05]) * min(1.0, 2.5 / (np.abs(move).max() + 1e-12))
        tries = np.clip(x + lengths[:, None] * move, low, high)
        reached = target(tries)
        best = int(np.argmax(reached))
        gained = float(reached[best]) - here
        if gained > 0.0:
            x = tries[best]
        h = _reach(curvature)
        if gained < 0.02 and np.sqrt(move @ curvature @ move) < 0.15:
            break
    return x, curvature


def _reach(curvature: Array) -> Array:
    """Return how far off to look for derivatives: a third of a standard deviation."""
    return np.asarray(np.clip(0.3 / np.sqrt(np.diag(curvature)), 1e-4, 0.3))


def _steps(size: int) -> Array:
    """Return where to look for second derivatives, in units of the step, shape (n, size)."""
    unit = np.eye(size)
    pairs = [unit[i] + unit[j] for i in range(size) for j in range(i)]
    return np.array([np.zeros(size), *unit, *-unit, *pairs])


def _derivatives(value: Array, h: Array) -> tuple[Array, Array, float]:
    """Return gradient, minus the second derivatives, and the value itself."""
    size = len(h)
    here, plus, minus, both = (
        value[0],
        value[1 : size + 1],
        value[size + 1 : 2 * size + 1],
        value[2 * size + 1 :],
    )
    curvature = np.diag((2.0 * here - plus - minus) / h**2)
    lower = np.tril_indices(size, -1)
    mixed = -(both - plus[lower[0]] - plus[lower[1]] + here) / (h[lower[0]] * h[lower[1]])
    curvature[lower] = mixed
    curvature[lower[::-1]] = mixed
    return (plus - minus) / (2.0 * h), curvature, float(here)


def importance(
    target: Target, mode: Array, curvature: Array, low: Array, high: Array, size: int = 1024
) -> Sample:
    """Return weighted draws: nine in ten from a t around the mode, the others from the prior.

    Parameters
    ----------
    target : callable
        Log posterior; its prior is N(0, I).
    mode, curvature : arrays of shape (k,), (k, k)
        From `newton`.
    low, high : arrays of shape (k,)
        Limits.
    size : int
        Draws, a power of two.

    Notes
    -----
    Where a few draws weigh much, what they show of the posterior is the next round's proposal.

    References
    ----------
    .. [1] T. Hesterberg, "Weighted average importance sampling and defensive mixture
       distributions", Technometrics 37, 185-194 (1995).
    """
    centre, covariance = mode, np.asarray(np.linalg.inv(curvature) * 1.15, dtype=np.float64)
    first, rounds = size, 4
    for number in range(rounds):
        theta, log_q = _proposed(centre, covariance, size, DRAW_SEED + number)
        inside = ((theta > low) & (theta < high)).all(axis=1)
        log_w = np.full(size, -np.inf)
        log_w[inside] = target(theta[inside]) - log_q[inside]
        w = np.exp(log_w - log_w.max())
        w /= w.sum()
        effective = float(1.0 / (w**2).sum())
        index = pareto_index(log_w[inside])
        if (effective > ENOUGH * size and index <= EVEN) or number == rounds - 1:
            break
        centre, covariance = _refitted(theta, w, effective)
        if effective < 0.1 * size and size < 4 * first:
            size *= 2
    kept = w > 1e-3 / size * 1e-2
    asked = np.flatnonzero(kept[inside])
    return Sample(theta[kept], w[kept] / w[kept].sum(), effective, index, asked)


def _proposed(centre: Array, covariance: Array, size: int, seed: int) -> tuple[Array, Array]:
    """Return draws from the proposal and its log density."""
    k = len(centre)
    nu = 6.0 if k <= 12 else 30.0  # in many dimensions a t with heavy tails hardly meets the middle
    u = sobol(size, k + 1, seed)
    root = np.linalg.cholesky(covariance)
    theta = centre + (ndtri(u[:, :k]) * np.sqrt(nu / chi2.ppf(u[:, -1:], nu))) @ root.T
    first = int((1.0 - SHARE_OF_PRIOR) * size)
    theta[first:] = ndtri(u[first:, :k])
    z = np.linalg.solve(root, (theta - centre).T).T
    constant = gammaln((nu + k) / 2) - gammaln(nu / 2) - 0.5 * k * np.log(nu * np.pi)
    near = (
        constant - np.log(np.diag(root)).sum() - 0.5 * (nu + k) * np.log1p((z**2).sum(axis=1) / nu)
    )
    far = -0.5 * (theta**2).sum(axis=1) - 0.5 * k * np.log(2.0 * np.pi)
    return theta, np.logaddexp(
        np.log1p(-SHARE_OF_PRIOR) + near, np.log(SHARE_OF_PRIOR) + far
    )  # fmt: skip


def _refitted(theta: Array, w: Array, effective: float) -> tuple[Array, Array]:
    """Return centre and covariance of the draws, tempered so that no few heavy ones rule."""
    k = theta.shape[1]
    power = 1.0
    while 1.0 / ((w**power / (w**power).sum()) ** 2).sum() < 4 * k + 20 and power > 0.1:
        power *= 0.8
    tempered = w**power / (w**power).sum()
    centre = tempered @ theta
    away = theta - centre
    return centre, (tempered[:, None] * away).T @ away * 1.15 + 1e-8 * np.eye(k)


def pareto_index(log_weights: Array) -> float:
    """Return the tail index of importance weights.

    References
    ----------
    .. [1] J. Zhang, M. A. Stephens, "A new and efficient estimation method for the generalized
       Pareto distribution", Technometrics 51, 316-325 (2009).
    .. [2] A. Vehtari et al., "Pareto smoothed importance sampling", J. Machine Learning Research
       25, 1-58 (2024): 0.7 as the limit.
    """
    w = np.sort(np.exp(log_weights - log_weights.max()))
    tail = w[-max(int(min(0.2 * len(w), 3.0 * np.sqrt(len(w)))), 5) :]
    tail = (tail - tail[0])[1:]
    n = len(tail)
    if n < 2 or tail[-1] <= 0.0:
        return 0.0
    m = 30 + int(np.sqrt(n))
    b = 1.0 - np.sqrt(m / (np.arange(1, m + 1) - 0.5))
    b = b / (3.0 * tail[max(int(n / 4 + 0.5) - 1, 0)] + 1e-300) + 1.0 / tail[-1]
    k = np.log1p(-b[:, None] * tail).mean(axis=1)
    profile = n * (np.log(-b / k) - k - 1.0)
    weights = np.exp(profile - profile.max())
    chosen = float((b * weights).sum() / weights.sum())
    return float((n * np.log1p(-chosen * tail).mean() + 5.0) / (n + 10.0))
