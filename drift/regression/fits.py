"""From a paired table to a fit, by whichever method."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from drift.errors import InputError, InstrumentError
from drift.instruments import Catalogue, Instrument, Priors, canonical_name, find
from drift.pairing.paired import LeftOut, Paired, Reason
from drift.regression.anchored import Part, fit_anchored
from drift.regression.grouping import INTERCEPT, numbered
from drift.regression.posterior import before_the_data
from drift.regression.results import Curve, Draws, Estimate, Fit, Kind
from drift.regression.wording import nothing_left, with_warnings

__all__ = ["METHODS", "Draws", "Estimate", "Fit", "fit", "physics", "rows_to_fit"]

STARTS = ("stated", "estimated")
METHODS = ("anchored", "least-squares", "mixed")
TEXTS = ("rehearsal", "player", "instrument", "note")
NUMBERS = ("reference_cents", "celsius", "playing_minutes")


def fit(
    paired: Paired | pd.DataFrame,
    method: str = "anchored",
    *,
    start: str = "stated",
    catalogue: Catalogue | None = None,
) -> Fit:
    """Fit the drift of pitch to temperature and playing time.

    Parameters
    ----------
    paired : Paired or DataFrame
        One row a reading: ``rehearsal, player, instrument, note, reference_cents, celsius,
        playing_minutes``, and where known ``side``, ``time``, ``spells``, ``minutes_into_spell``
        and ``initial_warmth``; such as `drift.pair` gives.
    method : str
        ``anchored`` (Bayesian, begins at acoustics), ``least-squares`` or ``mixed``.
    start : str
        How warm the instruments were at the start: ``stated`` (``initial_warmth``, 0 where nothing
        is said) or ``estimated`` (anchored only: one number for all of which nothing is said).
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.

    Returns
    -------
    Fit
        A frozen result.

    Raises
    ------
    InputError
        If a column is missing, or the method or the start is not known.
    TooLittleData
        If the readings cannot answer; says what is missing.

    Notes
    -----
    Without ``spells`` the playing time is taken as one unbroken stretch. Rows in which a number is
    missing, and instruments of fixed pitch, are left out and counted.
    """
    if method not in METHODS:
        raise InputError(f"no method {method!r}", f"choose one of {', '.join(METHODS)}")
    if start not in STARTS:
        raise InputError(f"no start {start!r}", f"choose one of {', '.join(STARTS)}")
    rows, left_out = rows_to_fit(paired, catalogue)
    if method == "anchored":
        return _anchored(rows, left_out, catalogue, start == "stated")
    from drift.regression.classical import fit_classical

    return fit_classical(rows, left_out, method)


def physics(catalogue: Catalogue | None = None) -> Fit:
    """Return what acoustics alone says: the anchored method before any reading.

    Parameters
    ----------
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.

    Examples
    --------
    >>> print(physics().change("double horn", celsius=33.0))
    25.77 (6.62 to 44.80)
    """

    def curve(name: str) -> Curve:
        return before_the_data(_priors(name, catalogue))

    empty = pd.DataFrame(
        {name: pd.Series(dtype=float) for name in (*NUMBERS, "drift", "residual", "weight")}
        | {name: pd.Series(dtype=str) for name in TEXTS}
    )
    return Fit(method="physics", kinds={}, rows=empty, otherwise=curve)


def rows_to_fit(
    paired: Paired | pd.DataFrame, catalogue: Catalogue | None = None
) -> tuple[pd.DataFrame, tuple[LeftOut, ...]]:
    """Return the rows that a fit can use, complete, and the reasons why others were left out.

    Raises
    ------
    InputError
        If a column is missing.
    TooLittleData
        If no row is left.
    """
    given_rows = paired.frame if isinstance(paired, Paired) else paired
    missing = [name for name in (*TEXTS, *NUMBERS) if name not in given_rows]
    if missing:
        raise InputError(
            f"the paired table has no column {', '.join(missing)}",
            "make it with drift.pair, or add the columns",
        )
    rows = given_rows.reset_index(drop=True)
    codes, given = numbered(rows, ["instrument"])
    names = [canonical_name(str(name)) for name in given]
    if names != list(given):
        rows["instrument"] = pd.Series(names, dtype="str").take(codes).to_numpy()
    if "side" not in rows:
        rows["side"] = ""
    if "initial_warmth" not in rows:
        rows["initial_warmth"] = 0.0
    if "spells" not in rows or "minutes_into_spell" not in rows:
        rows["spells"] = pd.Series([()] * len(rows), index=rows.index, dtype=object)
        rows["minutes_into_spell"] = rows["playing_minutes"]
    left_out = list(paired.left_out) if isinstance(paired, Paired) else []
    columns = [*NUMBERS, "minutes_into_spell", "initial_warmth"]
    finite = [np.isfinite(rows[name].to_numpy(dtype=float)) for name in columns]
    fixed = np.array([_is_fixed(name, catalogue) for name in names], dtype=bool)
    reasons = {
        Reason.MISSING_NUMBER: ~np.logical_and.reduce(finite),
        Reason.FIXED_PITCH: fixed[codes],
    }
    out = np.zeros(len(rows), dtype=bool)
    for reason, hit in reasons.items():
        if count := int((hit & ~out).sum()):
            left_out.append(LeftOut(reason, count))
        out |= hit
    if out.all():
        raise nothing_left(left_out)
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


def _priors(name: str, catalogue: Catalogue | None) -> Priors:
    """Return the priors of an instrument to predict, which must be in the catalogue."""
    known = find(name, catalogue)
    if known.fixed_pitch is not None:
        raise InstrumentError(
            f"a {known.name} has a fixed pitch, which playing does not warm",
            "ask for an instrument with a tube, or plan a gig, which knows bars as well",
        )
    return known.priors


def _anchored(
    rows: pd.DataFrame,
    left_out: tuple[LeftOut, ...],
    catalogue: Catalogue | None,
    start_stated: bool,
) -> Fit:
    """Fit all kinds of instrument together and dress the answer."""
    groups = rows.groupby("instrument", sort=False).indices
    parts = [_part(rows.iloc[where], name, catalogue) for name, where in groups.items()]
    answer = fit_anchored(parts, start_stated)
    looks = np.full((len(rows), 3), np.nan)
    kinds: dict[str, Kind] = {}
    for (name, where), posterior, look in zip(
        groups.items(), answer.posteriors, answer.looks, strict=True
    ):
        looks[where] = np.column_stack([look.drift, look.residuals, look.weights])
        kinds[str(name)] = Kind(posterior, len(where), look.r_squared, look.entanglement)

    def otherwise(name: str) -> Curve:
        return before_the_data(_priors(name, catalogue), answer.slope)

    first = answer.posteriors[0]
    found = Fit(
        method="anchored",
        kinds=kinds,
        rows=rows.assign(drift=looks[:, 0], residual=looks[:, 1], weight=looks[:, 2]),
        left_out=left_out,
        rehearsal_sd_cents=float(first.weights @ first.day_sd),
        reading_sd_cents=float(first.weights @ first.reading_sd),
        celsius_range=(float(rows["celsius"].min()), float(rows["celsius"].max())),
        otherwise=otherwise,
    )
    return with_warnings(found)


def _part(rows: pd.DataFrame, name: Any, catalogue: Catalogue | None) -> Part:
    known = _find(str(name), catalogue)
    return Part(
        cents=rows["reference_cents"].to_numpy(dtype=float),
        celsius=rows["celsius"].to_numpy(dtype=float),
        minutes_into_spell=rows["minutes_into_spell"].to_numpy(dtype=float),
        initial=rows["initial_warmth"].to_numpy(dtype=float),
        playing_hours=rows["playing_minutes"].to_numpy(dtype=float) / 60.0,
        spells=rows["spells"].tolist(),
        intercepts=pd.factorize(rows["intercept"])[0],
        days=numbered(rows, ["player", "rehearsal"])[0],
        priors=known.priors if known is not None else Priors(),
    )
