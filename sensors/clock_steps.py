"""The computer's clock as a source that says when it was set, and nothing else."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Self

from sensors.clocks import StepWatch
from sensors.reading import Clock, Notice, Sample

__all__ = ["ClockSteps"]


class ClockSteps:
    """Listens to the computer's clock as one listens to a thermometer.

    Parameters
    ----------
    watched : Clock
        The clock that somebody may set.
    clock : Clock
        For the times of the notices: a `SteadyClock` keeps them in the order of the log.
    every_seconds : float
        How often to look [s].
    sleep : callable
        How to wait, given seconds.

    Notes
    -----
    Each notice has the kind ``step`` and the name ``clock``; its text says from which time to
    which the clock was set.
    """

    name = "clock"

    def __init__(
        self,
        watched: Clock,
        clock: Clock,
        *,
        every_seconds: float = 0.5,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        self._watched, self._clock = watched, clock
        self._every_seconds, self._sleep = every_seconds, sleep

    def __enter__(self) -> Self:
        """Open nothing."""
        return self

    def __exit__(self, *error: object) -> None:
        """Close nothing."""

    def __iter__(self) -> Iterator[Sample | Notice | None]:
        """Yield a notice after each step of the clock, None in between, without end."""
        watch = StepWatch(self._watched)
        while True:
            self._sleep(self._every_seconds)
            step = watch.look()
            yield step and replace(step, time=self._clock.now(), source=self.name)
