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
LEAST_T, LEAST_CENTS = 4.0, 2.0
"""Of 300 covariates that do nothing, in 60 simulated seasons, none is warned of; of six seasons in
which half of the players blew warm air for five minutes, all are."""


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
    Of a player's rehearsal it takes what is left of the readings in the first minutes less what is
    left later, and compares these differences between those above the mean of the covariate (that
    have the word) and the others. The standard error is the largest of those clustered by player
    and rehearsal, by player, and by rehearsal.
    """
    if not covariates:
        return []
    days = days_of(rows)
    weight, residual = (rows[name].to_numpy(dtype=float) for name in ("weight", "residual"))
    early = rows["playing_minutes"].to_numpy(dtype=float) < FIRST_MINUTES
    count = int(days.max()) + 1
    tame = [np.bincount(days, weight * part, count) for part in (early, ~early)]
    both = (tame[0] > 0.5) & (tame[1] > 0.5)
    means = [np.bincount(days, weight * part * residual, count)[both] / total[both]
             for part, total in zip((early, ~early), tame, strict=True)]  # fmt: skip
    of_day = np.unique(days, return_index=True)[1]
    first = of_day[both]
    clusters = [numbered(rows, [name])[0][first] for name in ("player", "rehearsal")]
    found = []
    for one in covariates:
        values = one.column(rows)
        if np.any(values != values[of_day][days]):
            continue  # it changes within a rehearsal
        above = values[first] > values.mean()
        cents, error = _difference(means[0] - means[1], above, clusters)
        if abs(cents) >= LEAST_CENTS and abs(cents) >= LEAST_T * error:
            found.append(_finding(one, cents))
    return found


def _difference(
    lack: Array, above: npt.NDArray[np.bool_], clusters: Sequence[Codes]
) -> tuple[float, float]:
    """Return how much the means of two groups differ, and its standard error."""
    if min(above.sum(), (~above).sum()) < 3:
        return 0.0, np.inf
    means = lack[~above].mean(), lack[above].mean()
    left = lack - np.where(above, means[1], means[0])
    share = np.where(above, 1.0 / above.sum(), -1.0 / (~above).sum()) * left
    errors = []
    for codes in (np.arange(len(lack)), *clusters):
        many = len(np.unique(codes))
        few = many / (many - 2.0) if many > 2 else np.inf
        errors.append(few * (np.bincount(codes, share) ** 2).sum())
    return float(means[1] - means[0]), float(np.sqrt(max(errors)))


def _finding(one: Covariate, cents: float) -> Finding:
    values = {"covariate": one.name, "label": one.label, "cents": cents, "minutes": FIRST_MINUTES}
    return Finding("another_start", values)
