"""A tuning that begins with what the logbook knows of its player."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from math import exp, log
from typing import Any

from drift.instruments.anatomy import Instrument
from drift.logbook.rehearsals import Rehearsals
from drift.pairing.playing import playing_at
from drift.pairing.slide_log import calibration_of, last_positions
from drift.regression.estimates import NORMAL_95
from drift.regression.results import Fit
from drift.regression.warmup import warmth
from drift.slides.player_now import know_player
from drift.tonight.knowledge import Note
from drift.tonight.tuning import TIMES_TO_WARM, begin_tuning
from drift.tonight.tuning_belief import Habit
from drift.tonight.tuning_steps import Step, Tuning

__all__ = ["begin_players_tuning", "minutes_logged"]

AS_WARM_AS_CAN_BE = 1e-9
"""No share of a warm-up that is left is smaller; days of playing would leave none at all."""


def begin_players_tuning(
    rehearsals: Rehearsals,
    known: Fit,
    rehearsal: str,
    player: str,
    instrument: Instrument,
    time: datetime,
    *,
    at: Mapping[str, float] | None = None,
    minutes_played: float | None = None,
    since: datetime | None = None,
    **options: Any,
) -> Tuning:
    """Begin to tune, with the player's notes, measured slides and tonight's positions.

    Where a slide was on an earlier evening is proposed: many are pushed in for the case.

    Parameters
    ----------
    rehearsals : Rehearsals
        Everything logged so far.
    known : Fit
        What earlier rehearsals teach, or acoustics alone.
    rehearsal, player : str
        Where, and who tunes.
    instrument : Instrument
        What is tuned.
    time : datetime
        Now.
    at : mapping of str to float, optional
        Where slides are, from fully in [mm], before those that were logged this evening.
    minutes_played : float, optional
        Minutes of playing so far (default: as logged, with what rests cooled; 0 where nothing is).
    since : datetime, optional
        When it began, if that was earlier: slides moved from then on were not moved yet.
    **options
        As in `drift.tonight.tuning.begin_tuning`.
    """
    calibration = calibration_of(rehearsals, player, instrument)
    played = minutes_played
    if played is None:
        played = minutes_logged(rehearsals, rehearsal, player, time, instrument)
    before = _before(rehearsals, since)
    tonight = replace(before, events=before.events[before.events["rehearsal"] == rehearsal])
    tuning = begin_tuning(
        instrument,
        positions_mm={**last_positions(tonight, player, instrument), **(at or {})},
        minutes_played=played,
        habits=_habits(known, player, instrument, calibration),
        calibration=calibration,
        **options,
    )
    tuning = replace(tuning, last_mm=last_positions(before, player, instrument))
    if tuning.now.step is Step.SAY_POSITION:
        return tuning.asks_where(tuning.now.slide)
    return tuning


def _before(rehearsals: Rehearsals, time: datetime | None) -> Rehearsals:
    """Return what was logged with the events before a moment, all of them where none is given."""
    if time is None:
        return rehearsals
    return replace(rehearsals, events=rehearsals.events[rehearsals.events["time"] < time])


def minutes_logged(
    rehearsals: Rehearsals, rehearsal: str, player: str, time: datetime, instrument: Instrument
) -> float:
    """Return the minutes of unbroken playing after which the instrument is as warm as it is now.

    0 where neither playing nor a note was logged. Who came already warm has played as long as that
    takes; what cooled in a rest has to be played again.
    """
    events, readings = (
        table[table["rehearsal"] == rehearsal] for table in (rehearsals.events, rehearsals.readings)
    )
    if not (len(readings) or (events["event"] == "play").any()):
        return 0.0
    minute = time.timestamp() / 60.0
    _, spells, into, initial = playing_at(events, readings, player, minute, instrument.name)
    priors = instrument.priors
    before = initial * (1.0 - exp(-TIMES_TO_WARM))
    warm = float(warmth(spells, into, priors.warm_minutes, priors.cool_minutes, before))
    return priors.warm_minutes * -log(max(1.0 - warm, AS_WARM_AS_CAN_BE))


def _habits(
    known: Fit, player: str, instrument: Instrument, calibration: Mapping[tuple[str, str], float]
) -> dict[Note, Habit]:
    """Return the tendencies of the player's notes, as far as earlier rehearsals tell them."""
    rows = known.rows
    if not ((rows["player"] == player) & (rows["instrument"] == instrument.name)).any():
        return {}
    knowledge = know_player(known, player, instrument, (), calibration)
    return {
        (side, note): Habit(own.estimate, (own.high - own.low) / (2.0 * NORMAL_95))
        for side in knowledge.tuning_notes
        for note, own in knowledge.tendencies(side).items()
    }
