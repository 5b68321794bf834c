"""The server beneath the page: where it listens, and how long it waits for slow visitors."""

from __future__ import annotations

import asyncio
import logging
import os
import socket
from collections.abc import Callable
from functools import partialmethod

import uvicorn
from starlette.types import ASGIApp

from drift.errors import InputError
from drift.page.connections import Connection, Limits

__all__ = ["Server", "listening", "own_names"]

LOOPBACK = "127.0.0.1"


def listening(port: int, *, to_network: bool = False) -> socket.socket:
    """Return a socket that listens on this machine, or to the network as well.

    Raises
    ------
    InputError
        When the port is not available.
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
            f"port {port} is not available: {error}",
            "stop the program that uses it, or choose another with --port",
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
        logging.getLogger("uvicorn.error").addFilter(_is_a_fault)
        limits = Limits()

        class Limited(Connection):  # uvicorn wants a class, which it calls by keywords
            __init__ = partialmethod(Connection.__init__, limits)

        super().__init__(
            uvicorn.Config(
                app,
                http=Limited,
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


def _is_a_fault(record: logging.LogRecord) -> bool:
    """Return whether something went wrong: no answer that the end of the program cut off."""
    kind = record.exc_info[0] if record.exc_info else None
    return kind is None or not issubclass(kind, asyncio.CancelledError)


def _outward_address() -> str | None:
    """Return the address other machines of the network reach this one by; nothing is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # a documentation address (RFC 5737)
            return str(probe.getsockname()[0])
        except OSError:
            return None
