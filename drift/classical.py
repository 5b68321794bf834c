"""Ordinary regression of cents on temperature and playing time: least squares and mixed.

These two know no acoustics. They answer what a straight line through the readings says, with the
standard errors that a methods section needs; the anchored method is the one to act on.
"""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy import stats

from drift.diagnostics import correlation_within, diagnostics_of
from drift.errors import InputError, TooLittleData
from drift.results import Draws, Estimate, Fit, Kind
from drift.wording import with_warnings

__all__ = ["Line", "fit_classical", "least_squares", "mixed_model"]

Array = npt.NDArray[np.float64]

NAMES = {"celsius": "cents_per_celsius", "playing_minutes": "cents_per_playing_minute"}
TUNED_MINUTES = 30.0
FEW_CLUSTERS = 10
DENSE_CELLS = 20_000_000
"""A design with more cells than this is not built; the intercepts are absorbed instead."""


@dataclass(frozen=True)
class Line:
    """A straight line in temperature and playing minutes.

    Parameters
    ----------
    coefficients : array of shape (2,)
        Cents per °C and per minute of playing; 0 for a column that could not be estimated.
    covariance : array of shape (2, 2)
        Of the coefficients.
    freedom : float
        Degrees of freedom of the t distribution of the intervals.
    reading_sd, day_sd : float
        Standard deviation of a reading and of a day (0: not estimated).
    estimated : tuple of str
        The columns that were estimated.
    """

    coefficients: Array
    covariance: Array = field(repr=False)
    freedom: float
    reading_sd: float
    day_sd: float
    estimated: tuple[str, ...]

    def entries(self) -> dict[str, Estimate]:
        """Return the coefficients with standard error, interval and p-value."""
        reach = float(stats.t.ppf(0.975, self.freedom))
        found = {}
        for position, column in enumerate(NAMES):
            if column not in self.estimated:
                continue
            value = float(self.coefficients[position])
            error = float(np.sqrt(self.covariance[position, position]))
            p_value = float(2.0 * stats.t.sf(abs(value) / error, self.freedom))
            found[NAMES[column]] = Estimate(
                value,
                value - reach * error,
                value + reach * error,
                standard_error=error,
                p_value=p_value,
            )
        return found

    def contrast(
        self,
        celsius: Array,
        minutes: Array,
        tuned_celsius: float,
        tuned_minutes: float | None,
        *,
        reading: bool = False,
    ) -> tuple[Array, Array, Array]:
        """Return estimate, low and high of the change of pitch between conditions (cents)."""
        tuned = TUNED_MINUTES if tuned_minutes is None else tuned_minutes
        steps = np.column_stack([celsius - tuned_celsius, minutes - tuned])
        value = steps @ self.coefficients
        variance = np.einsum("ij,jk,ik->i", steps, self.covariance, steps)
        if reading:
            variance = variance + self.reading_sd**2 + self.day_sd**2
        reach = stats.t.ppf(0.975, self.freedom) * np.sqrt(variance)
        return value, value - reach, value + reach

    def expected(self, rows: pd.DataFrame) -> Array:
        """Return the expected drift of each row, against 20 °C and 30 minutes (cents)."""
        columns = rows[list(NAMES)].to_numpy(dtype=float) - [20.0, TUNED_MINUTES]
        return np.asarray(columns @ self.coefficients)

    def draws(self, size: int, seed: int) -> Draws:
        """Refuse: a straight line has no warm-up to draw from.

        Raises
        ------
        InputError
            Always.
        """
        raise InputError(
            "a straight line in temperature and minutes knows no warming up",
            "use the method anchored for this",
        )


