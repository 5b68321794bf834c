"""From a paired table to a fit, by whichever method."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from drift.errors import InputError, InstrumentError
from drift.instruments import Catalogue, Instrument, canonical_name, find
from drift.pairing.paired import LeftOut, Paired, Reason, counted, nothing_left
from drift.regression.answers import weighted_estimate
from drift.regression.bayesian import Found, fit_bayesian
from drift.regression.beliefs import Unread, beliefs_of, common_slope
from drift.regression.brought import brought
from drift.regression.columns import columns_of
from drift.regression.covariates import (
    absent,
    covariates_of,
    which_columns,
    with_short_names,
)
from drift.regression.estimates import Draws, Estimate, Kind, Settings
from drift.regression.grouping import INTERCEPT, numbered, without_rows
from drift.regression.other_starts import of_covariates
from drift.regression.priors import Priors, refuse_unknown
from drift.regression.results import Fit
from drift.regression.scores import SDS
from drift.regression.sensitivity import sensitivity_of
from drift.regression.shares import Shares, looked_at
from drift.regression.starts import STARTS, with_start
from drift.regression.terms import variables_of
from drift.regression.warned import with_warnings

__all__ = ["METHODS", "Draws", "Estimate", "Fit", "fit", "method_named", "physics", "rows_to_fit"]

METHODS = ("bayesian", "least-squares", "mixed")
ALIASES = {"anchored": "bayesian"}
"""Names of before, which are still understood."""

TEXTS = ("rehearsal", "player", "instrument", "note")
NUMBERS = ("reference_cents", "celsius", "playing_minutes")


def method_named(name: str) -> str:
    """Return a method by its name, or by the name it had before.

    Raises
    ------
    InputError
        If there is no such method.
    """
    method = ALIASES.get(name, name)
    if method not in METHODS:
        raise InputError(f"no method {name!r}", f"choose one of {', '.join(METHODS)}")
    return method


def fit(
    paired: Paired | pd.DataFrame | Path | str,
    method: str = "bayesian",
    *,
    start: str = "stated",
    covariates: Sequence[str] = (),
    formula: str | None = None,
    priors: Priors | None = None,
    catalogue: Catalogue | None = None,
    progress: Callable[[int, int], None] | None = None,
    engine: Any = None,
    **where: Any,
) -> Fit:
    """Fit the drift of pitch to temperature and playing time.

    Parameters
    ----------
    paired : Paired or DataFrame
        One row a reading: ``rehearsal, player, instrument, note, reference_cents, celsius,
        playing_minutes``, and where known ``side``, ``time``, ``spells``, ``minutes_into_spell``,
        ``initial_warmth``, ``course`` (the temperature since playing began, see Notes),
        ``cents_sd`` (a reading's own standard uncertainty) and ``pair_probability`` (of being an
        outlier); such as `drift.pair` gives.
    method : str
        ``bayesian`` (begins at acoustics), ``least-squares`` or ``mixed``.
    start : str
        How warm the instruments were at the start: ``stated`` (``initial_warmth``, else 0), or
        ``estimated`` (bayesian only: one number a kind where it is empty, or 0 and nowhere empty).
    covariates : sequence of str
        Columns of the table that may change the pitch as well, numbers or words; ``humidity`` is
        short for ``humidity_percent``.
    formula : str, optional
        For the straight lines of ``least-squares`` and ``mixed``, in place of covariates: such as
        ``"cents ~ drift + humidity_percent + C(mute)"``, where ``drift`` stands for temperature and
        playing time and each note of a player has its intercept whatever is written. It is read by
        formulaic, which can call functions: use no formula from people you do not trust.
    priors : Priors, optional
        What is believed before the readings (bayesian only).
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.
    progress : callable, optional
        Called with the number of steps that are done and of those that may be needed.
    engine : str, optional
        ``dask``: the first argument is then the path of a data set that no memory need hold, a
        folder of Parquet tables, paired and fitted by several processes or machines.
    **where
        For an engine: ``scheduler``, its address (by default processes of this machine), and
        ``thermometer, flagged`` as in `drift.pair`.

    Returns
    -------
    Fit
        A frozen result; with an engine one without rows, see `drift.cluster.gathered`.

    Raises
    ------
    InputError
        If a column is missing, an argument is of the wrong kind, or the method or the start is not
        known.
    TooLittleData
        If the readings cannot answer; says what is missing.

    Notes
    -----
    Without ``spells`` the playing time is taken as one unbroken stretch. Without ``course``, or
    where it is empty, the air is taken to have always had a reading's temperature: right in a room
    that changes slowly, off by up to 30 cents just after an instrument was carried into the cold.
    Temperatures that scatter make slopes too shallow: `drift.pair` evens them.
    Rows in which a number is missing, and instruments of fixed pitch, are left out and counted.
    """
    method = method_named(method)
    if start not in STARTS:
        raise InputError(f"no start {start!r}", f"choose one of {', '.join(STARTS)}")
    given = (covariates,) if isinstance(covariates, str) else tuple(covariates)
    _refuse_kinds(given, priors)
    _refuse_options(method, given, formula, priors)
    if engine is not None:
        from drift.cluster.fitting import fit_on_engine

        made, options = Settings(start, given, priors, formula), {"progress": progress, **where}
        return fit_on_engine(paired, method, made, engine, catalogue=catalogue, **options)
    if where:
        raise InputError(f"{next(iter(where))} is for an engine", "name the engine, or pair first")
    begun = start if method == "bayesian" else "estimated"  # lines in playing time have no start
    rows, left_out = rows_to_fit(paired, catalogue, asked_columns(given, formula), begun)
    if method == "bayesian":
        settings = Settings(start, given, priors or Priors())
        refuse_unknown(settings.priors, catalogue, numbered(rows, ["instrument"])[1])
        return _bayesian(rows, left_out, catalogue, settings, progress)
    from drift.regression.classical import fit_classical

    return fit_classical(rows, left_out, method, Settings(start, given, None, formula))


def _refuse_kinds(covariates: Sequence[Any], priors: Any) -> None:
    """Refuse arguments of the wrong kind."""
    for one in covariates:
        if not isinstance(one, str):
            raise InputError(
                f"the covariate {one!r} is not the name of a column",
                "name columns of the paired table; a number can be put into one of its own",
            )
    if not isinstance(priors, Priors | None):
        raise InputError(
            f"priors {priors!r} are not Priors",
            "make them with drift.Priors(...), or read a file with drift.Priors.read(...)",
        )


def _refuse_options(
    method: str, covariates: Sequence[str], formula: str | None, priors: Priors | None
) -> None:
    """Refuse what a method cannot use."""
    if method != "bayesian" and priors is not None:
        raise InputError(f"{method} takes no priors", "leave them out, or use bayesian")
    if method == "bayesian" and formula is not None:
        raise InputError(
            "bayesian takes no formula", "name covariates, or use least-squares or mixed"
        )
    asked_columns(covariates, formula)


def asked_columns(covariates: Sequence[str], formula: str | None) -> tuple[str, ...]:
    """Return the columns that covariates or a formula need.

    Raises
    ------
    InputError
        If both are given.
    """
    if covariates and formula is not None:
        raise InputError("both covariates and a formula were given", "put all in the formula")
    return tuple(covariates) if formula is None else variables_of(formula)


def physics(catalogue: Catalogue | None = None, priors: Priors | None = None) -> Fit:
    """Return what acoustics alone says: the Bayesian method before any reading.

    Parameters
    ----------
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.
    priors : Priors, optional
        What is believed.

    Examples
    --------
    >>> print(physics().change("double horn", celsius=33.0))
    26.11 (4.65 to 47.44)
    """
    empty = pd.DataFrame(
        {name: pd.Series(dtype=float) for name in (*NUMBERS, "drift", "residual", "weight")}
        | {name: pd.Series(dtype=str) for name in TEXTS}
    )
    known = priors or Priors()
    refuse_unknown(known, catalogue)
    return Fit(
        method="acoustics", kinds={}, rows=empty, otherwise=Unread(known, catalogue),
        settings=Settings(priors=known),
    )  # fmt: skip


def rows_to_fit(
    paired: Any,
    catalogue: Catalogue | None = None,
    covariates: Sequence[str] = (),
    start: str = "stated",
) -> tuple[pd.DataFrame, tuple[LeftOut, ...]]:
    """Return the rows that a fit can use, complete, and the reasons why others were left out.

    Raises
    ------
    InputError
        If a column is missing.
    TooLittleData
        If no row is left.
    """
    kept, left_out = complete_rows(paired, catalogue, covariates, start)
    if kept.empty:
        raise nothing_left(left_out)
    return kept, left_out


def complete_rows(
    paired: Any,
    catalogue: Catalogue | None = None,
    covariates: Sequence[str] = (),
    start: str = "stated",
) -> tuple[pd.DataFrame, tuple[LeftOut, ...]]:
    """Return what `rows_to_fit` returns, though it were no row."""
    if not isinstance(paired, Paired | pd.DataFrame):
        raise InputError(
            f"fit needs a paired table, not {type(paired).__name__}",
            "make one with drift.pair(drift.load(...))",
        )
    given_rows = with_short_names(
        paired.frame if isinstance(paired, Paired) else paired, covariates
    )
    missing = [name for name in (*TEXTS, *NUMBERS, *covariates) if name not in given_rows]
    if missing:
        own = set(missing) <= {*TEXTS, *NUMBERS}
        raise InputError(
            f"the paired table has no column {', '.join(missing)}",
            "make it with drift.pair, or add the columns"
            if own
            else which_columns(missing, [str(name) for name in given_rows]),
        )
    rows = brought(given_rows).reset_index(drop=True)
    codes, given = numbered(rows, ["instrument"])
    names = [canonical_name(str(name)) for name in given]
    if names != list(given):
        rows["instrument"] = pd.Series(names, dtype="str").take(codes).to_numpy()
    if "side" not in rows:
        rows["side"] = ""
    if "initial_warmth" not in rows:
        rows["initial_warmth"] = 0.0
    rows = with_start(rows, start)
    if "spells" not in rows or "minutes_into_spell" not in rows:
        rows["spells"] = pd.Series([()] * len(rows), index=rows.index, dtype=object)
        rows["minutes_into_spell"] = rows["playing_minutes"]
    left_out = list(paired.left_out) if isinstance(paired, Paired) else []
    columns = [*NUMBERS, "minutes_into_spell", "initial_warmth"]
    lacking = {name: ~np.isfinite(rows[name].to_numpy(dtype=float)) for name in columns}
    lacking |= {name: absent(rows, [name]) for name in covariates}
    lacked = tuple(name for name, hit in lacking.items() if name in given_rows and hit.any())
    fixed = np.array([_is_fixed(name, catalogue) for name in names], dtype=bool)
    reasons = {
        Reason.MISSING_NUMBER: np.logical_or.reduce(list(lacking.values())),
        Reason.FIXED_PITCH: fixed[codes],
    }
    out = np.zeros(len(rows), dtype=bool)
    for reason, hit in reasons.items():
        if (new := hit & ~out).any():
            lacks = reason is Reason.MISSING_NUMBER
            more = (lacked, without_rows(rows, "player", hit)) if lacks else ()
            left_out.append(counted(reason, rows["player"][new], *more))
        out |= hit
    kept = rows[~out].reset_index(drop=True) if out.any() else rows
    kept["intercept"] = numbered(kept, INTERCEPT)[0]
    return kept, tuple(left_out)


def _find(name: str, catalogue: Catalogue | None) -> Instrument | None:
    try:
        return find(name, catalogue)
    except InstrumentError:
        return None


def _is_fixed(name: str, catalogue: Catalogue | None) -> bool:
    known = _find(name, catalogue)
    return known is not None and known.fixed_pitch is not None


def _bayesian(
    rows: pd.DataFrame,
    left_out: tuple[LeftOut, ...],
    catalogue: Catalogue | None,
    settings: Settings,
    progress: Callable[[int, int], None] | None = None,
) -> Fit:
    """Fit all kinds of instrument together and dress the answer."""
    priors = settings.priors or Priors()
    covariates = covariates_of(rows, settings.covariates)
    columns = columns_of(rows, covariates)
    known = tuple(priors.of(name, catalogue) for name in columns.kinds)
    found = fit_bayesian(columns, priors, known, settings.start == "estimated", progress)
    back = np.argsort(columns.order)
    seen, tame = found.seen, found.weights.tame
    looks = {"drift": seen.drift, "residual": seen.residual, "weight": tame}
    rows = rows.assign(**{name: values[back] for name, values in looks.items()})
    in_order = [str(name) for name in numbered(rows, ["instrument"])[1]]
    dressed = Fit(
        rows=rows,
        left_out=left_out,
        celsius_range=(float(rows["celsius"].min()), float(rows["celsius"].max())),
        posterior=found,
        warnings=tuple(of_covariates(rows, covariates)),
        **what_is_told(found, looked_at(columns, seen, found.weights), in_order,
                       catalogue, settings),
    )  # fmt: skip
    return with_warnings(dressed)


def what_is_told(
    found: Found,
    shares: Mapping[int, Shares],
    in_order: Sequence[str],
    catalogue: Catalogue | None,
    settings: Settings,
) -> dict[str, Any]:
    """Return the fields of a `Fit` that the posterior answers, wherever its readings are.

    Parameters
    ----------
    found : Found
        Its readings are not looked at.
    shares : mapping of int to Shares
        Of each kind, by its number.
    in_order : sequence of str
        The kinds in the order in which they are to be shown.
    catalogue, settings
        As they were given.
    """
    priors, columns = settings.priors or Priors(), found.columns
    kinds = {}
    for number, name in enumerate(columns.kinds):
        like, new, players = beliefs_of(found, priors, number)
        share = shares[number]
        kinds[name] = Kind(
            like, new, players, share.readings, share.explained, share.regressor_correlation
        )
    effects = zip(columns.rehearsals, map(float, found.seen.rehearsals), strict=True)
    return {
        "method": "bayesian",
        "kinds": {name: kinds[name] for name in in_order},
        "sds": _sds(found),
        "diagnostics": {
            "effective_draws": found.sample.effective,
            "pareto_k": found.sample.tail,
            "log_evidence_at_mode": found.log_at_mode,
            "rounds": found.rounds,
            "settled": found.settled,
        },
        "otherwise": Unread(priors, catalogue, common_slope(found, priors), like),
        "settings": settings,
        "shifts": sensitivity_of(found),
        "rehearsal_effects": dict(effects) if found.scores.shared else {},
    }


def _sds(found: Found) -> dict[str, Estimate]:
    """Return the standard deviations with their intervals."""
    values = found.scores.sds(found.sample.theta)
    count = found.scores.sds_count
    return {
        name: weighted_estimate(values[:, place], found.sample.weights)
        for place, name in enumerate(SDS[:count])
    }
