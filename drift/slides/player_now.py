"""Where the pitch of a player is now, with the slides and millimetres of the decision."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

import numpy as np

from drift.instruments.anatomy import Instrument, MeasuredSlopes
from drift.notes import cents_between
from drift.regression.asked import read_or_new
from drift.regression.estimates import NORMAL_95
from drift.regression.results import Estimate, Fit
from drift.slides.moves import Solution
from drift.slides.moving import Move, moves_for
from drift.times import shown_time
from drift.tonight import Action, Conditions, Knowledge, PitchNow, know, pitch_now
from drift.tonight.knowledge import Note
from drift.tonight.logged import Logged

__all__ = ["PlayerNow", "answer_now", "know_player"]

DRAWS = 600
HARDLY_CENTS = 1.0
"""What remains of a side that is to be corrected, and is not worth moving another slide for."""


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
            "playing": self.conditions.begun and self.conditions.playing,
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
    a4_hz = a4_hz or logged.a4_hz
    pitch = pitch_now(_at_pitch(knowledge, a4_hz), evening, minutes, a4_hz=a4_hz)
    if pitch.wished_cents:
        at = evening.positions_mm(minutes)
        known_mm = {slide: mm for slide, mm in at.items() if slide != pitch.misplaced}
        pitch = replace(pitch, moves=_moves(pitch, knowledge, known_mm))
    return PlayerNow(
        player,
        time,
        logged.conditions,
        pitch,
        len(known.rows),
        bool(known.extrapolation(logged.conditions.celsius)),
    )


def _at_pitch(knowledge: Knowledge, a4_hz: float) -> Knowledge:
    """Return what is known of a player, who is expected at tonight's A4 if nothing was read yet."""
    if knowledge.rehearsals:
        return knowledge
    notes = np.arange(knowledge.mean.shape[1]) < len(knowledge.notes)
    return replace(knowledge, mean=knowledge.mean + cents_between(a4_hz, 440.0) * notes)


def _moves(pitch: PitchNow, knowledge: Knowledge, at: Mapping[str, float]) -> tuple[Move, ...]:
    """Return the moves for the sides that ask for one, and what makes up for them.

    A side that asks for none keeps its slides where they are, as far as the others can do without:
    nothing asks for the millimetre that it lies off, and an order for a slide of one that is still
    to be read would contradict "read once more". Where a slide that it shares moves nevertheless,
    its own makes up for that.
    """
    instrument, wanted = knowledge.instrument, _wanted(pitch)
    actions = {side: pitch.sides[side].decision.action for side in pitch.read_sides}
    asking = [side for side, action in actions.items() if action is Action.MOVE]
    kept = {
        name: actions[side]
        for side in actions
        if side not in asking
        for name in pitch.sides[side].slides
    }
    shared = {slide.name for slide in instrument.slides if len(slide.sides) > 1}
    held = shared & kept.keys()

    def solved(stuck: Collection[str]) -> tuple[Solution, tuple[Move, ...]]:
        return moves_for(instrument, wanted, at=at, stuck=stuck, calibration=knowledge.calibration)

    solution, moves = solved(held)
    left = [solution.remaining_cents[side] for side in asking]
    if held and any(abs(cents) >= HARDLY_CENTS for cents in left):
        held, (_, moves) = set(), solved(())
    moves = tuple(move for move in moves if move.slide not in held)
    follow = any(move.slide in shared for move in moves)
    still = {
        name
        for name, action in kept.items()
        if name not in shared and not (follow and action is Action.LEAVE)
    }
    return tuple(move for move in moves if move.slide not in still or move.makes_up_for)


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
