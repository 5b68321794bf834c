"""Where the pitch of a player is now, with the slides and millimetres of the decision."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from drift.instruments.anatomy import Instrument, MeasuredSlopes
from drift.regression.asked import read_or_new
from drift.regression.estimates import NORMAL_95
from drift.regression.results import Estimate, Fit
from drift.slides.moving import moves_for
from drift.times import shown_time
from drift.tonight import Conditions, Knowledge, PitchNow, know, pitch_now
from drift.tonight.knowledge import Note
from drift.tonight.logged import Logged

__all__ = ["PlayerNow", "answer_now", "know_player"]

DRAWS = 600


@dataclass(frozen=True)
class PlayerNow:
    """Where the pitch of a player is at a moment, and what to do.

    Attributes
    ----------
    player : str
    time : datetime
    conditions : Conditions
        The air and the playing at the moment.
    pitch : PitchNow
        How far off, ahead, and the decision.
    earlier_readings : int
        Readings of earlier rehearsals that the answer rests on, beside acoustics.
    extrapolated : bool
        Whether the temperature lies outside those measured so far.
    """

    player: str
    time: datetime
    conditions: Conditions
    pitch: PitchNow
    earlier_readings: int
    extrapolated: bool

    def to_json(self) -> dict[str, Any]:
        """Return the answer as one JSON object."""
        return {
            "player": self.player,
            "instrument": self.pitch.instrument,
            "time": shown_time(self.time),
            "celsius": self.conditions.celsius,
            "playing": self.conditions.playing,
            "playing_minutes": self.conditions.playing_minutes,
            **self.pitch.to_json(),
            "earlier_readings": self.earlier_readings,
            "extrapolated": self.extrapolated,
        }


def know_player(
    known: Fit,
    player: str,
    instrument: Instrument,
    notes: Collection[Note],
    calibration: MeasuredSlopes,
) -> Knowledge:
    """Return what the rehearsals before tonight say of a player.

    Parameters
    ----------
    known : Fit
        The fit of those rehearsals, or acoustics alone.
    player : str
        Whose.
    instrument : Instrument
        What is played.
    notes : collection of (str, str)
        What is read tonight, as (side, note).
    calibration : mapping
        Measured cents per millimetre, by slide and side.
    """
    rows = known.rows
    mine = rows[(rows["player"] == player) & (rows["instrument"] == instrument.name)]
    return know(
        instrument,
        known.draws(instrument.name, DRAWS, 0, read_or_new(known, instrument.name, player)),
        mine if len(mine) else None,
        reading_sd_cents=_number(known.reading_sd_cents),
        day_sd_cents=_number(known.rehearsal_sd_cents),
        more_notes=tuple(notes),
        calibration=calibration,
    )


def answer_now(
    logged: Logged,
    known: Fit,
    knowledge: Knowledge,
    player: str,
    time: datetime,
    a4_hz: float | None = None,
) -> PlayerNow:
    """Return where the pitch of a player is, and what to do.

    Parameters
    ----------
    logged : Logged
        The evening up to the moment.
    known : Fit
        As in `know_player`.
    knowledge : Knowledge
        What it says of the player.
    player : str
        Whose.
    time : datetime
        The moment.
    a4_hz : float, optional
        What the tuner is set to now (default: as at the last reading) [Hz].
    """
    evening, minutes = logged.evening, logged.now_minutes
    pitch = pitch_now(knowledge, evening, minutes, a4_hz=a4_hz or logged.a4_hz)
    wanted = _wanted(pitch)
    if wanted:
        _, moves = moves_for(
            knowledge.instrument,
            wanted,
            at=evening.positions_mm(minutes),
            calibration=knowledge.calibration,
        )
        pitch = replace(pitch, moves=moves)
    return PlayerNow(
        player,
        time,
        logged.conditions,
        pitch,
        len(known.rows),
        bool(known.extrapolation(logged.conditions.celsius)),
    )


def _wanted(pitch: PitchNow) -> dict[str, Estimate]:
    """Return what slides are to take away from each side that was read, with its interval."""
    found = {}
    for side, cents in pitch.wished_cents.items():
        decision = pitch.sides[side].decision
        half = NORMAL_95 * decision.sd_cents * (cents / decision.cents if decision.cents else 1.0)
        found[side] = Estimate(cents, cents - half, cents + half)
    return found


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None
