"""Covariates that change the beginning and not the whole rehearsal: another start, not a shift.

Who blows warm air before the first note begins warmer. A covariate shifts all readings alike; what
it cannot describe is left in the first minutes of one part of the players, and bends the warm-up of
all.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.findings import Finding
from drift.regression.covariates import Covariate, one_value_a_player
from drift.regression.grouping import days_of, numbered

__all__ = ["of_covariates", "other_starts"]

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int64]

FIRST_MINUTES = 5.0
"""Of playing: about one time constant of warming."""
LEAST_T, LEAST_CENTS = 3.0, 1.0
"""Of 432 covariates that do nothing, in 48 simulated seasons, none is warned of, nor any of 48 that
shift the whole rehearsal; of 48 that begin a quarter to two fifths warmer, 45 are."""
TAKEN = (3, 2, 3)
"""What is estimated of days, players and rehearsals: the mean of their courses, how these go with
the covariate, and with the air, which is the same for all players."""


def of_covariates(rows: pd.DataFrame, covariates: Sequence[Covariate]) -> list[Finding]:
    """Return what a reader must know of the covariates of a fit; as for `other_starts`."""
    return [*one_value_a_player(rows, covariates), *other_starts(rows, covariates)]


def other_starts(rows: pd.DataFrame, covariates: Sequence[Covariate]) -> list[Finding]:
    """Return a warning for each covariate that goes with another start.

    Parameters
    ----------
    rows : DataFrame
        Of a fit, with ``residual`` and ``weight``.
    covariates : sequence of Covariate
        Those of the fit.

    Notes
    -----
    Of each player's rehearsal the residuals have a slope on what has faded after so many minutes,
    ``exp(-minutes/5)``. These slopes are compared between those above the mean of the covariate
    (that have the word) and the others, less a line in the temperature: a course that is not the
    model's goes with it. The standard error is the largest of those clustered by player and
    rehearsal, by player, and by rehearsal.
    """
    if not covariates:
        return []
    days, minutes = days_of(rows), rows["playing_minutes"].to_numpy(dtype=float)
    weight, residual = (rows[name].to_numpy(dtype=float) for name in ("weight", "residual"))
    early, fading = minutes < FIRST_MINUTES, np.exp(-minutes / FIRST_MINUTES)
    if early.all() or not early.any():
        return []
    tame = np.bincount(days, weight)
    air, mean = (np.bincount(days, weight * each) / tame
                 for each in (rows["celsius"].to_numpy(dtype=float), fading))  # fmt: skip
    away = fading - mean[days]
    told = np.asarray(np.bincount(days, weight * away**2), dtype=float)
    of_day = np.unique(days, return_index=True)[1]
    both = told > 1e-3
    first = of_day[both]
    slopes = np.bincount(days, weight * away * residual)[both] / told[both]
    faded = float(fading[early].mean() - fading[~early].mean())
    clusters = [numbered(rows, [name])[0][first] for name in ("player", "rehearsal")]
    found = []
    for one in covariates:
        values = one.column(rows)
        if np.any(values != values[of_day][days]):
            continue  # it changes within a rehearsal
        above = values[first] > values.mean()
        slope, error = _difference(slopes, told[both], above, air[both], clusters)
        cents = faded * slope
        if abs(cents) >= LEAST_CENTS and abs(slope) >= LEAST_T * error:
            found.append(_finding(one, cents))
    return found


def _difference(
    slopes: Array, told: Array, above: npt.NDArray[np.bool_], air: Array, clusters: Sequence[Codes]
) -> tuple[float, float]:
    """Return how much the slopes of two groups differ in the same air, and its standard error."""
    if min(above.sum(), (~above).sum()) < 3:
        return 0.0, np.inf
    root = np.sqrt(told)
    line = root[:, None] * np.column_stack([np.ones(len(air)), air - air.mean()])
    both = root[:, None] * np.column_stack([above, slopes])
    group, left = (both - line @ np.linalg.lstsq(line, both, rcond=None)[0]).T
    spread = float(group @ group)
    if spread <= 1e-9 * float(told.sum()):
        return 0.0, np.inf  # the air alone tells who is of which
    slope = float(group @ left) / spread
    share = group * (left - slope * group) / spread
    errors = []
    for codes, taken in zip((np.arange(len(slopes)), *clusters), TAKEN, strict=True):
        many = len(np.unique(codes))
        few = many / (many - taken) if many > taken else np.inf
        errors.append(few * (np.bincount(codes, share) ** 2).sum())
    return slope, float(np.sqrt(max(errors)))


def _finding(one: Covariate, cents: float) -> Finding:
    values = {"covariate": one.name, "label": one.label, "cents": cents, "minutes": FIRST_MINUTES}
    return Finding("another_start", values)
