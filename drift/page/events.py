"""What happens in the room, told to every browser that listens: each message once, in order.

The messages are server-sent events (HTML Standard, section 9.2). A browser that was away names
the last one it saw and gets those that followed; one that missed too many, or saw those of an
earlier run of the program, gets everything as it stands now instead.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import re
from collections import deque
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping
from typing import Any

__all__ = ["Broadcast", "frame"]

Data = Mapping[str, Any]

#: How many messages a browser may have missed before it gets everything anew.
KEPT = 200
#: How often a silent stream says that it is still there [s].
BEAT_SECONDS = 10.0
#: How soon a browser should try again when the stream breaks [ms].
RETRY_MS = 1000


class Broadcast:
    """Messages to everyone who listens.

    Parameters
    ----------
    run : str
        What tells the messages of this run of the program from those of another.
    beat_seconds : float
        How often a silent stream says that it is still there [s].

    Notes
    -----
    There is no queue for each listener: all read from the same short memory, each from where it
    is. A browser that does not read costs nothing, and memory stays flat.
    """

    def __init__(self, run: str, *, beat_seconds: float = BEAT_SECONDS) -> None:
        self.run = run
        self.listeners = 0
        self._beat_seconds = beat_seconds
        self._number = 0
        self._frames: deque[tuple[int, bytes]] = deque(maxlen=KEPT)
        self._news = asyncio.Event()
        self._over = False

    def end(self) -> None:
        """End all streams, so that the server can stop; to be called in the event loop."""
        self._over = True
        self._news.set()

    def publish(self, data: Data) -> None:
        """Tell everyone; to be called in the event loop."""
        self._number += 1
        self._frames.append((self._number, frame("told", data, self._id(self._number))))
        news, self._news = self._news, asyncio.Event()
        news.set()

    async def follow(
        self, last_seen: str | None, everything: Callable[[], Awaitable[Data]]
    ) -> AsyncIterator[bytes]:
        """Yield the stream for one browser, until the browser leaves or the server stops.

        Parameters
        ----------
        last_seen : str or None
            The id of the last message that it saw.
        everything : callable
            Gives the whole state, for a browser that cannot be brought up to date otherwise.
        """
        self.listeners += 1
        try:
            yield f"retry: {RETRY_MS}\n\n".encode()
            seen = self._seen(last_seen)
            while not self._over:
                if seen is None or not self._holds_after(seen):
                    seen = self._number  # taken first: what comes meanwhile is told again
                    yield frame("told", await everything(), self._id(seen))
                    continue  # while it was read, too much may have happened again
                for number, message in self._after(seen):
                    yield message
                    seen = number
                if not (await self._news_after(seen) or self._over):
                    yield frame("beat", {})
        finally:
            self.listeners -= 1

    def _seen(self, last_seen: str | None) -> int | None:
        """Return the number of the last message seen, or None when that does not help."""
        match = re.fullmatch(r"(\w+)-(\d{1,15})", last_seen or "", re.ASCII)
        if not match or match[1] != self.run:
            return None
        return int(match[2])

    def _holds_after(self, number: int) -> bool:
        oldest = self._frames[0][0] if self._frames else self._number + 1
        return oldest - 1 <= number <= self._number

    def _after(self, seen: int) -> list[tuple[int, bytes]]:
        if seen == self._number:
            return []
        return [(number, message) for number, message in self._frames if number > seen]

    async def _news_after(self, seen: int) -> bool:
        """Wait for news, until the next beat at most, and return whether there are any."""
        if self._number == seen:
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(self._beat_seconds):
                    await self._news.wait()
        return self._number != seen

    def _id(self, number: int) -> str:
        return f"{self.run}-{number}"


def frame(event: str, data: Data, number: str = "") -> bytes:
    """Return one server-sent event; JSON has no line breaks, so one data line is enough."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    head = f"id: {number}\n" if number else ""
    return f"{head}event: {event}\ndata: {text}\n\n".encode()
