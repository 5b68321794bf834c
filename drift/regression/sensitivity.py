"""How much an answer leans on its priors, and how much on the readings: power scaling."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.breath import BREATH_CELSIUS
from drift.regression.bayesian import Found
from drift.regression.evidence import prior_of
from drift.regression.warmup import REFERENCE_CELSIUS

__all__ = ["sensitivity_of"]

Array = npt.NDArray[np.float64]

DRAWS = 4000


def sensitivity_of(found: Found) -> pd.DataFrame:
    """Return how far the population's quantities move when prior or likelihood count double.

    Parameters
    ----------
    found : Found

    Returns
    -------
    DataFrame
        ``instrument, quantity, prior, likelihood``: shift of the mean in posterior standard
        deviations for a doubling of the power, to first order. A large one of the prior and a
        small one of the likelihood: the answer is assumption. Two large ones: they disagree.

    Notes
    -----
    ``dE[x]/d log2(power) = ln 2 cov(x, log density)``, from draws of what is not linear and of the
    coefficients given it.

    References
    ----------
    .. [1] N. Kallioinen, T. Paananen, P.-C. Bürkner, A. Vehtari, "Detecting and diagnosing prior
       and likelihood sensitivity with power-scaling", Statistics and Computing 34, 57 (2024).
    """
    scores, sample, population = found.scores, found.sample, found.population
    random = np.random.default_rng(0)
    which = random.choice(len(sample.weights), DRAWS, p=sample.weights)
    theta, mean = sample.theta[which], population.mean[which]
    roots = np.linalg.cholesky(population.covariance)
    noise = random.standard_normal(mean.shape)
    drawn = mean + np.einsum("nij,nj->ni", roots[which], noise)
    centre, covariance = prior_of(scores, len(found.columns.covariates))
    away = drawn - centre
    of_coefficients = -0.5 * np.einsum("ni,ni->n", away @ np.linalg.inv(covariance), away)
    log_prior = of_coefficients - 0.5 * (theta**2).sum(axis=1)
    given = -0.5 * (noise**2).sum(axis=1)
    given -= np.log(np.diagonal(roots, axis1=1, axis2=2)).sum(axis=1)[which]
    log_likelihood = population.log[which] + given - of_coefficients
    records = []
    for kind, name in enumerate(found.columns.kinds):
        for quantity, values in _quantities(found, kind, theta, drawn).items():
            shift = [_shift(values, log) for log in (log_prior, log_likelihood)]
            records.append((name, quantity, *shift))
    return pd.DataFrame(records, columns=["instrument", "quantity", "prior", "likelihood"])


def _quantities(found: Found, kind: int, theta: Array, drawn: Array) -> dict[str, Array]:
    count = len(found.scores.kinds)
    cold, rise, slow = (drawn[:, kind + step * count] for step in range(3))
    warm, cool = found.scores.times(theta, kind)
    # The coefficients of covariates are the last; all kinds share them.
    places = range(3 * count + 1, drawn.shape[1])
    covariates = zip(found.columns.covariates, places, strict=True)
    return {
        "cold_cents_per_celsius": cold,
        "warm_cents_per_celsius": cold - rise / (BREATH_CELSIUS - REFERENCE_CELSIUS),
        "warm_up_cents": rise,
        "slow_cents_per_hour": slow,
        "warm_up_time_constant_minutes": np.log(warm),
        "cool_down_time_constant_minutes": np.log(cool),
        **{one.label: drawn[:, place] for one, place in covariates},
    }


def _shift(values: Array, log: Array) -> float:
    """Return the shift of the mean, in standard deviations, for a doubling of the power."""
    covariance = float(np.mean((values - values.mean()) * (log - log.mean())))
    return float(np.log(2.0)) * covariance / float(values.std())
