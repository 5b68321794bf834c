"""A tuner reading as it is typed: note, cents or hertz, side, and what was unusual."""

from __future__ import annotations

import re
from typing import NamedTuple

from drift.errors import InputError
from drift.note_names import is_german, typed_note
from drift.notes import cents_between, hertz_of
from drift.quantities import NUMBER, parse_quantity

__all__ = ["Note", "parse_reading"]

HOW = "type it as F4 +6, F4 6 sharp, F4 351.2Hz or F4 +6 Bb; +6 alone repeats the last note"

# The patterns are compiled at the first reading, for the start of a log need not wait for them.
_NOTE = r"[A-Za-z]{1,3}[#♯♭]?-?\d+"
_SIGN = r"[+\-−–]"
_NUMBER = r"\d+(?:[.,]\d+)?"
_DEGREES = rf"{_NUMBER}(?:[CF]|\s*°[CFcf])"
_READING = (
    rf"(?P<note>{_NOTE})?"
    rf"(?:\s+|(?={_SIGN})|^)"
    rf"(?P<sign>{_SIGN}?)\s*(?P<number>{_NUMBER})\s*"
    r"(?P<unit>hz|cents?|cts?|ct?)?"
    r"(?:\s*\b(?P<way>sharp|flat))?"
    r"(?:\s+(?P<side>\S+))?"
)


class Note(NamedTuple):
    """A tuner reading, in cents from equal temperament or in hertz.

    Attributes
    ----------
    note : str
        As typed, in scientific pitch notation; empty: the note that was read last.
    cents, hertz : float or None
        What the tuner showed; one of the two.
    side : str
        Side of the instrument; empty when it was not typed.
    remark : str
        What was unusual about the reading.
    flagged : bool
        Whether the player calls it unusual.
    called : str
        The name of the note as it was typed, where English has none like it: ``H4`` for B4.
    """

    note: str
    cents: float | None = None
    hertz: float | None = None
    side: str = ""
    remark: str = ""
    flagged: bool = False
    called: str = ""

    def cents_at(self, a4_hz: float, semitones: int = 0) -> float:
        """Return the deviation [cents] of a note that sounds so many semitones lower."""
        if self.cents is not None:
            return self.cents
        assert self.hertz is not None
        return cents_between(self.hertz, hertz_of(self.note, a4_hz)) + 100.0 * semitones


def parse_reading(line: str) -> Note:
    """Return the reading that a typed line holds.

    Parameters
    ----------
    line : str
        Such as ``F4 +6``, ``F4-12``, ``F4 - 8``, ``+6ct``, ``F4 12 flat``, ``F4 351.2Hz F``,
        ``F4 +6 Bb ! mute in``.

    Raises
    ------
    InputError
        When it is not one, or could mean two; with what to type instead.

    Examples
    --------
    >>> parse_reading("F4 12 flat Bb")
    Note(note='F4', cents=-12.0, hertz=None, side='Bb', remark='', flagged=False, called='')
    >>> parse_reading("-3").cents
    -3.0
    """
    typed, flag, remark = line.partition("!")
    if re.fullmatch(_DEGREES, typed.strip()):
        raise InputError(
            f"{typed.strip()} reads as a temperature",
            f"type temp {typed.strip()}; cents with their sign: +6, 6 flat",
        )
    found = re.fullmatch(_READING, typed.strip(), re.IGNORECASE)
    if found is None:
        raise _not_a_reading(typed.strip())
    note = typed_note(found["note"]) if found["note"] else ""
    side = (found["side"] or "").replace("♭", "b")
    value = _number(found)
    hertz = (found["unit"] or "").lower() == "hz"
    if hertz and (value <= 0.0 or found["way"] or not note):
        raise InputError(f"{typed.strip()!r} is not a pitch", "type it as F4 351.2Hz")
    return Note(
        note, None if hertz else value, value if hertz else None, side, remark.strip(), bool(flag),
        found["note"] if found["note"] and is_german(found["note"]) else "",
    )  # fmt: skip


def _number(found: re.Match[str]) -> float:
    value = parse_quantity(found["number"], NUMBER)
    minus = found["sign"] in ("-", "−", "–")
    if found["way"]:
        flat = found["way"].lower() == "flat"
        if found["sign"] and minus != flat:
            raise InputError(
                f"{found['sign']}{found['number']} {found['way']} says two things",
                "type -12 or 12 flat for below, +12 or 12 sharp for above",
            )
        return -value if flat else value
    return -value if minus else value


def _not_a_reading(typed: str) -> InputError:
    first, _, rest = typed.partition(" ")
    if not re.fullmatch(_NOTE, first):
        return InputError(f"{typed!r} is not an entry", f"{HOW}; or help for the other entries")
    try:
        typed_note(first)
    except InputError as refusal:
        return refusal
    if not rest:
        return InputError(f"{typed!r} has a note and no cents", HOW)
    return InputError(f"{rest.strip()!r} is neither cents nor hertz with perhaps a side", HOW)
