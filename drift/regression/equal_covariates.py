"""Readings as they would be if covariates were the same for all."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.regression.terms import covariate_columns

if TYPE_CHECKING:
    from drift.regression.results import Fit

__all__ = ["to_equal_covariates"]


def to_equal_covariates(
    fit: Fit, rows: pd.DataFrame, instrument: str, player: str | None = None
) -> npt.NDArray[np.float64]:
    """Return what is to be added to readings so that none differs by its covariates.

    What they do to the slope of a player is his own, and stays where he is named.

    Parameters
    ----------
    fit : Fit
        The fit.
    rows : DataFrame
        Readings of one instrument among those of the fit.
    instrument : str
        Its name in the catalogue.
    player : str, optional
        Whose readings they are; by default those of several.

    Returns
    -------
    array of shape (n,)
        In cents; zeros where the fit has no covariates.
    """
    held = [one for one in covariate_columns(fit.settings) if one in rows]
    if not len(rows) or not held:
        return np.zeros(len(rows))
    curve = fit.curve(instrument, player)
    return np.asarray(curve.expected(rows.drop(columns=held)) - curve.expected(rows), dtype=float)
