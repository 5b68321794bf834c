"""A clock that tests set, and a thermometer at the other end of a real pseudo-terminal."""

from __future__ import annotations

import os
import select
import threading
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from sensors.reading import Notice, Source, Temperature

PATIENCE_SECONDS = (
    60.0  # a loaded machine may take its time; a test that passes never waits so long
)


class FakeClock:
    """Stands still until it is told to go on; sleeping makes it go on."""

    def __init__(self) -> None:
        self.seconds = 1000.0
        self.time_of_day = datetime(2031, 3, 4, 19, 30, tzinfo=UTC)

    def now(self) -> datetime:
        return self.time_of_day

    def monotonic(self) -> float:
        return self.seconds

    def go_on(self, seconds: float) -> None:
        self.seconds += seconds
        self.time_of_day += timedelta(seconds=seconds)


class FakeThermometer:
    """Writes to one end of a pseudo-terminal; the source under test reads the other."""

    def __init__(self, link: Path) -> None:
        self.link = link
        self._end: int | None = None
        self._held: int | None = None
        self._hush = threading.Event()
        self._talker: threading.Thread | None = None

    @property
    def port(self) -> str:
        return str(self.link)

    def plug_in(self) -> str:
        """Make a new terminal and point the link at it; return its own name."""
        import tty

        self._end, self._held = os.openpty()
        tty.setraw(self._held)
        self.link.unlink(missing_ok=True)
        self.link.symlink_to(os.ttyname(self._held))
        return os.ttyname(self._held)

    def unplug(self) -> None:
        self._hush.set()
        if self._talker is not None:
            self._talker.join()
        self.link.unlink(missing_ok=True)
        for end in (self._end, self._held):
            if end is not None:
                os.close(end)
        self._end = self._held = None

    def say(self, text: str | bytes) -> None:
        data = text.encode() if isinstance(text, str) else text
        assert self._end is not None
        while data:
            data = data[os.write(self._end, data) :]

    def hear(self, seconds: float = PATIENCE_SECONDS) -> str:
        """Return the next line that the program sent."""
        line, until = b"", time.monotonic() + seconds
        while not line.endswith(b"\n") and time.monotonic() < until:
            line += self.hear_bytes(1, 0.1)
        return line.decode().strip()

    def hear_bytes(self, count: int, seconds: float = PATIENCE_SECONDS) -> bytes:
        """Return the next bytes that the program sent."""
        assert self._end is not None
        heard, until = b"", time.monotonic() + seconds
        while len(heard) < count and time.monotonic() < until:
            if select.select([self._end], [], [], min(seconds, 0.1))[0]:
                heard += os.read(self._end, count - len(heard))
        return heard

    def answer(self, conversation: dict[str, str]) -> None:
        """Answer queries in the background until the terminal is unplugged."""

        def talk() -> None:
            while not self._hush.is_set():
                asked = self.hear(0.1)
                if asked in conversation:
                    self.say(conversation[asked] + "\r\n")

        self._hush.clear()
        self._talker = threading.Thread(target=talk)
        self._talker.start()


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock()


@pytest.fixture
def thermometer(tmp_path: Path) -> Iterator[FakeThermometer]:
    pytest.importorskip("tty", reason="pseudo-terminals need a POSIX system")
    fake = FakeThermometer(tmp_path / "ttyFAKE0")
    fake.plug_in()
    yield fake
    fake.unplug()


@pytest.fixture
def collect() -> Callable[..., list[Any]]:
    """Gather what a source says until it has said enough."""

    def gather(
        source: Source, enough: Callable[[list[Any]], bool], *, nothings: bool = False
    ) -> list[Any]:
        said: list[Any] = []
        until = time.monotonic() + PATIENCE_SECONDS
        for item in source:
            if item is not None or nothings:
                said.append(item)
            if enough(said):
                return said
            assert time.monotonic() < until, f"waited too long; so far: {said}"
        return said

    return gather


@pytest.fixture
def celsius() -> Callable[[list[Any]], list[float]]:
    return lambda said: [item.celsius for item in said if isinstance(item, Temperature)]


@pytest.fixture
def kinds() -> Callable[[list[Any]], list[str]]:
    return lambda said: [item.kind for item in said if isinstance(item, Notice)]
