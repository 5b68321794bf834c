"""How many may be connected, and how long each may take to say what it wants.

A stranger is a connection that has not shown yet that a device was let in. When there are too many
strangers, the one that has waited longest is closed: whoever opens hundreds of connections and
says nothing loses them, while a device with a secret asks at once and is no stranger from then on.
"""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from typing import Any, cast

from uvicorn.protocols.http.h11_impl import H11Protocol

__all__ = ["Connection", "Limits"]

#: How long a connection may take to say what it wants [s].
PATIENCE_SECONDS = 10.0
#: Strangers from one address. A browser opens six connections at once.
STRANGERS_EACH = 16
#: Strangers in all. What is left of a thousand file descriptors is for devices let in.
STRANGERS = 200
#: Connections in all, more than a hall of tablets needs.
CONNECTIONS = 600


class Limits:
    """Who is connected to one server."""

    def __init__(self) -> None:
        self._strangers: dict[Connection, str] = {}  # in the order in which they came
        self._known: set[Connection] = set()

    def came(self, connection: Connection, address: str) -> None:
        """Count a new connection, and close the stranger that has waited longest if need be."""
        self._strangers[connection] = address
        same = [one for one, where in self._strangers.items() if where == address]
        if len(same) > STRANGERS_EACH:
            self._close_longest(same)
        if len(self._strangers) > STRANGERS or len(self) > CONNECTIONS:
            self._close_longest(list(self._strangers))

    def is_known(self, connection: Connection) -> None:
        """Count a stranger no longer as one: it comes from a device that was let in."""
        if self._strangers.pop(connection, None) is not None:
            self._known.add(connection)

    def left(self, connection: Connection) -> None:
        """Forget a connection that is closed."""
        self._strangers.pop(connection, None)
        self._known.discard(connection)

    def __len__(self) -> int:
        return len(self._strangers) + len(self._known)

    def _close_longest(self, strangers: list[Connection]) -> None:
        chosen = next((one for one in strangers if not one.is_answered), strangers[-1])
        self.left(chosen)
        chosen.close()


class Connection(asyncio.Protocol):
    """One connection: HTTP by uvicorn, with limits around it.

    It stands in front of uvicorn's protocol and hands everything on. The application finds it as
    ``scope["state"]["connection"]`` and says when a request begins and ends.
    """

    def __init__(
        self,
        limits: Limits,
        *,
        config: Any,
        server_state: Any,
        app_state: Mapping[str, Any],
        _loop: asyncio.AbstractEventLoop | None = None,
    ) -> None:
        self._limits = limits
        state = {**app_state, "connection": self}
        self._http = H11Protocol(config, server_state, state, _loop)
        self._transport: asyncio.Transport | None = None
        self._deadline: asyncio.TimerHandle | None = None
        self.is_answered = False

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Count the connection and begin to wait for its first request."""
        self._transport = cast(asyncio.Transport, transport)
        self._http.connection_made(self._transport)
        self._wait()
        peer = transport.get_extra_info("peername")
        self._limits.came(self, str(peer[0]) if peer else "")

    def connection_lost(self, exc: Exception | None) -> None:
        """Stop waiting."""
        self._stop_waiting()
        self._limits.left(self)
        self._http.connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Hand on what came; a request that has begun must be complete in good time."""
        if not self.is_answered and self._deadline is None:
            self._wait()
        self._http.data_received(data)

    def eof_received(self) -> None:
        """Hand on the end of what the visitor sends."""
        self._http.eof_received()

    def pause_writing(self) -> None:
        """Hand on that the visitor reads slowly."""
        self._http.pause_writing()

    def resume_writing(self) -> None:
        """Hand on that the visitor has caught up."""
        self._http.resume_writing()

    def request_begins(self, *, known: bool) -> None:
        """Stop waiting: a whole request has come, perhaps from a device that was let in."""
        self._stop_waiting()
        self.is_answered = True
        if known:
            self._limits.is_known(self)

    def request_ends(self) -> None:
        """Leave the pause between two requests to uvicorn's own limit."""
        self.is_answered = False

    def close(self) -> None:
        """Hang up."""
        if self._transport is not None:
            self._transport.abort()

    def _wait(self) -> None:
        loop = asyncio.get_running_loop()
        self._deadline = loop.call_later(PATIENCE_SECONDS, self.close)

    def _stop_waiting(self) -> None:
        if self._deadline is not None:
            self._deadline.cancel()
            self._deadline = None
