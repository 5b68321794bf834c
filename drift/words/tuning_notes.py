"""The notes that a side is tuned on."""

from __future__ import annotations

from drift.instruments.anatomy import Instrument, Side
from drift.notes import shown, written_of

__all__ = ["tuning_notes"]


def tuning_notes(instrument: Instrument, side: Side) -> str:
    """Return the notes to tune a side on, with what the player reads in brackets.

    Examples
    --------
    >>> from drift.instruments import find
    >>> horn = find("double horn")
    >>> tuning_notes(horn, horn.side("Bb"))
    'F4 (written C5), then B♭3 (written F4) and F3 (written C4)'
    """
    names = [_note(instrument, note) for note in side.tuning_notes]
    if len(names) < 2:
        return "".join(names)
    return f"{names[0]}, then {' and '.join(names[1:])}"


def _note(instrument: Instrument, note: str) -> str:
    if not instrument.written_semitones:
        return shown(note)
    return f"{shown(note)} (written {shown(written_of(note, instrument.written_semitones))})"
