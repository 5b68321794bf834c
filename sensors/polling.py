"""Asking a device every few seconds, without ever keeping a caller waiting."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from sensors.reading import Clock, Notice, Sample

__all__ = ["every"]

LONGEST_SLEEP_SECONDS = 0.2


def every(
    seconds: float,
    ask: Callable[[], Iterable[Sample | Notice]],
    clock: Clock,
    sleep: Callable[[float], None],
) -> Iterator[Sample | Notice | None]:
    """Yield what a device has to say every so often, and None in between, without end.

    Parameters
    ----------
    seconds : float
        From one question to the next [s]; a question that takes longer delays the next.
    ask : callable
        Asks once and returns what came.
    clock : Clock
        For the pace.
    sleep : callable
        How to wait, given seconds.
    """
    due = clock.monotonic()
    while True:
        if clock.monotonic() >= due:
            due = clock.monotonic() + seconds
            yield from ask()
        yield None
        sleep(min(LONGEST_SLEEP_SECONDS, max(0.0, due - clock.monotonic())))
