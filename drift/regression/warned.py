"""What a reader of a fit must know, as codes and numbers; `drift.words.fit` words them."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np

from drift.degrees import NO_ROOM_CELSIUS
from drift.findings import Finding, distinct
from drift.pairing.spoilt import in_fahrenheit
from drift.regression.between import follows_air, warm_slope_in
from drift.regression.estimates import strict
from drift.regression.grouping import intercepts_of
from drift.regression.layout import Layout, layout_of, warming_in
from drift.regression.notices.faults import MOST_READINGS
from drift.regression.separating import where_to_measure
from drift.regression.terms import covariate_columns
from drift.regression.unlogged import set_for_the_air

if TYPE_CHECKING:
    import pandas as pd

    from drift.regression.results import Fit

__all__ = ["with_warnings"]

LINES = ("least-squares", "mixed")
"""The methods that know no warm-up."""

CONFOUNDED = 0.7
"""Beyond this correlation of temperature and playing time the readings cannot separate the two."""

LIKE_AIR = 0.95
"""Beyond this correlation with temperature a covariate's effect is hardly its own: the variance of
both estimates is ten times as large (a usual limit)."""

NARROW_CELSIUS = 3.0

WORST_PARETO_K = 0.7

MANY_WARMING = 0.15
"""With a greater share of readings made while warming up a straight line is too steep.

