"""Tuning step by step: from one reading or move to the next instruction.

A pure state machine. `begin_tuning` gives a `Tuning`; its ``now`` is what to do, as codes and
numbers; `heard`, `set_to`, `played`, `skip` and `is_stuck` answer it and give the next `Tuning`.
The order of work is that of players (common practice): warm up, the first side with the first
slide, open notes; the other side with its own slide; a lower partial as a check; the valve slides,
one valve at a time; then the pencil mark.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace

from drift.errors import InputError
from drift.instruments.anatomy import Instrument, MeasuredSlopes
from drift.tonight.decision import TUNED_PROBABILITY, Action, Decision, decide_tuning
from drift.tonight.knowledge import Note
from drift.tonight.note_choice import lower_partial, note_to_read
from drift.tonight.open_notes import class_note_on
from drift.tonight.slide_choice import Choice, choose, main_in_for
from drift.tonight.tuning_belief import Habit, believe
from drift.tonight.tuning_left_out import found_stuck, left_out
from drift.tonight.tuning_steps import READING_SD_CENTS, Instruction, SideState, Step, Tuning
from drift.tonight.valves import ValveStep, next_valve, valve_answer

__all__ = [
    "Instruction",
    "SideState",
    "Step",
    "Tuning",
    "begin_tuning",
    "heard",
    "is_stuck",
    "played",
    "played_in_all",
    "set_to",
    "skip",
    "slides_at",
]

TIMES_TO_WARM = 3.0
"""After so many time constants an instrument is warm enough to be tuned."""
MOST_READINGS, MOST_MOVES = 12, 6
"""Of one side; then it is left as well as is known."""
NEAR_CENTS, KNOWN_SD_CENTS = 3.0, 1.6
"""A side so near is not worth another slide; known so well, more readings change nothing."""
STEP_MINUTES = 0.3
"""A reading or a move takes so long, where nothing else is said [min]."""
SURPRISE_SDS = 2.0
DOUBTED_CENTS = 30.0
"""A first reading so far from what is believed with it moves nothing: another is asked for. A cold
instrument rises by less, and a note lies nearer to the others."""
ELSEWHERE_MM = 0.75
"""A slide that was set so far from where it was asked is looked at again."""


def begin_tuning(
    instrument: Instrument,
    *,
    positions_mm: Mapping[str, float] | None = None,
    minutes_played: float = 0.0,
    travel_mm: Mapping[str, float] | None = None,
    stuck: Collection[str] = (),
    habits: Mapping[Note, Habit] | None = None,
    calibration: MeasuredSlopes | None = None,
    reading_sd_cents: float = READING_SD_CENTS,
    class_note: str | None = None,
    valves: bool = True,
) -> Tuning:
    """Begin to tune.

    Parameters
    ----------
    instrument : Instrument
        The instrument.
    positions_mm : mapping of str to float, optional
        Where its slides are, from fully in [mm]; those left out are asked for.
    minutes_played : float
        Minutes of playing so far [min].
    travel_mm : mapping of str to float, optional
        Usable travel of slides [mm].
    stuck : collection of str
        Slides that do not move.
    habits : mapping of (str, str) to Habit, optional
        What is known of the player's notes, by side and note.
    calibration : mapping, optional
        Measured cents per millimetre, by slide and side.
    reading_sd_cents : float
        Spread of a reading: 3, or 2 for long ones.
    class_note : str, optional
        Sounding note to which a whole class tunes; it is read first.
    valves : bool
        Whether the valve slides are tuned as well.

    Returns
    -------
    Tuning

    Examples
    --------
    >>> from drift.instruments.catalogue import Catalogue
    >>> horn = Catalogue.shipped().find("double horn")
    >>> first = begin_tuning(horn, positions_mm={"main": 0, "F": 0, "Bb": 0}, minutes_played=30)
    >>> str(first.now.step), first.now.side
    ('play', 'Bb')
    >>> sharp = heard(first, 18.0)
    >>> str(sharp.now.step), sharp.now.slide, 8 < sharp.now.move_mm < 16
    ('move', 'main', True)
    """
    given = {instrument.slide(name).name: float(mm) for name, mm in (positions_mm or {}).items()}
    order = instrument.slides[0].sides if instrument.slides else ()
    names = [*order, *(s.name for s in instrument.sides if s.name not in order)]
    sides = {name: SideState() for name in names if instrument.side(name).tuning_notes}
    asked = class_note_on(instrument, class_note, list(sides)) if class_note and sides else None
    known = dict(habits or {})
    if asked is not None and (asked.side, asked.note) not in known:
        known[asked.side, asked.note] = Habit(asked.cents, asked.sd_cents)
    belief = believe(
        instrument,
        positions_mm=given,
        minutes_played=minutes_played,
        habits=known,
        calibration=calibration,
        more_notes=[] if asked is None else [(asked.side, asked.note)],
    )
    return _next(
        Tuning(
            instrument,
            belief,
            Instruction(Step.DONE),
            sides,
            travel_mm={instrument.slide(n).name: float(mm) for n, mm in (travel_mm or {}).items()},
            stuck=frozenset(instrument.slide(name).name for name in stuck),
            class_note=asked,
            valves=tuple(
                ValveStep(side, valve.name)
                for side in sides
                for valve in instrument.valves
                if valves
            ),
            reading_sd_cents=reading_sd_cents,
        )
    )


def played(tuning: Tuning, minutes: float) -> Tuning:
    """Answer that the player has played on for some minutes."""
    return _next(replace(tuning, belief=tuning.belief.passed(minutes)))


def played_in_all(tuning: Tuning, minutes: float) -> Tuning:
    """Answer for how long the player has played this evening, before a note is read [min].

    Raises
    ------
    InputError
        If a note was read: what it told rests on the minutes that were known then.
    """
    if any(state.readings for state in tuning.sides.values()):
        raise InputError("a note has been read", "the minutes of playing come before it; undo it")
    before = tuning.belief.minutes
    belief = tuning.belief.passed(max(minutes - before, 0.0))
    return _next(replace(tuning, belief=replace(belief, minutes=minutes)))


def slides_at(tuning: Tuning, positions_mm: Mapping[str, float]) -> Tuning:
    """Answer where slides are, when that is asked [mm from fully in]."""
    named = {tuning.instrument.slide(name).name: float(mm) for name, mm in positions_mm.items()}
    belief = replace(tuning.belief, positions_mm={**tuning.belief.positions_mm, **named})
    return _next(replace(tuning, belief=belief))


def heard(tuning: Tuning, cents: float, *, minutes: float = STEP_MINUTES) -> Tuning:
    """Answer the note that was asked for with what the tuner showed.

    Parameters
    ----------
    tuning : Tuning
        What was asked.
    cents : float
        What the tuner showed, sharp positive [cents].
    minutes : float
        How long it took [min].

    Raises
    ------
    InputError
        If no note was asked for, or the reading is not possible.
    """
    now = tuning.now
    if now.step not in (Step.PLAY, Step.PLAY_AGAIN, Step.CHECK, Step.VALVE_PLAY):
        raise InputError(
            f"{cents:g} cents came in answer to {now.step}", "read a note when one is asked for"
        )
    if not abs(cents) <= 150.0:
        raise InputError(f"{cents:g} cents is not a reading of {now.note}", "give -150 to 150")
    if now.step is Step.VALVE_PLAY:
        valves = valve_answer(tuning.valves, tuning.belief, now.side, now.note, cents)
        return _next(replace(tuning, valves=valves, belief=tuning.belief.passed(minutes)))
    expected, sd = tuning.belief.expected(now.side, now.note)
    surprising = abs(cents - expected) > SURPRISE_SDS * (sd**2 + tuning.reading_sd_cents**2) ** 0.5
    belief = tuning.belief.heard(now.side, now.note, cents, tuning.reading_sd_cents)
    read = replace(
        tuning,
        belief=belief.passed(minutes),
        sides={**tuning.sides, now.side: _after_reading(tuning, now, cents)},
        class_note=None,
    )
    if now.step is Step.CHECK and surprising:
        again = replace(now, step=Step.PLAY_AGAIN, cents=cents - expected, expected_cents=expected)
        return replace(read, now=again)
    return _next(read)


def _after_reading(tuning: Tuning, now: Instruction, cents: float) -> SideState:
    """Return the state of a side after a reading of it."""
    state, habits = tuning.sides[now.side], dict(tuning.sides[now.side].habits)
    differs = cents - now.expected_cents
    if now.step is Step.PLAY_AGAIN and differs * now.cents > now.cents**2 / 2.0:
        habits[now.note] = (differs + now.cents) / 2.0  # twice the same: the note's habit
    return replace(
        state,
        readings=state.readings + 1,
        last_cents=cents,
        notes=(*state.notes, now.note),
        checked=state.checked or now.step in (Step.CHECK, Step.PLAY_AGAIN),
        habits=habits,
    )


def set_to(
    tuning: Tuning, slide: str, position_mm: float, *, minutes: float = STEP_MINUTES
) -> Tuning:
    """Answer where a slide is now.

    Parameters
    ----------
    tuning : Tuning
        What was asked.
    slide : str
        Which slide; a valve's name answers the move of a valve slide.
    position_mm : float
        From fully in [mm].
    minutes : float
        How long it took [min].

    Raises
    ------
    InputError
        If the position is not possible.
    """
    if not 0.0 <= position_mm < 1000.0:
        raise InputError(f"{position_mm:g} mm is not a position", "give mm from fully in")
    now = tuning.now
    if now.step is Step.VALVE_MOVE:
        return _next(tuning)
    name = tuning.instrument.slide(slide).name
    if name not in tuning.belief.positions_mm:
        return slides_at(tuning, {name: position_mm})
    belief = tuning.belief.moved(name, float(position_mm)).passed(minutes)
    sides = dict(tuning.sides)
    if now.side in sides:
        elsewhere = now.to_mm is None or abs(position_mm - now.to_mm) > ELSEWHERE_MM
        state = sides[now.side]
        sides[now.side] = replace(
            state, moves=state.moves + 1, finished=state.finished and not elsewhere
        )
    return _next(replace(tuning, belief=belief, sides=sides))


def skip(tuning: Tuning) -> Tuning:
    """Answer that a step is left out (`drift.tonight.tuning_left_out.left_out`)."""
    return _next(left_out(tuning), warm=True)


def is_stuck(tuning: Tuning) -> Tuning:
    """Answer that a slide does not move (`drift.tonight.tuning_left_out.found_stuck`)."""
    return _next(found_stuck(tuning))


def _next(tuning: Tuning, *, warm: bool = False) -> Tuning:
    """Return the tuning with its next instruction."""
    if tuning.pending:
        return replace(tuning, now=tuning.pending[0], pending=tuning.pending[1:])
    for slide in tuning.instrument.slides:
        if slide.name not in tuning.belief.positions_mm:
            return tuning.asks_where(slide.name)
    begun = any(state.readings for state in tuning.sides.values())
    left = TIMES_TO_WARM * tuning.instrument.priors.warm_minutes - tuning.belief.minutes
    if left > 1e-9 and not begun and not warm and tuning.sides:
        rise = tuning.belief.rise_left()
        return replace(tuning, now=Instruction(Step.WARM_UP, minutes=left, cents=rise))
    for side, state in tuning.sides.items():
        while not state.finished:
            tuning, instruction = _tune_side(tuning, side)
            if instruction is not None:
                return replace(tuning, now=instruction)
            state = tuning.sides[side]
        check = lower_partial(tuning, side)
        if check:
            return replace(tuning, now=Instruction(Step.CHECK, side, check))
    return _next_valve(tuning)


def _tune_side(tuning: Tuning, side: str) -> tuple[Tuning, Instruction | None]:
    """Return the next step of a side, or the tuning with the side finished."""
    state, mixture = tuning.sides[side], tuning.belief.off(side)
    choice = None
    if state.readings and state.moves < MOST_MOVES:
        order = list(tuning.sides)
        choice = choose(
            tuning.instrument, tuning.belief, side, order, tuning.travel_mm, tuning.unmoved
        )
    after = choice.chance_after if choice else 0.0
    decision = decide_tuning(mixture, read=state.readings > 0, chance_after=after)
    if state.readings == 1 and abs(state.last_cents - decision.cents) > DOUBTED_CENTS:
        return _play(tuning, side, decision.cents)
    if decision.action is Action.LEAVE:
        return _finished(tuning, side), None
    move = _move(choice, side, decision.cents) if choice else None
    better = move is not None and after > tuning.in_tune(side)
    if state.readings >= MOST_READINGS:
        return _finished(tuning, side), move if better else None
    known = decision.sd_cents <= KNOWN_SD_CENTS
    if move and (decision.action is Action.MOVE or (known and better)):
        return _finished(tuning, side) if after >= TUNED_PROBABILITY else tuning, move
    near = abs(decision.cents) <= max(NEAR_CENTS, decision.sd_cents)
    if move is None and near and known:
        return _finished(tuning, side, at_end=True), None
    if move is None and not near:
        return _beyond_travel(tuning, side, decision)
    return _play(tuning, side, decision.cents)


def _beyond_travel(
    tuning: Tuning, side: str, decision: Decision
) -> tuple[Tuning, Instruction | None]:
    """Return what is left where the slides of a side go no further: the common one, or nothing."""
    state = tuning.sides[side]
    swap = main_in_for(
        tuning.instrument, tuning.belief, side, decision.cents, tuning.travel_mm, tuning.unmoved
    )
    if state.readings and swap and state.moves < MOST_MOVES:
        first, *rest = (replace(_move(each, side, decision.cents), swap=True) for each in swap)
        sides = {name: replace(s, finished=False) for name, s in tuning.sides.items()}
        return replace(tuning, pending=tuple(rest), sides=sides), first
    if state.readings >= 2 and abs(decision.cents) > 2.0 * decision.sd_cents:
        return _finished(tuning, side, at_end=True), None
    return _play(tuning, side, decision.cents)


def _finished(tuning: Tuning, side: str, *, at_end: bool = False) -> Tuning:
    state = replace(tuning.sides[side], finished=True, at_end=at_end)
    return replace(tuning, sides={**tuning.sides, side: state})


def _move(choice: Choice, side: str, cents: float) -> Instruction:
    return Instruction(
        Step.MOVE, side, slide=choice.slide, cents=cents, move_mm=choice.move_mm, to_mm=choice.to_mm
    )


def _play(tuning: Tuning, side: str, mean: float) -> tuple[Tuning, Instruction | None]:
    """Return the note to read, or the side finished where none is left that tells more."""
    note = note_to_read(tuning, side)
    if note is None:
        return _finished(tuning, side), None
    first = not tuning.sides[side].readings
    return tuning, Instruction(Step.PLAY, side, note, cents=mean, first=first)


def _next_valve(tuning: Tuning) -> Tuning:
    """Return the tuning with the next step of the valve slides, or done.

    A valve is read against its open notes: where these were skipped, it is left out.
    """
    against = tuple(step for step in tuning.valves if tuning.known(step.side))
    valves, found = next_valve(tuning.instrument, against)
    tuning = replace(tuning, valves=valves)
    if found is None:
        return replace(tuning, now=Instruction(Step.DONE))
    step = Step.VALVE_PLAY if found.move_mm is None else Step.VALVE_MOVE
    return replace(
        tuning,
        now=Instruction(
            step, found.side, found.note, valve=found.valve, cents=found.cents,
            move_mm=found.move_mm or 0.0,
        ),
    )  # fmt: skip
