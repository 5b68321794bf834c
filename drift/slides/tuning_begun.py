"""A tuning at its beginning: a new one, or the one that was broken off."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from drift.instruments.anatomy import Instrument
from drift.logbook.book import Logbook
from drift.logbook.records import Temperature
from drift.logbook.rehearsals import Rehearsals
from drift.regression.results import Fit
from drift.slides.players_tuning import begin_players_tuning
from drift.slides.tuning_air import air_elsewhere
from drift.slides.tuning_log import Seat, given_positions
from drift.slides.tuning_resumed import Broken, Resumed, broken_off, followed, moved
from drift.slides.tuning_sitting import Sitting
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
    """

    tuning: Tuning
    at: Mapping[str, float]
    air: Temperature | None
    broken: Broken | None = None
    resumed: Resumed | None = None


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
    here = rehearsals, known, rehearsal, player, instrument, time
    at = {instrument.slide(name).name: mm for name, mm in (at or {}).items()}
    air = air_elsewhere(rehearsals, rehearsal, time)
    broken = broken_off(book, rehearsal, player, instrument.name, time)
    if broken is None:
        tuning = begin_players_tuning(*here, at=at, minutes_played=minutes_played, **options)
        return Begun(tuning, at, air)
    minutes = minutes_played if broken.minutes is None else broken.minutes
    since = broken.marks.began
    first = begin_players_tuning(*here, minutes_played=minutes, since=since, **options)
    resumed = followed(first, broken, time, a4_hz=a4_hz)
    began = {str(row["slide"]): row["position_mm"] for row in reversed(broken.rows)
             if row.get("slide")}  # fmt: skip
    at = {slide: mm for slide, mm in at.items() if began.get(slide) != mm}
    tuning = resumed.tuning
    for slide, mm in at.items():
        tuning = moved(tuning, slide, mm)
    return Begun(tuning, at, air, broken, resumed)


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
        listening=listening,
    )
    air = [begun.air] if begun.air is not None and sitting.asks_air else []
    sitting.keep([*given_positions(begun.tuning, begun.at, seat, time), *air], time)
    return sitting
