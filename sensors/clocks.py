"""The computer's clocks: the time of day, which people set, and one that only goes on."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta

from sensors.reading import Clock, Notice

__all__ = ["SteadyClock", "StepWatch", "SystemClock"]

# Seconds that go on while the computer sleeps, so that waking up is not taken for a clock set
# by hand: CLOCK_BOOTTIME on Linux, CLOCK_MONOTONIC on macOS (where time.monotonic stops asleep),
# time.monotonic on Windows. From the systems' manuals, from memory.
_CLOCK_WHILE_ASLEEP: int | None = getattr(
    time, "CLOCK_BOOTTIME", getattr(time, "CLOCK_MONOTONIC", None)
)


class SystemClock:
    """The clock of this computer; only the outermost layer makes one."""

    def now(self) -> datetime:
        """Return the time of day, aware, in UTC."""
        return datetime.now(UTC)

    def monotonic(self) -> float:
        """Return seconds that never go back and go on while the computer sleeps."""
        if _CLOCK_WHILE_ASLEEP is None:
            return time.monotonic()
        return time.clock_gettime(_CLOCK_WHILE_ASLEEP)


class StepWatch:
    """Notices when the computer's clock is set: by hand, by the network, by a wrong battery.

    Parameters
    ----------
    clock : Clock
        The clock to watch.
    least_seconds : float
        Smaller steps are not worth a notice [s].

    Notes
    -----
    Between two looks, the time of day must advance as much as the monotonic clock does; the
    difference is the step. Look at least every few seconds: a clock that is slewed (500 parts
    in a million at most) then stays far below ``least_seconds``. Daylight saving moves no time
    in UTC and is no step.
    """

    def __init__(self, clock: Clock, *, least_seconds: float = 1.0) -> None:
        self.clock = clock
        self.least_seconds = least_seconds
        self._now, self._monotonic = self._both()

    def look(self) -> Notice | None:
        """Return a notice of kind ``step`` if the clock was set since the last look."""
        now, monotonic = self._both()
        step = (now - self._now).total_seconds() - (monotonic - self._monotonic)
        before = self._now
        self._now, self._monotonic = now, monotonic
        if abs(step) < self.least_seconds:
            return None
        way = "forward" if step > 0 else "back"
        text = (
            f"the computer's clock was set {way} by {abs(step):.1f} s, "
            f"from about {before:%Y-%m-%dT%H:%M:%SZ} to {now:%Y-%m-%dT%H:%M:%SZ}"
        )
        return Notice(now, "step", text)

    def _both(self) -> tuple[datetime, float]:
        """Look at both clocks at the same moment, again where the computer was busy between."""
        for _ in range(5):
            before, now, after = self.clock.monotonic(), self.clock.now(), self.clock.monotonic()
            if after - before < self.least_seconds / 4.0:
                break
        return now, after


class SteadyClock:
    """A time of day that goes on evenly from where it began, whatever is done to the computer's.

    A log written with it keeps its order and its distances when the computer's clock is set in
    the middle of a rehearsal; a `StepWatch` on the underlying clock tells that it was.

    Parameters
    ----------
    clock : Clock
        Gives the beginning, and the seconds since.
    """

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._start, self._zero = clock.now(), clock.monotonic()

    def now(self) -> datetime:
        """Return the time of day, aware, in UTC."""
        return self._start + timedelta(seconds=self.monotonic() - self._zero)

    def monotonic(self) -> float:
        """Return seconds that never go back."""
        return self._clock.monotonic()
