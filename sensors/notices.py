"""What a source says about itself: away and back once each, refused lines without a flood."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable

from sensors.errors import LineRefused
from sensors.reading import Clock, Notice

__all__ = ["Presence", "Refusals", "patience"]

USUAL_PAUSES = 3


def patience(pauses: Iterable[float], least_seconds: float) -> float:
    """Return after how long without a temperature a thermometer counts as silent [s].

    Parameters
    ----------
    pauses : iterable of float
        The last ones between its temperatures [s].
    least_seconds : float
        For one that is quicker [s].

    Examples
    --------
    >>> patience([], 60.0), patience([50.0, 55.0, 300.0], 60.0)
    (60.0, 165.0)
    """
    known = sorted(pauses)
    # Of two the longer.
    return max(least_seconds, USUAL_PAUSES * known[len(known) // 2]) if known else least_seconds


class Presence:
    """Tells when a thermometer goes away and when it is back, each once.

    Parameters
    ----------
    name : str
        The name of the thermometer.
    clock : Clock
        For the time of the notices.
    silence_seconds : float
        After how long without a temperature it counts as away [s]; longer for one that usually
        takes its time, see `patience`.
    """

    def __init__(self, name: str, clock: Clock, silence_seconds: float) -> None:
        self.name = name
        self.clock = clock
        self.silence_seconds = silence_seconds
        self._away = False
        self._last: float | None = None
        self._pauses: deque[float] = deque(maxlen=5)

    def gone(self, why: str) -> list[Notice]:
        """Return the notice that it is away, if that is news."""
        if self._away:
            return []
        self._away = True
        return [Notice(self.clock.now(), "away", why, self.name)]

    def here(self) -> list[Notice]:
        """Note a temperature; return the notice that it is back, if it was away."""
        silent = self._silent()
        self._pauses.append(silent)
        self._last = self.clock.monotonic()
        if not self._away:
            return []
        self._away = False
        text = f"back after {silent:.0f} s without a temperature"
        return [Notice(self.clock.now(), "back", text, self.name)]

    def waiting(self, why: str = "nothing comes") -> list[Notice]:
        """Return the notice that it is away, if it has been silent for too long."""
        silent = self._silent()
        if silent < patience(self._pauses, self.silence_seconds):
            return []
        return self.gone(f"no temperature for {silent:.0f} s: {why}")

    def _silent(self) -> float:
        """Return the seconds since the last temperature, or since it was first waited for."""
        if self._last is None:
            self._last = self.clock.monotonic()
        return self.clock.monotonic() - self._last


class Refusals:
    """Turns refused lines into notices, one a second at most, the others counted.

    Parameters
    ----------
    name : str
        The name of the thermometer.
    clock : Clock
        For the time of the notices.
    """

    def __init__(self, name: str, clock: Clock) -> None:
        self.name = name
        self.clock = clock
        self._held_back = 0
        self._last = float("-inf")

    def notice(self, refusal: LineRefused) -> list[Notice]:
        """Return the notice for a refused line, unless one was given a moment ago."""
        now = self.clock.monotonic()
        if now - self._last < 1.0:
            self._held_back += 1
            return []
        others = f" (and {self._held_back} lines before it)" if self._held_back else ""
        self._last, self._held_back = now, 0
        text = f"{refusal.problem}{others}"
        return [Notice(self.clock.now(), "refused", text, self.name, refusal.line)]
