"""Temperatures beside readings that are under the name of another rehearsal."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.logbook.rehearsals import Rehearsals, is_typed
from drift.pairing.nearest import GAP_MINUTES, TYPED_MINUTES, minutes_of, neighbours

__all__ = ["under_other_names"]

Names = npt.NDArray[np.object_]


def under_other_names(rehearsals: Rehearsals, readings: pd.DataFrame) -> Names:
    """Return for each reading the other rehearsal that has a temperature near enough to it.

    Parameters
    ----------
    rehearsals : Rehearsals
        Where the temperatures stand.
    readings : DataFrame
        ``time`` and ``rehearsal`` of n readings that have none in their own.

    Returns
    -------
    array of str, shape (n,)
        Empty where there is none.
    """
    found = np.full(len(readings), "", dtype=object)
    when, own = minutes_of(readings["time"]), readings["rehearsal"].to_numpy(dtype=object)
    table = rehearsals.temperatures.sort_values("time", kind="stable")
    typed = is_typed(table)
    for part, of_person in ((table[typed], True), (table[~typed], False)):
        if not len(part):
            continue
        times, names = minutes_of(part["time"]), part["rehearsal"].to_numpy(dtype=object)
        if of_person:  # it holds from then on
            at = np.maximum(np.searchsorted(times, when, side="right") - 1, 0)
            near = (when >= times[at]) & (when - times[at] <= TYPED_MINUTES)
        else:
            *_, at = neighbours(times, when)
            near = np.abs(when - times[at]) <= GAP_MINUTES
        found = np.where(near & (names[at] != own), names[at], found)
    return found
