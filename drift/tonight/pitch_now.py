"""Pitch now: how far off a player is, where it goes, and what to do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from drift.notes import cents_between
from drift.regression.results import Estimate
from drift.tonight.deciding import Wanted, least_read, readings_wanted
from drift.tonight.decision import NOTICED_CENTS, Action, Decision, Reason, decide_playing
from drift.tonight.evening import Evening, NotUsed, usable
from drift.tonight.following import Belief, Expected, follow, off_samples
from drift.tonight.knowledge import Knowledge
from drift.tonight.surprises import Jump, Surprise, jump_of, surprises_of

__all__ = ["Ahead", "PitchNow", "SideNow", "pitch_now"]

AHEAD_MINUTES = (0.0, 5.0, 10.0, 15.0, 20.0, 30.0)
WEIGHED = 5
"""The decision weighs the first so many of these: the next twenty minutes."""
REPORTED = {10.0: 2, 30.0: 5}

WARM_ENOUGH = 0.8
"""Less warmed up than this, an instrument goes on rising by itself (common practice)."""

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Ahead:
    """The pitch so many minutes ahead, if playing goes on and nothing is moved.

    Attributes
    ----------
    minutes : float
        From now [min].
    off_cents : Estimate
        Deviation, sharp positive [cents].
    """

    minutes: float
    off_cents: Estimate


@dataclass(frozen=True)
class SideNow:
    """One side of an instrument.

    Attributes
    ----------
    off_cents : Estimate
        Deviation of the mean of its tuning notes now, sharp positive [cents].
    ahead : tuple of Ahead
        The same in 10 and 30 minutes.
    decision : Decision
        What this side alone asks for.
    wished_cents : float
        What the slides are to take away from it in a move, in nominal cents (of the rule of the
        plain tube, or of the player's calibration).
    slides : tuple of str
        The slides that are set for this side: those that no side before it, in the order players
        work, has set already.
    wanted : Wanted or None
        The readings that will most likely decide, where it is not clear what to do.
    moved_by : tuple of str
        Every slide that moves its pitch.
    """

    off_cents: Estimate
    ahead: tuple[Ahead, ...]
    decision: Decision
    wished_cents: float
    slides: tuple[str, ...] = ()
    wanted: Wanted | None = None
    moved_by: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class PitchNow:
    """How far off a player is now, and what to do.

    Attributes
    ----------
    instrument, side : str
        The instrument, and the side that was read last (``""`` where there is one).
    sides : dict of str to SideNow
        Every side.
    decision : Decision
        Move, leave or read first: the foremost of the sides that were read tonight.
    read_sides : tuple of str
        Those sides, in the order players work; a move is for them.
    moves : tuple
        The move as slides and millimetres, where `drift.slides` has worked it out.
    surprises : tuple of Surprise
        What does not fit.
    jump : Jump or None
        The move of a slide that would explain it, where the readings jumped.
    last : Expected or None
        The last reading, and what was expected of it.
    not_used : dict of NotUsed to int
        Readings of tonight that say nothing, by reason.
    readings : int
        Readings of tonight that were used.
    warmth : float
        How far the instrument is warmed up, about 0 to 1.
    a4_hz : float
        What the tuner is set to, and all deviations count from [Hz].
    step_mm : float
        Step in which its slides are set [mm].
    """

    instrument: str
    side: str
    sides: dict[str, SideNow]
    decision: Decision
    read_sides: tuple[str, ...]
    moves: tuple[Any, ...] = ()
    surprises: tuple[Surprise, ...]
    jump: Jump | None = None
    last: Expected | None
    not_used: dict[NotUsed, int]
    readings: int
    warmth: float
    a4_hz: float = 440.0
    step_mm: float = 0.5

    @property
    def off_cents(self) -> Estimate:
        """Deviation now of the side that was read last [cents]."""
        return self.sides[self.side].off_cents

    @property
    def ahead(self) -> tuple[Ahead, ...]:
        """Deviation ahead of the side that was read last."""
        return self.sides[self.side].ahead

    @property
    def last_cents(self) -> tuple[float, float] | None:
        """The last reading as the tuner shows it now, and what was expected of it [cents]."""
        if self.last is None:
            return None
        pitch = cents_between(self.a4_hz, 440.0)
        return self.last.reading.cents_at_440 - pitch, self.last.cents - pitch

    @property
    def apart(self) -> bool:
        """Whether one answer for all sides that were read tonight would be wrong for one of them.

        It would be where they ask for different things, where the number of one lies outside the
        interval of another, or where they are further from each other than the deviation for which
        a slide is moved.
        """
        read = [self.sides[side] for side in self.read_sides]
        offs = [side.off_cents for side in read]
        lowest, highest = (pick(off.estimate for off in offs) for pick in (min, max))
        held = all(off.low <= lowest and highest <= off.high for off in offs)
        asked = {side.decision.action for side in read}
        return len(asked) > 1 or not held or highest - lowest >= NOTICED_CENTS

    @property
    def misplaced(self) -> str | None:
        """The slide that readings say is not where it was logged."""
        return self.jump.slide if self.jump and self.jump.logged_mm is None else None

    @property
    def asks(self) -> bool:
        """Whether a side that was read asks for another reading first."""
        return any(self.sides[side].decision.action is Action.READ for side in self.read_sides)

    def moves_of(self, side: str) -> tuple[Any, ...]:
        """Return the moves of the slides that are set for a side."""
        return tuple(move for move in self.moves if move.slide in self.sides[side].slides)

    @property
    def wished_cents(self) -> dict[str, float]:
        """What slides are to take away from each side that was read [nominal cents]."""
        if self.decision.action is not Action.MOVE:
            return {}
        return {side: self.sides[side].wished_cents for side in self.read_sides}

    def to_json(self) -> dict[str, Any]:
        """Return the answer as one JSON object (numbers unrounded)."""
        return {
            **_json_of_side(self.sides[self.side]),
            "decision": self.decision.action.value,
            "reason": self.decision.reason.value,
            "moves": [move.to_json() for move in self.moves],
            "side": self.side,
            "sides_apart": self.apart,
            "sides": {
                name: {
                    **_json_of_side(side),
                    "decision": side.decision.action.value,
                    "reason": side.decision.reason.value,
                    "read_tonight": self.readings > 0 and name in self.read_sides,
                    "moves": [move.to_json() for move in self.moves_of(name)],
                    "readings_wanted": None
                    if side.wanted is None
                    else {"count": side.wanted.count, "note": side.wanted.note},
                }
                for name, side in self.sides.items()
            },
            "surprises": [surprise.value for surprise in self.surprises],
            "jump": None if self.jump is None else self.jump.to_json(),
            "last_reading": None if self.last is None else self._json_of_last(self.last),
            "readings_used": self.readings,
            "readings_not_used": [
                {"reason": reason.value, "count": count} for reason, count in self.not_used.items()
            ],
            "warmth": self.warmth,
            "a4_hz": self.a4_hz,
        }

    def _json_of_last(self, last: Expected) -> dict[str, Any]:
        cents, expected = self.last_cents or (0.0, 0.0)
        return {
            "side": last.reading.side,
            "note": last.reading.note,
            "cents": cents,
            "expected_cents": expected,
            "expected_sd_cents": last.sd_cents,
        }


def _json_of_side(side: SideNow) -> dict[str, Any]:
    return {
        "off_cents": side.off_cents.to_json(),
        "ahead": [
            {"minutes": item.minutes, "off_cents": item.off_cents.to_json()} for item in side.ahead
        ],
    }


def pitch_now(
    knowledge: Knowledge, evening: Evening, now_minutes: float, *, a4_hz: float = 440.0
) -> PitchNow:
    """Return how far off a player is now, where it goes, and what to do.

    Parameters
    ----------
    knowledge : Knowledge
        What earlier rehearsals say of the player (`drift.tonight.know`), with every note that is
        read tonight; worked out once an evening.
    evening : Evening
        What was logged tonight.
    now_minutes : float
        Now, on the clock of the evening [min].
    a4_hz : float
        What tonight is tuned to [Hz].

    Returns
    -------
    PitchNow
        In tune means that the mean of the side's tuning notes is 0 at tonight's A4.
    """
    readings, not_used = usable(knowledge.instrument, evening, now_minutes)
    readings = [r for r in readings if (r.side, r.note) in knowledge.notes]
    belief = follow(knowledge, evening, readings, now_minutes)
    off = off_samples(belief, evening, now_minutes, AHEAD_MINUTES, a4_hz)
    main = next((r.side for r in reversed(readings) if r.side in off), next(iter(off)))
    order = _order_of_work(knowledge)
    read = [side for side in order if any(r.side == side for r in readings)] or [main]
    surprises = surprises_of(belief)
    decisions = {
        side: _decide(knowledge, belief, samples, surprises, bool(readings))
        for side, samples in off.items()
    }
    slides = _slides_by_side(knowledge, read)
    sides = {
        side: SideNow(
            _estimate(samples[:, 0]),
            tuple(Ahead(m, _estimate(samples[:, place])) for m, place in REPORTED.items()),
            decisions[side],
            decisions[side].cents / knowledge.moved_cents(1.0 + belief.slope_error, side=side),
            slides.get(side, ()),
            _wanted(decisions[side], belief, evening, side, now_minutes, a4_hz)
            if side in read
            else None,
            tuple(slide.name for slide in knowledge.instrument.slides if side in slide.sides),
        )
        for side, samples in off.items()
    }
    return PitchNow(
        instrument=knowledge.instrument.name,
        side=main,
        sides=sides,
        decision=_foremost({side: sides[side].decision for side in read}, main),
        read_sides=tuple(read),
        surprises=surprises,
        jump=jump_of(belief, surprises, now_minutes),
        last=belief.expected[-1] if belief.expected else None,
        not_used=not_used,
        readings=len(readings),
        warmth=belief.warmth,
        a4_hz=a4_hz,
        step_mm=knowledge.instrument.step_mm,
    )


def _wanted(
    decision: Decision, belief: Belief, evening: Evening, side: str, now: float, a4_hz: float
) -> Wanted | None:
    """Return the readings that will most likely decide about a side, where something is unclear."""
    if decision.reason is Reason.UNSURE:
        return readings_wanted(belief, evening, side, now, AHEAD_MINUTES[:WEIGHED], a4_hz)
    if decision.reason is not Reason.SURPRISE:
        return None
    last = belief.expected[-1].reading
    return Wanted(1, last.note if last.side == side else least_read(belief, side))


def _order_of_work(knowledge: Knowledge) -> list[str]:
    """Return the sides that can be judged in the order players tune them: first slide first."""
    by_slide = [side for slide in knowledge.instrument.slides for side in slide.sides]
    return [side for side in dict.fromkeys([*by_slide, *knowledge.tuning_notes])
            if side in knowledge.tuning_notes]  # fmt: skip


def _slides_by_side(knowledge: Knowledge, read: Sequence[str]) -> dict[str, tuple[str, ...]]:
    """Return the slides that are set for each side that was read; each slide is set once."""
    found: dict[str, list[str]] = {side: [] for side in read}
    for slide in knowledge.instrument.slides:
        first = next((side for side in read if side in slide.sides), None)
        if first is not None:
            found[first].append(slide.name)
    return {side: tuple(names) for side, names in found.items()}


def _estimate(samples: Array) -> Estimate:
    low, high = (float(q) for q in np.quantile(samples, [0.025, 0.975]))
    return Estimate(float(samples.mean()), low, high)


def _decide(
    knowledge: Knowledge,
    belief: Belief,
    off: Array,
    surprises: tuple[Surprise, ...],
    any_reading: bool,
) -> Decision:
    """Return the decision for one side, with the reason that says most."""
    found = decide_playing(off[:, :WEIGHED].mean(axis=1))
    if not knowledge.instrument.slides:
        return replace(found, action=Action.LEAVE, reason=Reason.FIXED_PITCH)
    if not any_reading:
        return replace(found, action=Action.READ, reason=Reason.NO_READING)
    if found.action is not Action.MOVE and Surprise.UNEXPECTED in surprises:
        return replace(found, action=Action.READ, reason=Reason.SURPRISE)
    cold = belief.warmth < WARM_ENOUGH and abs(float(np.median(off[:, 0]))) >= NOTICED_CENTS
    if found.reason is Reason.IN_TUNE and cold:
        return replace(found, reason=Reason.WARMING_UP)
    return found


def _foremost(decisions: Mapping[str, Decision], main: str) -> Decision:
    """Return the decision that comes first: a move, then a reading, then to leave it."""
    order = [Action.MOVE, Action.READ, Action.LEAVE]
    return min(decisions.items(), key=lambda item: (order.index(item[1].action), item[0] != main))[
        1
    ]
