"""Temperatures that a person types: the thermometer on the wall, read by eye."""

from __future__ import annotations

from collections.abc import Iterator
from queue import Empty, SimpleQueue
from typing import Self

from sensors.dialects import plain
from sensors.reading import Clock, Notice, Sample

__all__ = ["Manual", "typed"]


def typed(text: str, *, clock: Clock, name: str = "typed") -> Sample:
    """Return the temperature that a person typed.

    Parameters
    ----------
    text : str
        Such as ``21.5``, ``21,5 °C`` or ``70F``; °C where no unit is given.
    clock : Clock
        For its time.
    name : str
        The name of the thermometer.

    Raises
    ------
    LineRefused
        If the text is no temperature of air.
    """
    return Sample(clock.now(), plain(text).celsius, source=name, raw=text)


class Manual:
    """A source whose temperatures are typed somewhere else in the program.

    Parameters
    ----------
    clock : Clock
        For the time of each temperature.
    name : str
        The name of the thermometer.
    """

    def __init__(self, clock: Clock, *, name: str = "typed") -> None:
        self.clock = clock
        self.name = name
        self._typed: SimpleQueue[Sample] = SimpleQueue()

    def say(self, text: str) -> Sample:
        """Take one typed temperature and return it; `LineRefused` if it is none."""
        taken = typed(text, clock=self.clock, name=self.name)
        self._typed.put(taken)
        return taken

    def __enter__(self) -> Self:
        """Open nothing."""
        return self

    def __exit__(self, *error: object) -> None:
        """Close nothing."""

    def __iter__(self) -> Iterator[Sample | Notice | None]:
        """Yield what was typed, None in between, without end."""
        while True:
            try:
                yield self._typed.get(timeout=0.2)
            except Empty:
                yield None
