"""An invented room that warms while a band plays in it, for trying things out."""

from __future__ import annotations

import math
import random
import time
from collections.abc import Callable, Iterator
from typing import Self

from sensors.reading import Clock, Notice, Sample

__all__ = ["Simulated"]


class Simulated:
    """A thermometer that does not exist, in a room that does not exist either.

    Parameters
    ----------
    clock : Clock
        For the time of each temperature.
    name : str
        The name of the thermometer.
    seed : int
        The same seed gives the same numbers.
    celsius : float
        Temperature of the room at the start [°C].
    rise : float
        How much it will have warmed in the end [°C].
    minutes : float
        Time constant of the warming [min].
    every : float
        Seconds from one temperature to the next [s].
    sleep : callable
        How to wait, given seconds.

    Notes
    -----
    ``T(t) = celsius + rise (1 - exp(-t / minutes)) + e(t)``, with ``e`` a first-order
    autoregression (0.9 from sample to sample) of standard deviation 0.05 °C, rounded to
    0.01 °C. Assumed, not measured: it looks like a room and is none.
    """

    def __init__(
        self,
        clock: Clock,
        *,
        name: str = "simulated",
        seed: int = 0,
        celsius: float = 20.0,
        rise: float = 3.0,
        minutes: float = 30.0,
        every: float = 1.0,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        self.clock = clock
        self.name = name
        self.seed = seed
        self.celsius = celsius
        self.rise = rise
        self.minutes = minutes
        self.every = every
        self._sleep = sleep

    def __enter__(self) -> Self:
        """Open nothing."""
        return self

    def __exit__(self, *error: object) -> None:
        """Close nothing."""

    def __iter__(self) -> Iterator[Sample | Notice | None]:
        """Yield a temperature every so often, None in between, without end."""
        chance = random.Random(self.seed)
        started, wobble, count = self.clock.monotonic(), 0.0, 0
        while True:
            while (left := started + count * self.every - self.clock.monotonic()) > 0:
                self._sleep(min(left, 0.2))
                yield None
            wobble = 0.9 * wobble + chance.gauss(0.0, 0.05 * math.sqrt(1 - 0.9**2))
            warmed = 1.0 - math.exp(-count * self.every / (60.0 * self.minutes))
            celsius = round(self.celsius + self.rise * warmed + wobble, 2)
            yield Sample(self.clock.now(), celsius, source=self.name, raw="simulated")
            count += 1
