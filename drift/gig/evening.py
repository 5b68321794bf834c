"""The evening as it is printed: timing first, then the pitch, then one plan for each pitch."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from drift.gig.pitch import Pitch
from drift.gig.plan import Assumptions, Plan
from drift.gig.planning import plan
from drift.gig.roster import Section
from drift.gig.timetable import Schedule
from drift.gig.timing import USUAL_MINUTES, warm_air, warm_air_minutes, with_more_tunes
from drift.gig.weather import Forecast
from drift.regression.fits import Fit, physics
from drift.regression.state import states

__all__ = ["pitches", "plan_evening", "timed"]

#: With the pitch further than this from the nominal one there are two sets of sheets, unless the
#: other is no further than this from it [cents].
FAR_FROM_NOMINAL_CENTS = 8.0
#: The timing is looked for with so many draws.
FEW_DRAWS = 100


def plan_evening(
    forecast: Forecast,
    sections: Sequence[Section],
    schedule: Schedule,
    fit: Fit | None = None,
    assumptions: Assumptions | None = None,
    *,
    as_scheduled: bool = False,
) -> tuple[Plan, ...]:
    """Plan an evening: warm air and added tunes, then the pitch, then a plan for each pitch.

    Parameters
    ----------
    forecast, sections, schedule, fit : Forecast, sequence of Section, Schedule, Fit
        As in `drift.gig.planning.plan`.
    assumptions : Assumptions, optional
        An ``a4_hz`` of None (the default here) lets the plan decide the pitch.
    as_scheduled : bool
        Whether to leave the schedule as it is.

    Returns
    -------
    tuple of Plan
        One, or two where the pitch that everybody reaches within 5 cents lies more than 8 cents
        from the nominal one: the second without the sections that limit it, where that is another
        pitch by as much.
    """
    take = assumptions or Assumptions(a4_hz=None)
    if not as_scheduled:
        schedule = timed(forecast, sections, schedule, fit, take)
    first = plan(forecast, sections, schedule, fit, take)
    if take.a4_hz is not None:
        return (first,)
    others = pitches(first.pitch)[1:]
    return (
        first,
        *(plan(forecast, sections, schedule, fit, replace(take, a4_hz=a4)) for a4 in others),
    )


def pitches(pitch: Pitch) -> tuple[float, ...]:
    """Return the A4 that sheets are printed for [Hz]: the recommended one, and perhaps another.

    Parameters
    ----------
    pitch : Pitch
        What the band can reach.
    """
    off = abs(1200.0 * math.log2(pitch.recommended_a4_hz / pitch.a4_hz))
    without = [choice.a4_hz for choice in pitch.choices if choice.name.startswith("without")]
    other = without[0] if without else pitch.a4_hz
    apart = abs(1200.0 * math.log2(other / pitch.recommended_a4_hz))
    if min(off, apart) <= FAR_FROM_NOMINAL_CENTS:
        return (pitch.recommended_a4_hz,)
    return (pitch.recommended_a4_hz, other)


def timed(
    forecast: Forecast,
    sections: Sequence[Section],
    schedule: Schedule,
    fit: Fit | None = None,
    assumptions: Assumptions | None = None,
) -> Schedule:
    """Return the schedule with warm air before playing, added tunes and checks on the field.

    Parameters
    ----------
    forecast, sections, schedule, fit, assumptions
        As in `drift.gig.planning.plan`.

    Returns
    -------
    Schedule
        Its added entries say so (``Entry.added``). A schedule without a tune before its first
        playing on the field gets one there, where there is a rest to have it in.
    """
    known, take = fit or physics(), replace(assumptions or Assumptions(), draws=FEW_DRAWS)
    times, air = schedule.instants(), _air(forecast, schedule)
    minutes = _band_minutes(air, sections, schedule, known)

    def celsius_at(time: datetime) -> float:
        return float(air[min(int(times.searchsorted(pd.Timestamp(time))), len(air) - 1)])

    sketch = plan(forecast, sections, warm_air(schedule, minutes, celsius_at), known, take)
    # The tunes are put into the schedule as it was: warm air goes before them.
    return warm_air(with_more_tunes(replace(sketch, schedule=schedule)), minutes, celsius_at)


def _air(forecast: Forecast, schedule: Schedule) -> NDArray[np.float64]:
    """Return the air around the instruments at each instant of a schedule [°C]."""
    times = schedule.instants()
    entries = [schedule.entries[number] for number in schedule.entry_at(times)]
    typed = np.array([np.nan if e.celsius is None else e.celsius for e in entries], dtype=float)
    offset = np.array([entry.offset_celsius for entry in entries])
    return np.asarray(np.where(np.isnan(typed), forecast.at(times).celsius, typed) + offset)


def _band_minutes(
    air: NDArray[np.float64], sections: Sequence[Section], schedule: Schedule, fit: Fit
) -> float:
    """Return for how long to blow warm air: the section that needs most, at its coldest start.

    Six minutes where only acoustics is known.
    """
    own = [s.instrument.name for s in sections if s.instrument.name in fit.kinds]
    if not own:
        return USUAL_MINUTES
    entry = schedule.entry_at(schedule.instants())
    duty = np.array([schedule.entries[n].duty for n in entry])
    blown = np.array([schedule.entries[n].activity in ("play", "tune") for n in entry])
    starts = np.flatnonzero(blown[1:] & ~blown[:-1])
    needed = [USUAL_MINUTES] if not len(starts) else []
    for name in dict.fromkeys(own):
        draws = fit.draws(name, FEW_DRAWS, 0)
        tau, cool = (float(np.median(x)) for x in (draws.warm_minutes, draws.cool_minutes))
        _, excess = states(1.0, air, duty, tau, cool, air=air[0])
        rise = float(draws.rise.mean())
        needed += [warm_air_minutes(rise, tau, float(air[n]), float(excess[n])) for n in starts]
    return max(needed)