def fit_classical(rows: pd.DataFrame, left_out: tuple[Mapping[str, Any], ...], method: str) -> Fit:
    """Fit each kind of instrument by itself and dress the answer.

    Parameters
    ----------
    rows : DataFrame
        Complete rows, from `drift.fits.rows_to_fit`.
    left_out : tuple
        What was left out before.
    method : str
        ``least-squares`` or ``mixed``.

    Raises
    ------
    TooLittleData
        If a slope can not be told from the readings; says what is missing.
    """
    regress = mixed_model if method == "mixed" else least_squares
    looks = np.full((len(rows), 2), np.nan)
    kinds: dict[str, Kind] = {}
    notes: dict[str, Any] = {}
    sayings: list[str] = []
    for name, where in rows.groupby("instrument", sort=False).indices.items():
        part = rows.iloc[where]
        line, residuals, facts = regress(part)
        looks[where] = np.column_stack([line.expected(part), residuals])
        kinds[str(name)] = Kind(line, len(where), _explained(part, line), correlation_within(part))
        notes[str(name)] = facts | diagnostics_of(part, residuals)
        sayings += facts.pop("sayings")
    lines = [kind.curve for kind in kinds.values()]
    found = Fit(
        method=method,
        kinds=kinds,
        rows=rows.assign(drift=looks[:, 0], residual=looks[:, 1], weight=1.0),
        left_out=left_out,
        rehearsal_sd_cents=_pooled([line.day_sd for line in lines]),  # type: ignore[attr-defined]
        reading_sd_cents=_pooled([line.reading_sd for line in lines]),  # type: ignore[attr-defined]
        celsius_range=(float(rows["celsius"].min()), float(rows["celsius"].max())),
        warnings=tuple(dict.fromkeys(sayings)),
        diagnostics=next(iter(notes.values())) if len(notes) == 1 else notes,
    )
    return with_warnings(found)


def least_squares(part: pd.DataFrame) -> tuple[Line, Array, dict[str, Any]]:
    """Regress by ordinary least squares, an intercept a note of a player.

    Parameters
    ----------
    part : DataFrame
        Complete rows of one instrument.

    Returns
    -------
    line : Line
    residuals : array of shape (n,)
    facts : dict
        Covariance used, its choice in words, figures, and ``sayings`` for the warnings.

    Notes
    -----
    Standard errors are clustered by rehearsal with ``t`` of G - 1 degrees of freedom; within a
    single rehearsal they are robust to heteroskedasticity and autocorrelation (HAC, Bartlett
    weights, ``floor(4 (n/100)^(2/9))`` lags), which takes the readings as equally spaced.

    References
    ----------
    .. [1] W. K. Newey, K. D. West, "A simple, positive semi-definite, heteroskedasticity and
       autocorrelation consistent covariance matrix", Econometrica 55, 703-708 (1987).
    .. [2] A. C. Cameron, D. L. Miller, "A practitioner's guide to cluster-robust inference",
       J. Human Resources 50, 317-372 (2015).
    """
    from statsmodels.regression.linear_model import OLS

    ordered, columns, groups = _prepared(part)
    design = _design(ordered, columns, groups)
    clusters = pd.factorize(ordered["rehearsal"])[0]
    count = int(clusters.max()) + 1
    if count > 1:
        kinds = {"cov_type": "cluster", "cov_kwds": {"groups": clusters}}
        choice = f"clustered by rehearsal, t with {count - 1} degrees of freedom"
        freedom = float(count - 1)
    else:
        lags = int(np.floor(4.0 * (len(ordered) / 100.0) ** (2.0 / 9.0)))
        kinds = {"cov_type": "HAC", "cov_kwds": {"maxlags": lags, "use_correction": True}}
        freedom = float(len(ordered) - design.shape[1])
        choice = f"HAC with {lags} lags (one rehearsal), t with {freedom:.0f} degrees of freedom"
    result = OLS(ordered["reference_cents"].to_numpy(dtype=float), design).fit(use_t=True, **kinds)
    line = _line(result.params, result.cov_params(), columns, freedom, float(result.scale), 0.0)
    residuals = np.empty(len(part))
    residuals[_order(part)] = result.resid
    sayings = _few_rehearsals(count, "its standard errors are clustered by rehearsal")
    facts = {"covariance": choice, "rehearsals": count, "sayings": sayings + _flat(columns)}
    return line, residuals, facts


