"""Records in the words of the one who made them."""

from __future__ import annotations

from collections.abc import Mapping

from drift.capture.entries import Choose
from drift.instruments import Catalogue, find
from drift.logbook import records
from drift.notes import midi_of, note_of_midi, shown, written_of
from drift.quantities import METRIC, Units, degrees_in, in_inches

__all__ = ["chosen_in_words", "doubts", "said", "told"]

MISREAD_CENTS = 50.0
"""Beyond this another note is nearer."""
FAR_OUT_MM = 150.0
"""No slide is pulled so far to tune (common practice)."""


def chosen_in_words(entry: Choose, name: str, instrument: str) -> str:
    """Return who or what was chosen; with a player, what that player has in hand.

    A player who was known by another spelling than the one typed is called by the known one, and
    it is said.
    """
    if entry.what == "a4":
        return f"A4 = {name} Hz, for all readings from now on"
    if entry.what == "notes":
        return f"notes as {'the player reads them' if name == 'written' else 'they sound'}"
    if entry.what == "units":
        return f"units {name}, for what is typed and shown from now on"
    if entry.what == "side":
        return f"{shown(name)} side, until you type another"
    if entry.what == "instrument":
        return f"instrument {shown(name)}"
    has = shown(instrument) or "no instrument yet: type, for example, instrument trumpet"
    known = "" if name == entry.name else f"; {entry.name!r} is taken for the same player"
    return f"player {name} ({has}){known}"


def told(record: records.Record, written_semitones: int = 0, units: Units = METRIC) -> str:
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
    >>> told(records.Reading(time, "hall", "Kim", "F horn", "", "F4", 3.0), 7)
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
        slide, position = f"slide {shown(record.slide)}", f"{record.position_mm or 0.0:g} mm"
        if not units.inches:
            return f"{slide} {position}"
        return f"{slide} {in_inches(record.position_mm or 0.0, 32)} inch ({position})"
    if record.event == "remark":
        return f"remark {record.remark}"
    warm = "already warm" if record.already_warm else ""
    return " ".join(filter(None, [record.event, record.player, warm, record.remark]))


def doubts(record: records.Record, catalogue: Catalogue | None = None) -> str:
    """Return what to ask about what is saved as typed; empty where all is clear.

    Parameters
    ----------
    record : Record
        What was saved.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.
    """
    if isinstance(record, records.Event) and (record.position_mm or 0.0) > FAR_OUT_MM:
        return " (that is far out: undo if it was typed in another unit)"
    if not isinstance(record, records.Reading):
        return ""
    asked = []
    sides = [shown(side.name) for side in find(record.instrument, catalogue).sides]
    if len(sides) > 1 and not record.side:
        asked.append(f"side not stated: {' or '.join(sides)}?")
    if abs(record.cents) > MISREAD_CENTS:
        nearer = note_of_midi(midi_of(record.note) + round(record.cents / 100.0))
        asked.append(f"that is nearer to {shown(nearer)}: undo if it was misread")
    return "".join(f" ({text})" for text in asked)


def said(row: Mapping[str, object]) -> str:
    """Return a row that is undone."""
    if row["kind"] == "choice":
        return f"{str(row['what']).replace('a4', 'A4')} {row['name']}"
    names = ("note", "cents", "celsius", "event", "slide", "position_mm", "remark")
    return " ".join(str(row[name]) for name in names if row.get(name) not in (None, ""))
