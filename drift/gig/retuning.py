"""What a section does at each tune: how far to move which slide, and what stays."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from drift.gig.basis import Basis
from drift.gig.course import Course, Served
from drift.gig.reach import real_slopes
from drift.gig.roster import Section
from drift.gig.timetable import Block
from drift.regression.estimates import NORMAL_95
from drift.regression.results import Estimate
from drift.slides.moves import room_to_move, solve
from drift.slides.moving import Move
from drift.tonight.decision import Action, decide_playing

__all__ = ["Setting", "retune"]

Array = NDArray[np.float64]

#: A target larger than this with a wider half-width than this asks for a check on the field.
UNSURE_CENTS = 10.0


@dataclass(frozen=True)
class Setting:
    """What a section does at one tune, for the playing that follows it (or for itself).

    Attributes
    ----------
    section : Section
        Who.
    block : Block
        When.
    expected_cents : mapping of str to Estimate
        Where each side would be with the slides as they are, on the mean of the playing that
        follows, from the A4 that the plan aims at [cents].
    moves : tuple of Move
        One for each slide on the roster.
    remaining_cents : mapping of str to float
        What the moves leave on each side, on the mean of that playing [cents].
    lowest_cents, highest_cents : float
        Between which the section lies while it plays, moves made [cents].
    change_cents : Estimate
        The correction against the one before (of the tune before, or none) [cents].
    retune_at : datetime or None
        First moment of playing at which the expected deviation passes the limit; None also for
        sections with no slide on the roster, and for a tune that no playing follows.
    based_on : Basis
        As in `Course`.
    tune_on : mapping of str to tuple of str
        The notes to tune on by side, sounding, the usual one first.
    show_cents : Estimate or None
        What the tuner, set to the A4 that the plan aims at, should show when the slide is set, so
        that the mean of the playing that follows is right; with the interval to print [cents].
        None where nothing can be tuned.
    waits : bool
        Whether the slides stay where they are because the way is not sure from here, and the
        section tunes again before the playing that this tune would be for.
    """

    section: Section
    block: Block
    expected_cents: Mapping[str, Estimate]
    moves: tuple[Move, ...]
    remaining_cents: Mapping[str, float]
    lowest_cents: float
    highest_cents: float
    change_cents: Estimate
    retune_at: datetime | None
    based_on: Basis
    tune_on: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    show_cents: Estimate | None = None
    waits: bool = False

    @property
    def check_again(self) -> bool:
        """Whether the target is large and uncertain, so that no millimetres are worth giving."""
        show = self.show_cents
        return (
            show is not None
            and abs(show.estimate) > UNSURE_CENTS
            and (show.high - show.low) / 2.0 > UNSURE_CENTS
        )

    @property
    def worst_left(self) -> Estimate:
        """What the moves leave on the side that they leave most on, with its interval [cents].

        A slide that could still move takes the rest: the interval ends at nothing there.
        """
        side, left = max(self.remaining_cents.items(), key=lambda item: abs(item[1]))
        expected = self.expected_cents[side]
        low, high = (left + end - expected.estimate for end in (expected.low, expected.high))
        if not self.section.stuck:
            low, high = (low, min(high, 0.0)) if left < 0 else (max(low, 0.0), high)
        return Estimate(left, low, high)

    @property
    def at_end(self) -> bool:
        """Whether a slide comes to the end of its travel."""
        return any(move.at_end_of_travel for move in self.moves)

    def to_json(self) -> dict[str, Any]:
        """Return the setting as a JSON object."""
        from drift.words.gig_basis import basis_text

        return {
            "section": self.section.name,
            "instrument": self.section.instrument.name,
            "players": self.section.players,
            "tune_at": self.block.tune_at.isoformat(),
            "tune_scheduled": self.block.scheduled,
            "expected_cents": {s: e.to_json() for s, e in self.expected_cents.items()},
            "moves": [move.to_json() for move in self.moves],
            "stuck": list(self.section.stuck),
            "remaining_cents": dict(self.remaining_cents),
            "drift_during_play": [self.lowest_cents, self.highest_cents],
            "change_cents": self.change_cents.to_json(),
            "retune_at": self.retune_at.isoformat() if self.retune_at else None,
            "based_on": basis_text(self.based_on),
            "basis": self.based_on.to_json(),
            "tune_on": {side: list(notes) for side, notes in self.tune_on.items()},
            "show_cents": self.show_cents.to_json() if self.show_cents else None,
            "check_again": self.check_again,
            "waits": self.waits,
        }


def retune(
    section: Section,
    course: Course,
    blocks: Sequence[Block],
    served: Sequence[Served],
    times: pd.DatetimeIndex,
    shift_cents: float,
    limit_cents: float,
) -> tuple[tuple[Setting, ...], dict[str, Array]]:
    """Return what a section does at each tune, and its pitch with those moves.

    Parameters
    ----------
    section : Section
        Who: its slides, where they stand, how far they go, which are stuck.
    course : Course
        Its pitch with slides untouched.
    blocks, served : sequences of k
        The tunes, and the playing that each has to serve.
    times : DatetimeIndex, shape (n,)
        Instants of the course.
    shift_cents : float
        The pitch tuned to, above the pitch aimed at [cents].
    limit_cents : float
        The deviation at which to tune again [cents].

    Returns
    -------
    tuple of Setting
        One a tune.
    dict of str to ndarray, shape (n,)
        Pitch of each side through the performance, moves made [cents].

    Notes
    -----
    The correction of a block is its mean expected pitch, divided by what a millimetre does on a
    real bore (1.10 times the rule on brass). All positions are worked out from where the slides
    were when the band was tuned, so that moves do not add up errors.
    """
    sides = [side.name for side in section.instrument.sides]
    stand = dict.fromkeys(sides, 0.0)
    moved = dict.fromkeys(section.slides, 0.0)
    pitch = dict.fromkeys(sides, course.cents + shift_cents)
    settings = []
    changes = _changes(course, shift_cents)
    for number, (block, serves) in enumerate(zip(blocks, served, strict=True)):
        mean, low, high = (
            float(part[number]) + shift_cents
            for part in (course.mean, course.mean_low, course.mean_high)
        )
        decision = decide_playing(
            course.mean_draws[number] + shift_cents + max(stand.values(), key=abs)
        )
        tunes_again = not block.plays and number + 1 < len(blocks)
        waits = bool(section.movable) and tunes_again and decision.action is not Action.MOVE
        if waits:
            new, left, limited = moved, {s: mean + stand[s] for s in sides}, frozenset[str]()
            ends = [moved, moved]
        else:
            new, left, limited = _positions(section, mean)
            ends = [_positions(section, end)[0] for end in (low, high)]
        cents = {side: left[side] - mean for side in sides}
        after = times >= pd.Timestamp(block.ready)
        for side in sides:
            pitch[side] = np.where(after, course.cents + shift_cents + cents[side], pitch[side])
        window = serves.window
        played = np.array([course.cents[window] + shift_cents + cents[side] for side in sides])
        settings.append(
            Setting(
                section=section,
                block=block,
                expected_cents={
                    s: Estimate(mean + stand[s], low + stand[s], high + stand[s]) for s in sides
                },
                moves=tuple(_move(section, s, moved, new, ends, limited) for s in section.slides),
                remaining_cents=left,
                lowest_cents=float(played.min()),
                highest_cents=float(played.max()),
                change_cents=changes[number],
                retune_at=_first_beyond(played, times[window], limit_cents)
                if section.slides and block.plays
                else None,
                based_on=course.based_on,
                tune_on={side.name: side.tuning_notes for side in section.instrument.sides},
                show_cents=course.show[number] if section.movable else None,
                waits=waits,
            )
        )
        stand, moved = cents, new
    return tuple(settings), pitch


def _positions(
    section: Section, sharp_cents: float
) -> tuple[dict[str, float], dict[str, float], frozenset[str]]:
    """Return moves from where slides stood when tuned, what they leave, and those at an end."""
    instrument = section.instrument
    sharp = {side.name: sharp_cents for side in instrument.sides}
    if not section.movable:
        return dict.fromkeys(section.slides, 0.0), sharp, frozenset(section.stuck)
    found = solve(
        instrument,
        sharp,
        at=section.at_mm,
        travel=section.travel_mm,
        stuck=section.held,
        calibration=real_slopes(instrument),
    )
    moves = {slide: found.moves_mm[slide] for slide in section.slides}
    return moves, found.remaining_cents, found.at_end_of_travel


def _move(
    section: Section,
    slide: str,
    before: Mapping[str, float],
    after: Mapping[str, float],
    ends: Sequence[Mapping[str, float]],
    limited: frozenset[str],
) -> Move:
    move = after[slide] - before[slide]
    # What a millimetre does differs from one instrument of a kind to the next.
    effect = section.instrument.slide(slide).effect
    own = NORMAL_95 * effect.sd / effect.mean * move
    near, far = sorted(end[slide] - before[slide] for end in ends)
    room = room_to_move(
        section.instrument, at=section.at_mm, travel=section.travel_mm, stuck=section.held
    )
    least, most = (end - before[slide] for end in room[slide])
    at = section.at_mm.get(slide)
    return Move(
        slide=slide,
        move_mm=move,
        low_mm=max(move - math.hypot(move - near, own), min(least, move)),
        high_mm=min(move + math.hypot(far - move, own), max(most, move)),
        from_mm=None if at is None else at + before[slide],
        to_mm=None if at is None else at + after[slide],
        at_end_of_travel=slide in limited,
    )


def _changes(course: Course, shift_cents: float) -> list[Estimate]:
    """Return each correction against the one before; the first one against none."""
    shifts = np.zeros(len(course.mean))
    shifts[0] = shift_cents
    rows = zip(*(part + shifts for part in course.changes()), strict=True)
    return [Estimate(float(estimate), float(low), float(high)) for estimate, low, high in rows]


def _first_beyond(played: Array, times: pd.DatetimeIndex, limit_cents: float) -> datetime | None:
    beyond = np.abs(played).max(axis=0) > limit_cents + 1e-9
    if not beyond.any() or math.isinf(limit_cents):
        return None
    first: datetime = times[int(np.argmax(beyond))].to_pydatetime()
    return first