def mixed_model(part: pd.DataFrame) -> tuple[Line, Array, dict[str, Any]]:
    """Regress with random effects of the rehearsal and of the player's day within it (REML).

    Parameters
    ----------
    part : DataFrame
        Complete rows of one instrument.

    Returns
    -------
    line : Line
    residuals : array of shape (n,)
    facts : dict
        ``converged``, the variance components, and ``sayings`` for the warnings.

    Notes
    -----
    Every note of a player keeps an intercept of its own, so a player's general habit is taken out;
    what is random is how a rehearsal, and a player in it, differs from the others. Intervals use
    ``t`` with G - 1 degrees of freedom, because normal ones are too short with few rehearsals.
    """
    ordered, columns, groups = _prepared(part)
    clusters = pd.factorize(ordered["rehearsal"])[0]
    count = int(clusters.max()) + 1
    if count < 2:
        raise TooLittleData(
            "all readings come from one rehearsal: how rehearsals differ can not be seen",
            "log at least two rehearsals for the method mixed, or use anchored",
        )
    design = _design(ordered, columns, groups)
    result, converged, complaints = _reml(ordered, design, clusters)
    kept = slice(0, design.shape[1])
    names = range(design.shape[1])
    covariance = np.asarray(result.cov_params())[kept, kept][np.ix_(names, names)]
    day_variance = float(np.sum(result.cov_re)) + float(np.sum(result.vcomp))
    line = _line(
        np.asarray(result.fe_params),
        covariance,
        columns,
        float(count - 1),
        float(result.scale),
        max(day_variance, 0.0),
    )
    residuals = np.empty(len(part))
    residuals[_order(part)] = _without_days(result, ordered, design)
    sayings = _few_rehearsals(count, "the spread of rehearsals is itself uncertain")
    if not converged:
        sayings.append(
            "the mixed model did not converge: do not use its numbers "
            f"({complaints[0] if complaints else 'no reason given'})"
        )
    facts = {
        "converged": converged,
        "covariance": f"REML, t with {count - 1} degrees of freedom",
        "rehearsals": count,
        "optimizer_messages": complaints,
        "sayings": sayings + _flat(columns),
    }
    return line, residuals, facts


def _reml(ordered: pd.DataFrame, design: Array, clusters: Any) -> tuple[Any, bool, list[str]]:
    """Return the fitted mixed model, whether it converged, and what the optimiser said."""
    from statsmodels.regression.mixed_linear_model import MixedLM, VCSpec

    components = None
    if ordered.groupby("rehearsal")["player"].nunique().max() > 1:
        matrices, columns = [], []
        for cluster in range(int(clusters.max()) + 1):
            dummies = pd.get_dummies(ordered["player"][clusters == cluster], dtype=float)
            matrices.append(dummies.to_numpy())
            columns.append(list(dummies.columns))
        components = VCSpec(["player"], [columns], [matrices])
    cents = ordered["reference_cents"].to_numpy(dtype=float)
    model = MixedLM(cents, design, groups=clusters, exog_vc=components)
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        result = model.fit(reml=True, method=["lbfgs", "bfgs", "powell"])
    said = list(dict.fromkeys(str(item.message).splitlines()[0] for item in caught))
    finite = bool(np.isfinite(np.asarray(result.bse_fe)).all())
    return result, bool(result.converged) and finite, said


def _without_days(result: Any, ordered: pd.DataFrame, design: Array) -> Array:
    """Return the residuals less the expected random effects, where those can be had."""
    try:
        return np.asarray(result.resid)
    except ValueError:  # a variance of exactly zero: there are no random effects to take out
        cents = ordered["reference_cents"].to_numpy(dtype=float)
        return np.asarray(cents - design @ np.asarray(result.fe_params))


def _order(part: pd.DataFrame) -> npt.NDArray[np.intp]:
    """Return the order of time, where it is known, else of playing minutes in each rehearsal."""
    if "time" in part:
        return np.argsort(part["time"].to_numpy(), kind="stable")
    minutes = part["playing_minutes"].to_numpy(dtype=float)
    return np.lexsort((minutes, pd.factorize(part["rehearsal"])[0]))


