"""The page of one player in words: the next room, the notes, and what to practise measuring."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, tzinfo
from typing import Any

import pandas as pd

from drift.degrees import shown_degrees
from drift.evidence import NoteTendency, PlayerEvidence
from drift.notes import shown, written_of
from drift.regression.advice import TUNED_CELSIUS, Advice
from drift.words import slide_table
from drift.words.advice import half_width
from drift.words.cents import a4, deviation, interval
from drift.words.intervals import what_tuning_left
from drift.words.letters import capital
from drift.words.noticed import of_player, sentences
from drift.words.numbers import minus
from drift.words.remaining_error import what_remains
from drift.words.slides import notices, orders
from drift.words.warming import counts_on, warm_up_briefly
from drift.words.where_tuned import tuned_at, tuned_positions, tuned_to

__all__ = [
    "HABITS",
    "expected",
    "heading",
    "how_known",
    "next_room",
    "note",
    "practice",
    "read_notes",
    "remains",
    "table_legend",
    "to_do",
    "to_look_at",
    "warming",
]

FEW_READINGS = 8
"""A note read less often has an uncertain tendency."""

WORTH_WHILE = 0.95
"""Readings that leave more than this share of an interval are hardly worth an evening."""

MOST_NOTICES, MOST_NOTES = 3, 4

DRIFT, AIR = "drift (cents)", "air (°C); 0 cents: warm, at 20 °C"
NOTES = "Notes against the others of their side"
NOTES_HEADER = ("note", "cents", "95 %", "readings")
MEASURE_NEXT = "What to measure next"
HABITS = (
    "Read when somebody else holds the tuner, or without looking at it: take a breath, hold the "
    "note for two seconds, and log the positions of the slides first."
)


def heading(evidence: PlayerEvidence) -> str:
    """Return whose page it is."""
    return f"{evidence.player}, {shown(evidence.instrument.name)}"


def next_room(evidence: PlayerEvidence) -> str:
    """Return which room the answer is for."""
    celsius = evidence.correction.celsius
    degrees = f"{shown_degrees(celsius)} ({shown_degrees(celsius, fahrenheit=True)})"
    room = "In a room of" if evidence.asked else "In a room like the last one,"
    return f"{room} {degrees}, for {a4(evidence.correction.a4_hz)}"


def to_do(evidence: PlayerEvidence) -> list[str]:
    """Return what to do with each slide, in millimetres."""
    instrument = evidence.instrument
    if instrument.slides:
        return orders(evidence.correction)
    if instrument.fixed_pitch is None:
        return [f"No rule in millimetres holds for the {shown(instrument.name)}: tune by ear."]
    return ["This instrument cannot be tuned: the others tune to it."]


def remains(evidence: PlayerEvidence) -> list[str]:
    """Return what remains after the moves, and what to do about it."""
    return what_remains(evidence.correction) if evidence.instrument.slides else []


def warming(evidence: PlayerEvidence) -> list[str]:
    """Return how long to warm up first, and how warm the answer takes the instrument to be."""
    if not evidence.instrument.slides:
        return []
    there = evidence.correction
    return [" ".join(filter(None, (warm_up_briefly(there), counts_on(there))))]


def table_legend(evidence: PlayerEvidence) -> str:
    """Return how to read the table of positions; where it starts is said above it."""
    return minus(" ".join(slide_table.legend(evidence.table, start=False)))


def read_notes(shown_here: int, of: int) -> str:
    """Return the heading of the notes, and whether it holds them all.

    Examples
    --------
    >>> read_notes(4, 4)
    'Notes against the others of their side'
    >>> read_notes(8, 12)
    'Notes against the others of their side (the 8 read most of 12)'
    """
    return NOTES if shown_here == of else f"{NOTES} (the {shown_here} read most of {of})"


def expected(evidence: PlayerEvidence) -> list[str]:
    """Return what is expected there, and what to know about it."""
    there = evidence.correction
    cents = next(iter(there.expected_cents.values()))
    where = tuned_positions(there)
    slides = f", slides at {where}" if where else ""
    known = minus("; ".join(notices(there)[:MOST_NOTICES]))
    return [
        f"If it was in tune{tuned_to(there)} "
        f"{tuned_at(there, shown_degrees(there.tuned_celsius))}{slides}, it will be "
        f"{deviation(cents.estimate)} there after {there.minutes:g} minutes "
        f"({interval(cents)} cents, 95 %). {what_tuning_left(there)}".rstrip(),
        *([f"Note: {known}."] if known else []),
    ]


def to_look_at(evidence: PlayerEvidence, zone: tzinfo | None = UTC) -> list[str]:
    """Return the first thing that looks spoilt in the readings the answer rests on."""
    own = of_player(evidence.fit.notices, evidence.instrument.name, evidence.player)
    found = sentences((), own, zone=zone)
    if not found:
        return []
    more = f" “drift check” names {len(found) - 1} more." if len(found) > 1 else ""
    return [f"To look at: {found[0]}{more}"]


def note(each: NoteTendency, evidence: PlayerEvidence) -> str:
    """Return the name of a note with its side, and what the player reads."""
    written = evidence.instrument.written_semitones
    side = f"{shown(each.side)} side: " if each.side else ""
    reads = f", written {shown(written_of(each.note, written))}" if written else ""
    return f"{side}{shown(each.note)}{reads}"


def how_known(evidence: PlayerEvidence) -> str:
    """Return what the page rests on."""
    rows = evidence.rows
    days = rows["rehearsal"].nunique()
    return (
        f"{len(rows)} reading{'' if len(rows) == 1 else 's'} in {days} "
        f"rehearsal{'' if days == 1 else 's'}; player and instrument together."
    )


def practice(evidence: PlayerEvidence) -> list[str]:
    """Return what to practise measuring, the most useful first."""
    said = [] if evidence.advice is None else [_advice(evidence.advice, evidence)]
    few = [each for each in evidence.tendencies if each.readings < FEW_READINGS]
    if few:
        said.append(_few(few, evidence))
    return said


def _advice(advice: Advice, evidence: PlayerEvidence) -> str:
    """Return what to read where: in a room that can be had, and where the answer is for."""
    there = evidence.correction.celsius if evidence.asked else None
    elsewhere = advice.options[advice.options["celsius"] != there]
    best = (elsewhere if len(elsewhere) else advice.options).iloc[0]
    now, then = (half_width(advice, width) for width in (advice.width_now, best["width"]))
    on_the_spot = "" if there in (None, best["celsius"]) else _on_the_spot(advice, there)
    if best["width"] > WORTH_WHILE * advice.width_now:
        few = f"{capital(_what(there))} is known to ±{now} cents: more readings"
        if on_the_spot:
            return f"{few} in rooms like those so far change little. {on_the_spot}"
        return f"{few} of the same kind change little."
    return (
        f"Read the same notes {best['readings']:.0f} times in {_room(best['celsius'], evidence)}, "
        f"{_minutes(best)}: {_what(there)} is then known to "
        f"±{then} cents (now ±{now})." + (f" {on_the_spot}" if on_the_spot else "")
    )


def _on_the_spot(advice: Advice, celsius: float) -> str:
    """Return what readings in the air that the answer is for make of it."""
    there = advice.options[advice.options["celsius"] == celsius]
    if not len(there) or there.iloc[0]["width"] > WORTH_WHILE * advice.width_now:
        return ""
    best = there.iloc[0]
    return (
        f"On the spot, at {shown_degrees(celsius)}, {best['readings']:.0f} readings "
        f"{_minutes(best)} leave ±{half_width(advice, best['width'])} cents."
    )


def _what(celsius: float | None) -> str:
    if celsius is None:
        return "what one degree does"
    return f"the drift from {shown_degrees(TUNED_CELSIUS)} to {shown_degrees(celsius)}"


def _minutes(option: pd.Series[Any]) -> str:
    first, last = option["first_minute"], option["last_minute"]
    return f"from minute {first:.0f} to minute {last:.0f} of playing"


def _room(celsius: float, evidence: PlayerEvidence) -> str:
    """Return a room by what it is beside those of the player's readings."""
    seen = evidence.rows["celsius"]
    beside = "colder " if celsius < seen.min() else "warmer " if celsius > seen.max() else ""
    return f"a {beside}room of about {shown_degrees(celsius)}"


def _few(few: Sequence[NoteTendency], evidence: PlayerEvidence) -> str:
    """Return which notes to read more often, those read least first."""
    ranked = sorted(few, key=lambda each: each.readings)
    names = "; ".join(f"{note(each, evidence)} ({each.readings})" for each in ranked[:MOST_NOTES])
    if len(few) <= MOST_NOTES:
        return f"Read these notes more often (readings so far): {names}."
    return (
        f"Read notes with fewer than {FEW_READINGS} readings more often, first those read least: "
        f"{names}."
    )
