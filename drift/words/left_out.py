"""Why readings were left out, in words, and what helps."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from drift.pairing.paired import Reason
from drift.words.numbers import some

if TYPE_CHECKING:
    from drift.pairing.paired import LeftOut

__all__ = ["in_json", "refusal", "text", "why"]

TEXTS = {
    Reason.ASKED: ("in rehearsals that were to be left out", "leave fewer rehearsals out"),
    Reason.OTHER_THERMOMETER: (
        "in rehearsals without the chosen thermometer",
        "choose another thermometer, or several in order (--thermometer)",
    ),
    Reason.OTHER_REHEARSAL: (
        "no temperature in their rehearsal, though one of another name has some then",
        "give rows of one rehearsal the same name in every table, or leave the column rehearsal "
        "out of the temperatures, which then go by time; drift check lists the names",
    ),
    Reason.NO_TEMPERATURE: (
        "no temperature within 10 minutes",
        "log a temperature beside the readings (temp and the degrees, or a thermometer); where one "
        "is logged, drift check says whether its clock is off",
    ),
    Reason.BEFORE_PLAYING: (
        "before the player began to play",
        "log play when the player begins, and read after that",
    ),
    Reason.SETTLING: (
        "too soon after the player began to play",
        "read again after some minutes of playing",
    ),
    Reason.UNKNOWN_SIDE: (
        "slides were moved and the side is not stated",
        "say on which side each reading was, such as F or Bb",
    ),
    Reason.FLAGGED: (
        "flagged as unusual",
        "fit with the flagged readings too, or read again without watching the tuner",
    ),
    Reason.THERMOMETER_LAGGED: (
        "the thermometer lagged behind a step",
        "fit with the flagged readings too, or wait until the thermometer has settled",
    ),
    Reason.MISSING_NUMBER: ("a number is missing", "fill in the missing numbers"),
    Reason.FIXED_PITCH: (
        "an instrument of fixed pitch, which playing does not warm",
        "log an instrument with a tube; a plan for a gig knows bars as well",
    ),
}
"""In words, to stand after a count, and what to do about it."""


def text(reason: Reason) -> str:
    """Return a reason, to stand after a count.

    Examples
    --------
    >>> text(Reason.FLAGGED)
    'flagged as unusual'
    """
    return TEXTS[reason][0]


def why(left_out: LeftOut) -> str:
    """Return why readings were left out, with the columns that lack a number and who has none.

    Examples
    --------
    >>> from drift.pairing.paired import LeftOut
    >>> why(LeftOut(Reason.MISSING_NUMBER, 60, ("meal_hours",)))
    'a number is missing (meal_hours)'
    >>> why(LeftOut(Reason.MISSING_NUMBER, 60, ("meal_hours",), ("Rowan",)))
    'a number is missing (meal_hours), in all readings of Rowan'
    """
    columns = f" ({', '.join(left_out.columns)})" if left_out.columns else ""
    whole = f", in all readings of {some(left_out.players)}" if left_out.players else ""
    return f"{text(left_out.reason)}{columns}{whole}"


def in_json(left_out: LeftOut) -> dict[str, Any]:
    """Return a reason, by its code and in words, with its count."""
    reason = left_out.reason
    return {"reason": reason.value, "text": why(left_out), "count": left_out.count}


def refusal(left_out: Iterable[LeftOut]) -> tuple[str, str]:
    """Return why nothing is left to fit, and what helps against the commonest reason."""
    commonest = sorted(left_out, key=lambda item: -item.count)
    if not commonest:
        return (
            "no reading is left to fit: there are none",
            "log readings of a few notes with a temperature; the word acoustics in place of a "
            "logbook needs none",
        )
    total = sum(item.count for item in commonest)
    readings = "1 reading" if total == 1 else f"{total} readings"
    counts = ", ".join(f"{item.count} {why(item)}" for item in commonest)
    return (
        f"no reading is left to fit: of {readings}, {counts}",
        TEXTS[commonest[0].reason][1],
    )
