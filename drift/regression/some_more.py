"""The posterior after a few readings more, from the draws that there are: no new search."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from drift.instruments import Catalogue
from drift.regression.bayesian import Found, evidence_of
from drift.regression.beliefs import beliefs_of
from drift.regression.columns import Columns, columns_of
from drift.regression.covariates import covariates_of
from drift.regression.estimates import Kind
from drift.regression.fits import rows_to_fit
from drift.regression.priors import Priors
from drift.regression.residuals import Weights

if TYPE_CHECKING:
    from drift.regression.results import Fit

__all__ = ["kind_with", "posterior_with"]

FEWEST_EFFECTIVE = 100.0
"""With fewer draws that count, the readings have moved the posterior too far."""


def kind_with(
    fit: Fit, rows: pd.DataFrame, name: str, catalogue: Catalogue | None = None
) -> Kind | None:
    """Return what a fit would know of an instrument after some readings more.

    Parameters
    ----------
    fit : Fit
        Of the Bayesian method.
    rows : DataFrame
        Those of the fit, and the new ones after them; of the same players and instruments.
    name : str
        The instrument.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.

    Returns
    -------
    Kind or None
        None where the readings must be fitted again: the fit has no posterior, or the new readings
        move it too far.
    """
    if fit.posterior is None:
        return None
    kept, _ = rows_to_fit(rows, catalogue, fit.settings.covariates)
    columns = columns_of(kept, covariates_of(kept, fit.settings.covariates))
    found = posterior_with(fit.posterior, columns)
    if found is None:
        return None
    priors = fit.settings.priors or Priors()
    population, new, players = beliefs_of(found, priors, columns.kinds.index(name))
    return replace(fit.kinds[name], population=population, new_player=new, players=players)


def posterior_with(found: Found, columns: Columns) -> Found | None:
    """Return the posterior of readings that begin with those of another.

    Parameters
    ----------
    found : Found
        The other.
    columns : Columns
        All readings; the first rows of their table are those of `found`.

    Returns
    -------
    Found or None
        None where players or instruments are new, or too few draws count.

    Notes
    -----
    The draws of standard deviations and time constants stay, each with its weight times the
    evidence of all readings over that of the old ones; given them everything else is exact. Old
    readings keep the weights that they have, and new ones are taken as no outliers.
    """
    before = found.columns
    alike = columns.players == before.players and columns.kinds == before.kinds
    if not alike or columns.shared != found.scores.shared:
        return None
    weights = _weights_of_all(found, columns)
    evidence = evidence_of(columns, weights, found.scores, found.evidence.box)
    population = evidence.given(found.sample.theta, players=True)
    logs = population.log - found.population.log
    draws = found.sample.weights * np.exp(logs - logs.max())
    draws /= draws.sum()
    effective = float(1.0 / (draws**2).sum())
    if effective < FEWEST_EFFECTIVE:
        return None
    sample = replace(found.sample, weights=draws, effective=effective)
    return replace(
        found, columns=columns, evidence=evidence, sample=sample, population=population,
        weights=weights,
    )  # fmt: skip


def _weights_of_all(found: Found, columns: Columns) -> Weights:
    """Return the weights of the old readings, and of new ones those of their players."""
    scatter = found.weights.scatter
    tame, precision = np.ones(len(columns)), np.empty(len(columns))
    precision[columns.order] = scatter[columns.unit] ** -2.0
    tame[found.columns.order] = found.weights.tame
    precision[found.columns.order] = found.weights.precision
    return Weights(tame[columns.order], precision[columns.order], scatter)
