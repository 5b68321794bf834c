"""Figures that show whether a regression can be believed."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

__all__ = ["condition_number", "correlation_within", "diagnostics_of", "within"]

Array = npt.NDArray[np.float64]


def within(rows: pd.DataFrame, columns: list[str]) -> Array:
    """Return columns less their mean in each intercept (of a note of a player), shape (n, m)."""
    keys = [key for key in ("instrument", "player", "side", "note") if key in rows]
    groups = rows.groupby(keys, sort=False).ngroup().to_numpy()
    table = rows[columns].astype(float)
    return (table - table.groupby(groups).transform("mean")).to_numpy()


def correlation_within(rows: pd.DataFrame) -> float:
    """Return the correlation of temperature with playing time after absorbing the intercepts.

    Parameters
    ----------
    rows : DataFrame
        With ``player, side, note, celsius, playing_minutes``.

    Returns
    -------
    float
        Near ±1, the readings can not tell the two apart; NaN where one of them is constant.
    """
    first, second = within(rows, ["celsius", "playing_minutes"]).T
    size = float(np.sqrt((first @ first) * (second @ second)))
    return float(first @ second) / size if size > 1e-9 else float("nan")


def condition_number(rows: pd.DataFrame) -> float:
    """Return the condition number of the two columns, scaled to unit length, without intercepts.

    Notes
    -----
    ``sqrt((1 + |c|)/(1 - |c|))`` with their correlation ``c``: above 30 is commonly called
    serious, but 3 (a correlation of 0.8) already makes standard errors 1.7 times as large.
    """
    correlation = abs(correlation_within(rows))
    return float(np.sqrt((1.0 + correlation) / max(1.0 - correlation, 1e-16)))


def diagnostics_of(rows: pd.DataFrame, residuals: Array) -> dict[str, Any]:
    """Return the usual diagnostics of a regression.

    Parameters
    ----------
    rows : DataFrame
        The rows that were fitted.
    residuals : array of shape (n,)
        In the order of the rows (cents).

    Returns
    -------
    dict
        ``durbin_watson`` (2: no correlation from reading to reading; taken within each player's
        rehearsals, in order of time), ``breusch_pagan_p`` (small: the scatter changes with
        temperature or time), ``condition_number``.

    References
    ----------
    .. [1] J. Durbin, G. S. Watson, "Testing for serial correlation in least squares regression",
       Biometrika 37, 409-428 (1950).
    .. [2] T. S. Breusch, A. R. Pagan, "A simple test for heteroscedasticity and random coefficient
       variation", Econometrica 47, 1287-1294 (1979).
    """
    return {
        "durbin_watson": _durbin_watson(rows, residuals),
        "breusch_pagan_p": _breusch_pagan(rows, residuals),
        "condition_number": condition_number(rows),
    }


def _durbin_watson(rows: pd.DataFrame, residuals: Array) -> float:
    """Return the statistic without the steps from one player or rehearsal to the next."""
    when = rows["time"] if "time" in rows else rows["playing_minutes"]
    table = pd.DataFrame({"when": when.to_numpy(), "residual": residuals})
    table["run"] = rows.groupby(["player", "rehearsal"], sort=False).ngroup().to_numpy()
    steps = table.sort_values(["run", "when"]).groupby("run")["residual"].diff().dropna()
    square = float(residuals @ residuals)
    # Steps are fewer than readings, so both are means.
    return (
        float((steps**2).mean() / (square / len(residuals)))
        if square > 0 and len(steps)
        else float("nan")
    )


def _breusch_pagan(rows: pd.DataFrame, residuals: Array) -> float:
    """Return the p-value of the test in its studentised form."""
    columns = [name for name in ("celsius", "playing_minutes") if np.ptp(rows[name]) > 1e-9]
    design = np.column_stack([np.ones(len(rows)), rows[columns].to_numpy(dtype=float)])
    if len(rows) <= design.shape[1] or not columns or np.ptp(residuals**2) < 1e-12:
        return float("nan")
    from statsmodels.stats.diagnostic import het_breuschpagan

    return float(het_breuschpagan(residuals, design)[1])
