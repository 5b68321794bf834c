"""Which A4 a band can share: the reach of its slides, who limits it, and what it costs.

Pitch is counted in cents from the nominal A4 here; a section *reaches* a pitch when slides within
their travel bring all of its sides there.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Any

from drift.gig.parts import AdjustablePart, FixedPart
from drift.gig.reach import CENTS_PER_OCTAVE, NEAR_CENTS, Reach, reach_is_known, reach_of_slides
from drift.gig.roster import Section
from drift.notes import hertz_of, midi_of, note_of_midi

__all__ = [
    "Pitch",
    "PitchChoice",
    "PitchReason",
    "Reach",
    "a4_after",
    "common_pitch",
    "compare_pitches",
    "settable_a4",
]

#: A pitch is set in steps of half a hertz (2 cents); one that is nearer to the nominal is nominal.
STEP_HERTZ = 0.5


class PitchReason(StrEnum):
    """Why a pitch is recommended."""

    NOT_ADJUSTABLE = "not_adjustable"  # nobody can change pitch
    ALL_REACH = "all_reach"  # everybody whose travel is known reaches the nominal A4
    LIMITED = "limited"  # some cannot come so far, and the others can meet them
    NONE_REACHED = "none_reached"  # no pitch is reached by all, this one is the least worst


@dataclass(frozen=True)
class PitchChoice:
    """One way to choose the pitch, and what it costs.

    Attributes
    ----------
    name : str
        ``stay``, ``recommended``, ``without`` those that limit it, or ``follow the band`` (no
        slide is moved).
    a4_hz : float
        The pitch [Hz].
    worst_cents, worst_section : float, str
        The most that slides leave of an adjustable section, on the mean of the playing after a
        tune [cents], and whose it is.
    average_cents, average_section : float, str
        The largest mean distance of an adjustable section from the pitch over all its playing
        [cents], and whose it is.
    left_out_cents : mapping of str to float
        Where the sections that ``without`` leaves out would be at worst, moved as far as their
        slides go, positive when sharp [cents].
    fixed_cents, fixed_section : float, str
        Largest deviation of a fixed-pitch section from that pitch [cents] and whose it is; zero
        and empty where there is none.
    fixed_note, beats_per_second : str, float
        The note that shows it most (the highest that another section can play too) and how often
        it beats there.
    """

    name: str
    a4_hz: float
    worst_cents: float
    worst_section: str
    average_cents: float = 0.0
    average_section: str = ""
    fixed_cents: float = 0.0
    fixed_section: str = ""
    fixed_note: str = ""
    beats_per_second: float = 0.0
    left_out_cents: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Pitch:
    """The common pitch of a band.

    Attributes
    ----------
    a4_hz : float
        The nominal A4, which the moves of the plan aim at [Hz].
    recommended_a4_hz : float
        The A4 nearest to it that every adjustable section reaches within 5 cents at every tune,
        or the least worst one, as a tuner can be set to it: `settable_a4` [Hz].
    limited_by : tuple of str
        Sections that keep the band from the nominal A4.
    reason : PitchReason
        Why; `drift.words.gig_pitch` says it.
    reach : tuple of Reach
        One an adjustable section.
    choices : tuple of PitchChoice
        ``stay``, ``recommended``, ``without`` those that limit it (if any), ``follow the band``.
    not_known : tuple of str
        Sections of which the roster does not say whether slides go as far as the nominal A4 asks.
    """

    a4_hz: float
    recommended_a4_hz: float
    limited_by: tuple[str, ...]
    reason: PitchReason
    reach: tuple[Reach, ...]
    choices: tuple[PitchChoice, ...]
    not_known: tuple[str, ...] = ()

    def out_of_reach(self, a4_hz: float) -> tuple[str, ...]:
        """Return the sections that come no nearer than 5 cents to a pitch [Hz] at every tune."""
        return tuple(reach.section for reach in self.reach if not reach.includes(a4_hz))

    def to_json(self) -> dict[str, Any]:
        """Return the answer as JSON objects and arrays."""
        return {
            "a4_hz": self.a4_hz,
            "recommended_a4_hz": self.recommended_a4_hz,
            "limited_by": list(self.limited_by),
            "reason": self.reason,
            "reach": [reach.to_json() for reach in self.reach],
            "reach_not_known": list(self.not_known),
            "choices": [vars(choice) for choice in self.choices],
        }


def a4_after(cents: float, a4_hz: float) -> float:
    """Return the A4 some cents above another.

    Examples
    --------
    >>> round(a4_after(-10.0, 440.0), 2)
    437.47
    """
    if math.isinf(cents):
        return math.inf if cents > 0 else 0.0
    return float(a4_hz * 2 ** (cents / CENTS_PER_OCTAVE))


def settable_a4(a4_hz: float, nominal_hz: float) -> float:
    """Return the pitch to set tuners to: the nominal one, or a whole or half hertz.

    Parameters
    ----------
    a4_hz : float
        The pitch that was worked out [Hz].
    nominal_hz : float
        The nominal A4, which stays where it is less than half a hertz away: nobody sets a tuner
        more finely, and 2 cents are less than players are apart (judgement) [Hz].

    Examples
    --------
    >>> settable_a4(439.7, 440.0), settable_a4(438.13, 440.0), settable_a4(442.6, 442.0)
    (440.0, 438.0, 442.5)
    """
    if abs(a4_hz - nominal_hz) < STEP_HERTZ:
        return nominal_hz
    return round(a4_hz / STEP_HERTZ) * STEP_HERTZ


def common_pitch(
    reaches: Sequence[tuple[str, float, float]], nominal_cents: float = 0.0
) -> tuple[float, tuple[str, ...]]:
    """Return the pitch that all can reach and that lies nearest the nominal one.

    Parameters
    ----------
    reaches : sequence of (str, float, float)
        Name, lowest and highest pitch [cents]; a name may stand several times.
    nominal_cents : float
        The pitch wished for [cents].

    Returns
    -------
    float
        The pitch [cents]. Where no pitch can be reached by all, the one whose largest distance
        from a reach is smallest.
    tuple of str
        The names that keep it from the nominal pitch, empty where nothing does.

    Examples
    --------
    >>> common_pitch([("tubas", -20, -5), ("trumpets", -40, 15)])
    (-5.0, ('tubas',))
    >>> common_pitch([("tubas", -20, -6), ("flutes", 2, 9)])
    (-2.0, ('tubas', 'flutes'))
    """
    if not reaches:
        return nominal_cents, ()
    floor_name, floor, _ = max(reaches, key=lambda reach: reach[1])
    ceiling_name, _, ceiling = min(reaches, key=lambda reach: reach[2])
    if floor > ceiling:
        return (floor + ceiling) / 2, tuple(dict.fromkeys((ceiling_name, floor_name)))
    if nominal_cents > ceiling:
        return float(ceiling), (ceiling_name,)
    if nominal_cents < floor:
        return float(floor), (floor_name,)
    return nominal_cents, ()


def compare_pitches(
    parts: Sequence[AdjustablePart], fixed: Sequence[FixedPart] = (), a4_hz: float = 440.0
) -> Pitch:
    """Return the common pitch of a band, who limits it and what each choice costs.

    Parameters
    ----------
    parts : sequence of AdjustablePart
        The adjustable sections.
    fixed : sequence of FixedPart
        The sections of fixed pitch: a cost, not a constraint.
    a4_hz : float
        The nominal A4 that cents are counted from [Hz].

    Returns
    -------
    Pitch
        The answer.
    """
    slides = {part.section.name: reach_of_slides(part.section) for part in parts}
    reaches = [
        (
            part.section.name,
            cents + slides[part.section.name][0],
            cents + slides[part.section.name][1],
        )
        for part in parts
        for cents in part.expected_cents
    ]
    best, who = common_pitch(_near(reaches))
    wanted, limited_by = _settable(best, who, a4_hz)
    others = [reach for reach in reaches if reach[0] not in limited_by]
    unmoved = [(p.section.name, cents, cents) for p in parts for cents in p.expected_cents]
    followed, _ = _settable(*common_pitch(unmoved), a4_hz)
    questions = [("stay", 0.0, reaches), ("recommended", wanted, reaches)]
    if limited_by and others:
        name = f"without {' and '.join(limited_by)}"
        questions.append((name, _settable(*common_pitch(_near(others)), a4_hz)[0], others))
    questions.append(("follow the band", followed, unmoved))
    choices = []
    for name, cents, them in questions:
        taken = {who for who, _, _ in them}
        moved = {} if them is unmoved else slides
        average, whose = _average(cents, [p for p in parts if p.section.name in taken], moved)
        choices.append(
            replace(
                _choice(name, cents, them, fixed, parts, a4_hz),
                average_cents=average,
                average_section=whose,
                left_out_cents=_left_out(cents, reaches, taken),
            )
        )
    not_known = tuple(
        part.section.name
        for part in parts
        if not all(reach_is_known(part.section, cents) for cents in part.expected_cents)
    )
    return Pitch(
        a4_hz,
        a4_after(wanted, a4_hz),
        limited_by,
        _reason(limited_by, _left(best, reaches)[0], bool(parts)),
        tuple(_reach(part, slides[part.section.name], a4_hz) for part in parts),
        tuple(choices),
        not_known,
    )


def _settable(
    cents: float, limited_by: tuple[str, ...], a4_hz: float
) -> tuple[float, tuple[str, ...]]:
    """Return a pitch as it can be set [cents from nominal]; at the nominal one nobody limits it."""
    a4 = settable_a4(a4_after(cents, a4_hz), a4_hz)
    away = CENTS_PER_OCTAVE * math.log2(a4 / a4_hz)
    return away, limited_by if away else ()


def _near(reaches: Sequence[tuple[str, float, float]]) -> list[tuple[str, float, float]]:
    """Return the pitches that sections come near enough to."""
    return [(who, low - NEAR_CENTS, high + NEAR_CENTS) for who, low, high in reaches]


def _reach(part: AdjustablePart, slides: tuple[float, float], a4_hz: float) -> Reach:
    lowest = max(cents + slides[0] for cents in part.expected_cents)
    highest = min(cents + slides[1] for cents in part.expected_cents)
    return Reach(part.section.name, a4_after(lowest, a4_hz), a4_after(highest, a4_hz))


def _choice(
    name: str,
    cents: float,
    reaches: Sequence[tuple[str, float, float]],
    fixed: Sequence[FixedPart],
    parts: Sequence[AdjustablePart],
    a4_hz: float,
) -> PitchChoice:
    worst_cents, worst = _left(cents, reaches)
    pitch = a4_after(cents, a4_hz)
    if not fixed:
        return PitchChoice(name, pitch, worst_cents, worst)
    deviation, part = max(
        ((end - cents, part) for part in fixed for end in (part.lowest_cents, part.highest_cents)),
        key=lambda pair: abs(pair[0]),
    )
    note = telling_note(part.section, [other.section for other in parts])
    beats = abs(2 ** (deviation / CENTS_PER_OCTAVE) - 1) * hertz_of(note, pitch)
    return PitchChoice(
        name,
        pitch,
        worst_cents,
        worst,
        fixed_cents=deviation,
        fixed_section=part.section.name,
        fixed_note=note,
        beats_per_second=beats,
    )


def _left(cents: float, reaches: Sequence[tuple[str, float, float]]) -> tuple[float, str]:
    """Return the largest distance of a pitch from what sections reach [cents], and whose it is."""
    left = ((max(low - cents, cents - high, 0.0), who) for who, low, high in reaches)
    return max(left, key=lambda pair: pair[0], default=(0.0, ""))


def _average(
    cents: float, parts: Sequence[AdjustablePart], slides: Mapping[str, tuple[float, float]]
) -> tuple[float, str]:
    """Return the largest mean distance of a section from a pitch [cents], and whose it is."""
    found = (
        (part.average_error(cents, slides.get(part.section.name, (0.0, 0.0))), part.section.name)
        for part in parts
    )
    return max(found, key=lambda pair: pair[0], default=(0.0, ""))


def _left_out(
    cents: float,
    reaches: Sequence[tuple[str, float, float]],
    taken: Collection[str],
) -> dict[str, float]:
    """Return how far those that are not taken would be from a pitch at worst [cents]."""
    found: dict[str, float] = {}
    for who, low, high in reaches:
        off = max(low - cents, 0.0) or min(high - cents, 0.0)
        if who not in taken and abs(off) >= abs(found.get(who, 0.0)):
            found[who] = off
    return found


def telling_note(fixed: Section, others: Sequence[Section]) -> str:
    """Return the note of a fixed-pitch section that shows a difference most.

    A difference in cents is the same on every note, but it beats fastest at the top: the highest
    note that another section can play in unison with it, or its own highest where none can.

    Parameters
    ----------
    fixed : Section
        The section of fixed pitch.
    others : sequence of Section
        The adjustable sections.

    Returns
    -------
    str
        A sounding note.
    """
    low, high = (midi_of(note) for note in fixed.instrument.compass)
    shared = [min(high, midi_of(other.instrument.compass[1])) for other in others]
    return note_of_midi(max((note for note in shared if note >= low), default=high))


def _reason(limited_by: tuple[str, ...], left_cents: float, adjustable: bool) -> PitchReason:
    if not adjustable:
        return PitchReason.NOT_ADJUSTABLE
    if not limited_by:
        return PitchReason.ALL_REACH
    if left_cents > NEAR_CENTS + 1e-6:
        return PitchReason.NONE_REACHED
    return PitchReason.LIMITED
