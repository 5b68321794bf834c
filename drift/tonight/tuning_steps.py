"""A tuning at a moment, and the next instruction, as codes and numbers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum

from drift.instruments.anatomy import Instrument
from drift.regression.estimates import NORMAL_95
from drift.regression.results import Estimate
from drift.tonight.decision import chance_within
from drift.tonight.open_notes import ClassNote
from drift.tonight.tuning_belief import TuningBelief
from drift.tonight.valves import ValveStep

__all__ = ["READING_SD_CENTS", "Instruction", "SideState", "Step", "Tuning"]

READING_SD_CENTS = 3.0
"""Spread of a reading that is held two seconds; long ones have 2."""


WITHIN_PROBABILITY, KNOWN_CENTS = 0.85, 3.0
"""A side is called in tune from such a probability of it on; how it is left is known once its
standard deviation is no larger [cents]."""


class Step(StrEnum):
    """What to do next."""

    SAY_POSITION = "say_position"  # where a slide is
    WARM_UP = "warm_up"
    PLAY = "play"  # a long note on a side
    PLAY_AGAIN = "play_again"  # it does not fit
    MOVE = "move"  # a tuning slide
    CHECK = "check"  # a lower partial
    VALVE_PLAY = "valve_play"
    VALVE_MOVE = "valve_move"
    DONE = "done"


@dataclass(frozen=True)
class Instruction:
    """What to do next, as a code and numbers.

    Attributes
    ----------
    step : Step
        What.
    side, note, slide, valve : str
        Where.
    cents : float
        How far off the side (or the valve) is taken to be, or how much it would still rise.
    move_mm, to_mm : float or None
        The move, positive outwards, and where to.
    minutes : float
        How long to play first.
    first : bool
        Whether this begins a side.
    expected_cents : float
        What was expected of a note that is to be played again [cents].
    swap : bool
        Whether the move serves to give another side room.
    """

    step: Step
    side: str = ""
    note: str = ""
    slide: str = ""
    valve: str = ""
    cents: float = 0.0
    move_mm: float = 0.0
    to_mm: float | None = None
    minutes: float = 0.0
    expected_cents: float = 0.0
    first: bool = False
    swap: bool = False


@dataclass(frozen=True)
class SideState:
    """How far the tuning of one side has come.

    Attributes
    ----------
    readings, moves : int
        So far.
    last_cents : float
        What the tuner showed last [cents].
    notes, skipped : tuple of str
        Those read, and those left out.
    finished : bool
        Whether its slides are left now.
    at_end : bool
        Whether no slide goes further.
    checked : bool
        Whether a lower partial was read.
    habits : dict of str to float
        Notes found to differ from the others by habit [cents].
    """

    readings: int = 0
    moves: int = 0
    last_cents: float = 0.0
    notes: tuple[str, ...] = ()
    skipped: tuple[str, ...] = ()
    finished: bool = False
    at_end: bool = False
    checked: bool = False
    habits: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Tuning:
    """A tuning at a moment.

    Attributes
    ----------
    instrument : Instrument
        The instrument.
    belief : TuningBelief
        What is believed.
    now : Instruction
        What to do.
    sides : dict of str to SideState
        In the order of work.
    travel_mm : mapping of str to float
        Usable travel of slides, where it is known [mm].
    stuck, left : frozenset of str
        Slides that do not move, and those that the player left where they are.
    class_note : ClassNote or None
        The note that a whole class tunes to, still to be read.
    pending : tuple of Instruction
        Moves that belong together.
    valves : tuple of ValveStep
        Valve slides, in the order of work; empty where they are not asked for.
    reading_sd_cents : float
        Spread of a reading.
    last_mm : mapping of str to float
        Where slides were on an earlier evening, to be proposed: nobody knows that they still are
        [mm].
    """

    instrument: Instrument
    belief: TuningBelief
    now: Instruction
    sides: dict[str, SideState]
    travel_mm: Mapping[str, float] = field(default_factory=dict)
    stuck: frozenset[str] = frozenset()
    left: frozenset[str] = frozenset()
    class_note: ClassNote | None = None
    pending: tuple[Instruction, ...] = ()
    valves: tuple[ValveStep, ...] = ()
    reading_sd_cents: float = READING_SD_CENTS
    last_mm: Mapping[str, float] = field(default_factory=dict)

    def asks_where(self, slide: str) -> Tuning:
        """Return the tuning that asks where a slide is."""
        asked = Instruction(Step.SAY_POSITION, slide=slide, to_mm=self.last_mm.get(slide))
        return replace(self, now=asked)

    def off_cents(self, side: str) -> Estimate:
        """Return how far off a side is left, warm, with its 95 % interval [cents]."""
        mean, sd = self.belief.estimate(side)
        return Estimate(mean, mean - NORMAL_95 * sd, mean + NORMAL_95 * sd)

    def in_tune(self, side: str) -> float:
        """Return the probability that a side is within three cents."""
        return chance_within(self.belief.off(side))

    def within(self, side: str) -> bool:
        """Return whether a side is called in tune."""
        return self.in_tune(side) >= WITHIN_PROBABILITY

    def known(self, side: str) -> bool:
        """Return whether enough was read of a side to say how it is left."""
        state = self.sides[side]
        _, sd = self.belief.estimate(side)
        return bool(state.readings) and (state.at_end or sd <= KNOWN_CENTS or self.within(side))

    @property
    def reached(self) -> bool:
        """Whether it ends tuned: each side is known, and none off by a slide left where it is."""
        return all(
            self.known(side) and (self.within(side) or not self.left_on(side))
            for side in self.sides
        )

    @property
    def unmoved(self) -> frozenset[str]:
        """The slides that are not asked for any more."""
        return self.stuck | self.left

    def left_on(self, side: str) -> list[str]:
        """Return the slides of a side that the player left where they are."""
        return [s.name for s in self.instrument.slides if side in s.sides and s.name in self.left]
