"""A tuning as it is logged: what an answer means, and what of it goes into the logbook."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from drift.capture.typed_reading import parse_reading
from drift.errors import InputError
from drift.logbook.records import Event, Reading, Record
from drift.pairing.playing import LEAD_MINUTES
from drift.quantities import LENGTH, METRIC, MINUTES, Units, parse_quantity, with_units
from drift.tonight.tuned import Tuned
from drift.tonight.tuning import Tuning, heard, played, set_to, skip
from drift.tonight.tuning_steps import Step

__all__ = ["LONG_SD_CENTS", "SHORT_SD_CENTS", "Seat", "answered", "given_positions", "tuned_events"]

LONG_SD_CENTS, SHORT_SD_CENTS = 2.0, 3.0
"""Spread of a note held two seconds or more, and of a shorter one [cents]."""


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
    tuning: Tuning,
    line: str,
    seat: Seat,
    time: datetime,
    events: Iterable[Mapping[str, Any]] = (),
) -> tuple[Tuning, list[Record]]:
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
    events : iterable of mapping
        The events of the rehearsal so far, in order of time. Who reads a note plays: where that
        was not logged, it is, from as long ago as the player has played.

    Raises
    ------
    InputError
        When it is not an answer to what was asked.
    """
    now, line = tuning.now, line.strip().casefold()
    if line in ("skip", "stuck"):
        return skip(tuning), []
    if now.step is Step.WARM_UP:
        return played(tuning, _minutes(line, now.minutes)), []
    if now.step in (Step.MOVE, Step.SAY_POSITION):
        to = _position(line, now.to_mm, seat.units)
        moved = Event(
            time, seat.rehearsal, seat.player, "slide", now.slide, to,
            instrument=tuning.instrument.name,
        )  # fmt: skip
        return set_to(tuning, now.slide, to), [moved]
    if now.step is Step.VALVE_MOVE:
        return set_to(tuning, now.valve, 0.0), []
    after, records = _read(tuning, line, seat, time)
    return after, [*_plays(tuning, seat, time, events), *records]


def _plays(
    tuning: Tuning, seat: Seat, time: datetime, events: Iterable[Mapping[str, Any]]
) -> list[Record]:
    """Return that the player plays, and has played for as long as was said, where it is not logged.

    A rest, or an end, that was logged is over shortly before the note that is read.
    """
    own = [
        row
        for row in events
        if row["event"] in ("play", "rest", "end") and row["player"] in ("", seat.player)
    ]
    if own and own[-1]["event"] == "play":
        return []
    since = []
    if not any(row["event"] == "play" for row in own):
        since.append(time - timedelta(minutes=tuning.belief.minutes))
    if own:
        since.append(max(own[-1]["time"], time - timedelta(minutes=LEAD_MINUTES)))
    return [Event(moment, seat.rehearsal, seat.player, "play") for moment in since]


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


def _minutes(line: str, asked: float) -> float:
    """Return how long was played on: as asked where nothing is typed."""
    typed = line.removeprefix("played").strip()
    return parse_quantity(typed, MINUTES) if typed else asked


def _position(line: str, asked: float | None, units: Units) -> float:
    """Return where a slide is: as asked where nothing is typed."""
    if line[:1] in ("+", "-", "−"):
        raise InputError(
            f"{line} has a sign, as what a tuner shows has",
            "type where the slide is now, from fully in; the note is asked for next",
        )
    if line:
        return parse_quantity(line, with_units(LENGTH, units))
    if asked is None:
        example = "1/2 (inches" if units.inches else "12 (mm"
        raise InputError("nothing was typed", f"type where it is, such as {example} from fully in)")
    return asked


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
