"""A tuning at its beginning: a new one, or the one that was broken off."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

import numpy as np

from drift.instruments.anatomy import Instrument
from drift.logbook.book import Logbook
from drift.logbook.records import Temperature
from drift.logbook.rehearsals import Rehearsals
from drift.pairing.playing import LEAD_MINUTES
from drift.regression.results import Fit
from drift.slides.players_tuning import begin_players_tuning, minutes_logged
from drift.slides.tuning_air import air_elsewhere
from drift.slides.tuning_log import Seat, given_positions
from drift.slides.tuning_resumed import (
    Broken,
    Resumed,
    Row,
    broken_off,
    followed,
    moved,
    outdated_playing,
)
from drift.slides.tuning_sitting import Sitting
from drift.tonight.tuning import played_in_all
from drift.tonight.tuning_steps import Tuning

__all__ = ["Begun", "begin", "sit_down"]


@dataclass(frozen=True)
class Begun:
    """A tuning at its beginning.

    Attributes
    ----------
    tuning : Tuning
        The tuning, where it goes on.
    at : mapping of str to float
        Where slides are said to be, and were not known to be [mm].
    air : Temperature or None
        A temperature of another rehearsal that still holds.
    broken : Broken or None
        What is logged of it, where it was broken off.
    resumed : Resumed or None
        What is kept of that.
    minutes : float or None
        Minutes of playing that are said, and were not known to be [min].
    outdated : frozenset of int
        What earlier tunings logged of playing and is not counted, by its number.
    """

    tuning: Tuning
    at: Mapping[str, float]
    air: Temperature | None
    broken: Broken | None = None
    resumed: Resumed | None = None
    minutes: float | None = None
    outdated: frozenset[int] = frozenset()


def begin(
    book: Logbook,
    rehearsals: Rehearsals,
    known: Fit,
    rehearsal: str,
    player: str,
    instrument: Instrument,
    time: datetime,
    *,
    at: Mapping[str, float] | None = None,
    minutes_played: float | None = None,
    a4_hz: float | None = None,
    **options: Any,
) -> Begun:
    """Begin to tune, or go on where it was broken off; nothing is saved yet.

    Parameters
    ----------
    book : Logbook
        The logbook.
    rehearsals, known, rehearsal, player, instrument, time, minutes_played, **options
        As in `drift.slides.players_tuning.begin_players_tuning`.
    at : mapping of str to float, optional
        Where slides are, from fully in [mm]. Where a tuning goes on, what it began with is no
        news: the same command may be typed again.
    a4_hz : float, optional
        Pitch of A4 that cents are counted from now [Hz]: what was read before it was broken off
        may be counted from another.
    """
    whose = known, rehearsal, player, instrument
    at = {instrument.slide(name).name: mm for name, mm in (at or {}).items()}
    air = air_elsewhere(rehearsals, rehearsal, time)
    broken = broken_off(book, rehearsal, player, instrument.name, time)
    if broken is not None:
        resumed = _again(broken, rehearsals, *whose, time, a4_hz, **options)
        tuning, at, minutes = _news(broken, resumed, at, minutes_played)
        return Begun(tuning, at, air, broken, resumed, minutes)
    outdated = outdated_playing(book, rehearsal, player, time)
    options |= {"at": at, "minutes_played": minutes_played}
    tuning = begin_players_tuning(_without(rehearsals, outdated), *whose, time, **options)
    numbers = frozenset(row["entry_id"] for row in outdated)
    return Begun(tuning, at, air, minutes=minutes_played, outdated=numbers)


def _again(
    broken: Broken,
    rehearsals: Rehearsals,
    known: Fit,
    rehearsal: str,
    player: str,
    instrument: Instrument,
    time: datetime,
    a4_hz: float | None,
    **options: Any,
) -> Resumed:
    """Return a tuning that was broken off where it stopped; playing counts until its first note."""
    until, plays = broken.first_note or time, broken.plays
    first = begin_players_tuning(
        _without(rehearsals, plays), known, rehearsal, player, instrument, until,
        since=broken.marks.began, **options,
    )  # fmt: skip
    minutes = {
        row["entry_id"]: minutes_logged(
            _without(rehearsals, plays[number:]), rehearsal, player, until, instrument
        )
        for number, row in enumerate(plays, 1)
    }
    return followed(first, broken, time, minutes=minutes, a4_hz=a4_hz)


def _news(
    broken: Broken, resumed: Resumed, at: Mapping[str, float], minutes: float | None
) -> tuple[Tuning, dict[str, float], float | None]:
    """Return the tuning with what is given and was not known when it stopped, and that."""
    tuning = resumed.tuning
    before = {str(row["slide"]): row["position_mm"] for row in reversed(broken.rows)
              if row.get("slide")}  # fmt: skip
    at = {slide: mm for slide, mm in at.items() if before.get(slide) != mm}
    for slide, mm in at.items():
        tuning = moved(tuning, slide, mm)
    known = tuning.belief.minutes + LEAD_MINUTES
    if minutes is None or resumed.readings or minutes <= known:
        return tuning, at, None
    return played_in_all(tuning, minutes), at, minutes


def _without(rehearsals: Rehearsals, rows: Sequence[Row]) -> Rehearsals:
    """Return what was logged without some playing of a player."""
    events = rehearsals.events
    for row in rows:
        same = [events[name] == row[name] for name in ("time", "rehearsal", "player", "event")]
        events = events[~np.logical_and.reduce(same)]
    return replace(rehearsals, events=events)


def sit_down(
    book: Logbook,
    begun: Begun,
    seat: Seat,
    time: datetime,
    *,
    listening: Callable[[], bool] = lambda: False,
) -> Sitting:
    """Return the player who tunes, with what is known at the beginning saved.

    Parameters
    ----------
    book : Logbook
        Open for writing.
    begun : Begun
        The tuning at its beginning.
    seat : Seat
        Who tunes where.
    time : datetime
        Now.
    listening : callable, optional
        Whether a thermometer is listened to.
    """
    resumed, broken = begun.resumed, begun.broken
    sitting = Sitting(
        book,
        begun.tuning,
        seat,
        time,
        marks=broken.marks if broken else None,
        steps=resumed.steps if resumed else (),
        outdated=begun.outdated,
        listening=listening,
    )
    air = [begun.air] if begun.air is not None and sitting.asks_air else []
    positions = given_positions(begun.tuning, begun.at, seat, time)
    sitting.keep([*positions, *air], time, minutes=begun.minutes)
    return sitting
