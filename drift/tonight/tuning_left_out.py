"""Steps of a tuning that are not done: left out by the player, or a slide that is stuck."""

from __future__ import annotations

from dataclasses import replace

from drift.errors import InputError
from drift.tonight.tuning_steps import Step, Tuning
from drift.tonight.valves import valve_left_alone

__all__ = ["found_stuck", "left_out"]


def left_out(tuning: Tuning) -> Tuning:
    """Return the tuning without the step that was asked: a note is passed over, a slide left.

    Raises
    ------
    InputError
        Where it is asked where a slide is: every move is counted from there.
    """
    now = tuning.now
    match now.step:
        case Step.SAY_POSITION:
            raise _measure("where a slide is cannot be left out: moves count from there")
        case Step.MOVE:
            return _without_move(replace(tuning, left=tuning.left | {now.slide}))
        case Step.VALVE_PLAY | Step.VALVE_MOVE:
            valves = valve_left_alone(tuning.valves, now.side, now.valve)
            return replace(tuning, valves=valves)
        case Step.PLAY | Step.PLAY_AGAIN | Step.CHECK:
            state = tuning.sides[now.side]
            passed = replace(state, skipped=(*state.skipped, now.note))
            sides = {**tuning.sides, now.side: passed}
            return replace(tuning, sides=sides, class_note=None)
    return tuning


def found_stuck(tuning: Tuning) -> Tuning:
    """Return the tuning where the slide that was asked for does not move.

    Nobody has said yet where that is, if its position was asked.

    Raises
    ------
    InputError
        Where no slide is asked for, or it is known already that it is stuck.
    """
    now = tuning.now
    if now.valve:
        return left_out(tuning)
    if not now.slide:
        raise InputError(
            "no slide is to be moved now", "type stuck when one is asked for that does not move"
        )
    if now.step is Step.SAY_POSITION and now.slide in tuning.stuck:
        raise _measure("where it is stuck is not known yet")
    stuck = replace(tuning, stuck=tuning.stuck | {now.slide})
    return _without_move(stuck) if now.step is Step.MOVE else stuck


def _measure(problem: str) -> InputError:
    return InputError(problem, "measure it from fully in; a slide that is fully in is at 0")


def _without_move(tuning: Tuning) -> Tuning:
    """Return the tuning that goes on without the slide that was to be moved."""
    sides = {name: replace(s, finished=False, at_end=False) for name, s in tuning.sides.items()}
    return replace(tuning, pending=(), sides=sides)
