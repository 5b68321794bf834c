"""What the tuner should show a player now, so that the playing that comes next is right."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime

import numpy as np

from drift.errors import InputError
from drift.regression.results import Fit
from drift.slides.moves import solve
from drift.slides.player_now import PlayerNow, answer_now
from drift.tonight import Knowledge
from drift.tonight.course import Course
from drift.tonight.logged import Logged
from drift.tonight.pitch_now import SideNow
from drift.tonight.target import Target, target_at

__all__ = ["target_now"]

BLOCK_MINUTES = 30.0
"""So much of the next playing is to be right on the mean: what words call the first half hour."""
CARRIED_MINUTES = 10.0
"""The instrument is in the other air so long before the playing begins."""
FARTHEST_MINUTES = 12 * 60.0


def target_now(
    logged: Logged,
    known: Fit,
    knowledge: Knowledge,
    player: str,
    now: datetime,
    at: datetime,
    celsius: float,
) -> dict[str, Target]:
    """Return what the tuner should show now on each side of an instrument.

    Parameters
    ----------
    logged : Logged
        The evening up to the moment.
    known, knowledge, player
        As in `drift.slides.player_now.answer_now`.
    now : datetime
        The moment.
    at : datetime
        When the next playing begins.
    celsius : float
        Temperature of the air there [°C].

    Raises
    ------
    InputError
        If the playing does not begin within twelve hours.

    Notes
    -----
    Until ten minutes before the playing the air is as it is now; a wait longer than those is
    taken as a rest. The mean of the first half hour of the playing is to be right. What remains
    is counted from the pitch now, where the side was read tonight, and the logged positions.
    """
    ahead = (at - now).total_seconds() / 60.0
    if not 0.0 <= ahead <= FARTHEST_MINUTES:
        raise InputError(
            f"{at:%H:%M} is {'over' if ahead < 0.0 else 'more than twelve hours ahead'}",
            "give a time within the next twelve hours; for later, drift slides gives positions",
        )
    minute = logged.now_minutes
    course = _until_the_end(logged.evening.course, minute, ahead, celsius)
    block = (minute + ahead, minute + ahead + BLOCK_MINUTES)
    targets = {
        side: target_at(
            knowledge.draws, course, (minute, minute), block, knowledge=knowledge, side=side
        )
        for side in knowledge.tuning_notes
    }
    left = _remaining(targets, answer_now(logged, known, knowledge, player, now), logged, knowledge)
    return {
        side: replace(target, remaining_cents=left.get(side, 0.0))
        for side, target in targets.items()
    }


def _remaining(
    targets: Mapping[str, Target], found: PlayerNow, logged: Logged, knowledge: Knowledge
) -> dict[str, float]:
    """Return what each side that was read tonight is off its target with slides at their ends."""
    pitch, at = found.pitch, logged.evening.positions_mm(logged.now_minutes)
    if not pitch.readings:
        return {}
    known_mm = {slide: mm for slide, mm in at.items() if slide != pitch.misplaced}
    nominal = {side: _nominal(pitch.sides[side]) for side in pitch.read_sides}
    sharp = {
        side: (pitch.sides[side].off_cents.estimate - targets[side].show_cents.estimate) * share
        for side, share in nominal.items()
    }
    solution = solve(knowledge.instrument, sharp, at=known_mm, calibration=knowledge.calibration)
    if not solution.at_end_of_travel:
        return {}
    return {side: cents / nominal[side] for side, cents in solution.remaining_cents.items()}


def _nominal(side: SideNow) -> float:
    """Return how many cents of the plain tube take away one cent of a side."""
    return side.wished_cents / side.decision.cents if side.decision.cents else 1.0


def _until_the_end(course: Course, now: float, ahead: float, celsius: float) -> Course:
    """Return the evening with what comes: a wait, the air there, and the playing."""
    begin, end = now + ahead, now + ahead + BLOCK_MINUTES
    here = float(course.celsius_at(now))
    there = max(begin - CARRIED_MINUTES, now)
    past = course.air_minutes <= now
    switches = [when for when in course.switches_minutes if when <= now]
    if ahead > CARRIED_MINUTES and len(switches) % 2 == 1:
        switches.append(now)  # it is tuned, and then a rest
    if len(switches) % 2 == 0:
        switches.append(begin)
    return replace(
        course,
        air_minutes=np.r_[course.air_minutes[past], now, there, there + 0.1, end],
        air_celsius=np.r_[course.air_celsius[past], here, here, celsius, celsius],
        switches_minutes=tuple(switches),
    )
