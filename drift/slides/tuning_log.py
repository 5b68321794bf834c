"""A tuning as it is logged: what an answer means, and what of it goes into the logbook."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

from drift.capture.typed_reading import parse_reading
from drift.errors import InputError
from drift.logbook.records import Event, Reading, Record
from drift.notes import shown
from drift.quantities import LENGTH, METRIC, MINUTES, Units, parse_quantity, with_units
from drift.slides.tuning_playing import Played, Playing
from drift.tonight.tuned import Tuned
from drift.tonight.tuning import (
    Tuning,
    heard,
    is_stuck,
    played,
    played_in_all,
    set_to,
    skip,
    slides_at,
)
from drift.tonight.tuning_steps import Step

__all__ = [
    "LONG_SD_CENTS",
    "SHORT_SD_CENTS",
    "Answered",
    "Seat",
    "answered",
    "given_positions",
    "positions_typed",
    "tuned_events",
]

LONG_SD_CENTS, SHORT_SD_CENTS = 2.0, 3.0
"""Spread of a note held two seconds or more, and of a shorter one [cents]."""
LONGEST_MINUTES, FURTHEST_MM = 720.0, 999.0
"""Nobody plays longer in an evening; a slide that was so far out would be off."""

SIGNS = ("+", "-", "\N{MINUS SIGN}", "\N{EN DASH}")
# The comma between two slides is followed by a name, the one of a decimal number by a digit.
_BETWEEN = r"\s*[,;]\s*(?=[^\W\d])"
_NAMED = r"(?:slide\s+)?(?P<slide>[^\W\d][^\d\s=]*)(?:\s+slide)?\s*[= ]\s*(?P<length>\d.*)"


@dataclass(frozen=True)
class Seat:
    """Who tunes where.

    Attributes
    ----------
    rehearsal, player : str
        Names.
    a4_hz : float
        Pitch of A4 that the tuner is set to [Hz].
    units : Units
        What numbers without a unit are typed in.
    written : bool
        Whether notes are named as the player reads them.
    """

    rehearsal: str
    player: str
    a4_hz: float = 440.0
    units: Units = METRIC
    written: bool = False


class Answered(NamedTuple):
    """What an answer came to.

    Attributes
    ----------
    tuning : Tuning
        After it.
    records : list of Record
        What goes into the logbook.
    instead_of : mapping of int to Event
        What was logged of playing before and holds no more, by its number.
    """

    tuning: Tuning
    records: list[Record]
    instead_of: Mapping[int, Event] = {}


def given_positions(
    tuning: Tuning, at: Mapping[str, float], seat: Seat, time: datetime
) -> list[Record]:
    """Return what is logged of positions that are known when a tuning begins.

    Parameters
    ----------
    tuning : Tuning
        At its beginning.
    at : mapping of str to float
        Where slides are, from fully in [mm].
    seat : Seat
        Who tunes where.
    time : datetime
        Now.
    """
    return [
        Event(
            time, seat.rehearsal, seat.player, "slide", tuning.instrument.slide(name).name, mm,
            instrument=tuning.instrument.name,
        )
        for name, mm in at.items()
    ]  # fmt: skip


def answered(
    tuning: Tuning, line: str, seat: Seat, time: datetime, playing: Playing | None = None
) -> Answered:
    """Return the tuning after an answer, and what of it goes into the logbook.

    Parameters
    ----------
    tuning : Tuning
        What was asked.
    line : str
        The answer: what the tuner showed, where the slide is now, ``skip`` or ``stuck``; empty
        where it was done as asked.
    seat : Seat
        Who tunes where.
    time : datetime
        When it was answered.
    playing : Playing, optional
        What is logged of the player's playing so far (default: nothing). Who reads a note plays:
        where that was not logged, it is, from as long ago as the player has played.

    Raises
    ------
    InputError
        When it is not an answer to what was asked.
    """
    now, line = tuning.now, line.strip()
    word = line.casefold()
    playing = playing or Playing(seat.rehearsal, seat.player)
    if word in ("skip", "stuck"):
        return Answered((skip if word == "skip" else is_stuck)(tuning), [])
    if word.partition(" ")[0] == "played":
        after = played_in_all(tuning, _minutes(line[len("played") :].strip()))
        return _with(playing.said(time, after.belief.minutes), after)
    if now.step is Step.WARM_UP:
        more = _minutes(line) if line else now.minutes
        after = played(tuning, more)
        return _with(playing.said(time, after.belief.minutes, more=more), after)
    if now.step in (Step.MOVE, Step.SAY_POSITION):
        positions = positions_typed(tuning, line, seat.units)
        saved = given_positions(tuning, positions, seat, time)
        if now.step is Step.SAY_POSITION:
            return Answered(slides_at(tuning, positions), saved)
        return Answered(set_to(tuning, now.slide, positions[now.slide]), saved)
    if now.step is Step.VALVE_MOVE:
        return Answered(set_to(tuning, now.valve, 0.0), [])
    after, records = _read(tuning, line, seat, time)
    return _with(playing.after_a_note(time, tuning.belief.minutes), after, *records)


def _with(played: Played, after: Tuning, *records: Record) -> Answered:
    return Answered(after, [*played.records, *records], played.instead_of)


def _read(tuning: Tuning, line: str, seat: Seat, time: datetime) -> tuple[Tuning, list[Record]]:
    now = tuning.now
    if not line:
        raise InputError("nothing was typed", f"type what the tuner showed for {now.note}: -7")
    cents = parse_reading(f"{now.note} {line}").cents_at(seat.a4_hz)
    record = Reading(
        time, seat.rehearsal, seat.player, tuning.instrument.name, now.side, now.note, cents,
        seat.a4_hz,
    )  # fmt: skip
    # A valve's note is no open one: it would count against the open notes of the fit.
    return heard(tuning, cents), [] if now.valve else [record]


def _minutes(typed: str) -> float:
    """Return how long was played."""
    if typed[:1] in SIGNS:
        raise InputError(
            f"{typed} has a sign, as what a tuner shows has, and minutes have none",
            "play on until it is warm; the first note is asked for then (skip: at once)",
        )
    return parse_quantity(typed, MINUTES, lowest=0.0, highest=LONGEST_MINUTES)


def positions_typed(tuning: Tuning, line: str, units: Units) -> dict[str, float]:
    """Return where slides are said to be, by name [mm from fully in].

    Parameters
    ----------
    tuning : Tuning
        What was asked: where a slide is, or to move it.
    line : str
        A number, or names and numbers (``main 12``, ``main=12, F 8``); empty where the slide is
        where it was asked.
    units : Units
        What numbers without a unit are typed in.

    Raises
    ------
    InputError
        When it gives no position of a slide that was asked for.

    Examples
    --------
    >>> from drift.instruments import find
    >>> from drift.tonight.tuning import begin_tuning
    >>> positions_typed(begin_tuning(find("double horn")), "main 12,5, f=8", METRIC)
    {'main': 12.5, 'F': 8.0}
    """
    now = tuning.now
    if not line:
        if now.to_mm is not None:
            return {now.slide: now.to_mm}
        example = "1/8 (inches" if units.inches else "3 (mm"
        raise InputError("nothing was typed", f"type where it is, such as {example} from fully in)")
    if line[:1] in SIGNS or line.casefold().endswith(("sharp", "flat")):
        raise InputError(
            f"{line} reads as what a tuner shows, by its sign or its word",
            "type where the slide is now, from fully in; the note is asked for next",
        )
    found = {}
    for part in re.split(_BETWEEN, line):
        named = re.fullmatch(_NAMED, part, re.IGNORECASE)
        slide = _slide_called(tuning, named["slide"]) if named else now.slide
        length = named["length"] if named else part
        found[slide] = parse_quantity(
            length, with_units(LENGTH, units), lowest=0.0, highest=FURTHEST_MM
        )
    if now.step is Step.MOVE and list(found) != [now.slide]:
        raise InputError(
            f"{line} is not where {shown(now.slide)} is", f"type where {shown(now.slide)} is now"
        )
    return found


def _slide_called(tuning: Tuning, name: str) -> str:
    """Return a slide as the catalogue has it; the one that tunes a trombone is its main one."""
    return tuning.instrument.slide("main" if name.casefold() == "tuning" else name).name


def tuned_events(tuning: Tuning, state: Tuned, seat: Seat, time: datetime) -> list[Record]:
    """Return what is logged when a tuning is done: the reference of all later answers.

    Parameters
    ----------
    tuning : Tuning
        At its end.
    state : Tuned
        The state that it has reached.
    seat : Seat
        Who tuned where.
    time : datetime
        When.
    """
    slides = {
        side: next((s.name for s in tuning.instrument.slides if side in s.sides), "")
        for side in tuning.sides
    }
    return [
        Event(
            time, seat.rehearsal, seat.player, "tuned", slide,
            state.positions_mm[slide] if slide else None,
            instrument=tuning.instrument.name, side=side, state="warm",
        )
        for side, slide in slides.items()
    ]  # fmt: skip
