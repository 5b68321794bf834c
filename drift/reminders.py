"""When readings of a rehearsal are due: by what teaches most, and by how well pitch is known."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np

from drift.errors import DriftError
from drift.regression.advice import STARTS, Addition, advise
from drift.regression.results import Fit
from drift.tonight.evening import usable
from drift.tonight.progress import Progress, progress

if TYPE_CHECKING:
    from drift.study import Study

__all__ = ["Due", "due_minutes", "next_reading", "progress_of", "usual_minutes"]

READINGS = 8
FIRST_MINUTES, SHORTEST_MINUTES = 60.0, 20.0
"""How long a first rehearsal is expected to be; what was shorter was none [min]."""
EARLY_MINUTES = 2.0
"""A reading so much before its time counts for it."""


@dataclass(frozen=True)
class Due:
    """When a player should take the next reading.

    Attributes
    ----------
    in_minutes : float or None
        Minutes of playing until then, 0 or less where it is due now; None where all were taken.
    at_minutes : float
        The minute of playing that it is for.
    taken : int
        How many of those wanted were taken.
    wanted : tuple of float
        Minutes of playing at which readings are wanted tonight.
    """

    in_minutes: float | None
    at_minutes: float
    taken: int
    wanted: tuple[float, ...]


def due_minutes(known: Fit, player: str, instrument: str, celsius: float) -> tuple[float, ...]:
    """Return the minutes of playing at which readings would teach most tonight.

    Parameters
    ----------
    known : Fit
        What earlier rehearsals say.
    player, instrument : str
        Whose.
    celsius : float
        The air tonight [°C].

    Notes
    -----
    Eight readings over the cold start, over the warm end, or throughout: whichever narrows the
    slope most (`drift.regression.advice.advise`). On a first evening they are spread throughout.
    """
    windows = [Addition(celsius, first, last, READINGS) for first, last in STARTS]
    best = windows[-1].first_minute, windows[-1].last_minute
    try:
        found = advise(known, instrument, player=player, options=windows).options.iloc[0]
        best = float(found["first_minute"]), float(found["last_minute"])
    except DriftError:  # nothing was read before, or by a method that cannot tell
        pass
    return tuple(float(minute) for minute in np.linspace(*best, READINGS).round())


def next_reading(
    study: Study,
    rehearsal: str,
    player: str,
    instrument: str,
    now: datetime,
    *,
    wanted: tuple[float, ...] | None = None,
) -> Due:
    """Return when a player should take the next reading.

    Parameters
    ----------
    study : Study
        The whole logbook.
    rehearsal, player, instrument : str
        Who plays what where.
    now : datetime
        The time.
    wanted : tuple of float, optional
        Minutes of playing at which readings are wanted (default: those of `due_minutes`).

    Raises
    ------
    DriftError
        If the air or the playing is not known.
    """
    logged, known, _ = study.tonight(rehearsal, player, instrument, now)
    evening, played = logged.evening, logged.conditions.playing_minutes
    if wanted is None:
        wanted = due_minutes(known, player, instrument, logged.conditions.celsius)
    readings, _ = usable(study.catalogue.find(instrument), evening, logged.now_minutes)
    at = evening.course.played_minutes_at([reading.minutes for reading in readings])
    ends = [*(minute - EARLY_MINUTES for minute in wanted[1:]), np.inf]
    taken = [
        bool(((at >= minute - EARLY_MINUTES) & (at < end)).any())
        for minute, end in zip(wanted, ends, strict=True)
    ]
    left = [
        minute
        for minute, end, done in zip(wanted, ends, taken, strict=True)
        if not done and end > played  # one that was missed is not asked for later
    ]
    if not left:
        return Due(None, 0.0, sum(taken), wanted)
    return Due(left[0] - played, left[0], sum(taken), wanted)


def progress_of(
    study: Study, rehearsal: str, player: str, instrument: str, now: datetime
) -> Progress | None:
    """Return how well a player's pitch now is known, and will be at the end of the rehearsal.

    Parameters
    ----------
    study : Study
        The whole logbook.
    rehearsal, player, instrument : str
        Who plays what where.
    now : datetime
        The time.

    Notes
    -----
    A rehearsal is expected to be as long as the player's earlier ones, from the first reading to
    the last (their median; an hour before there is one). See `drift.tonight.progress.progress`.
    """
    logged, _, knowledge = study.tonight(rehearsal, player, instrument, now)
    evening, end = logged.evening, None
    if evening.readings:
        end = evening.readings[0].minutes + usual_minutes(study, rehearsal, player)
    return progress(knowledge, evening, logged.now_minutes, end_minutes=end)


def usual_minutes(study: Study, rehearsal: str, player: str) -> float:
    """Return how long a player's earlier rehearsals were, from first to last reading [min]."""
    readings, names = study.rehearsals.readings, study.rehearsals.names
    earlier = names[: names.index(rehearsal)] if rehearsal in names else names
    mine = readings[(readings["player"] == player) & readings["rehearsal"].isin(earlier)]
    times = mine.groupby("rehearsal", sort=False)["time"]
    lengths = (times.max() - times.min()).dt.total_seconds() / 60.0
    lengths = lengths[lengths >= SHORTEST_MINUTES]
    return float(lengths.median()) if len(lengths) else FIRST_MINUTES
