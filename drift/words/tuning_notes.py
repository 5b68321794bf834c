"""The notes that a side is tuned on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from drift.instruments.anatomy import Instrument, Side
from drift.notes import shown, written_of
from drift.words.lists import joined

__all__ = ["read_as", "tuning_notes"]


def read_as(instrument: Instrument, notes: Iterable[str], *, brief: bool = False) -> str:
    """Return what the player reads of sounding notes, empty where that is as they sound.

    Brief, it fits under a note on a card.

    Examples
    --------
    >>> from drift.instruments import find
    >>> read_as(find("double horn"), ["F4"]), read_as(find("euphonium"), ["Bb3"])
    ('written C5', 'C5 in treble clef')
    >>> read_as(find("flute"), ["A4"])
    ''
    >>> read_as(find("euphonium"), ["Bb3"], brief=True)
    'treble C5'
    """
    semitones = instrument.written_semitones or instrument.treble_clef_semitones
    names = [shown(written_of(note, semitones)) for note in notes] if semitones else []
    if not names:
        return ""
    if instrument.written_semitones:
        return f"written {joined(names)}"
    return f"treble {joined(names)}" if brief else f"{joined(names)} in treble clef"


def tuning_notes(instrument: Instrument, side: Side) -> str:
    """Return the notes to tune a side on, with what the player reads in brackets.

    Examples
    --------
    >>> from drift.instruments import find
    >>> horn = find("double horn")
    >>> tuning_notes(horn, horn.side("Bb"))
    'F4 (written C5), then B♭3 (written F4) and F3 (written C4)'
    >>> bass = find("Eb bass")
    >>> tuning_notes(bass, bass.side())
    'E♭3, then B♭2 and E♭2 (C5, G4 and C4 in treble clef)'
    """
    if instrument.written_semitones:
        names = [f"{shown(note)} ({read_as(instrument, [note])})" for note in side.tuning_notes]
        return _in_order(names)
    read = read_as(instrument, side.tuning_notes)
    return f"{_in_order([*map(shown, side.tuning_notes)])}{f' ({read})' if read else ''}"


def _in_order(names: Sequence[str]) -> str:
    first, *others = names or [""]
    return f"{first}, then {joined(others)}" if others else first
