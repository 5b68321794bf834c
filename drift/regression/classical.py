"""Ordinary regression of cents on temperature and playing time: least squares and mixed.

These two know no acoustics. They answer what a straight line through the readings says, with the
standard errors that a methods section needs; the Bayesian method is the one to act on.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.errors import InputError
from drift.findings import Finding, distinct
from drift.pairing.paired import LeftOut
from drift.regression.at_scale import Slopes, blocks_of, solved
from drift.regression.clustering import clustered_both_ways, how_clustered
from drift.regression.covariates import covariates_of
from drift.regression.design import design_of, prepared, time_order
from drift.regression.diagnostics import correlation_within, diagnostics_of
from drift.regression.estimates import Estimate, Kind, Settings
from drift.regression.grouping import intercepts_of, less_means, numbered
from drift.regression.line import NAMES, Line, few_rehearsals, flat_time, line_of
from drift.regression.mixed import mixed_model
from drift.regression.results import Fit
from drift.regression.same_everywhere import said_of, same_everywhere
from drift.regression.terms import NO_TERMS, Terms, terms_of
from drift.regression.warned import with_warnings

__all__ = ["DENSE_CELLS", "absorbed_line", "fit_classical", "least_squares", "sds_of"]

Array = npt.NDArray[np.float64]

DENSE_CELLS = 20_000_000
"""A design with more cells than this is not built; the intercepts are absorbed instead."""


def fit_classical(
    rows: pd.DataFrame,
    left_out: tuple[LeftOut, ...],
    method: str,
    settings: Settings,
) -> Fit:
    """Fit each kind of instrument by itself and dress the answer.

    Parameters
    ----------
    rows : DataFrame
        Complete rows, from `drift.regression.fits.rows_to_fit`.
    left_out : tuple
        What was left out before.
    method : str
        ``least-squares`` or ``mixed``.
    settings : Settings
        With the covariates, or the formula.

    Raises
    ------
    TooLittleData
        If a slope can not be told from the readings; says what is missing.
    """
    mixed = method == "mixed"
    regress = mixed_model if mixed else least_squares
    looks = np.full((2, len(rows)), np.nan)
    kinds: dict[str, Kind] = {}
    notes: dict[str, Any] = {}
    warned: list[Finding] = []
    lines: list[Line] = []
    codes, names = numbered(rows, ["instrument"])
    terms = terms_of(rows, covariates_of(rows, settings.covariates), settings.formula)
    same = same_everywhere(rows, terms)
    warned += said_of(same)
    for number, name in enumerate(names):
        where = codes == number if len(names) > 1 else slice(None)
        part = rows[where]
        line, residuals, facts = regress(part, terms.without(same[str(name)]).of_usual(part))
        warned += facts.pop("warnings")
        # The absorbed sums know it already.
        together = facts.pop("regressor_correlation", None) or correlation_within(part)
        expected = line.expected(part)
        looks[:, where] = expected, residuals
        kinds[str(name)] = Kind(
            line, line, {}, len(part), _explained(part, expected), together,
            len(numbered(part, ["player"])[1]),
        )  # fmt: skip
        notes[str(name)] = facts | diagnostics_of(part, residuals, together)
        lines.append(line)
    found = Fit(
        method=method,
        kinds=kinds,
        rows=rows.assign(drift=looks[0], residual=looks[1], weight=1.0),
        left_out=left_out,
        sds=sds_of(lines, [one["random_sds"] for one in notes.values() if mixed]),
        celsius_range=(float(rows["celsius"].min()), float(rows["celsius"].max())),
        warnings=distinct(warned),
        settings=settings,
        diagnostics=next(iter(notes.values())) if len(notes) == 1 else notes,
    )
    return with_warnings(found)


def least_squares(
    part: pd.DataFrame, terms: Terms = NO_TERMS
) -> tuple[Line, Array, dict[str, Any]]:
    """Regress by ordinary least squares, an intercept a note of a player.

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
        Covariance used, its choice in words, figures, and ``warnings``.

    Notes
    -----
    Standard errors are clustered by rehearsal with ``t`` of G - 1 degrees of freedom; within a
    single rehearsal they are robust to heteroskedasticity and autocorrelation (HAC, Bartlett
    weights, ``floor(4 (n/100)^(2/9))`` lags), which takes the readings as equally spaced. Where a
    term has one value a player, they are clustered by rehearsal and by player, and ``t`` has the
    fewer of both less one.

    References
    ----------
    .. [1] W. K. Newey, K. D. West, "A simple, positive semi-definite, heteroskedasticity and
       autocorrelation consistent covariance matrix", Econometrica 55, 703-708 (1987).
    .. [2] A. C. Cameron, D. L. Miller, "A practitioner's guide to cluster-robust inference",
       J. Human Resources 50, 317-372 (2015).
    """
    known = intercepts_of(part)
    intercepts = pd.factorize(known, size_hint=int(known.max()) + 1)[0]
    if len(part) * (int(intercepts.max()) + 3) > DENSE_CELLS:
        return _absorbed(part.assign(intercept=intercepts), terms)
    from statsmodels.regression.linear_model import OLS

    ordered, columns, groups = prepared(part, terms)
    design = design_of(ordered, columns, groups, terms)
    clusters = pd.factorize(ordered["rehearsal"])[0]
    count = int(clusters.max()) + 1
    if count > 1:
        kinds = {"cov_type": "cluster", "cov_kwds": {"groups": clusters}}
        freedom = float(count - 1)
        choice: dict[str, Any] = {"kind": "clustered", "freedom": freedom}
    else:
        lags = int(np.floor(4.0 * (len(ordered) / 100.0) ** (2.0 / 9.0)))
        kinds = {"cov_type": "HAC", "cov_kwds": {"maxlags": lags, "use_correction": True}}
        freedom = float(len(ordered) - design.shape[1])
        choice = {"kind": "hac", "freedom": freedom, "lags": lags}
    result = OLS(ordered["reference_cents"].to_numpy(dtype=float), design).fit(use_t=True, **kinds)
    covariance = result.cov_params()
    players, few = how_clustered(ordered, terms)
    if players is not None:
        bread, scores = result.normalized_cov_params, design * result.resid[:, None]
        covariance = clustered_both_ways(
            bread, scores, players, clusters, len(columns) + len(terms)
        )
        freedom = float(min(players.max(), clusters.max()) if count > 1 else players.max())
        choice = {"kind": "clustered_both" if count > 1 else "by_player", "freedom": freedom}
    line = line_of(result.params, covariance, columns, freedom, float(result.scale), 0.0, terms)
    residuals = np.empty(len(part))
    residuals[time_order(part)] = result.resid
    warned = few + few_rehearsals(count, clustered=True)
    facts = {"covariance": choice, "rehearsals": count, "warnings": warned + flat_time(columns)}
    return line, residuals, facts


def _absorbed(part: pd.DataFrame, terms: Terms) -> tuple[Line, Array, dict[str, Any]]:
    """Regress very many readings by the same least squares, without a column an intercept."""
    if len(terms):
        raise InputError(
            f"{len(part)} readings with {int(part['intercept'].max()) + 1} notes of players are "
            f"too many for {terms.labels[0]} by least squares, which would fill the memory",
            "use bayesian, which takes covariates of any number of readings",
        )
    clusters, names = numbered(part, ["rehearsal"])
    slopes = solved(blocks_of(part, intercepts_of(part), clusters, len(names)))
    line, facts = absorbed_line(slopes)
    rest = part["reference_cents"].to_numpy(dtype=float) - line.expected(part)
    return line, less_means(rest, intercepts_of(part)), facts


def absorbed_line(
    slopes: Slopes, columns: tuple[str, ...] = tuple(NAMES)
) -> tuple[Line, dict[str, Any]]:
    """Return the line of absorbed least squares and what is to be said of it, see `least_squares`.

    Parameters
    ----------
    slopes : Slopes
        Of all readings of a kind.
    columns : tuple of str
        The columns that were estimated.
    """
    clustered = slopes.clusters > 1
    freedom = float(slopes.clusters - 1 if clustered else slopes.readings - slopes.intercepts - 2)
    line = Line(
        slopes.coefficients,
        slopes.covariance,
        freedom,
        float(np.sqrt(slopes.variance)),
        0.0,
        columns,
    )
    kind = "clustered" if clustered else "not_clustered"
    facts = {
        "covariance": {"kind": kind, "freedom": freedom, "absorbed": True},
        "rehearsals": slopes.clusters,
        "regressor_correlation": slopes.regressor_correlation,
        "warnings": few_rehearsals(slopes.clusters, clustered=True),
    }
    return line, facts


def _explained(part: pd.DataFrame, expected: Array) -> float:
    """Return the share of the variance within the intercepts that the expected drift explains."""
    codes, cents = intercepts_of(part), part["reference_cents"].to_numpy(dtype=float)
    before = less_means(cents, codes)
    after = less_means(cents - expected, codes)
    return float(1.0 - after @ after / (before @ before))


def sds_of(
    lines: Sequence[Line], random: Sequence[Mapping[str, float]] = ()
) -> dict[str, Estimate]:
    """Return the standard deviations, root mean squares over kinds of instrument.

    Parameters
    ----------
    lines : sequence of Line
        One a kind.
    random : sequence of mappings
        Of each kind the sds of its random effects, where it has any.

    Returns
    -------
    dict of str to Estimate
        Without intervals (NaN): neither method has them.
    """
    found = {"reading_sd": _pooled([line.reading_sd for line in lines])}
    for name in ("day_sd", "rehearsal_sd"):
        if known := [one[name] for one in random if name in one]:
            found[name] = _pooled(known)
    nothing = float("nan")
    return {name: Estimate(value, nothing, nothing) for name, value in found.items()}


def _pooled(values: list[float]) -> float:
    """Return the root mean square."""
    return float(np.sqrt(np.mean(np.square(values))))
