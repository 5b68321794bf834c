"""Tuning step by step in words: the answer to the last step, and the next one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import ceil

from drift.instruments.anatomy import Instrument
from drift.notes import shown, written_of
from drift.quantities import METRIC, Units, degrees_in
from drift.regression.estimates import NORMAL_95
from drift.slides.pooled_tunings import PooledSlope
from drift.tonight.tuned import Tuned
from drift.tonight.tuning_steps import Step, Tuning
from drift.words.cents import (
    degrees,
    deviation,
    length,
    making_up,
    order,
    position,
    slide_name,
    slide_noun,
)
from drift.words.letters import capital

__all__ = ["closing", "combinations", "ended", "next_step", "pooled_in_words", "side_done"]

THUMB = {"Bb": "thumb down, ", "F": "thumb up, "}
"""What the thumb valve does on a double horn (common practice; it is set up so on most)."""
HAND_IN_THE_BELL = ("double horn", "F horn", "Bb horn")
"""Played with the valves left and the right hand in the bell, so that no hand is free for a slide
(common practice)."""
SEEN_CENTS = 1.0
TOLD_RISE_CENTS = 2.0
"""With so much of its rise still to come, what is off once it is warm is named so: the tuner shows
less."""
NOT_READ = "Not tuned: nothing is marked, and no tuned state is saved."
NOT_TUNED = (
    "Not tuned: nothing is marked, and no tuned state is saved. Tune again within 45 minutes, and "
    "it goes on from what was read."
)
LIPPED_CENTS = 25.0
"""Lips bend a valved note about so far without spoiling it (common practice)."""


def next_step(
    tuning: Tuning,
    before: Tuning | None = None,
    units: Units = METRIC,
    *,
    written: bool = False,
    comes_back: bool = False,
) -> str:
    """Return the next step of a tuning, after what the last one came to.

    Parameters
    ----------
    tuning : Tuning
        Now.
    before : Tuning, optional
        The step before, to say which side was finished and which note has a habit.
    units : Units
        Of the player.
    written : bool
        Whether notes are named as the player reads them; a note that was not read yet is then
        named as it sounds, too, and else said to be a sounding one, where that differs.
    comes_back : bool
        Whether the player comes back to a tuning that was broken off: how a side is played is then
        named with its next note, as with its first.
    """
    told = [] if before is None else _came_to(tuning, before, written)
    now = tuning.now
    how = _how(tuning) if now.note and not now.valve and (now.first or comes_back) else ""
    if not how and len(tuning.sides) > 1 and not now.swap:
        how = _side(now.side)
    return " ".join([*told, how + _step(tuning, before, units, written)]).strip()


def closing(
    tuning: Tuning,
    before: Tuning | None,
    tuned: Tuned,
    units: Units = METRIC,
    *,
    written: bool = False,
) -> list[str]:
    """Return the lines that end a tuning: the last side, what valves leave, the pencil marks.

    Parameters
    ----------
    tuning, before : Tuning
        At its end, and the step before.
    tuned : Tuned
        The state it has reached.
    units : Units
        Of the player.
    written : bool
        Whether notes are named as the player reads them.
    """
    told = [] if before is None else _came_to(tuning, before, written)
    left = [
        combinations(tuning.instrument, side, cents)
        for side, cents in tuned.combinations_cents.items()
    ]
    return [line for line in [*told, *left, ended(tuning, tuned, units)] if line]


def _step(tuning: Tuning, before: Tuning | None, units: Units, written: bool) -> str:
    now, note = tuning.now, _note(tuning, written)
    match now.step:
        case Step.SAY_POSITION:
            measure = "Inches" if units.inches else "Millimetres"
            noun = slide_noun(now.slide, tuning.instrument.name)
            stuck = " stuck" if now.slide in tuning.stuck else ""
            asked = f"Where is the {noun}{stuck}? {measure} from fully in."
            if now.to_mm is None:
                return asked
            return f"{asked} Enter: {position(now.to_mm, units, 0.01)}, as last time."
        case Step.WARM_UP:
            return (
                f"Warm enough? Play {ceil(now.minutes):d} more minutes first; "
                f"you would still rise about {max(round(now.cents), 0):d}."
            )
        case Step.PLAY:
            return _play(tuning, before, note)
        case Step.PLAY_AGAIN:
            return f"{note} is {deviation(now.cents)}, the others are not. Once more."
        case Step.CHECK:
            return f"Now {note}, long."
        case Step.MOVE:
            return _move(tuning, units)
        case Step.VALVE_PLAY:
            return f"Valve {now.valve} alone: {note}, long."
        case Step.VALVE_MOVE:
            way = "Pull" if now.move_mm > 0 else "Push in"
            return (
                f"Valve {now.valve} alone: {deviation(now.cents)}. "
                f"{way} its slide {length(now.move_mm, units)}."
            )
        case Step.DONE:
            return ended(tuning, units=units)


def _note(tuning: Tuning, written: bool) -> str:
    """Return the note of a step; until it was read once, with how it sounds, or that it does."""
    note, semitones = tuning.now.note, tuning.instrument.written_semitones
    name = shown(written_of(note, semitones)) if note and semitones and written else shown(note)
    read = {each for side in tuning.sides.values() for each in side.notes}
    if not (note and semitones) or note in read:
        return name
    return f"{name}, sounding {shown(note)}" if written else f"{name} (sounding)"


def _how(tuning: Tuning) -> str:
    """Return how the side that is asked for is played."""
    side, brass = tuning.now.side, tuning.instrument.family == "brass"
    thumb = THUMB.get(side, "") if len(tuning.sides) > 1 else ""
    if tuning.class_note is not None and not tuning.class_note.open:
        return capital(f"{_side(side)}{thumb}as in the band. ")
    valves = "no valves. " if brass and tuning.instrument.valves else ""
    return capital(f"{_side(side)}{thumb}{valves}")


def _play(tuning: Tuning, before: Tuning | None, note: str) -> str:
    now = tuning.now
    if now.first:
        return f"Long {note}, eyes off the tuner."
    last = None if before is None else before.now
    if last is not None and last.step is Step.MOVE:
        return f"Play {note}."
    same = last is not None and last.step is Step.PLAY and last.note == now.note
    return f"{note} once more, long." if same else f"Now {note}, long."


def _move(tuning: Tuning, units: Units) -> str:
    now, instrument = tuning.now, tuning.instrument
    noun = slide_noun(now.slide, instrument.name)
    to = "" if now.to_mm is None else position(now.to_mm, units, 0.25)
    far = length(now.move_mm, units, 0.25)
    if now.swap:
        text = order(noun, now.move_mm, far, to)
        common = next(slide for slide in instrument.slides if len(slide.sides) > 1)
        if now.slide == common.name:
            return f"{text}."
        return f"{text}: {making_up(slide_noun(common.name, instrument.name), -now.move_mm)}."
    off = f"{capital(deviation(now.cents))}{_once_warm(tuning)}. "
    head = off if abs(now.cents) >= SEEN_CENTS else ""
    return f"{head}{order(noun, now.move_mm, far, to)}."


def _once_warm(tuning: Tuning) -> str:
    """Return that what is off is so once it is warm, where the tuner shows something else now."""
    return " once it is warm" if abs(tuning.belief.rise_left()) >= TOLD_RISE_CENTS else ""


def _came_to(tuning: Tuning, before: Tuning, written: bool) -> list[str]:
    """Return what the last step came to: a habit found, a side finished."""
    told = []
    semitones = tuning.instrument.written_semitones if written else 0
    for side, state in tuning.sides.items():
        for note, cents in state.habits.items():
            if note not in before.sides[side].habits:
                lip = "Lip it down" if cents > 0 else "Lip it up"
                name = shown(written_of(note, semitones))
                told.append(f"Same again: that is {name}'s habit. {lip}; leave the slide.")
        first = tuning.now.swap and not before.now.swap
        if first and tuning.now.side == side:
            own = next(s for s in tuning.instrument.slides if s.sides == (side,))
            told.append(f"The {slide_noun(own.name)} is in and you are flat.")
        if _left(tuning, side) and not _left(before, side):
            told.append(side_done(tuning, side))
    return told


def _left(tuning: Tuning, side: str) -> bool:
    """Return whether a side is done with: finished, and its last move made."""
    under_way = tuning.now.step is Step.MOVE and tuning.now.side == side
    return tuning.sides[side].finished and not under_way


def side_done(tuning: Tuning, side: str) -> str:
    """Return how a side is left.

    Parameters
    ----------
    tuning : Tuning
        The tuning.
    side : str
        The side.
    """
    warm = _once_warm(tuning)
    off, name = tuning.off_cents(side), capital(f"{shown(side)} side" if side else "the instrument")
    if tuning.sides[side].at_end:
        return f"{name} stays {deviation(off.estimate)}{warm}: {_why_no_further(tuning, side)}."
    if not tuning.sides[side].readings:
        return f"{name}: no note was read."
    if tuning.within(side):
        return f"{name} within 3 cents{warm}."
    return f"{name} not sure: between {deviation(off.low)} and {deviation(off.high)}{warm}."


def _why_no_further(tuning: Tuning, side: str) -> str:
    """Return why no slide of a side goes further: its own that are stuck or left, or their end."""
    earlier = list(tuning.sides)[: list(tuning.sides).index(side)]
    own = [
        slide.name
        for slide in tuning.instrument.slides
        if side in slide.sides and not any(name in slide.sides for name in earlier)
    ]
    told = []
    for slides, how in ((tuning.stuck, "stuck"), (tuning.left, "left where")):
        if named := [name for name in own if name in slides]:
            nouns = " and ".join(f"the {slide_noun(n, tuning.instrument.name)}" for n in named)
            be, it = ("is", "it is") if len(named) == 1 else ("are", "they are")
            told.append(f"{nouns} {be} {how}{f' {it}' if how == 'left where' else ''}")
    if not told:
        return "no slide goes further"
    others = not all(name in tuning.unmoved for name in own)
    return f"{' and '.join(told)}{', and no other goes further' if others else ''}"


def combinations(instrument: Instrument, side: str, cents: Mapping[str, float]) -> str:
    """Return what combinations of valves leave, for hand and lips.

    Parameters
    ----------
    instrument : Instrument
        The instrument.
    side : str
        The side, ``""`` where there is one.
    cents : mapping of str to float
        By combination, such as ``1+2`` [cents].

    Examples
    --------
    >>> from drift.instruments.catalogue import Catalogue
    >>> trumpet = Catalogue.shipped().find("Bb trumpet")
    >>> print(combinations(trumpet, "", {"1+2": 10.6, "2+3": -3.5}))
    Together, 1 and 2 stay about 11 sharp: lip them down. 2 and 3 about 4 flat: lip them up.
    >>> print(combinations(trumpet, "", {"1+2+3": 53.6}))  # doctest: +NORMALIZE_WHITESPACE
    Together, 1, 2 and 3 stay about 54 sharp: too far for the lips. Pull
    the third slide while you play them, or take other valves.
    """
    parts = [
        f"{_valves(name)}{' stay' if not place else ''} about {deviation(value)}: "
        f"{_for_the_lips(instrument, value)}."
        for place, (name, value) in enumerate(
            (n, v) for n, v in cents.items() if abs(v) >= SEEN_CENTS
        )
    ]
    where = _side(side) if side and len(instrument.sides) > 1 else ""
    return f"{where}Together, {' '.join(parts)}" if parts else ""


def _valves(name: str) -> str:
    *most, last = name.split("+")
    return f"{', '.join(most)} and {last}"


def _for_the_lips(instrument: Instrument, cents: float) -> str:
    if abs(cents) <= LIPPED_CENTS:
        return f"lip them {'down' if cents > 0 else 'up'}"
    if cents < 0 or instrument.name in HAND_IN_THE_BELL:
        return "too far for the lips. Take other valves"
    return "too far for the lips. Pull the third slide while you play them, or take other valves"


def ended(tuning: Tuning, tuned: Tuned | None = None, units: Units = METRIC) -> str:
    """Return where the pencil mark goes, and what the tuning rests on.

    Parameters
    ----------
    tuning : Tuning
        At its end.
    tuned : Tuned, optional
        The tuned state, with the air.
    units : Units
        Of the player.
    """
    slides = tuning.instrument.slides
    if not tuning.sides or not slides:
        return "This instrument cannot be tuned: the others tune to it."
    marks = ", ".join(
        f"{slide_name(s.name, tuning.instrument.name)} "
        f"at {position(tuning.belief.positions_mm[s.name], units, 0.25)}"
        for s in slides
    )
    if not tuning.reached:
        return NOT_TUNED if any(s.readings for s in tuning.sides.values()) else NOT_READ
    lines = [f"Mark {marks}."]
    if tuned is not None and tuned.celsius is not None:
        whole = round(degrees_in(tuned.celsius, units), 1).is_integer()
        lines.append(f"Tuned at {degrees(tuned.celsius, units, 0 if whole else 1)}, warm.")
    return " ".join(lines)


def pooled_in_words(
    slopes: Sequence[PooledSlope], units: Units = METRIC, instrument: str = ""
) -> list[str]:
    """Return what the tunings of a player taught of the slides, a line each.

    Parameters
    ----------
    slopes : sequence of PooledSlope
        Those known well enough.
    units : Units
        Of the player.
    instrument : str
        Of which instrument.

    Examples
    --------
    >>> pooled_in_words([PooledSlope("main", "Bb", 5, -1.52, 0.066)])
    ['Over 5 tunings, a millimetre of the main slide moved the B♭ side by 1.52 cents (± 13 %).']
    """
    per, over = ("a sixteenth of an inch", 25.4 / 16) if units.inches else ("a millimetre", 1.0)
    return [
        f"Over {one.tunings} tunings, {per} of the {slide_noun(one.slide, instrument)} moved "
        f"{f'the {shown(one.side)} side' if one.side else 'the pitch'} by "
        f"{abs(one.cents_per_mm) * over:.2f} cents (± {NORMAL_95 * 100 * one.relative_sd:.0f} %)."
        for one in slopes
    ]


def _side(side: str) -> str:
    return f"{shown(side)} side: " if side else ""
