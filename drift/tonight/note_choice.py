"""Which note of a side is read next."""

from __future__ import annotations

from drift.notes import midi_of
from drift.tonight.tuning_steps import Tuning

__all__ = ["lower_partial", "note_to_read"]

LITTLE_CENTS2 = 1.0
"""Where notes were skipped, the others are read no more once a reading takes less than this
variance away [cents²]."""


def note_to_read(tuning: Tuning, side: str) -> str | None:
    """Return the note to read: the class's, else the one that tells most of the side.

    None where the player skipped notes, and those that are left tell no more.
    """
    if tuning.class_note is not None and tuning.class_note.side == side:
        return tuning.class_note.note
    skipped = tuning.sides[side].skipped
    notes = [n for n in tuning.instrument.side(side).tuning_notes if n not in skipped]
    if not notes:
        return None
    gains = {n: tuning.belief.gain(side, n, tuning.reading_sd_cents) for n in notes}
    best = max(notes, key=lambda note: gains[note] * (1.0 + 1e-9 * (note == notes[0])))
    return None if skipped and gains[best] < LITTLE_CENTS2 else best


def lower_partial(tuning: Tuning, side: str) -> str | None:
    """Return the lowest tuning note of a brass side, where it was not read or skipped yet."""
    state = tuning.sides[side]
    notes = tuning.instrument.side(side).tuning_notes
    if tuning.instrument.family != "brass" or state.checked or len(notes) < 3:
        return None
    lowest = min(notes, key=midi_of)
    return None if lowest in (*state.notes, *state.skipped) else lowest
