"""Readings that could be paired, and why the others were left out."""

from __future__ import annotations

import enum
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from drift.errors import TooLittleData

__all__ = ["LeftOut", "Paired", "Reason", "nothing_left"]


class Reason(enum.Enum):
    """Why a reading is left out; the value is its name in an answer.

    What helps against it is here as well: a refusal to fit no readings needs it.
    """

    OTHER_THERMOMETER = "other_thermometer"
    NO_TEMPERATURE = "no_temperature"
    BEFORE_PLAYING = "before_playing"
    SETTLING = "settling"
    UNKNOWN_SIDE = "unknown_side"
    FLAGGED = "flagged"
    THERMOMETER_LAGGED = "thermometer_lagged"
    MISSING_NUMBER = "missing_number"
    FIXED_PITCH = "fixed_pitch"

    @property
    def text(self) -> str:
        """The reason in words, to stand after a count."""
        return _TEXTS[self][0]

    @property
    def remedy(self) -> str:
        """What to do about it."""
        return _TEXTS[self][1]


_TEXTS = {
    Reason.OTHER_THERMOMETER: (
        "in rehearsals without the chosen thermometer",
        "choose another thermometer, or several in order (--thermometer)",
    ),
    Reason.NO_TEMPERATURE: (
        "no temperature within 10 minutes",
        "log a temperature beside the readings: temp 21.5, or a thermometer",
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


@dataclass(frozen=True)
class LeftOut:
    """How many readings were left out for a reason.

    Attributes
    ----------
    reason : Reason
    count : int
    """

    reason: Reason
    count: int

    def to_json(self) -> dict[str, Any]:
        """Return the reason, by its code and in words, with its count."""
        return {"reason": self.reason.value, "text": self.reason.text, "count": self.count}


@dataclass(frozen=True)
class Paired:
    """One row a reading, with its temperature, its playing time and its slides undone.

    Attributes
    ----------
    frame : DataFrame
        The rows, as `drift.pair` describes them.
    left_out : tuple of LeftOut
        Which readings have no row, and why.
    thermometers : tuple of str
        Where the temperatures are from: one, unless several were chosen in order.
    """

    frame: pd.DataFrame
    left_out: tuple[LeftOut, ...] = ()
    thermometers: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.frame)

    def to_frame(self) -> pd.DataFrame:
        """Return a copy of the rows."""
        return self.frame.copy()

    def same_as(self, other: Paired) -> bool:
        """Return whether another one holds the same rows, from the same thermometers."""
        return self.thermometers == other.thermometers and self.frame.equals(other.frame)


def nothing_left(left_out: Sequence[LeftOut]) -> TooLittleData:
    """Return the refusal to fit no readings, with the reasons and what helps against the first.

    Parameters
    ----------
    left_out : sequence of LeftOut
        Why the readings were left out.
    """
    commonest = sorted(left_out, key=lambda item: -item.count)
    if not commonest:
        return TooLittleData(
            "no reading is left to fit: there are none",
            "log readings of a few notes with a temperature, or ask physics for acoustics alone",
        )
    total = sum(item.count for item in commonest)
    readings = "1 reading" if total == 1 else f"{total} readings"
    return TooLittleData(
        f"no reading is left to fit: of {readings}, "
        + ", ".join(f"{item.count} {item.reason.text}" for item in commonest),
        commonest[0].reason.remedy,
    )
