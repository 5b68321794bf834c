"""Where a band would begin to play if nobody blew the warm air that a plan relies on."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from itertools import pairwise

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from drift.gig.course import Course
from drift.gig.roster import Section
from drift.gig.timetable import Schedule

__all__ = ["begun_unblown"]

Array = NDArray[np.float64]


def begun_unblown(
    sections: Sequence[Section],
    schedule: Schedule,
    times: pd.DatetimeIndex,
    courses: Mapping[str, Course],
    planned: Mapping[str, Mapping[str, Array]],
    courses_of: Callable[[Schedule], Mapping[str, Course]],
) -> dict[datetime, dict[str, float]]:
    """Return how far sections would be off as playing begins, had nobody blown warm air before it.

    Parameters
    ----------
    sections : sequence of Section
        The roster; those of fixed pitch are left out.
    schedule : Schedule
        With warm air.
    times : DatetimeIndex, shape (n,)
        Instants of the courses.
    courses, planned : mapping of str to Course, mapping of str to mapping of str to ndarray
        The pitch of each section with slides untouched, and of each side with the moves made.
    courses_of : callable
        Gives the courses of another schedule.

    Returns
    -------
    dict of datetime to dict of str to float
        By the beginning of each playing that warm air goes before, and by section, positive when
        sharp, the side that is furthest off [cents]; empty without warm air.
    """
    starts = [
        after.start
        for before, after in pairwise(schedule.entries)
        if before.activity == "warm" and after in schedule.performances
    ]
    if not starts:
        return {}
    rests = [replace(e, activity="rest") if e.activity == "warm" else e for e in schedule.entries]
    unblown = courses_of(replace(schedule, entries=tuple(rests)))
    found: dict[datetime, dict[str, float]] = {}
    for start in starts:
        at = min(int(times.searchsorted(pd.Timestamp(start))), len(times) - 1)
        for section in sections:
            if section.instrument.fixed_pitch is None:
                more = float(unblown[section.name].cents[at] - courses[section.name].cents[at])
                sides = [float(side[at]) + more for side in planned[section.name].values()]
                found.setdefault(start, {})[section.name] = max(sides, key=abs)
    return found
