"""Names of notes as people type them: other languages, where they can mean only one note."""

from __future__ import annotations

import re

from drift.errors import InputError
from drift.notes import canonical_note

__all__ = ["is_german", "typed_note"]

# Of German and Scandinavian notation (common practice): -is raises, -es lowers, H is B natural.
_LONG = {
    "ces": "Cb", "cis": "C#", "des": "Db", "dis": "D#", "es": "Eb", "eis": "E#", "fes": "Fb",
    "fis": "F#", "ges": "Gb", "gis": "G#", "as": "Ab", "ais": "A#", "hes": "Bb", "his": "B#",
    "h": "B",
}  # fmt: skip
_NAMED = re.compile(r"([a-z]+)(-1|\d)", re.IGNORECASE)


def is_german(text: str) -> bool:
    """Return whether a note has a name that English has not: ``H3``, ``fis4``, ``es4``.

    Examples
    --------
    >>> [is_german(name) for name in ("H3", "Es4", "B3", "Eb4")]
    [True, True, False, False]
    """
    found = _NAMED.fullmatch(text.strip())
    return found is not None and found[1].lower() in _LONG


def typed_note(text: str, *, german: bool = False) -> str:
    """Return the ASCII name of a note in scientific pitch notation, typed in whichever language.

    Parameters
    ----------
    text : str
        Such as ``F4``, ``b♭3``, ``fis4``, ``es4``, ``h3``. The octave is that of scientific
        pitch notation: middle C is C4.
    german : bool
        Whether it is typed by one who has typed German names before: a capital B may be B♭ then.

    Returns
    -------
    str
        ``F4``, ``Bb3``, ``F#4``, ``Eb4``, ``B3``.

    Raises
    ------
    InputError
        If the text is not a note, or could mean two: ``b4`` is B4 in English and B♭4 in German.

    Examples
    --------
    >>> [typed_note(name) for name in ("f4", "B♭3", "fis4", "as3", "H3")]
    ['F4', 'Bb3', 'F#4', 'Ab3', 'B3']
    """
    plain = text.strip()
    if re.fullmatch(r"[Bb](-1|\d)" if german else r"b(-1|\d)", plain):
        octave = plain[1:]
        natural = f"H{octave}" if german else f"B{octave} (or h{octave})"
        raise InputError(
            f"{plain} could mean two notes: B{octave} in English, B♭{octave} in German",
            f"type {natural} for the one, Bb{octave} for the other",
        )
    found = _NAMED.fullmatch(plain)
    if found and (name := _LONG.get(found[1].lower())):
        return f"{name}{found[2]}"
    return canonical_note(plain)
