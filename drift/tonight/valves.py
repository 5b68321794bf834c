"""Valve slides, one valve at a time, and what combinations of them leave."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import combinations
from math import log, log2

from drift.instruments.anatomy import CENTS_PER_OCTAVE, Instrument
from drift.notes import midi_of, note_of_midi
from drift.tonight.decision import round_mm
from drift.tonight.tuning_belief import TuningBelief

__all__ = ["ValveStep", "combination_cents", "next_valve", "valve_answer", "valve_left_alone"]

LEFT_ALONE_CENTS = 3.0
"""A valve that is so near is left alone."""
LEGS = 2.0
"""Millimetres of air for each of a valve slide, which is U-shaped (common practice)."""


@dataclass(frozen=True)
class ValveStep:
    """The loop of one valve while it is tuned.

    Attributes
    ----------
    side, valve : str
        Which loop.
    note : str
        What it sounds alone: the first open tuning note, lowered.
    cents : float
        How sharp it was against its open note [cents].
    move_mm : float or None
        The move that mends it, None until it is read.
    read, done : bool
        Whether it was read, and whether it is finished.
    """

    side: str
    valve: str
    note: str = ""
    cents: float = 0.0
    move_mm: float | None = None
    read: bool = False
    done: bool = False


def semitones_of(instrument: Instrument, valve: str) -> int:
    """Return by how many semitones a valve lowers."""
    fraction = next(v.fraction for v in instrument.valves if v.name == valve)
    return round(12.0 * log2(1.0 + fraction))


def next_valve(
    instrument: Instrument, steps: tuple[ValveStep, ...]
) -> tuple[tuple[ValveStep, ...], ValveStep | None]:
    """Return the steps with the next one under way, and that one (None: all done).

    A move that was shown counts as made: the next call goes on to the next valve.
    """
    listed = list(steps)
    for place, step in enumerate(listed):
        if step.done:
            continue
        if not step.read:
            open_note = instrument.side(step.side).tuning_notes[0]
            lowered = midi_of(open_note) - semitones_of(instrument, step.valve)
            listed[place] = replace(step, note=note_of_midi(lowered))
            return tuple(listed), listed[place]
        move = _move_mm(instrument, step)
        listed[place] = replace(step, move_mm=move, done=True)
        if move:
            return tuple(listed), listed[place]
    return tuple(listed), None


def _move_mm(instrument: Instrument, step: ValveStep) -> float:
    """Return the move of a valve slide that brings its note back to the open one [mm]."""
    if abs(step.cents) <= LEFT_ALONE_CENTS:
        return 0.0
    fraction = next(v.fraction for v in instrument.valves if v.name == step.valve)
    length_mm = 1000.0 * instrument.side(step.side).length_m * (1.0 + fraction)
    factor = instrument.slides[0].effect.mean
    slope = CENTS_PER_OCTAVE / log(2.0) * LEGS / length_mm * factor
    return round_mm(step.cents / slope)


def valve_answer(
    steps: tuple[ValveStep, ...], belief: TuningBelief, side: str, note: str, cents: float
) -> tuple[ValveStep, ...]:
    """Return the steps after the note of the valve under way was read.

    The open side is the reference: what it is off itself is not the valve's.
    """
    off, _ = belief.estimate(side)
    return tuple(
        replace(step, cents=cents - off, read=True)
        if (step.side, step.note) == (side, note) and not step.read
        else step
        for step in steps
    )


def valve_left_alone(steps: tuple[ValveStep, ...], side: str, valve: str) -> tuple[ValveStep, ...]:
    """Return the steps with one valve finished and not moved: off as it was read, if it was."""
    return tuple(
        replace(step, move_mm=0.0, done=True) if (step.side, step.valve) == (side, valve) else step
        for step in steps
    )


def combination_cents(
    instrument: Instrument, sharp_cents: Mapping[str, float] | None = None
) -> dict[str, float]:
    """Return what combinations of valves leave, from how each valve alone is off.

    Parameters
    ----------
    instrument : Instrument
        The instrument.
    sharp_cents : mapping of str to float, optional
        How sharp each valve is alone [cents]; 0 where it is not given. A third loop that was
        built or pulled long is flat alone, and 2+3 with it.

    Returns
    -------
    dict of str to float
        By combination, such as ``1+2``: cents against equal temperament, positive when sharp.

    Notes
    -----
    ``100 n - 1200 log2(1 + sum of the loops)``, with each loop as long as its own note says.

    Examples
    --------
    >>> from drift.instruments.catalogue import Catalogue
    >>> left = combination_cents(Catalogue.shipped().find("Bb trumpet"))
    >>> {name: round(cents, 1) for name, cents in left.items()}
    {'1+2': 10.6, '2+3': 15.5, '1+3': 30.3, '1+2+3': 53.6}
    >>> long = combination_cents(Catalogue.shipped().find("Bb trumpet"), {"3": -20.0})
    >>> round(long["2+3"], 1)
    -3.5
    """
    names = [v.name for v in instrument.valves if v.name in ("1", "2", "3")]
    if len(names) < 3:
        return {}
    semitones = {name: semitones_of(instrument, name) for name in names}
    loops = {
        name: 2.0 ** ((100.0 * semitones[name] - (sharp_cents or {}).get(name, 0.0)) / 1200.0) - 1.0
        for name in names
    }
    listed = [tuple(sorted(c)) for size in (2, 3) for c in combinations(names, size)]
    listed.sort(key=lambda c: (len(c), sum(semitones[name] for name in c)))
    return {
        "+".join(chosen): 100.0 * sum(semitones[name] for name in chosen)
        - CENTS_PER_OCTAVE * log2(1.0 + sum(loops[name] for name in chosen))
        for chosen in listed
    }
