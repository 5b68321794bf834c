"""The server beneath the page: where it listens, and how long it waits for slow visitors."""

from __future__ import annotations

import asyncio
import os
import socket
from collections.abc import Callable

import uvicorn
from starlette.types import ASGIApp
from uvicorn.protocols.http.h11_impl import H11Protocol

from drift.errors import InputError

__all__ = ["Server", "listening", "own_names"]

LOOPBACK = "127.0.0.1"
#: How long a connection may take to say what it wants [s].
PATIENCE_SECONDS = 10.0
#: More connections than a hall of tablets needs; the next ones are closed at once.
CONNECTIONS = 400


def listening(port: int, *, to_network: bool = False) -> socket.socket:
    """Return a socket that listens on this machine, or to the network as well.

    Raises
    ------
    InputError
        When the port cannot be had.
    """
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if os.name == "posix":  # elsewhere this would let another program take the port over
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind(("" if to_network else LOOPBACK, port))
        listener.listen(256)
    except (OSError, OverflowError) as error:
        listener.close()
        raise InputError(
            f"port {port} cannot be had: {error}", "end the program that has it, or use --port"
        ) from None
    return listener


def own_names(*, to_network: bool = False) -> list[str]:
    """Return the names and addresses of this machine, the one to hand out first."""
    here = [LOOPBACK, "localhost"]
    if not to_network:
        return here
    name = socket.gethostname().lower()
    outward = _outward_address()
    return [*([outward] if outward else []), name, f"{name.removesuffix('.local')}.local", *here]


class Server(uvicorn.Server):
    """The server of a page; ``run(sockets=[...])`` serves until it is told to stop.

    Parameters
    ----------
    app : ASGI application
        The page.
    ending : callable
        Called when it is told to stop, to end what would go on for ever.
    """

    def __init__(self, app: ASGIApp, ending: Callable[[], None]) -> None:
        self._ending = ending
        super().__init__(
            uvicorn.Config(
                app,
                http=PatientProtocol,
                ws="none",
                log_config=None,
                access_log=False,
                server_header=False,
                proxy_headers=False,
                h11_max_incomplete_event_size=16 * 1024,
                timeout_graceful_shutdown=3,
            )
        )

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """End the streams, then everything else."""
        self._ending()
        await super().shutdown(sockets)


class PatientProtocol(H11Protocol):
    """HTTP with an end to its patience: a request has to be complete in good time.

    Without it, a visitor who sends one byte a minute holds a connection for ever.
    """

    _deadline: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait for the first request, unless there are too many visitors."""
        super().connection_made(transport)
        if len(self.connections) > CONNECTIONS:
            transport.abort()
            return
        self._wait()

    def connection_lost(self, exc: Exception | None) -> None:
        """Stop waiting."""
        self._stop_waiting()
        super().connection_lost(exc)

    def handle_events(self) -> None:
        """Stop waiting when a request is complete; wait for the rest of one that has begun."""
        super().handle_events()
        if self.cycle is not None and not self.cycle.response_complete:
            self._stop_waiting()
        elif self._deadline is None:
            self._wait()

    def on_response_complete(self) -> None:
        """Leave the pause between two requests to the server's own limit."""
        self._stop_waiting()
        super().on_response_complete()

    def _wait(self) -> None:
        self._deadline = self.loop.call_later(PATIENCE_SECONDS, self.transport.abort)

    def _stop_waiting(self) -> None:
        if self._deadline is not None:
            self._deadline.cancel()
            self._deadline = None


def _outward_address() -> str | None:
    """Return the address other machines of the network reach this one by; nothing is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # a documentation address (RFC 5737)
            return str(probe.getsockname()[0])
        except OSError:
            return None
