"""Accounts of an evening, each weighed by how well it fits the readings.

A reading that does not fit can be an outlier, or a slide was moved and not logged, or the whole
evening is read by a player who watches the tuner. Which of them it was shows only later, so every
account is carried along with its probability. Given an account and a draw of the drift, all that
is not known (notes, error of the slope, level of the evening) is jointly normal and follows from
the readings exactly.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from math import log

import numpy as np
import numpy.typing as npt

from drift.tonight.assumptions import (
    MOVE_SD_CENTS,
    OUTLIER_DENSITY,
    OUTLIER_SHARE,
    STORIES,
)

__all__ = ["INLIER", "OUTLIER", "Stories", "begin", "observe", "reset", "settle", "widen"]

Array = npt.NDArray[np.float64]
LN_TWO_PI = float(np.log(2.0 * np.pi))


INLIER, OUTLIER = "inlier", "outlier"
"""What an account takes a reading for; else the name of the slide that was moved before it."""


@dataclass(frozen=True)
class Stories:
    """k accounts over n draws of the drift and a state of p numbers.

    Attributes
    ----------
    log_weight : array of shape (k, n)
        Logarithm of the probability of each account and draw; they sum to one.
    mean : array of shape (k, n, p)
        Mean of the state.
    covariance : array of shape (k, p, p)
        Its covariance, the same for all draws.
    gain : array of shape (k,)
        Share of the true deviation that the readings show: 1, or less where the tuner is watched.
    verdicts : tuple of tuple of str
        What each account takes each reading of tonight for, in order: ``inlier``, ``outlier``, or
        the name of the slide that was moved before it.
    """

    log_weight: Array
    mean: Array
    covariance: Array
    gain: Array
    verdicts: tuple[tuple[str, ...], ...]

    def chance(self, holds: Callable[[tuple[str, ...], float], bool]) -> float:
        """Return the probability of the accounts for which something holds.

        Parameters
        ----------
        holds : callable
            Takes the verdicts and the gain of an account.
        """
        weights = np.exp(self.log_weight).sum(axis=1)
        told = [holds(v, float(g)) for v, g in zip(self.verdicts, self.gain, strict=True)]
        return float(weights[np.array(told, dtype=bool)].sum())

    def moves(self) -> dict[tuple[int, str], float]:
        """Return the probability of each unlogged move, by the reading behind it and the slide."""
        weights = np.exp(self.log_weight).sum(axis=1)
        found: defaultdict[tuple[int, str], float] = defaultdict(float)
        for verdicts, weight in zip(self.verdicts, weights, strict=True):
            for place, verdict in enumerate(verdicts):
                if verdict not in (INLIER, OUTLIER):
                    found[place, verdict] += float(weight)
        return dict(found)

    def moments(self, row: Array, shift: Array) -> tuple[float, float]:
        """Return mean and sd of a row of the state plus a shift of each draw."""
        weights = np.exp(self.log_weight)
        means = self.mean @ row + shift
        variances = np.einsum("i,kij,j->k", row, self.covariance, row)
        middle = float((weights * means).sum())
        spread = weights * ((means - middle) ** 2 + variances[:, None])
        return middle, float(np.sqrt(spread.sum()))

    def draw(self, row: Array, shift: Array, variance: float, random: np.random.Generator) -> float:
        """Return a row of the state plus a shift, with a scatter, as a reading would show it."""
        weights = np.exp(self.log_weight).ravel()
        one = int(random.choice(len(weights), p=weights / weights.sum()))
        story, draw = divmod(one, self.log_weight.shape[1])
        spread = float(row @ self.covariance[story] @ row) + variance / self.gain[story] ** 2
        level = self.mean[story, draw] @ row + shift[draw] + random.normal(0.0, np.sqrt(spread))
        return float(self.gain[story] * level)


def begin(mean: Array, covariance: Array, gains: Mapping[float, float]) -> Stories:
    """Return the accounts before the first reading.

    Parameters
    ----------
    mean : array of shape (n, p)
        Mean of the state for each draw.
    covariance : array of shape (p, p)
        Its covariance.
    gains : mapping of float to float
        Probability of each share of the deviation that readings show.
    """
    draws, many = len(mean), len(gains)
    shares = np.log(np.array(list(gains.values()))) - log(draws)
    return Stories(
        np.repeat(shares[:, None], draws, axis=1),
        np.repeat(mean[None], many, axis=0),
        np.repeat(covariance[None], many, axis=0),
        np.array(list(gains), dtype=float),
        ((),) * many,
    )


def widen(stories: Stories, along: Array, variance: float) -> Stories:
    """Return the accounts with a variance added along a direction of the state."""
    return replace(stories, covariance=stories.covariance + variance * np.outer(along, along))


def reset(stories: Stories, place: int, variance: float) -> Stories:
    """Return the accounts with one number of the state known anew: zero, with a variance."""
    mean, covariance = stories.mean.copy(), stories.covariance.copy()
    mean[:, :, place] = 0.0
    covariance[:, place, :] = covariance[:, :, place] = 0.0
    covariance[:, place, place] = variance
    return replace(stories, mean=mean, covariance=covariance)


def settle(stories: Stories, slides: Collection[str]) -> Stories:
    """Return the accounts with the moves of some slides over: where those are was logged since."""
    return replace(
        stories,
        verdicts=tuple(
            tuple(INLIER if verdict in slides else verdict for verdict in verdicts)
            for verdicts in stories.verdicts
        ),
    )


def observe(
    stories: Stories,
    row: Array,
    cents: float,
    shift: Array,
    variance: float,
    jumps: Mapping[str, tuple[Array, float]],
    outlier: float = OUTLIER_SHARE,
) -> Stories:
    """Return the accounts after a reading, the likeliest of them.

    Parameters
    ----------
    stories : Stories
        The accounts before it.
    row : array of shape (p,)
        Weights of the state in the reading.
    cents : float
        What was read.
    shift : array of shape (n,)
        What each draw adds to it: drift and nominal cents of the slides.
    variance : float
        Variance of the reading [cents²].
    jumps : mapping of str to (array of shape (p,), float)
        By slide, the direction in which an unlogged move shifts the state, and the probability
        of one since the last reading.
    outlier : float
        Probability that the reading is an outlier.

    Returns
    -------
    Stories
    """
    directions = [np.zeros_like(row), *(along for along, _ in jumps.values())]
    names = [INLIER, *jumps]
    moved = [probability for _, probability in jumps.values()]
    priors = [(1.0 - outlier) * share for share in (1.0 - sum(moved), *moved)]
    errors = cents / stories.gain[:, None] - shift - stories.mean @ row
    noise = variance / stories.gain**2
    wider = [stories.covariance + MOVE_SD_CENTS**2 * np.outer(along, along) for along in directions]
    branches = [
        _evidence(stories, covariance, row, errors, noise, prior)
        for covariance, prior in zip(wider, priors, strict=True)
    ]
    branches.append(stories.log_weight + log(outlier * OUTLIER_DENSITY))
    return _likeliest(stories, branches, [*names, OUTLIER], wider, row, errors, noise)


def _evidence(
    stories: Stories, covariance: Array, row: Array, errors: Array, noise: Array, prior: float
) -> Array:
    spread = (np.einsum("i,kij,j->k", row, covariance, row) + noise)[:, None]
    fit = -0.5 * (errors**2 / spread + np.log(spread) + LN_TWO_PI)
    return np.asarray(stories.log_weight + fit + log(prior) - np.log(stories.gain)[:, None])


def _likeliest(
    stories: Stories,
    branches: list[Array],
    names: list[str],
    wider: list[Array],
    row: Array,
    errors: Array,
    noise: Array,
) -> Stories:
    """Update the likeliest branches only: which those are follows from the evidence alone."""
    weights = np.stack(branches)
    totals = np.logaddexp.reduce(weights, axis=2)
    order = np.argsort(totals, axis=None)[::-1][:STORIES]
    branch, story = np.unravel_index(order, totals.shape)
    total = np.logaddexp.reduce(totals.ravel()[order])
    mean, covariance = stories.mean[story], stories.covariance[story].copy()
    for place, (b, s) in enumerate(zip(branch, story, strict=True)):
        if b < len(wider):
            before = wider[b][s]
            along = before @ row
            spread = float(row @ along + noise[s])
            mean[place] += errors[s][:, None] * (along / spread)
            covariance[place] = before - np.outer(along, along) / spread
    return Stories(
        weights[branch, story] - total,
        mean,
        covariance,
        stories.gain[story],
        tuple((*stories.verdicts[s], names[b]) for b, s in zip(branch, story, strict=True)),
    )
