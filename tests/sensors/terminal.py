"""A thermometer at the other end of a real pseudo-terminal."""

from __future__ import annotations

import os
import select
import threading
import time
from pathlib import Path

PATIENCE_SECONDS = 60.0  # a loaded machine may take its time; a test that passes waits less


class FakeThermometer:
    """Writes to one end of a pseudo-terminal; the source under test reads the other."""

    def __init__(self, link: Path) -> None:
        self.link = link
        self._end: int | None = None
        self._held: int | None = None
        self._heard = b""
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
        """Return the next line that the program sent, empty if none is whole in time."""
        until = time.monotonic() + seconds
        while not self._heard.endswith(b"\n"):
            if time.monotonic() >= until:
                return ""
            self._heard += self.hear_bytes(1, 0.1)
        line, self._heard = self._heard, b""
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
