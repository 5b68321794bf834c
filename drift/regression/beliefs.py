"""From a posterior, or from priors alone, to what is believed of each player and instrument."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.special import ndtri

from drift.errors import InstrumentError
from drift.instruments import Catalogue, find
from drift.regression.answers import Belief, width_of
from drift.regression.bayesian import Found
from drift.regression.covariates import Covariate
from drift.regression.evidence import prior_of
from drift.regression.priors import InstrumentPriors, Priors
from drift.regression.sampling import sobol
from drift.regression.scores import Scores
from drift.regression.walls import before_readings, taught_of, with_walls

__all__ = ["Unread", "beliefs_of", "common_slope", "expected_of"]

Array = npt.NDArray[np.float64]

PRIOR_DRAWS = 1024
USUAL_HORIZON_HOURS = 2.0


def beliefs_of(found: Found, priors: Priors, kind: int) -> tuple[Belief, Belief, dict[str, Belief]]:
    """Return what is believed of a kind: its population, a new player, and each player.

    Parameters
    ----------
    found : Found
    priors : Priors
    kind : int
        Which, in the order of the columns.
    """
    scores, sample, columns = found.scores, found.sample, found.columns
    sds = scores.sds(sample.theta)
    warm, cool = scores.times(sample.theta, kind)
    place = _places(len(scores.kinds), kind, len(columns.covariates))
    before = expected_of(scores.kinds[kind], priors, scores)
    base = Belief(
        weights=sample.weights,
        mean=found.population.mean[:, place],
        covariance=found.population.covariance[:, place[:, None], place],
        warm_minutes=warm,
        cool_minutes=cool,
        start=scores.warmth_at_start(sample.theta, kind),
        reading_variance=sds[:, 0] ** 2 + sds[:, 1] ** 2 + sds[:, 5] ** 2,
        horizon_hours=float(columns.horizon_hours[kind]),
        growth_sd=priors.slow_growth_sd,
        covariates=columns.covariates,
        covariate_sd=priors.covariate_sd,
        start_estimated=scores.start,
        multiples={one.name: 0.0 for one in columns.covariates if one.multiples},
    )
    known, of_player = before_readings(scores, sample.theta, priors, kind)
    base = replace(base, late_log_sds=_late(base, priors, scores.kinds[kind]))
    population = _with_walls(replace(base, before=_widths(before[0])), priors, known)
    new = replace(_with_players(base, sds), before=_widths(before[1]))
    means, covariances = found.population.players[kind]
    units = np.flatnonzero(columns.kind_of_unit == kind)
    players = {
        columns.players[unit]: _with_walls(
            replace(new, mean=means[:, number], covariance=covariances[:, number]),
            priors, of_player,
        ).at(_multiples(columns.covariates, columns.kinds[kind], columns.players[unit]))
        for number, unit in enumerate(units)
    }  # fmt: skip
    return population, _with_walls(new, priors, of_player), players


def expected_of(
    known: InstrumentPriors, priors: Priors, scores: Scores | None = None
) -> tuple[Belief, Belief]:
    """Return what is believed before any reading: of the population, and of a new player."""
    scores = Scores(priors, (known,), True, scores is not None and scores.start)
    scores = replace(scores, kinds=(known,))
    theta = ndtri(sobol(PRIOR_DRAWS, scores.count, 11))
    mean, covariance = prior_of(scores, 0)
    sds = scores.sds(theta)
    warm, cool = scores.times(theta, 0)
    population = Belief(
        weights=np.full(len(theta), 1.0 / len(theta)),
        mean=np.broadcast_to(mean, (len(theta), 4)),
        covariance=np.broadcast_to(covariance, (len(theta), 4, 4)),
        warm_minutes=warm,
        cool_minutes=cool,
        start=scores.warmth_at_start(theta, 0),
        reading_variance=sds[:, 0] ** 2 + sds[:, 1] ** 2 + sds[:, 5] ** 2,
        horizon_hours=USUAL_HORIZON_HOURS,
        growth_sd=priors.slow_growth_sd,
        start_estimated=scores.start,
    )
    population = replace(population, before=_widths(population))
    new = _with_players(population, sds)
    return population, replace(new, before=_widths(new))


@dataclass(frozen=True)
class Unread:
    """What is believed of instruments that nobody has read yet.

    Parameters
    ----------
    priors : Priors
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.
    common : tuple of two arrays, optional
        Mean and variance of what the slopes of all kinds have in common, learnt from others.
    like : Belief, optional
        What was learnt of one of those.
    """

    priors: Priors
    catalogue: Catalogue | None = None
    common: tuple[Array, Array] | None = None
    like: Belief | None = None

    def belief(self, name: str, player: str | None) -> Belief:
        """Return what is believed of an instrument of the catalogue.

        Raises
        ------
        InstrumentError
            If it is not in the catalogue, or its pitch is fixed.
        """
        known = find(name, self.catalogue)
        if known.fixed_pitch is not None:
            raise InstrumentError(
                f"a {known.name} has a fixed pitch, which playing does not warm",
                "ask for an instrument with a tube, or plan a gig, which knows bars as well",
            )
        prior = self.priors.of(known.name, self.catalogue)
        population, new = expected_of(prior, self.priors)
        chosen = population if player is None else new
        if self.common is None or self.like is None:
            return chosen
        return self._learnt(chosen, prior)

    def _learnt(self, chosen: Belief, prior: InstrumentPriors) -> Belief:
        """Put what other instruments taught of the common slope and the bend in its place."""
        mean, variance = self.common or (np.zeros(1), np.ones(1))
        like = self.like or chosen
        average = float(like.weights @ mean)
        spread = float(like.weights @ (variance + (mean - average) ** 2))
        bend = float(like.weights @ like.mean[:, 3])
        centre = chosen.mean.copy()
        centre[:, 0] = prior.cold_mean + average
        centre[:, 3] = bend
        covariance = chosen.covariance.copy()
        covariance[:, 0, 0] += spread - self.priors.common_slope_sd**2
        covariance[:, 3, 3] = float(
            like.weights @ (like.covariance[:, 3, 3] + (like.mean[:, 3] - bend) ** 2)
        )
        return replace(chosen, mean=centre, covariance=covariance, horizon_hours=like.horizon_hours)


def common_slope(found: Found, priors: Priors) -> tuple[Array, Array]:
    """Return mean and variance of what the slopes of all kinds have in common, at each draw.

    Notes
    -----
    Given the slopes ``b`` of the kinds, ``C`` is normal with mean ``g'(b - m)``,
    ``g = c² 1'(c² 11' + diag(d²))⁻¹``, and variance ``c² - c² g'1``.
    """
    kinds = found.scores.kinds
    count = len(kinds)
    common = priors.common_slope_sd**2
    whole = common * np.ones((count, count)) + np.diag([one.cold_sd**2 for one in kinds])
    gain = common * np.linalg.solve(whole, np.ones(count))
    away = found.population.mean[:, :count] - [one.cold_mean for one in kinds]
    covariance = found.population.covariance[:, :count, :count]
    variance = common - common * gain.sum() + np.einsum("i,nij,j->n", gain, covariance, gain)
    return away @ gain, np.asarray(variance)


def _multiples(covariates: Sequence[Covariate], kind: str, player: str) -> dict[str, float]:
    """Return how much for each °C the covariates of a player are that are such products."""
    return {one.name: one.multiples.get((kind, player), 0.0) for one in covariates if one.multiples}


def _places(kinds: int, kind: int, covariates: int) -> npt.NDArray[np.intp]:
    own = [kind, kinds + kind, 2 * kinds + kind]
    return np.array([*own, *range(3 * kinds, 3 * kinds + 1 + covariates)], dtype=np.intp)


def _with_players(belief: Belief, sds: Array) -> Belief:
    """Return the belief in a player nobody has read, who differs as players do."""
    covariance = belief.covariance.copy()
    covariance[:, range(3), range(3)] += sds[:, 2:5] ** 2
    return replace(belief, covariance=covariance)


def _with_walls(belief: Belief, priors: Priors, before: Array) -> Belief:
    """Return the belief with an allowance for walls that do not all warm alike.

    Parameters
    ----------
    belief : Belief
    priors : Priors
    before : array that broadcasts to (n, 3)
        Variances of slope, rise and slow drift before the readings.
    """
    taught = taught_of(belief.covariance, before)
    return replace(belief, covariance=with_walls(belief.covariance, taught, priors))


def _late(belief: Belief, priors: Priors, known: InstrumentPriors) -> tuple[float, float]:
    """Return the allowances for walls that warm, and cool, later than others; as `_with_walls`."""
    warm, cool = (
        float(np.cov(np.log(minutes), aweights=belief.weights, ddof=0)) / log_sd**2
        for minutes, log_sd in (
            (belief.warm_minutes, known.warm_log_sd),
            (belief.cool_minutes, known.cool_log_sd),
        )
    )
    taught = np.sqrt(np.clip(1.0 - np.array([warm, cool]), 0.0, 1.0))
    late = priors.late_walls_log_sd * taught
    return float(late[0]), float(late[1])


def _widths(belief: Belief) -> dict[str, float]:
    return {
        name: width_of(name, value) for name, value in replace(belief, before={}).entries().items()
    }