Of three simulated seasons of five instruments the intervals of least squares held 93 % of the
truths without any such readings, 83 % with a tenth and 63 % with a fifth.
"""

LOW_DURBIN_WATSON = 1.3
"""Below this, neighbouring readings are alike by more than a third (it is about 2 - 2 rho)."""


def with_warnings(fit: Fit, layout: Layout | None = None, whole: Fit | None = None) -> Fit:
    """Return the fit with the warnings that its numbers call for, the gravest first.

    Parameters
    ----------
    fit : Fit
    layout : Layout, optional
        How its readings lie; by default it is looked up in its rows.
    whole : Fit, optional
        The fit of everybody, where ``fit`` is what it knows of one player: whether effects of
        covariates can be told apart is a matter of all its readings.
    """
    whole = whole or fit
    layout = layout or layout_of(fit.rows)
    follows = _follows(fit)
    found = [
        follows,
        _fahrenheit(fit, layout),
        Finding("doubled_readings", {"count": layout.doubled}) if layout.doubled else None,
        _confounded(fit, layout),
        _like_air(whole),
        _alike(whole),
        _narrow(fit),
        _assumed(fit),
        *fit.warnings,
        _outliers(fit),
        _alone(fit, layout.alone),
        _ridge(fit, layout.days),
        _unsettled(fit),
        None if follows else _warming(fit, layout),
        _autocorrelated(fit),
        _pooled(fit),
        _too_many_to_search(fit),
    ]
    return replace(fit, warnings=distinct(one for one in found if one is not None))


def _follows(fit: Fit) -> Finding | None:
    """Return the warning that effects of rehearsals undo what the slope does between them."""
    if fit.rows.empty:
        return None
    parts = {str(name): rows for name, rows in fit.rows.groupby("instrument", sort=False)}
    beside = _numbers(fit)
    found = {
        name: follows_air(_as_answered(fit, name, rows), beside) for name, rows in parts.items()
    }
    left = {name: slope for name, slope in found.items() if slope is not None}
    if not left:
        return None
    most = max(left.values(), key=abs)
    values = {"instruments": [*left], "cents_per_celsius": most}
    return Finding("rehearsals_follow_air", {**values, "slides_unlogged": [*set_for_the_air(fit)]})


def _as_answered(fit: Fit, name: str, rows: pd.DataFrame) -> pd.DataFrame:
    """Return rows with the drift that the answer expects.

    The rows were looked at from the best of all parameters; where two courses fit nearly alike,
    the answer, which is a mean over all of them, can be the other one.
    """
    kind = fit.kinds[name]
    if fit.method != "bayesian" or (seen := warm_slope_in(rows)) is None:
        return rows
    told = (kind.population if len(kind.players) > 1 else kind.curve).entries()
    more = told["warm_cents_per_celsius"].estimate - seen
    return rows.assign(drift=rows["drift"] + more * rows["celsius"])


def _confounded(fit: Fit, layout: Layout) -> Finding | None:
    """Return the warning that two effects cannot be separated, with where to measure next."""
    if fit.method == "bayesian":  # its correlation is that of two other columns
        together_of = {name: lie.correlation for name, lie in layout.kinds.items()}
    else:
        together_of = {name: kind.regressor_correlation for name, kind in fit.kinds.items()}
    names = [name for name, value in together_of.items() if abs(value) > CONFOUNDED]
    if not names:
        return None
    lie = layout.of(names)
    celsius, minutes = where_to_measure(lie)
    return Finding(
        "confounded",
        {
            "instruments": names,
            "correlation": lie.correlation,
            "measure_celsius": celsius,
            "measure_minutes": minutes,
            "acoustics": fit.method == "bayesian",
        },
    )


def _like_air(fit: Fit) -> Finding | None:
    """Return the warning that a covariate goes with the temperature."""
    together = {name: fit.rows[name].corr(fit.rows["celsius"]) for name in _numbers(fit)}
    alike = {name: float(value) for name, value in together.items() if abs(value) > LIKE_AIR}
    return Finding("covariates_like_air", {"covariates": alike}) if alike else None


def _alike(fit: Fit) -> Finding | None:
    """Return the warning that two covariates go with each other."""
    found = [
        [one, other, together]
        for one, other in combinations(_numbers(fit), 2)
        if abs(together := float(fit.rows[one].corr(fit.rows[other]))) > LIKE_AIR
    ]
    return Finding("covariates_alike", {"pairs": found}) if found else None


def _numbers(fit: Fit) -> list[str]:
    """Return the covariates that are numbers; none where there are no rows to look at."""
    given = covariate_columns(fit.settings)
    return [name for name in given if name in fit.rows and fit.rows[name].dtype.kind in "iuf"]


def _fahrenheit(fit: Fit, layout: Layout) -> Finding | None:
    """Return the warning for temperatures that no room has."""
    if fit.celsius_range is None or not layout.kinds:
        return None
    if names := in_fahrenheit(fit.rows):
        celsius = fit.rows.loc[fit.rows["rehearsal"].isin(names), "celsius"]
        values = {"low": float(celsius.min()), "high": float(celsius.max())}
        some = [*names] if len(names) < fit.rehearsals else []
        return Finding("looks_like_fahrenheit", {**values, "rehearsals": some})
    lie = layout.of(layout.kinds)
    if not lie.total[0] / lie.readings > NO_ROOM_CELSIUS:
        return None
    low, high = fit.celsius_range
    return Finding("looks_like_fahrenheit", {"low": low, "high": high, "rehearsals": []})


def _narrow(fit: Fit) -> Finding | None:
    """Return the warning for temperatures that hardly differ."""
    if fit.celsius_range is None:
        return None
    low, high = fit.celsius_range
    if high - low >= NARROW_CELSIUS:
        return None
    return Finding("narrow_temperatures", {"low_celsius": low, "high_celsius": high})


def _assumed(fit: Fit) -> Finding | None:
    """Return the warning for a single rehearsal, whose day cannot be told from the rest."""
    if fit.method != "bayesian" or fit.rehearsals > 1:
        return None
    return Finding("one_rehearsal_assumed")


def _outliers(fit: Fit) -> Finding | None:
    """Return the warning for readings that look like outliers, the first ten one by one."""
    rows = fit.outliers
    if rows.empty:
        return None
    return Finding("outliers", {"count": len(rows), "readings": _listed(rows, "residual")})


def _listed(rows: pd.DataFrame, *more: str) -> Any:
    """Return the first ten readings one by one: whose, when, and of what."""
    shown = [
        name for name in ("time", "player", "instrument", "side", "note", *more) if name in rows
    ]
    return strict(rows[shown].head(10).to_dict("records"))


def _alone(fit: Fit, count: int) -> Finding | None:
    """Return the warning for readings that have nothing to be compared with, the first ten named.

    Of readings that lie elsewhere there is only the count.
    """
    if not count:
        return None
    notes = intercepts_of(fit.rows) if len(fit.rows) else np.zeros(0, dtype=np.intp)
    once = fit.rows[np.bincount(notes)[notes] == 1]
    return Finding("notes_read_once", {"count": count, "readings": _listed(once)})


def _ridge(fit: Fit, days: int) -> Finding | None:
    """Return the warning for days of one reading each."""
    if fit.method != "bayesian" or fit.rehearsals < 2 or _readings(fit) > days:
        return None
    return Finding("one_reading_a_day")


def _unsettled(fit: Fit) -> Finding | None:
    """Return the warning for draws that do not follow the posterior."""
    pareto_k = fit.diagnostics.get("pareto_k", 0.0)
    return Finding("bad_draws", {"pareto_k": pareto_k}) if pareto_k > WORST_PARETO_K else None


def _warming(fit: Fit, layout: Layout) -> Finding | None:
    """Return the warning for a straight line through readings of cold and warm instruments."""
    if fit.method not in LINES:
        return None
    count = warming_in(fit.rows) if layout.warming is None else layout.warming
    if count <= MANY_WARMING * _readings(fit):
        return None
    return Finding("read_while_warming", {"count": count, "readings": _readings(fit)})


def _autocorrelated(fit: Fit) -> Finding | None:
    """Return the warning for readings that are not independent, which p-values rest on."""
    if fit.method not in LINES:
        return None
    figures = {name: fit.diagnostics.get(name, fit.diagnostics) for name in fit.kinds}
    found = {name: one.get("durbin_watson", 2.0) for name, one in figures.items()}
    low = {name: value for name, value in found.items() if value < LOW_DURBIN_WATSON}
    if not low:
        return None
    # Of one instrument only the number is told.
    names = sorted(low) if len(found) > 1 else []
    return Finding("autocorrelated", {"durbin_watson": min(low.values()), "instruments": names})


def _pooled(fit: Fit) -> Finding | None:
    """Return the warning that players who may differ have one line."""
    counts = {name: kind.pooled_players for name, kind in fit.kinds.items()}
    pooled = {name: count for name, count in counts.items() if count > 1}
    if not pooled:
        return None
    values = {
        "method": fit.method,
        "instruments": list(pooled),
        "players": list(pooled.values()),
    }
    return Finding("players_pooled", values)


def _too_many_to_search(fit: Fit) -> Finding | None:
    """Return the warning that nothing was searched for what looks spoilt."""
    readings = _readings(fit)
    if fit.method != "bayesian" or readings <= MOST_READINGS:
        return None
    return Finding("faults_not_searched", {"readings": readings, "most": MOST_READINGS})


def _readings(fit: Fit) -> int:
    return sum(kind.readings for kind in fit.kinds.values())
