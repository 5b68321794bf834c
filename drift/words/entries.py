"""Answers to what is typed, in the words of the one who typed it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from drift.capture.answers import Answer, Chosen, Doubt, Dropped, Ended, Kept, KeptAll, Undone
from drift.errors import DriftError
from drift.logbook import records
from drift.logbook.seats import OWN
from drift.notes import shown, written_of
from drift.quantities import METRIC, Units, degrees_in, in_inches
from drift.times import EPOCH
from sensors.errors import SensorError

__all__ = [
    "SETTLING",
    "answer_text",
    "chosen_text",
    "doubt_text",
    "record_text",
    "slides_text",
    "undone_text",
]

SETTLING = "in the first 30 s of playing"
"""When a reading does not count yet."""


def slides_text(slides: Mapping[str, tuple[float, str]], units: Units = METRIC) -> str:
    """Return where slides are taken to be that nobody placed tonight, and how to say otherwise.

    Examples
    --------
    >>> slides_text({"main": (35.5, "friday"), "F": (8.0, "friday")})
    'slide main 35.5 mm, F 8 mm as in friday; slide main MM if it is elsewhere'
    """
    told = []
    for place, (name, (mm, rehearsal)) in enumerate(slides.items()):
        later = list(slides.values())[place + 1 :]
        since = "" if later and later[0][1] == rehearsal else f" as in {rehearsal}"
        told.append(f"{shown(name)} {_position(mm, units)}{since}")
    first, unit = next(iter(slides)), "INCHES" if units.inches else "MM"
    return f"slide {', '.join(told)}; slide {first} {unit} if it is elsewhere"


def _position(mm: float, units: Units) -> str:
    return f"{in_inches(mm, 32)} inch ({mm:g} mm)" if units.inches else f"{mm:g} mm"


def answer_text(answer: Answer) -> str:
    """Return an answer in one line; empty where the one who asked shows it."""
    about = answer.about
    if about is None:
        return ""
    if isinstance(about, DriftError | SensorError):
        return f"not saved: {about.problem}; {about.remedy}"
    if isinstance(about, Kept):
        return f"saved {_kept_text(about)}"
    if isinstance(about, KeptAll):
        return f"saved {', '.join(map(_kept_text, about.kept))}"
    if isinstance(about, Chosen):
        return f"{'this page now logs' if about.here else 'saved'} {chosen_text(about)}"
    if isinstance(about, Undone):
        return f"saved undo of {undone_text(about.row)}"
    if isinstance(about, Dropped):
        return f"dropped {about.proposal.words}"
    return f"saved end of {about.rehearsal}" if isinstance(about, Ended) else "saved already"


def _kept_text(kept: Kept) -> str:
    """Return what was saved, when, in place of what, and what is to ask about it."""
    asked = "".join(f" ({doubt_text(found)})" for found in kept.doubts)
    saved = record_text(kept.record, kept.written_semitones, kept.units)
    then = "" if kept.earlier is None else f" at {kept.earlier.in_words()}"
    instead = ""
    if isinstance(kept.instead, records.Event):  # a reading that got its side is else as it was
        instead = f", in place of {record_text(kept.instead, units=kept.units)}"
    return f"{saved}{then}{instead}{asked}"


def chosen_text(chosen: Chosen) -> str:
    """Return who or what was chosen; with a player, what that player has in hand.

    A player who was known by another spelling than the one typed is called by the known one, and
    it is said.
    """
    what, name = chosen.what, chosen.name
    if what == "a4":
        return f"A4 = {name} Hz, for all readings from now on"
    if what == "notes":
        how, _, player = name.partition(OWN)
        whose = f", for {player}" if player else ""
        return f"notes as {'the player reads them' if how == 'written' else 'they sound'}{whose}"
    if what == "units":
        units, _, player = name.partition(OWN)
        whose = f"what {player} types and is shown" if player else "what is typed and shown"
        return f"units {units}, for {whose} from now on"
    if what == "side":
        return f"{shown(name)} side, until you type another"
    if what == "instrument":
        return f"instrument {shown(name)}"
    has = shown(chosen.instrument) or "no instrument yet: type, for example, instrument trumpet"
    known = "" if name == chosen.typed else f"; {chosen.typed!r} is taken for the same player"
    return f"player {name} ({has}){known}"


def doubt_text(found: Doubt) -> str:
    """Return what to ask about a record that is saved as typed.

    Examples
    --------
    >>> doubt_text(Doubt("side_not_stated", ("F", "Bb")))
    'side not stated: F or B♭?'
    """
    if found.kind == "position_before":
        return (
            f"where the {shown(found.names[0])} slide was before is not known: enter that too, "
            "with its time"
        )
    if found.kind == "no_temperature":
        return (
            f"no temperature for {found.names[0]} minutes: type temp and the degrees, or look at "
            "the thermometer"
        )
    if found.kind == "beyond_compass":
        low, high = map(shown, found.names)
        return f"the instrument sounds {low} to {high}: undo if the note was mistyped"
    if found.kind == "nearer_note":
        return f"that is nearer to {shown(found.names[0])}: undo if it was misread"
    if found.kind == "resting":
        return "no play since the rest: taken as playing again"
    if found.kind == "settling":
        return f"{SETTLING}: it will not count"
    if found.kind == "other_name":
        return f"{found.names[0]} is {shown(found.names[1])} here"
    return f"side not stated: {' or '.join(map(shown, found.names))}?"


def record_text(record: records.Record, written_semitones: int = 0, units: Units = METRIC) -> str:
    """Return a record that was saved.

    Parameters
    ----------
    record : Record
        What was saved.
    written_semitones : int
        How much higher the player reads the notes: where notes are typed so, both are shown.
    units : Units
        Of the player; beside °F and inches what is saved is shown.

    Examples
    --------
    >>> from datetime import UTC, datetime
    >>> time = datetime(2026, 10, 3, 19, 0, tzinfo=UTC)
    >>> record_text(records.Reading(time, "hall", "Kim", "F horn", "", "F4", 3.0), 7)
    'C5, sounding F4 +3.0 cents'
    """
    if isinstance(record, records.Reading):
        side = f" on the {shown(record.side)} side" if record.side else ""
        flag = ", flagged" if record.flagged else ""
        note = shown(record.note)
        if written_semitones:
            note = f"{shown(written_of(record.note, written_semitones))}, sounding {note}"
        return f"{note} {record.cents:+z.1f} cents{side}{flag}"
    if isinstance(record, records.Temperature):
        celsius = f"{record.celsius:.1f} °C"
        if not units.fahrenheit:
            return f"temp {celsius}"
        return f"temp {degrees_in(record.celsius, units):.1f} °F ({celsius})"
    assert isinstance(record, records.Event)
    if record.event == "slide":
        return f"slide {shown(record.slide)} {_position(record.position_mm or 0.0, units)}"
    if record.event == "remark":
        return f"remark {record.remark}"
    warm = "already warm" if record.already_warm else ""
    return " ".join(filter(None, [record.event, record.player, warm, record.remark]))


RECORD = {
    "reading": records.Reading,
    "temperature": records.Temperature,
    "event": records.Event,
}


def undone_text(row: Mapping[str, Any]) -> str:
    """Return a row that is undone, as it was answered when it was saved."""
    if row["kind"] == "choice":
        return f"{str(row['what']).replace('a4', 'A4')} {row['name']}"
    kind = RECORD[row["kind"]]
    named = {field.name: row[field.name] for field in fields(kind) if field.name in row}
    return record_text(kind(**{"time": EPOCH, "rehearsal": "", **named}))
