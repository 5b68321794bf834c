"""Names of notes, hertz and cents: equal temperament around A4, in scientific pitch notation.

Middle C is ``C4`` and the tuning A is ``A4`` (440 Hz in ISO 16). Files and JSON use ASCII
(``Bb3``, ``C#5``); `shown` turns a name into ♭ and ♯ for screens and paper. Everything here is
sounding (concert) pitch unless a function says ``written``.

References
----------
ISO 16:1975, *Acoustics — Standard tuning frequency*: A4 = 440 Hz.
MIDI 1.0 key numbers: A4 = 69 (common practice).
"""

from __future__ import annotations

import math
import re

from drift.errors import InputError

__all__ = [
    "canonical_note",
    "cents_between",
    "hertz_of",
    "midi_of",
    "nearest_note",
    "note_of_midi",
    "shown",
    "sounding_of",
    "written_of",
]

SEMITONE_OF_LETTER = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
SEMITONE_OF_ACCIDENTAL = {"": 0, "#": 1, "b": -1}
NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
A4_MIDI = 69

NOTE = r"([A-Ga-g])([#b♯♭]?)(-1|\d)"
TO_ASCII = str.maketrans("♭♯", "b#")


def _parts(text: str) -> tuple[str, str, int]:
    found = re.fullmatch(NOTE, text.strip())
    if found is None:
        raise InputError(
            f"{text!r} is not a note",
            "write a letter from A to G, b or # where needed, and the octave: F4, Bb3, C#5",
        )
    letter, accidental, octave = found.groups()
    return letter.upper(), accidental.translate(TO_ASCII), int(octave)


def canonical_note(text: str) -> str:
    """Return the ASCII name of a note, keeping its spelling.

    Parameters
    ----------
    text : str
        A note such as ``f4``, ``B♭3`` or ``C#5``.

    Returns
    -------
    str
        ``F4``, ``Bb3``, ``C#5``.

    Raises
    ------
    InputError
        If the text is no note, or one outside C-1 to G9.

    Examples
    --------
    >>> canonical_note("b♭3")
    'Bb3'
    """
    letter, accidental, octave = _parts(text)
    midi_of(f"{letter}{accidental}{octave}")
    return f"{letter}{accidental}{octave}"


def midi_of(note: str) -> int:
    """Return the number of a note, counted in semitones with A4 = 69.

    Parameters
    ----------
    note : str
        A note in scientific pitch notation.

    Returns
    -------
    int
        The MIDI key number, 0 to 127.

    Raises
    ------
    InputError
        If the text is no note, or one outside 0 to 127.

    Examples
    --------
    >>> midi_of("F4"), midi_of("Bb3")
    (65, 58)
    """
    letter, accidental, octave = _parts(note)
    midi = 12 * (octave + 1) + SEMITONE_OF_LETTER[letter] + SEMITONE_OF_ACCIDENTAL[accidental]
    if not 0 <= midi <= 127:
        raise InputError(f"note {note!r} lies outside C-1 to G9", "check the octave of the note")
    return midi


def note_of_midi(midi: int) -> str:
    """Return the name of a numbered note; black keys are spelled C#, Eb, F#, Ab, Bb.

    Parameters
    ----------
    midi : int
        The MIDI key number, 0 to 127.

    Returns
    -------
    str
        The note in ASCII.

    Raises
    ------
    InputError
        If the number is outside 0 to 127.

    Examples
    --------
    >>> note_of_midi(58)
    'Bb3'
    """
    if not 0 <= midi <= 127:
        raise InputError(
            f"note number {midi} lies outside 0 to 127", "check the octave or the transposition"
        )
    return f"{NAMES[midi % 12]}{midi // 12 - 1}"


def hertz_of(note: str, a4_hz: float = 440.0) -> float:
    """Return the frequency of a note in equal temperament.

    Parameters
    ----------
    note : str
        A note in scientific pitch notation.
    a4_hz : float
        Pitch of A4 [Hz].

    Returns
    -------
    float
        Frequency [Hz].

    Notes
    -----
    ``f = a4 * 2**((midi - 69) / 12)``; exact by definition.

    Examples
    --------
    >>> round(hertz_of("F4"), 3)
    349.228
    """
    return a4_hz * math.exp2((midi_of(note) - A4_MIDI) / 12.0)


def cents_between(hertz: float, reference_hertz: float) -> float:
    """Return how far a frequency lies above another.

    Parameters
    ----------
    hertz, reference_hertz : float
        Frequencies [Hz], positive.

    Returns
    -------
    float
        ``1200 log2(hertz / reference_hertz)`` [cents], positive when sharp.

    Raises
    ------
    InputError
        If a frequency is not positive.

    Examples
    --------
    >>> round(cents_between(442.0, 440.0), 2)
    7.85
    """
    if not (hertz > 0.0 and reference_hertz > 0.0):
        raise InputError(
            f"no cents between {hertz:g} Hz and {reference_hertz:g} Hz",
            "give frequencies above zero",
        )
    return 1200.0 * math.log2(hertz / reference_hertz)


def nearest_note(hertz: float, a4_hz: float = 440.0) -> tuple[str, float]:
    """Return the note nearest to a frequency and how far off it is.

    Parameters
    ----------
    hertz : float
        Frequency [Hz], positive.
    a4_hz : float
        Pitch of A4 [Hz].

    Returns
    -------
    note : str
        The note in ASCII.
    cents : float
        Deviation from it [cents], between -50 and 50, positive when sharp.

    Examples
    --------
    >>> note, cents = nearest_note(351.2)
    >>> note, round(cents, 1)
    ('F4', 9.7)
    """
    semitones = cents_between(hertz, a4_hz) / 100.0
    nearest = round(semitones)
    return note_of_midi(A4_MIDI + nearest), 100.0 * (semitones - nearest)


def shown(text: str) -> str:
    """Return a text with the flats and sharps of its note names as ♭ and ♯, for people.

    Only a capital letter from A to G at the start of a word takes a sign, so ``Bb trumpet`` and
    ``BBb tuba`` change and ``ebb`` does not.

    Parameters
    ----------
    text : str
        Text with ASCII names.

    Returns
    -------
    str
        The same with ♭ and ♯.

    Examples
    --------
    >>> shown("Bb trumpet, F#4, BBb tuba, main")
    'B♭ trumpet, F♯4, BB♭ tuba, main'
    """

    def with_sign(found: re.Match[str]) -> str:
        return found[1] + ("♭" if found[2] == "b" else "♯")

    return re.sub(r"(?<![A-Za-z])([A-G]{1,2})([b#])(?![A-Za-z])", with_sign, text)


def written_of(note: str, semitones: int) -> str:
    """Return the note a player reads for a sounding note.

    Parameters
    ----------
    note : str
        Sounding note.
    semitones : int
        Written minus sounding; 7 for a horn in F.

    Returns
    -------
    str
        Written note.

    Examples
    --------
    >>> written_of("F4", 7)
    'C5'
    """
    return note_of_midi(midi_of(note) + semitones) if semitones else canonical_note(note)


def sounding_of(note: str, semitones: int) -> str:
    """Return the sounding note for a note a player reads.

    Parameters
    ----------
    note : str
        Written note.
    semitones : int
        Written minus sounding; 7 for a horn in F.

    Returns
    -------
    str
        Sounding note.

    Examples
    --------
    >>> sounding_of("C5", 7)
    'F4'
    """
    return note_of_midi(midi_of(note) - semitones) if semitones else canonical_note(note)
