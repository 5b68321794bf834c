"""The last minutes of a live sound: its pitch as a line, and what was taken or refused in it."""

from __future__ import annotations

import threading
from collections import deque
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from drift.capture.heard import Declined, Heard, Verdict, Why
from drift.capture.levels import Level
from sensors.frames import Frames
from sensors.tones import Reason, Refusal

__all__ = ["SECONDS", "Condition", "Lately", "Trace"]

SECONDS = 180.0
"""How much of the past is held [s]."""
_CLEAR_DB, _SILENT_DB = 15.0, -75.0  # as a frame that may belong to a tone
_JUDGED = 5
_IN_ECHO = 2  # of the last five tones


class Condition(StrEnum):
    """How well a sound can be measured where the microphone is."""

    GOOD = "good"
    SOFT = "too-soft"
    CLIPPED = "clipped"
    ROOM = "room"


@dataclass(frozen=True)
class Trace:
    """What was heard lately.

    Attributes
    ----------
    end_s : float
        How much sound was heard in all [s from the beginning].
    times_s : ndarray, shape (n,)
        Times of the frames that have a pitch [s].
    cents : ndarray, shape (n,)
        Their deviation from the nearest equally tempered note [cents], -50 to 50.
    items : tuple of Heard, Refusal or Declined
        What was taken, and what was refused with its reason, in the order of time.
    condition : Condition
        How well a sound can be measured.
    """

    end_s: float
    times_s: NDArray[np.float64]
    cents: NDArray[np.float64]
    items: tuple[Heard | Refusal | Declined, ...]
    condition: Condition

    def lines(self, gap_s: float = 0.1, jump_cents: float = 40.0) -> list[NDArray[np.intp]]:
        """Return the unbroken lines, as indices: cut at gaps, and where the nearest note changes.

        Examples
        --------
        >>> times, cents = np.array([0.0, 0.05, 1.0, 1.05]), np.array([1.0, 2.0, 2.0, -49.0])
        >>> trace = Trace(2.0, times, cents, (), Condition.GOOD)
        >>> [line.tolist() for line in trace.lines()]
        [[0, 1], [2], [3]]
        """
        if not self.times_s.size:
            return []
        cut = (np.diff(self.times_s) > gap_s) | (np.abs(np.diff(self.cents)) > jump_cents)
        return np.split(np.arange(self.times_s.size), np.flatnonzero(cut) + 1)


class Lately:
    """Gather what is heard; one thread takes it in, any other looks.

    Parameters
    ----------
    seconds : float
        How much of the past is held [s].
    """

    def __init__(self, seconds: float = SECONDS) -> None:
        self._seconds, self._end_s = seconds, 0.0
        self._points: deque[tuple[float, float]] = deque()
        self._items: deque[Heard | Refusal | Declined] = deque()
        self._lock = threading.Lock()

    def take(self, frames: Frames, a4_hz: float) -> None:
        """Take the pitch of frames in, against a pitch of A4 [Hz]."""
        clear = (frames.clarity_db > _CLEAR_DB) & (frames.level_db > _SILENT_DB)
        cents = 1200 * np.log2(np.maximum(frames.hertz, 1.0) / a4_hz)
        points = zip(frames.time_s[clear], ((cents + 50) % 100 - 50)[clear], strict=True)
        with self._lock:
            self._end_s = max(self._end_s, float(frames.time_s[-1])) if clear.size else self._end_s
            self._points.extend((float(time), float(value)) for time, value in points)
            self._forget()

    def add(self, item: Heard | Refusal | Declined) -> None:
        """Take in what was taken or refused."""
        with self._lock:
            self._items.append(item)
            self._forget()

    def trace(self, level: Level = Level.GOOD) -> Trace:
        """Return what was heard lately, at the level of the microphone."""
        with self._lock:
            points = np.array(self._points, dtype=float).reshape(-1, 2)
            items, end_s = tuple(self._items), self._end_s
        return Trace(end_s, points[:, 0], points[:, 1], items, _condition(items, level))

    def _forget(self) -> None:
        oldest = self._end_s - self._seconds
        while self._points and self._points[0][0] < oldest:
            self._points.popleft()
        while self._items and _end_of(self._items[0]) < oldest:
            self._items.popleft()


def _end_of(item: Heard | Refusal | Declined) -> float:
    return item.tone.end_s if isinstance(item, Heard) else item.end_s


def _condition(items: tuple[Heard | Refusal | Declined, ...], level: Level) -> Condition:
    """Return what hinders most: the level first, then echo in the last few tones."""
    if level is not Level.GOOD:
        return Condition(level.value)
    tones = [i for i in items if isinstance(i, Heard) or i.reason in (Reason.PAIR, Why.ALONE)]
    echo = sum(not isinstance(i, Heard) or i.verdict is not Verdict.ONE_PLAYER
               for i in tones[-_JUDGED:])  # fmt: skip
    return Condition.ROOM if echo >= _IN_ECHO else Condition.GOOD
