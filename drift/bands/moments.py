"""Mean and covariance of what a fit under the reference prior says of a kind of instrument."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.bands.likelihood import Likelihood, divided
from drift.bands.reference import Reference, reference_of
from drift.regression.bayesian import Found, fit_bayesian
from drift.regression.columns import columns_of
from drift.regression.priors import SDS, Priors

__all__ = ["Learned", "learned"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Learned:
    """What the readings of one kind of instrument say.

    Parameters
    ----------
    instrument : Likelihood
        Of phi (`drift.bands.reference.NAMES`).
    spreads : Likelihood
        Of the scores of the standard deviations (`drift.regression.priors.SDS`).
    """

    instrument: Likelihood
    spreads: Likelihood


def learned(
    rows: pd.DataFrame, instrument: str, progress: Callable[[int, int], None] | None = None
) -> Learned:
    """Fit one kind of instrument under the reference prior, and divide the prior out.

    Parameters
    ----------
    rows : DataFrame
        Readings of that kind alone, as `drift.regression.fits.rows_to_fit` gives them. A kind at a
        time: what kinds have in common would else be counted once a kind.
    instrument : str
        One of `drift.bands.reference.kinds`.
    progress : callable, optional
        As in `drift.fit`.

    Notes
    -----
    The posterior is taken as normal in phi. Its mean and covariance are those of the mixture over
    the draws of time constants and standard deviations.
    """
    priors = Priors()
    found = fit_bayesian(columns_of(rows, ()), priors, (priors.of(instrument),), False, progress)
    return Learned(divided(*_of_phi(found, reference_of(instrument))), divided(*_of_spreads(found)))


def _of_phi(found: Found, reference: Reference) -> tuple[Array, Array]:
    sample, population = found.sample, found.population
    times = found.scores.times(sample.theta, 0)
    drawn = np.column_stack([population.mean[:, :4], np.log(times[0]), np.log(times[1])])
    drawn = (drawn - reference.mean) / reference.sd
    within = np.zeros((6, 6))
    within[:4, :4] = np.einsum("n,nij->ij", sample.weights, population.covariance[:, :4, :4])
    within /= np.outer(reference.sd, reference.sd)
    mean, between = _moments(drawn, sample.weights)
    return mean, within + between


def _of_spreads(found: Found) -> tuple[Array, Array]:
    """Return the moments of the scores; the prior's own for a spread that is not estimated."""
    count = found.scores.sds_count
    mean, covariance = np.zeros(len(SDS)), np.eye(len(SDS))
    mean[:count], covariance[:count, :count] = _moments(
        found.sample.theta[:, :count], found.sample.weights
    )
    return mean, covariance


def _moments(values: Array, weights: Array) -> tuple[Array, Array]:
    mean = weights @ values
    away = values - mean
    return mean, (weights[:, None] * away).T @ away