def _prepared(part: pd.DataFrame) -> tuple[pd.DataFrame, list[str], Any]:
    """Return the rows in order of time, the columns that can be estimated, and the intercepts.

    Raises
    ------
    TooLittleData
        If no slope can be told from them.
    """
    ordered = part.iloc[_order(part)]
    groups = ordered.groupby(["player", "side", "note"], sort=False).ngroup().to_numpy()
    name = ordered["instrument"].iloc[0]
    columns = [column for column in NAMES if _varies(ordered, column, groups)]
    if "celsius" not in columns:
        raise TooLittleData(
            f"{name}: every note was read at one temperature only, which shows no slope",
            "log the same notes in a warmer or colder room, or use anchored",
        )
    if len(columns) == 2 and abs(correlation_within(ordered)) > 1.0 - 1e-9:
        raise TooLittleData(
            f"{name}: temperature and playing time rise together exactly",
            "log a rehearsal at another temperature, or use anchored",
        )
    needed = int(groups.max()) + 1 + len(columns) + 1
    if len(ordered) < needed:
        raise TooLittleData(
            f"{name}: {len(ordered)} readings for {needed - 1} numbers to estimate "
            "(an intercept for every note of every player, and the slopes)",
            f"log at least {needed - len(ordered)} more of the same notes, or use anchored",
        )
    if not _varies(ordered, "reference_cents", groups):
        raise TooLittleData(
            f"{name}: the cents of a note never change, so there is no scatter to judge by",
            "check that the tuner was read each time; log more readings",
        )
    return ordered, columns, groups


def _varies(rows: pd.DataFrame, column: str, groups: Any) -> bool:
    """Say whether a column varies within the intercepts."""
    spread = rows[column].groupby(groups).agg(np.ptp)
    return bool(spread.max() > 1e-9)


def _design(ordered: pd.DataFrame, columns: list[str], groups: Any) -> Array:
    """Return the slopes' columns and a dummy column for every intercept."""
    dummies = (groups[:, None] == np.arange(groups.max() + 1)).astype(float)
    return np.column_stack([ordered[columns].to_numpy(dtype=float), dummies])


def _line(
    parameters: Array,
    covariance: Array,
    columns: list[str],
    freedom: float,
    variance: float,
    day_variance: float,
) -> Line:
    """Return the line from the first parameters of a regression."""
    where = [list(NAMES).index(column) for column in columns]
    coefficients, table = np.zeros(2), np.zeros((2, 2))
    coefficients[where] = np.asarray(parameters)[: len(where)]
    table[np.ix_(where, where)] = np.asarray(covariance)[: len(where), : len(where)]
    return Line(
        coefficients, table, freedom, np.sqrt(variance), np.sqrt(day_variance), tuple(columns)
    )


def _explained(part: pd.DataFrame, line: Line) -> float:
    """Return the share of the variance within the intercepts that the line explains."""
    groups = part.groupby(["player", "side", "note"], sort=False).ngroup().to_numpy()
    table = pd.DataFrame(
        {
            "cents": part["reference_cents"].to_numpy(),
            "rest": part["reference_cents"].to_numpy() - line.expected(part),
        }
    )
    inside = table - table.groupby(groups).transform("mean")
    return float(1.0 - (inside["rest"] ** 2).sum() / (inside["cents"] ** 2).sum())


def _few_rehearsals(count: int, because: str) -> list[str]:
    """Return the warning for few rehearsals."""
    if count >= FEW_CLUSTERS:
        return []
    word = "rehearsal" if count == 1 else "rehearsals"
    return [f"only {count} {word}: {because}, and fewer than {FEW_CLUSTERS} make them too small"]


def _flat(columns: list[str]) -> list[str]:
    """Return the warning for readings that were all made at one minute."""
    if "playing_minutes" in columns:
        return []
    return ["every note was read after one playing time only: the effect of time is not estimated"]


def _pooled(values: list[float]) -> float:
    """Return the root mean square."""
    return float(np.sqrt(np.mean(np.square(values))))
