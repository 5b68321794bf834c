"""A thermometer on a serial line: it speaks by itself, or is asked every few seconds."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING, Self

from sensors.dialects import Dialect
from sensors.errors import LineRefused
from sensors.lines import (
    UNREADABLE_SHARE,
    LineBuffer,
    readable,
    unreadable_share,
    wrong_settings,
)
from sensors.notices import Presence, Refusals
from sensors.ports import Port, serial_ports
from sensors.reading import Clock, Notice, Sample
from sensors.serial_port import SerialPort, port_errors

if TYPE_CHECKING:
    import serial

__all__ = ["SerialLine"]

READ_BYTES = 4096
HALF_LINE_SECONDS = 2.0  # a line that stops this long in the middle is given up
DOUBT_SECONDS = 60.0  # unreadable bytes are worth a notice this often
RECENT_BYTES = 200  # looked at to tell text from the wrong baud rate


class SerialLine:
    """A thermometer that writes lines of text on a serial port.

    Parameters
    ----------
    port : str
        Anything that pyserial opens: ``/dev/ttyUSB0``, ``COM3``, ``socket://host:port``, ...
    dialect : Dialect
        How to read its lines.
    clock : Clock
        For the time of each temperature.
    name : str
        The name of the thermometer.
    baud : int
        Rate of the line [bit/s].
    frame : str
        Data bits, parity and stop bits: ``8N1``, ``7E1``, ...
    query : str
        What to ask, such as ``MEAS:TEMP?``; empty for one that speaks by itself.
    poll_seconds : float
        How often to ask [s].
    silence_seconds : float
        After how long without a temperature it counts as away [s].
    retry_seconds : float
        How often to try to open the port again once it is gone [s].
    list_ports : callable
        Gives the ports of the machine, to find a USB thermometer under another name.
    sleep : callable
        How to wait, given seconds.

    Notes
    -----
    What was sent before the port was opened is dropped, and so is the first line if it was
    under way at that moment: half a number is a wrong number. Nothing is buffered here beyond
    the line under way; at high rates iterate from a thread that does nothing slow.
    """

    def __init__(
        self,
        port: str,
        dialect: Dialect,
        clock: Clock,
        *,
        name: str = "",
        baud: int = 9600,
        frame: str = "8N1",
        query: str = "",
        poll_seconds: float = 2.0,
        silence_seconds: float = 60.0,
        retry_seconds: float = 1.0,
        list_ports: Callable[[], Iterable[Port]] = serial_ports,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        self.dialect = dialect
        self.clock = clock
        self.name = name or port
        self.query = query
        self.poll_seconds = poll_seconds
        self._sleep = sleep
        self._port = SerialPort(
            port, clock, baud=baud, frame=frame, retry_seconds=retry_seconds, list_ports=list_ports
        )
        self._presence = Presence(self.name, clock, silence_seconds)
        self._refusals = Refusals(self.name, clock)
        self._buffer = LineBuffer()
        self._started = self._recent = b""
        self._words = self._speak()
        self._garbage = False
        self._announced = False
        self._asked_at = self._heard_at = self._doubted_at = float("-inf")

    def __enter__(self) -> Self:
        """Open the port."""
        self._port.open()
        self._begin()
        return self

    def __exit__(self, *error: object) -> None:
        """Close the port."""
        self._port.close()

    def __iter__(self) -> Iterator[Sample | Notice | None]:
        """Yield temperatures and notices as they come, None several times a second.

        Iterating again goes on where the last iteration stopped: no line is lost in between.
        """
        return self._words

    def _speak(self) -> Iterator[Sample | Notice | None]:
        while True:
            if self._port.line is not None:
                yield from self._listen(self._port.line)
            elif self._port.reopen():
                self._begin()
            else:
                self._sleep(0.1)
            yield None

    def ask(self, query: str, seconds: float = 1.0) -> str:
        """Send one query, such as ``*IDN?``, and return the line that answers it.

        Parameters
        ----------
        query : str
            Without its line end.
        seconds : float
            How long to wait [s].

        Returns
        -------
        str
            Empty if nothing readable comes.
        """
        line = self._port.line
        if line is None:
            return ""
        buffer, until = LineBuffer(), self.clock.monotonic() + seconds
        with contextlib.suppress(*port_errors()):  # iterating will say that it is gone
            line.read(READ_BYTES)  # what is still under way is no answer
            line.write(query.encode() + b"\n")
            while self.clock.monotonic() < until:
                for answer in buffer.feed(line.read(READ_BYTES)):
                    text = readable(answer)
                    if text and text != query:
                        return text
        return ""

    @property
    def connected(self) -> bool:
        """Whether the port is open now."""
        return self._port.line is not None

    def _begin(self) -> None:
        """Start with a line whose beginning is seen."""
        try:
            self._started = self._under_way()
        except port_errors():  # gone again at the first look
            self._port.lost()
            return
        self._buffer = LineBuffer(whole=not self._started)
        self._recent, self._asked_at = b"", float("-inf")
        self._heard_at = self.clock.monotonic()

    def _under_way(self) -> bytes:
        """Return the bytes that are there at the first look: the start of their line was not seen.

        An instrument that speaks only when asked starts with its answer.
        """
        return b"" if self.query or self._port.line is None else self._port.line.read(READ_BYTES)

    def _listen(self, line: serial.SerialBase) -> Iterator[Sample | Notice]:
        try:
            self._ask_if_due(line)
            data = self._started or line.read(READ_BYTES)
            self._started = b""
        except port_errors():
            self._port.lost()
            yield from self._presence.gone(f"{self._port.name} is gone (unplugged?)")
            return
        if data:
            self._heard_at = self.clock.monotonic()
            yield from self._doubt(data)
        for whole in self._buffer.feed(data):
            yield from self._take(whole)
        yield from self._give_up_half_line()
        yield from self._presence.waiting(self._why_silent())

    def _ask_if_due(self, line: serial.SerialBase) -> None:
        if not self.query or self.clock.monotonic() < self._asked_at + self.poll_seconds:
            return
        if getattr(line, "in_waiting", 0):
            return  # what was said to the last question is read first
        self._asked_at = self.clock.monotonic()
        self._buffer = LineBuffer()  # half an answer to the last question is no answer to this
        line.write(self.query.encode() + b"\n")

    def _doubt(self, data: bytes) -> list[Notice]:
        """Notice bytes that are no text, once until a temperature comes."""
        self._recent = (self._recent + data)[-RECENT_BYTES:]
        if self._garbage or len(self._recent) < 20:
            return []
        if unreadable_share(self._recent) < UNREADABLE_SHARE:
            return []
        self._garbage = True
        if self.clock.monotonic() < self._doubted_at + DOUBT_SECONDS:
            return []
        self._doubted_at = self.clock.monotonic()
        advice = wrong_settings(self._recent, self._port.baud)
        raw = self._recent[:40].hex(" ")
        return [Notice(self.clock.now(), "garbage", advice, self.name, raw)]

    def _take(self, line: bytes) -> Iterator[Sample | Notice]:
        text = readable(line)
        if text is None:
            if not self._garbage:
                yield from self._refuse("unreadable bytes in a line", line)
            return
        if text == self.query:
            return  # some instruments echo what they are asked
        try:
            found = self.dialect(text)
        except LineRefused as refusal:
            yield from self._refusals.notice(refusal)
            return
        if found is None:
            return
        self._garbage, self._recent = False, b""
        yield from self._presence.here()
        yield from self._announce()
        yield Sample(
            self.clock.now(),
            found.celsius,
            found.humidity_percent,
            found.pressure_hpa,
            self.name,
            text,
        )

    def _announce(self) -> Iterator[Notice]:
        """Say once which dialect was found out."""
        if self._announced or not getattr(self.dialect, "settled", False):
            return
        self._announced = True
        text = f"speaks {self.dialect.name}"
        yield Notice(self.clock.now(), "dialect", text, self.name)

    def _give_up_half_line(self) -> Iterator[Notice]:
        if self.clock.monotonic() - self._heard_at < HALF_LINE_SECONDS:
            return
        half = self._buffer.abandon()
        if half and not self._garbage:
            yield from self._refuse("half a line, whose end did not come", half)

    def _refuse(self, problem: str, line: bytes) -> list[Notice]:
        raw = line.decode("ascii", "backslashreplace")
        return self._refusals.notice(LineRefused(problem, "check the cable", raw))

    def _why_silent(self) -> str:
        if self._garbage:
            return "what comes cannot be read"
        recently = self.clock.monotonic() - self._heard_at < self._presence.silence_seconds
        if recently and self._recent:
            return "lines come, but none carries a temperature that can be taken"
        return "it does not answer" if self.query else "it says nothing"
