"""The mixed model: random effects of the rehearsal and of the player's day within it."""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.errors import InputError, TooLittleData
from drift.findings import Finding
from drift.regression.clustering import clustered_both_ways, how_clustered
from drift.regression.design import design_of, prepared, time_order
from drift.regression.line import Line, few_rehearsals, flat_time, line_of
from drift.regression.terms import NO_TERMS, Terms

__all__ = ["mixed_model"]

Array = npt.NDArray[np.float64]

DENSE_CELLS = 2_000_000
"""A design with more cells is refused: 100 000 readings of 200 players took 18 GB without end."""

ATTEMPTS = (("bfgs", 1.0), ("lbfgs", 1.0), ("powell", 1.0), ("powell", 0.01), ("powell", 100.0))
"""Optimiser, and where it starts: variance of rehearsals over that of readings. All are tried,
because each fails now and then, and because the likelihood may have a top where rehearsals differ
little and another where they differ much; the highest likelihood that converged counts."""


def mixed_model(part: pd.DataFrame, terms: Terms = NO_TERMS) -> tuple[Line, Array, dict[str, Any]]:
    """Regress with random effects of the rehearsal and of the player's day within it (REML).

    Parameters
    ----------
    part : DataFrame
        Complete rows of one instrument.
    terms : Terms
        What the line holds beside temperature and playing time.

    Returns
    -------
    line : Line
    residuals : array of shape (n,)
    facts : dict
        ``converged``, the variance components, and ``warnings``.

    Raises
    ------
    InputError
        If there are so many readings that the memory would fill.
    TooLittleData
        If it cannot be estimated.

    Notes
    -----
    Every note of a player keeps an intercept of its own, so a player's general habit is taken out;
    what is random is how a rehearsal, and a player in it, differs from the others. Intervals use
    ``t`` with G - 1 degrees of freedom, because normal ones are too short with few rehearsals.
    Slopes have no random effect of the player: where a term has one value a player, the covariance
    of the coefficients is a sandwich of this weighted regression, clustered by rehearsal and by
    player.
    """
    ordered, columns, groups = prepared(part, terms)
    clusters = pd.factorize(ordered["rehearsal"])[0]
    count = int(clusters.max()) + 1
    if count < 2:
        raise TooLittleData(
            "all readings come from one rehearsal: how rehearsals differ can not be seen",
            "log at least two rehearsals for the method mixed, or use bayesian",
        )
    if len(ordered) * (int(groups.max()) + 1) > DENSE_CELLS:
        raise InputError(
            f"{len(ordered)} readings with {int(groups.max()) + 1} notes of players are too many "
            "for the method mixed, which would fill the memory",
            "use bayesian, which has the same random effects, or least-squares",
        )
    design = design_of(ordered, columns, groups, terms)
    result, converged, complaints = _reml(ordered, design, clusters)
    kept = slice(0, design.shape[1])
    names = range(design.shape[1])
    covariance = np.asarray(result.cov_params())[kept, kept][np.ix_(names, names)]
    shared, own = float(np.sum(result.cov_re)), float(np.sum(result.vcomp))
    day_variance = shared + own
    freedom, kind = float(count - 1), "reml"
    players, few = how_clustered(ordered, terms)
    if players is not None:
        cents = ordered["reference_cents"].to_numpy(dtype=float)
        rest = cents - design @ np.asarray(result.fe_params)
        weighted = _weighted(result, ordered, clusters, design)
        bread = np.asarray(np.linalg.inv(design.T @ weighted), dtype=np.float64)
        # The weights mix the players of a rehearsal: it is residuals that are of one player each.
        scores = weighted * rest[:, None]
        covariance = clustered_both_ways(
            bread, scores, players, clusters, len(columns) + len(terms)
        )
        freedom, kind = float(min(players.max(), clusters.max())), "reml_clustered_both"
    line = line_of(
        np.asarray(result.fe_params),
        covariance,
        columns,
        freedom,
        float(result.scale),
        max(day_variance, 0.0),
        terms,
    )
    residuals = np.empty(len(part))
    residuals[time_order(part)] = _without_days(result, ordered, design)
    warned = few + few_rehearsals(count, clustered=False)
    if not converged:
        reason = complaints[0] if complaints else "no reason given"
        warned.append(Finding("not_converged", {"reason": reason}))
    facts = {
        "converged": converged,
        "covariance": {"kind": kind, "freedom": freedom},
        "rehearsals": count,
        "optimizer_messages": complaints,
        "random_sds": _random_sds(shared, own, bool(np.size(result.vcomp))),
        "warnings": warned + flat_time(columns),
    }
    return line, residuals, facts


