"""Slow probes: a thermometer that lags behind the air says so."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence
from datetime import timedelta
from types import TracebackType
from typing import Self

from sensors.reading import Notice, Sample, Source

__all__ = ["Slow", "StepFinder", "settling"]

TIME_CONSTANTS = 5.0  # after five of them 0.7 % of a step is left
STEP_CELSIUS = 1.0


class StepFinder:
    """Finds from a slow probe's own readings when the air around it has changed at a step.

    Parameters
    ----------
    response_seconds : float
        Time constant of the probe: 63 % of a step are shown after it [s].
    step_celsius : float
        How far the air may run ahead of the probe before it counts as a step [°C].

    Notes
    -----
    A probe of the first order follows ``dT/dt = (T_air - T) / tau``, so the air is ahead by
    ``tau dT/dt``. The slope is taken over half a time constant, which leaves the noise of that
    difference at three times the noise of a reading.
    """

    def __init__(self, response_seconds: float, step_celsius: float = STEP_CELSIUS) -> None:
        self.response_seconds = response_seconds
        self.step_celsius = step_celsius
        self._recent: deque[tuple[float, float]] = deque()
        self._until = float("-inf")

    def add(self, seconds: float, celsius: float) -> bool:
        """Take a reading; return whether it still lags behind a step.

        Parameters
        ----------
        seconds : float
            Time of the reading on a clock that never goes back [s].
        celsius : float
            What the probe shows [°C].
        """
        window = self.response_seconds / 2.0
        while len(self._recent) > 1 and self._recent[1][0] <= seconds - window:
            self._recent.popleft()
        self._recent.append((seconds, celsius))
        first_seconds, first_celsius = self._recent[0]
        span = max(seconds - first_seconds, window)
        ahead = self.response_seconds * (celsius - first_celsius) / span
        if abs(ahead) > self.step_celsius and seconds >= self._until:
            self._until = seconds + TIME_CONSTANTS * self.response_seconds
        return seconds < self._until


def settling(
    seconds: Sequence[float],
    celsius: Sequence[float],
    response_seconds: float,
    step_celsius: float = STEP_CELSIUS,
) -> list[bool]:
    """Return which readings of a slow probe lag behind a step of the air.

    Parameters
    ----------
    seconds : sequence of float, shape (n,)
        Times of the readings, ascending [s].
    celsius : sequence of float, shape (n,)
        What the probe shows [°C].
    response_seconds : float
        Time constant of the probe [s].
    step_celsius : float
        How far the air may run ahead of the probe before it counts as a step [°C].

    Returns
    -------
    list of bool, shape (n,)
        True from the step until five time constants after it.

    Examples
    --------
    >>> settling([0, 10, 20, 80], [20, 20, 23, 24.9], response_seconds=10)
    [False, False, True, False]
    """
    finder = StepFinder(response_seconds, step_celsius)
    return [finder.add(at, shown) for at, shown in zip(seconds, celsius, strict=True)]


class Slow:
    """A source whose probe is slow: it passes everything on and says when it lags.

    Parameters
    ----------
    source : Source
        The thermometer.
    response_seconds : float
        Time constant of its probe [s].

    Notes
    -----
    A notice of kind ``settling`` says that the readings lag from now on, one of kind
    ``settled`` that they can be taken again.
    """

    def __init__(self, source: Source, response_seconds: float) -> None:
        self.source = source
        self.name = source.name
        self.response_seconds = response_seconds

    def __enter__(self) -> Self:
        """Open the thermometer."""
        self.source.__enter__()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close the thermometer."""
        self.source.__exit__(kind, error, trace)

    def __iter__(self) -> Iterator[Sample | Notice | None]:
        """Yield what the thermometer yields, and when it starts and ends to lag."""
        finder, lagging = StepFinder(self.response_seconds), False
        started = None
        for item in self.source:
            if isinstance(item, Sample):
                started = started or item.time
                lags = finder.add((item.time - started).total_seconds(), item.celsius)
                if lags != lagging:
                    yield self._notice(item, lags)
                lagging = lags
            yield item

    def _notice(self, item: Sample, lags: bool) -> Notice:
        wait = timedelta(seconds=TIME_CONSTANTS * self.response_seconds)
        text = (
            f"the air has changed at a step; the probe lags behind it until about "
            f"{item.time + wait:%Y-%m-%dT%H:%M:%SZ}"
            if lags
            else "the probe has caught up with the air"
        )
        return Notice(item.time, "settling" if lags else "settled", text, self.name)
