"""Pitch now in words: what to do first, then how far off, then what does not fit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from math import ceil
from types import MappingProxyType
from typing import Protocol

from drift.notes import shown, written_of
from drift.quantities import METRIC, Units
from drift.regression.results import Estimate
from drift.tonight.decision import Action, Reason, round_mm
from drift.tonight.evening import NotUsed
from drift.tonight.pitch_now import WARM_ENOUGH, PitchNow, SideNow
from drift.tonight.progress import Progress
from drift.tonight.target import Target
from drift.words.cents import (
    deviation,
    interval,
    length,
    making_up,
    order,
    position,
    slide_noun,
)
from drift.words.entries import SETTLING
from drift.words.letters import capital
from drift.words.surprises import surprises

__all__ = [
    "after_the_move",
    "answer",
    "moves_in_words",
    "not_used",
    "progress_in_words",
    "target_in_words",
    "targets_in_words",
    "to_do",
]

SEEN_MM = 0.25
"""A smaller move cannot be set by eye (common practice)."""

LITTLE_KNOWN_CENTS = 15.0
"""A target whose interval reaches further to either side promises nothing."""

LATER_MINUTES, SOON_MINUTES = 30.0, 10.0
AGAIN_MINUTES = 5
"""Where readings now decide nothing, the pitch itself moves: look again after so long."""

NOTHING_SAID: Mapping[NotUsed, int] = MappingProxyType({})

NOT_USED = {
    NotUsed.NO_SIDE: "no side named",
    NotUsed.UNKNOWN_SIDE: "a side that the instrument does not have",
    NotUsed.NO_TEMPERATURE: "no temperature near them (add what was read then, with its time)",
    NotUsed.NOT_PLAYING: "before playing began",
    NotUsed.FLAGGED: "flagged as unusual",
    NotUsed.SETTLING: SETTLING,
}


class SlideMove(Protocol):
    """A move of one slide: what words need of it."""

    @property
    def slide(self) -> str:
        """Name of the slide."""

    @property
    def move_mm(self) -> float:
        """How far, positive outwards [mm]."""

    @property
    def to_mm(self) -> float | None:
        """Where to, from fully in [mm]; None where its position is not known."""

    @property
    def makes_up_for(self) -> str | None:
        """The slide for which most of the move makes up, if any."""


def answer(
    now: PitchNow,
    time: datetime,
    units: Units = METRIC,
    semitones: int = 0,
    said: Mapping[NotUsed, int] = NOTHING_SAID,
) -> list[str]:
    """Return the whole answer, a sentence or two a line, the most important first.

    Parameters
    ----------
    now : PitchNow
        The answer as codes and numbers.
    time : datetime
        The moment.
    units : Units
        Of the player.
    semitones : int
        How much higher than they sound the player reads the notes.
    said : mapping of NotUsed to int
        How many readings were said before not to be used: only where there are more, or where
        none can be used, it is said.
    """
    do = to_do(now, units, semitones)
    if now.decision.reason is Reason.NO_READING:
        said = NOTHING_SAID
    more = {why: count for why, count in now.not_used.items() if count > said.get(why, 0)}
    return [*surprises(now, time, units, semitones), *do, *after_the_move(now), *not_used(more)]


def to_do(now: PitchNow, units: Units = METRIC, semitones: int = 0) -> list[str]:
    """Return what to do, and how far off the player is: a line, or one for each side.

    Parameters
    ----------
    now : PitchNow
        The answer as codes and numbers.
    units : Units
        Of the player.
    semitones : int
        How much higher than they sound the player reads the notes.
    """
    if now.apart:
        return [_of_side(now, side, units, semitones) for side in now.read_sides]
    off, decision = now.off_cents, now.decision
    if decision.reason is Reason.NO_READING:
        none = "no reading of tonight can be used" if now.not_used else "nothing was read tonight"
        return [f"Take a reading first: {none}. {capital(_unknown(off))}"]
    if decision.action is Action.READ:
        return [_not_sure(now, now.side, semitones)]
    if decision.action is Action.MOVE:
        moves = moves_in_words(now.moves, now.step_mm, units, now.instrument)
        do = moves or f"Take away {abs(round(decision.cents))} cents."
        return [f"{do} {_you_are(now)}"]
    if decision.reason is Reason.WARMING_UP:
        soon = next(a.off_cents for a in now.ahead if a.minutes == SOON_MINUTES)
        return [
            f"{capital(deviation(off.estimate))} now, but still warming up: "
            f"{deviation(soon.estimate)} in {SOON_MINUTES:.0f} minutes. Leave the slides."
        ]
    first = "Nothing can be moved" if decision.reason is Reason.FIXED_PITCH else "Leave the slides"
    return [
        f"{first}. Now {deviation(off.estimate)} ({interval(off)}); "
        f"in {LATER_MINUTES:.0f} minutes {deviation(_later(now))}."
    ]


def after_the_move(now: PitchNow) -> list[str]:
    """Return where a move of all sides brings the pitch in a while, as a line.

    Nothing where sides lie apart, or the travel of a slide cuts its move short.
    """
    cut = any(move.at_end_of_travel for move in now.moves)
    if now.decision.action is not Action.MOVE or now.apart or cut:
        return []
    later = _later(now) - now.sides[now.side].decision.cents
    return [f"After the move, in {LATER_MINUTES:.0f} minutes {deviation(later)}."]


def _of_side(now: PitchNow, side: str, units: Units, semitones: int) -> str:
    """Return how far off one side is, and what its own slides are to do."""
    here = now.sides[side]
    moves = moves_in_words(now.moves_of(side), now.step_mm, units, now.instrument)
    if here.decision.action is Action.READ and not moves:
        return _not_sure(now, side, semitones)
    off = here.off_cents
    how = f"{shown(side)} side {deviation(off.estimate)} ({interval(off)})"
    return f"{how}. {moves or _moved_with_the_other(now, here) or 'Leave it.'}"


def _moved_with_the_other(now: PitchNow, here: SideNow) -> str:
    """Return that a slide set for another side takes away what this one is off, or nothing."""
    if here.decision.action is not Action.MOVE:
        return ""
    for move in now.moves:
        seen = abs(move.move_mm) >= SEEN_MM and round_mm(move.move_mm, now.step_mm)
        if move.slide in here.moved_by and seen and move.move_mm * here.off_cents.estimate > 0.0:
            return f"The {slide_noun(move.slide, now.instrument)}'s move serves it too."
    return ""


def _not_sure(now: PitchNow, side: str, semitones: int) -> str:
    """Return what is known of a side that asks for another reading, and which one helps."""
    here = now.sides[side]
    low, high = deviation(here.off_cents.low), deviation(here.off_cents.high)
    wanted = here.wanted
    cold = wanted is not None and not wanted.count and now.warmth < WARM_ENOUGH
    state = f"between {low} and {high} now{', and still warming up' if cold else ''}"
    if now.apart:
        return f"{shown(side)} side not sure yet: {state}.{_next_reading(now, side, semitones)}"
    return f"Not sure yet: {state}.{_next_reading(now, side, semitones)}"


def _next_reading(now: PitchNow, side: str, semitones: int) -> str:
    """Return which readings of a side will most likely decide, as a sentence behind others."""
    here = now.sides[side]
    if here.wanted is None:
        return ""
    note = _named(here.wanted.note, semitones)
    if len(now.sides) > 1 and not now.apart:
        note = f"{note} on the {shown(side)} side"
    if here.decision.reason is Reason.SURPRISE:
        return f" Read {note} once more."
    if not here.wanted.count:
        return f" Read {note} in {AGAIN_MINUTES} minutes."
    if here.wanted.count == 1:
        return f" One more reading, of {note}, will most likely decide."
    many = capital(NUMBERS[here.wanted.count])
    return f" {many} more readings, the first of {note}, will most likely decide."


def moves_in_words(
    moves: Sequence[SlideMove],
    step_mm: float = 0.5,
    units: Units = METRIC,
    instrument: str = "",
) -> str:
    """Return the moves of slides as an order, or nothing where none can be seen.

    Parameters
    ----------
    moves : sequence of SlideMove
        In the order players work.
    step_mm : float
        Step to which they are rounded [mm].
    units : Units
        Of the player.
    instrument : str
        Which has those slides.
    """
    said = [
        _move(move, step_mm, units, instrument)
        for move in moves
        if abs(move.move_mm) >= SEEN_MM and round_mm(move.move_mm, step_mm)
    ]
    return " ".join(f"{text}." for text in said)


def _move(move: SlideMove, step_mm: float, units: Units, instrument: str) -> str:
    to = "" if move.to_mm is None else position(move.to_mm, units, step_mm)
    noun = slide_noun(move.slide, instrument)
    text = order(noun, move.move_mm, length(move.move_mm, units, step_mm), to)
    if move.makes_up_for is None:
        return text
    return f"{text}: {making_up(slide_noun(move.makes_up_for, instrument), -move.move_mm)}"


def not_used(counts: Mapping[NotUsed, int]) -> list[str]:
    """Return why readings of tonight were not used, a line for each reason.

    Examples
    --------
    >>> not_used({NotUsed.NO_SIDE: 9})
    ['9 readings not used: no side named.']
    """
    return [
        f"{count} reading{'' if count == 1 else 's'} not used: {NOT_USED[reason]}."
        for reason, count in counts.items()
    ]


NUMBERS = ("no", "one", "two", "three", "four")


def progress_in_words(known: Progress) -> str:
    """Return how well the pitch is known, and what a few more readings, now or later, make of it.

    Parameters
    ----------
    known : Progress
        As numbers.

    Examples
    --------
    >>> progress_in_words(Progress(2.6))
    'Good to ±3 cents.'
    >>> progress_in_words(Progress(5.2, 2, 3.1))
    'Two more readings now, and the answer will most likely be good to ±4 cents (now ±6).'
    """
    if known.more:
        return (
            f"{_more(known.more)} {'reading' if known.more == 1 else 'readings'} now, and the "
            f"answer will most likely be good to ±{ceil(known.then_cents)} cents "
            f"(now ±{ceil(known.half_cents)})."
        )
    now = f"Good to ±{ceil(known.half_cents)} cents."
    if known.end is None or not known.end.more:
        return now
    then = ceil(known.end.then_cents)
    more = f"{NUMBERS[known.end.more]} more reading{'' if known.end.more == 1 else 's'} then"
    return (
        f"{now[:-1]} now. At the end of the rehearsal: ±{ceil(known.end.half_cents)}, "
        f"or most likely ±{then} after {more}."
    )


def _more(count: int) -> str:
    return f"{capital(NUMBERS[count])} more"


HALF_HOUR = "your first half hour of playing"


def target_in_words(show: Estimate, place: str = "there", *, every_note: bool = False) -> str:
    """Return what the tuner should show now, for playing elsewhere.

    Parameters
    ----------
    show : Estimate
        What it should show [cents].
    place : str
        Where it will be right.
    every_note : bool
        Whether that holds for each note.

    Examples
    --------
    >>> target_in_words(Estimate(30.0, 22.0, 38.0), "in the cold")
    'In this room let the tuner show 30 sharp (+22 to +38): in the cold your first half hour of \
playing will be right on average.'
    """
    where = " on every note" if every_note else ""
    asked = f"In this room let the tuner show {_shown(show)} ({interval(show)}){where}"
    if (show.high - show.low) / 2.0 > LITTLE_KNOWN_CENTS:
        return f"{asked}, which is little known yet: tune again {place}."
    return f"{asked}: {place} {HALF_HOUR} will be right on average."


def targets_in_words(
    targets: Mapping[str, Target], place: str = "there", semitones: int = 0
) -> list[str]:
    """Return what the tuner should show now, in a sentence, and then each note, by side.

    Where every note is to show the same, the sentence is all.

    Parameters
    ----------
    targets : mapping of str to Target
        By side.
    place : str
        Where it will be right.
    semitones : int
        How much higher than they sound the player reads the notes.
    """
    first = next(iter(targets.values())).show_cents
    shown_for = {_shown(one) for target in targets.values() for one in target.notes.values()}
    if shown_for == {_shown(first)}:  # no note is known to lie apart
        return [target_in_words(first, place, every_note=True)]
    lines = [target_in_words(first, place)]
    for side, target in targets.items():
        notes = [f"{_named(note, semitones)} {_shown(show)}" for note, show in target.notes.items()]
        if notes:
            lines.append(f"{f'{shown(side)} side: ' if side else ''}{', '.join(notes)}.")
    return lines


def _named(note: str, semitones: int) -> str:
    return shown(written_of(note, semitones) if semitones else note)


def _shown(show: Estimate) -> str:
    return deviation(show.estimate) if round(show.estimate) else "0"


def _you_are(now: PitchNow) -> str:
    off = now.off_cents
    return f"You are {deviation(off.estimate)} ({interval(off)})."


def _later(now: PitchNow) -> float:
    return next(a.off_cents.estimate for a in now.ahead if a.minutes == LATER_MINUTES)


def _unknown(off: Estimate) -> str:
    return f"anywhere from {deviation(off.low)} to {deviation(off.high)}."
