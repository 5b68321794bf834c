"""Whether a microphone hears well: too soft, clipped, or as it should."""

from __future__ import annotations

from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike

__all__ = ["Level", "LevelWatch"]

_SILENT_DB, _SOFT_DB = -75.0, -50.0
_FULL_SCALE, _CLIPPED_SHARE = 0.98, 0.001
_WINDOW_S = 10.0


class Level(StrEnum):
    """How loud the sound is that a microphone gives."""

    GOOD = "good"
    SOFT = "too-soft"
    CLIPPED = "clipped"


class LevelWatch:
    """Notice when a live sound becomes too soft or too loud to be measured well.

    Silence between notes is neither: what counts is the loudest block in ten seconds.

    Parameters
    ----------
    rate : float
        Sample rate [Hz].

    Examples
    --------
    >>> watch = LevelWatch(8000)
    >>> watch.take(np.full(80_000, 0.001)), watch.take(np.full(80_000, 0.001))
    (<Level.SOFT: 'too-soft'>, None)
    """

    def __init__(self, rate: float) -> None:
        self.level = Level.GOOD
        self.loudest_db = -np.inf
        self._rate = rate
        self._seconds, self._clipped = 0.0, 0

    def take(self, block: ArrayLike) -> Level | None:
        """Take a block in and return the level where it has changed."""
        samples = np.abs(np.asarray(block, dtype=float))
        if samples.size == 0:
            return None
        power = float(np.mean(samples**2))
        self.loudest_db = max(self.loudest_db, 10 * np.log10(power + 1e-12))
        self._clipped += int((samples >= _FULL_SCALE).sum())
        self._seconds += len(samples) / self._rate
        if self._clipped > _CLIPPED_SHARE * self._rate:
            return self._end(Level.CLIPPED)
        if self._seconds < _WINDOW_S:
            return None
        soft = _SILENT_DB < self.loudest_db < _SOFT_DB
        return self._end(Level.SOFT if soft else Level.GOOD)

    def _end(self, level: Level) -> Level | None:
        """Begin a new window, and return the level of the last where it is another."""
        self._seconds, self._clipped = 0.0, 0
        self.loudest_db = -np.inf
        changed = level is not self.level
        self.level = level
        return level if changed else None