def _random_sds(shared: float, own: float, several: bool) -> dict[str, float]:
    """Return the sds of the random effects [cents]; with one player a day is all there is."""
    if not several:
        return {"day_sd": float(np.sqrt(max(shared, 0.0)))}
    return {
        "day_sd": float(np.sqrt(max(own, 0.0))),
        "rehearsal_sd": float(np.sqrt(max(shared, 0.0))),
    }


def _reml(ordered: pd.DataFrame, design: Array, clusters: Any) -> tuple[Any, bool, list[str]]:
    """Return the fitted mixed model, whether it converged, and what the optimiser said."""
    from statsmodels.regression.mixed_linear_model import MixedLM, MixedLMParams, VCSpec

    components = None
    if ordered.groupby("rehearsal")["player"].nunique().max() > 1:
        matrices, columns = [], []
        for cluster in range(int(clusters.max()) + 1):
            dummies = pd.get_dummies(ordered["player"][clusters == cluster], dtype=float)
            matrices.append(dummies.to_numpy())
            columns.append(list(dummies.columns))
        components = VCSpec(["player"], [columns], [matrices])
    cents = ordered["reference_cents"].to_numpy(dtype=float)
    # With variance components it has no random intercept unless it is asked for one.
    model = MixedLM(
        cents, design, groups=clusters, exog_re=np.ones((len(cents), 1)), exog_vc=components
    )
    found: list[tuple[float, bool, Any]] = []
    said: list[str] = []
    for method, variance in ATTEMPTS:
        start = MixedLMParams.from_components(
            np.zeros(model.k_fe), cov_re=np.eye(1) * variance, vcomp=np.ones(model.k_vc)
        )
        with warnings.catch_warnings(record=True) as caught:
            warnings.simplefilter("always")
            try:
                result = model.fit(start, reml=True, method=method)
                errors = np.asarray(result.bse_fe)
            except np.linalg.LinAlgError as failure:
                said.append(f"{method}: {failure}")
                continue
        said += [f"{method}: {str(item.message).splitlines()[0]}" for item in caught]
        # At a singular covariance it reports success with an infinite likelihood.
        if np.isfinite(result.llf) and np.isfinite(errors).all():
            found.append((float(result.llf), bool(result.converged), result))
    if not found:
        raise TooLittleData(
            "the mixed model can not be fitted to these readings: every optimiser met a "
            "singular matrix",
            "log more rehearsals, or use bayesian",
        )
    _, converged, best = max(found, key=lambda item: (item[1], item[0]))
    return best, converged, [] if converged else list(dict.fromkeys(said))


def _weighted(result: Any, ordered: pd.DataFrame, clusters: Any, table: Array) -> Array:
    """Return the columns of a table times the inverse covariance of the readings, (n, m)."""
    own = float(np.sum(result.vcomp))
    shared = float(np.sum(result.cov_re))
    players = ordered["player"].to_numpy()
    found = np.empty(table.shape)
    for cluster in range(int(clusters.max()) + 1):
        where = np.flatnonzero(clusters == cluster)
        same = players[where][:, None] == players[where]
        covariance = float(result.scale) * np.eye(len(where)) + shared + own * same
        found[where] = np.linalg.solve(covariance, table[where])
    return found


def _without_days(result: Any, ordered: pd.DataFrame, design: Array) -> Array:
    """Return the residuals less the expected random effects, where those can be had."""
    try:
        return np.asarray(result.resid)
    except ValueError:  # a variance of exactly zero: there are no random effects to take out
        cents = ordered["reference_cents"].to_numpy(dtype=float)
        return np.asarray(cents - design @ np.asarray(result.fe_params))
