"""The faults that are looked for, by name, and what was noticed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import Enum
from typing import Any

__all__ = ["MOST_READINGS", "SHARE_OF", "Notice", "NoticeKind"]


MOST_READINGS = 100_000
"""In more readings faults are not searched for: every day of every player is tried for each, which
would take several times as long as the fit."""


class NoticeKind(Enum):
    """The likely cause; the value is its name in an answer."""

    SLIDE = "slide"
    DAY = "day"
    A4 = "a4"
    SWAP = "other instrument"
    SIGN = "sign"
    NAMES = "names"
    WRONG_NOTE = "wrong note"
    THERMOMETER = "thermometer"
    WATCHES = "watches the tuner"
    REST = "rest"
    OUTLIER = "outlier"


SHARE_OF = {
    NoticeKind.SLIDE: 0.12,
    NoticeKind.DAY: 0.26,
    NoticeKind.A4: 0.12,
    NoticeKind.SWAP: 0.12,
    NoticeKind.SIGN: 0.02,
    NoticeKind.NAMES: 0.10,
    NoticeKind.WRONG_NOTE: 0.07,
    NoticeKind.THERMOMETER: 0.04,
    NoticeKind.WATCHES: 0.05,
    NoticeKind.REST: 0.05,
    NoticeKind.OUTLIER: 0.05,
}
"""How the false alarms are shared out among the faults; the sum is one. Not how often each occurs:
a day that is off is hard to see and gets more, a turned sign is seen whatever its share."""


@dataclass(frozen=True)
class Notice:
    """One thing that looks spoilt.

    Attributes
    ----------
    kind : NoticeKind
        The likeliest cause.
    share : float
        How probable that cause is among all that were weighed, 0 to 1.
    times : float
        How many times better the causes explain the readings than none does, on average over
        what they could have been before looking.
    rehearsal, player, instrument, side : str
        Where; empty where it is everywhere, everybody, or every side.
    since : datetime or None
        Time of the first reading concerned.
    first, last : int
        Readings concerned, counted from 1 within the player's rehearsal; 0 where it is all.
    size : float
        Millimetres (slide), hertz (A4), °C (thermometer), minutes (rest), a factor (watches the
        tuner), else cents.
    cents : float
        What it does to the readings concerned, on average; positive: sharper.
    note, other : str
        The note as entered, where it is about one; the other player, the other note, or the other
        rehearsals of the same evening.
    second : NoticeKind or None
        The second cause, where it is at all likely.
    row : int
        Row of the fit's table to look at first.
    unlogged_slides : str
        Where no slide was logged: whether slides that were set are ``likely`` the cause of a day
        that is off, or ``possible``; else empty.
    """

    kind: NoticeKind
    share: float
    times: float
    rehearsal: str = ""
    player: str = ""
    instrument: str = ""
    side: str = ""
    since: datetime | None = None
    first: int = 0
    last: int = 0
    size: float = 0.0
    cents: float = 0.0
    note: str = ""
    other: str = ""
    second: NoticeKind | None = None
    row: int = 0
    unlogged_slides: str = ""

    def __str__(self) -> str:
        """Return the notice in words, times in UTC."""
        from drift.words.notices import notice_in_words

        return notice_in_words(self)

    def to_json(self) -> dict[str, Any]:
        """Return the parts that are known, by name."""
        found = dict(vars(self)) | {"kind": self.kind.value}
        found["since"] = self.since.isoformat() if self.since else None
        found["second"] = self.second.value if self.second else None
        return {name: value for name, value in found.items() if value not in ("", None)}
