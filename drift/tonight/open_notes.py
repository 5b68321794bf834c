"""Which notes are open on a side: harmonics of its fundamental, and how far they lie off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, log2

from drift.instruments.anatomy import Instrument, Side
from drift.notes import canonical_note, hertz_of
from drift.tonight.tuning_belief import HABIT_SD_CENTS

__all__ = ["ClassNote", "class_note_on", "harmonic_cents"]

OPEN_CENTS = 20.0
"""A harmonic so near a note is that note (the seventh, 31 cents flat, is not used)."""
MOST_HARMONIC = 16
LOOP_SD_CENTS = 3.0
"""A valve's loop shifts a note by about so much (a guess)."""


@dataclass(frozen=True)
class ClassNote:
    """The note that a whole class tunes to, on the side where it serves best.

    Attributes
    ----------
    side, note : str
        Where it is read.
    cents, sd_cents : float
        Its difference from the tuning notes that is to be expected [cents].
    open : bool
        Whether it is played without valves.
    """

    side: str
    note: str
    cents: float
    sd_cents: float
    open: bool


def harmonic_cents(side: Side, note: str) -> float | None:
    """Return how far a note's harmonic lies from equal temperament, None where it is not open.

    Parameters
    ----------
    side : Side
        A side of a brass instrument.
    note : str
        Sounding note.

    Examples
    --------
    >>> from drift.instruments.catalogue import Catalogue
    >>> horn = Catalogue.shipped().find("double horn")
    >>> round(harmonic_cents(horn.side("F"), "A4"))  # the tenth harmonic
    -14
    >>> harmonic_cents(horn.side("Bb"), "A4") is None  # needs a valve
    True
    """
    ratio = hertz_of(note) / side.fundamental_hz
    number = round(ratio)
    if not 1 <= number <= MOST_HARMONIC:
        return None
    cents = 1200.0 * log2(number / ratio)
    return cents if abs(cents) <= OPEN_CENTS else None


def class_note_on(instrument: Instrument, note: str, order: Sequence[str]) -> ClassNote:
    """Return where and how a class's note is to be read.

    Parameters
    ----------
    instrument : Instrument
        The instrument.
    note : str
        Sounding note.
    order : sequence of str
        Its sides in the order of work.

    Examples
    --------
    >>> from drift.instruments.catalogue import Catalogue
    >>> horn = Catalogue.shipped().find("double horn")
    >>> class_note_on(horn, "Bb4", ["Bb", "F"]).side, class_note_on(horn, "A4", ["Bb", "F"]).side
    ('Bb', 'F')
    """
    name = canonical_note(note)
    if instrument.family == "brass":
        for side in order:
            cents = harmonic_cents(instrument.side(side), name)
            if cents is not None:
                return ClassNote(side, name, cents, HABIT_SD_CENTS, True)
        return ClassNote(order[0], name, 0.0, hypot(HABIT_SD_CENTS, LOOP_SD_CENTS), False)
    return ClassNote(order[0], name, 0.0, HABIT_SD_CENTS, True)
