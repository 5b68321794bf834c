"""A digital probe on a 1-Wire bus, read through the text file that Linux makes of it."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Self

from sensors.errors import LineRefused, SourceUnavailable
from sensors.notices import Presence, Refusals
from sensors.polling import every
from sensors.quantities import Measured, measured
from sensors.reading import Clock, Notice, Sample

__all__ = ["OneWire", "crc8", "read_scratchpad"]

_TEXT = re.compile(
    r"(?P<bytes>(?:[0-9a-f]{2} ){9}): crc=[0-9a-f]{2} (?P<verdict>YES|NO)\s+"
    r"(?P<again>(?:[0-9a-f]{2} ){9})t=(?P<milli>-?\d{1,7})\s*",
    re.IGNORECASE,
)


def crc8(data: bytes) -> int:
    """Return the check byte of a 1-Wire message.

    Parameters
    ----------
    data : bytes
        The message without its check byte.

    Notes
    -----
    Cyclic redundancy check with the polynomial ``x^8 + x^5 + x^4 + 1``, least significant bit
    first, starting from zero.

    References
    ----------
    Maxim Integrated, Application Note 27, "Understanding and Using Cyclic Redundancy Checks
    with Maxim 1-Wire and iButton Products" (from memory).

    Examples
    --------
    >>> f"{crc8(bytes.fromhex('5005 4B46 7FFF 0C10')):02X}"
    '1C'
    """
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ 0x8C if crc & 1 else crc >> 1
    return crc


def read_scratchpad(text: str) -> Measured:
    """Read the text of a ``w1_slave`` file.

    Parameters
    ----------
    text : str
        Two lines: the bytes with the kernel's verdict, and the bytes with ``t=`` in 0.001 °C.

    Returns
    -------
    Measured
        The temperature [°C].

    Raises
    ------
    LineRefused
        If the text has another shape, a check byte is wrong, or the value is a fault.

    Examples
    --------
    >>> read = "58 01 4b 46 7f ff 08 10 f9 "
    >>> read_scratchpad(f"{read}: crc=f9 YES{chr(10)}{read}t=21500").celsius
    21.5
    """
    line = " / ".join(text.split("\n")).strip(" /")
    found = _TEXT.fullmatch(text)
    if found is None:
        raise LineRefused(
            f"not the text of a w1_slave file: {line[:60]!r}",
            "give the path of the file w1_slave under /sys/bus/w1/devices",
            line,
        )
    scratchpad = bytes.fromhex(found["bytes"])
    right = crc8(scratchpad[:8]) == scratchpad[8] and any(scratchpad)
    if not right or found["verdict"].upper() != "YES" or found["again"] != found["bytes"]:
        raise LineRefused(
            "the check byte of the probe is wrong", "check the probe's wiring and its length", line
        )
    return measured(int(found["milli"]) / 1000.0, line)


class OneWire:
    """A probe on a 1-Wire bus.

    Parameters
    ----------
    path : path
        Its file, such as ``/sys/bus/w1/devices/28-0316a2795fff/w1_slave``.
    clock : Clock
        For the time of each temperature.
    name : str
        The name of the thermometer.
    poll_seconds : float
        How often to read it [s]; reading takes the probe about 0.75 s by itself.
    silence_seconds : float
        After how long without a temperature it counts as away [s].
    sleep : callable
        How to wait, given seconds.
    """

    def __init__(
        self,
        path: str | Path,
        clock: Clock,
        *,
        name: str = "",
        poll_seconds: float = 2.0,
        silence_seconds: float = 60.0,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        self.path = Path(path)
        self.clock = clock
        self.name = name or self.path.parent.name or self.path.name
        self.poll_seconds = poll_seconds
        self._sleep = sleep
        self._presence = Presence(self.name, clock, silence_seconds)
        self._refusals = Refusals(self.name, clock)

    def __enter__(self) -> Self:
        """Look whether the file can be read."""
        try:
            self._text()
        except OSError as error:
            raise SourceUnavailable(
                f"{self.path} cannot be read: {error.strerror or error}",
                "check the path after onewire: and that the kernel's w1 modules are loaded",
            ) from None
        return self

    def __exit__(self, *error: object) -> None:
        """Close nothing: the file is opened for each reading."""

    def __iter__(self) -> Iterator[Sample | Notice | None]:
        """Yield a temperature every so often, None in between."""
        return every(self.poll_seconds, self._ask, self.clock, self._sleep)

    def _ask(self) -> Iterator[Sample | Notice]:
        try:
            text = self._text()
            found = read_scratchpad(text)
        except LineRefused as refusal:
            yield from self._refusals.notice(refusal)
            yield from self._presence.waiting("what it says cannot be taken")
        except OSError as error:
            yield from self._presence.gone(f"{self.path} is gone: {error.strerror or error}")
        else:
            yield from self._presence.here()
            raw = " / ".join(text.split("\n")).strip(" /")
            yield Sample(self.clock.now(), found.celsius, source=self.name, raw=raw)

    def _text(self) -> str:
        return self.path.read_text(encoding="ascii", errors="backslashreplace")
