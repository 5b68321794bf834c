"""Readings that could be paired, and why the others were left out."""

from __future__ import annotations

import enum
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pandas as pd

from drift.errors import TooLittleData
from drift.groups import codes_of

__all__ = ["LeftOut", "Paired", "Reason", "counted", "left_out_of", "nothing_left"]


class Reason(enum.Enum):
    """Why a reading is left out; the value is its name in an answer."""

    ASKED = "asked"
    OTHER_THERMOMETER = "other_thermometer"
    OTHER_REHEARSAL = "other_rehearsal"
    NO_TEMPERATURE = "no_temperature"
    BEFORE_PLAYING = "before_playing"
    SETTLING = "settling"
    UNKNOWN_SIDE = "unknown_side"
    FLAGGED = "flagged"
    THERMOMETER_LAGGED = "thermometer_lagged"
    MISSING_NUMBER = "missing_number"
    FIXED_PITCH = "fixed_pitch"


@dataclass(frozen=True)
class LeftOut:
    """How many readings were left out for a reason.

    Attributes
    ----------
    reason : Reason
    count : int
    columns : tuple of str
        Those that lack a number, where that is the reason.
    players : tuple of str
        Those of whom no reading is left for it.
    by_player : mapping of str to int
        How many of them are whose.
    """

    reason: Reason
    count: int
    columns: tuple[str, ...] = ()
    players: tuple[str, ...] = ()
    by_player: Mapping[str, int] = field(default_factory=dict, repr=False, compare=False)


@dataclass(frozen=True, eq=False)
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
    scatter : mapping of str to float
        Standard deviation of a single sample of those thermometers that scatter [°C]; the rows have
        what the air most likely was.
    """

    frame: pd.DataFrame
    left_out: tuple[LeftOut, ...] = ()
    thermometers: tuple[str, ...] = ()
    scatter: Mapping[str, float] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.frame)

    def to_frame(self) -> pd.DataFrame:
        """Return a copy of the rows."""
        return self.frame.copy()

    def same_as(self, other: Paired) -> bool:
        """Return whether another one holds the same rows, from the same thermometers."""
        return self.thermometers == other.thermometers and self.frame.equals(other.frame)


def counted(
    reason: Reason,
    whose: pd.Series[Any],
    columns: tuple[str, ...] = (),
    players: tuple[str, ...] = (),
) -> LeftOut:
    """Return how many readings were left out for a reason, and whose.

    Parameters
    ----------
    reason : Reason
    whose : Series
        The player of each of them.
    columns, players : tuple of str
        As in `LeftOut`.

    Examples
    --------
    >>> counted(Reason.FLAGGED, pd.Series(["Ada", "Ben", "Ada"])).by_player
    {'Ada': 2, 'Ben': 1}
    """
    codes, names = codes_of(whose)
    counts = np.bincount(codes, minlength=len(names)).tolist()
    return LeftOut(
        reason, len(whose), columns, players, dict(zip(map(str, names), counts, strict=True))
    )


def left_out_of(player: str, left_out: Sequence[LeftOut]) -> tuple[LeftOut, ...]:
    """Return how many readings of one player were left out, by reason."""
    return tuple(
        replace(
            item,
            count=item.by_player[player],
            players=tuple(name for name in item.players if name == player),
            by_player={player: item.by_player[player]},
        )
        for item in left_out
        if player in item.by_player
    )


def nothing_left(left_out: Sequence[LeftOut]) -> TooLittleData:
    """Return the refusal to fit no readings, with the reasons and what helps against the first.

    Parameters
    ----------
    left_out : sequence of LeftOut
        Why the readings were left out.
    """
    from drift.words.left_out import refusal

    return TooLittleData(*refusal(left_out))
