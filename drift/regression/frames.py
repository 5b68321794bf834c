"""A fit as tables and as one JSON object."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.errors import InputError
from drift.regression.estimates import Curve, Kind, kind_json, strict
from drift.regression.priors import Priors

if TYPE_CHECKING:
    from drift.regression.bayesian import Found
    from drift.regression.results import Fit

__all__ = [
    "KNOWN",
    "fit_json",
    "frame_of_players",
    "intercepts_frame",
    "posterior_of",
    "predicted_frame",
    "settings_json",
]

Array = npt.NDArray[np.float64]

KNOWN = 0.7
"""A player is known whose interval is less than this share of that of a new player."""


def frame_of_players(kinds: Mapping[str, Kind]) -> pd.DataFrame:
    """Return each player, one row a quantity.

    Returns
    -------
    DataFrame
        ``instrument, player, quantity, estimate, low, high, from_data, known``: known where the
        player's own readings leave less than 0.7 of the interval of a new player.
    """
    records = []
    for name, kind in kinds.items():
        new = kind.new_player.entries()
        for player, curve in kind.players.items():
            for quantity, value in curve.entries().items():
                unread = new[quantity].high - new[quantity].low
                known = value.high - value.low < KNOWN * unread
                records.append(
                    {"instrument": name, "player": player, "quantity": quantity}
                    | value.to_json()
                    | {"known": known}
                )
    columns = ("instrument", "player", "quantity", "estimate", "low", "high", "from_data", "known")
    return pd.DataFrame(records, columns=None if records else list(columns))


def fit_json(fit: Fit) -> dict[str, Any]:
    """Return a fit as one JSON object (numbers unrounded; null where there is none)."""
    from drift import __version__
    from drift.words.fit import warning_text
    from drift.words.left_out import in_json

    answer: dict[str, Any] = strict(
        {
            "version": __version__,
            "method": fit.method,
            "settings": settings_json(fit),
            "readings_used": sum(kind.readings for kind in fit.kinds.values()),
            "left_out": [in_json(item) for item in fit.left_out],
            "players": fit.players,
            "rehearsals": fit.rehearsals,
            "celsius_range": list(fit.celsius_range) if fit.celsius_range else None,
            "instruments": {name: kind_json(kind) for name, kind in fit.kinds.items()},
            "rehearsal_sd_cents": fit.rehearsal_sd_cents,
            "reading_sd_cents": fit.reading_sd_cents,
            "sds": {name: value.to_json() for name, value in fit.sds.items()},
            "rehearsal_effects": dict(fit.rehearsal_effects),
            "outliers": fit.outliers.to_dict("records"),
            "diagnostics": dict(fit.diagnostics),
            "warnings": [found.to_json(warning_text(found)) for found in fit.warnings],
            "notices": [notice.to_json() for notice in fit.notices],
        }
    )
    return answer


def settings_json(fit: Fit) -> dict[str, Any]:
    """Return how a fit was made, priors of its instruments included, so that it can be repeated."""
    given = fit.settings
    answer = {"start": given.start, "covariates": given.covariates, "formula": given.formula}
    # An engine may have been given none, and took the usual ones.
    priors = given.priors or (Priors() if fit.method == "bayesian" else None)
    if priors is None:
        return {**answer, "priors": None}
    catalogue = fit.otherwise.catalogue if fit.otherwise else None
    kinds = dict.fromkeys([*fit.kinds, *priors.instruments])
    used = {name: asdict(priors.of(name, catalogue)) for name in kinds}
    return {**answer, "priors": {**asdict(priors), "instruments": used}}


def intercepts_frame(draws: pd.DataFrame, level: float) -> pd.DataFrame:
    """Return median and interval of draws whose columns are (instrument, player, side, note)."""
    tail = 0.5 * (1.0 - level)
    table = draws.quantile([0.5, tail, 1.0 - tail]).T.set_axis(["estimate", "low", "high"], axis=1)
    return table.reset_index()


def predicted_frame(curve: Curve, celsius: Array, minutes: Array, level: float) -> pd.DataFrame:
    """Return expected drift at temperatures [°C] and minutes of playing, as `Fit.predict` does."""
    cents, low, high = curve.contrast(celsius, minutes, 20.0, None, level=level)
    _, reading_low, reading_high = curve.contrast(
        celsius, minutes, 20.0, None, reading=True, level=level
    )
    return pd.DataFrame(
        {
            "celsius": celsius,
            "minutes": minutes,
            "cents": cents,
            "low": low,
            "high": high,
            "reading_low": reading_low,
            "reading_high": reading_high,
        }
    )


def posterior_of(fit: Fit) -> tuple[Found, pd.DataFrame, Priors]:
    """Return the posterior of a fit, its readings, and its priors.

    Raises
    ------
    InputError
        If there is none.
    """
    if fit.posterior is None:
        raise InputError(
            f"the method {fit.method} of this fit has no joint posterior",
            "fit the readings of all players by bayesian, in one memory",
        )
    return fit.posterior, fit.rows, fit.settings.priors or Priors()
