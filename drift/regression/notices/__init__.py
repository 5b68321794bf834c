"""What the regression notices: readings that a named fault explains far better than drift does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from drift.pairing.spoilt import in_fahrenheit
from drift.regression.equal_covariates import to_equal_covariates
from drift.regression.notices.faults import MOST_READINGS, Notice, NoticeKind
from drift.regression.notices.search import notices
from drift.regression.unlogged import slides_unlogged

if TYPE_CHECKING:
    import pandas as pd

    from drift.regression.results import Fit

__all__ = ["MOST_READINGS", "Notice", "NoticeKind", "notices", "notices_of"]

_SAME = ("time", "rehearsal", "player", "instrument", "side", "note", "cents")
"""What two rows of one reading have in common."""
OF_A_REHEARSAL = (NoticeKind.A4, NoticeKind.DAY, NoticeKind.THERMOMETER)
"""What is low or high for a whole rehearsal."""


def notices_of(fit: Fit) -> tuple[Notice, ...]:
    """Return what looks spoilt in the readings of a fit.

    Parameters
    ----------
    fit : Fit
        Of the Bayesian method; the others know no warm-up, and nothing is looked for. Neither is
        it in more than `MOST_READINGS`, nor in rehearsals whose temperatures look like °F.
    """
    if fit.method != "bayesian" or len(fit.rows) > MOST_READINGS:
        return ()
    # What °F under celsius does is not to be taken for a fault of the players.
    left_out = fit.rows["rehearsal"].isin(in_fahrenheit(fit.rows))
    if set(_SAME) <= set(fit.rows):  # nor is the chance of a reading that counts twice
        left_out |= fit.rows.duplicated(list(_SAME))
    kept = np.flatnonzero(~left_out)
    rows = fit.rows.iloc[kept].reset_index(drop=True)
    if rows.empty:
        return ()
    times, moved = {}, np.zeros(len(rows))
    warmth = rows["initial_warmth"].to_numpy(dtype=float).copy()
    for name, kind in fit.kinds.items():
        mine = (rows["instrument"] == name).to_numpy()
        moved[mine] = to_equal_covariates(fit, rows[mine], name)
        known = kind.population.entries()
        times[name] = (
            known["warm_up_time_constant_minutes"].estimate,
            known["cool_down_time_constant_minutes"].estimate,
        )
        if "warmth_at_start" in known:
            warmth[mine & (warmth == 0.0)] = known["warmth_at_start"].estimate
    # What a mute does, where it is a covariate, is not a slide that moved.
    read = [name for name in ("cents", "reference_cents") if name in rows]
    rows = rows.assign(**{name: rows[name].to_numpy(dtype=float) + moved for name in read})
    rows = rows.assign(initial_warmth=warmth)  # as it was estimated where nobody said it
    by = [one.values["covariate"] for one in fit.warnings if one.kind == "another_start"]
    found = notices(rows, times, fit.otherwise.catalogue if fit.otherwise else None)
    return tuple(
        replace(one, row=int(kept[one.row]), unlogged_slides=_unlogged(one, rows))
        for number, one in enumerate(found)
        if not _began_otherwise(one, rows, by) and not _undoes(one, found[:number])
    )


def _undoes(found: Notice, surer: Sequence[Notice]) -> bool:
    """Return whether a notice of all in a rehearsal turns back what a surer one says of it.

    Together they say that readings early and late in it do not fit, and neither is the cause.
    """
    of_all = [
        one
        for one in (found, *surer)
        if one.kind in OF_A_REHEARSAL and not (one.player or one.instrument)
    ]
    there = [one.cents for one in of_all if one.rehearsal == found.rehearsal]
    return found in of_all and min(there) < 0.0 < max(there)


def _began_otherwise(found: Notice, rows: pd.DataFrame, by: Sequence[str]) -> bool:
    """Return whether two players seem exchanged of whom one began in another way, by covariates."""
    pair = rows["player"].isin([found.player, found.other])
    there = rows.loc[pair & (rows["rehearsal"] == found.rehearsal), [*by]]
    return found.kind is NoticeKind.NAMES and bool((there.nunique() > 1).any())


def _unlogged(found: Notice, rows: pd.DataFrame) -> str:
    """Return whether slides that nobody logged may be behind a notice of a whole rehearsal."""
    if found.kind not in OF_A_REHEARSAL:
        return ""
    evening = [found.rehearsal, *found.other.split(", ")]
    return slides_unlogged(rows, evening, found.cents, found.player)
