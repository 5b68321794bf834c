"""A page to test against: in this process, on a real port, or as a program of its own."""

from __future__ import annotations

import asyncio
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import httpx

from drift.page import Room, State, create_app
from drift.page.devices import Devices
from drift.page.security import Guard, hosts_of
from drift.page.serving import Server, listening

HOST = "127.0.0.1:8040"
ORIGIN = f"http://{HOST}"
START = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)


class SetClock:
    """A clock that a test sets."""

    def __init__(self, start: datetime = START) -> None:
        self.time = start

    def now(self) -> datetime:
        return self.time

    def monotonic(self) -> float:
        return (self.time - START).total_seconds()

    def pass_by(self, **amount: float) -> None:
        self.time += timedelta(**amount)


@dataclass
class Visitor:
    """Asks an application without a network, as a browser on its page would."""

    app: Guard

    @classmethod
    def of(cls, room: Room, devices: Devices | None = None) -> Visitor:
        return cls(create_app(State(room, devices), hosts=hosts_of(["127.0.0.1"], 8040)))

    def ask(self, method: str, path: str, **more: object) -> httpx.Response:
        headers = {"Host": HOST, **more.pop("headers", {})}  # type: ignore[dict-item]
        headers = {name: value for name, value in headers.items() if value is not None}

        async def asked() -> httpx.Response:
            transport = httpx.ASGITransport(self.app, raise_app_exceptions=False)
            async with httpx.AsyncClient(transport=transport, base_url=ORIGIN) as client:
                return await client.request(method, path, headers=headers, **more)  # type: ignore[arg-type]

        with ThreadPoolExecutor(1) as beside:  # a browser's own loop may run in this thread
            return beside.submit(asyncio.run, asked()).result()

    def get(self, path: str, **more: object) -> httpx.Response:
        return self.ask("GET", path, **more)

    def post(self, path: str, **more: object) -> httpx.Response:
        headers = {"Origin": ORIGIN, **more.pop("headers", {})}  # type: ignore[dict-item]
        return self.ask("POST", path, headers=headers, **more)


def entry(line: str, **more: object) -> dict[str, object]:
    """Return an entry as the page sends it."""
    names = {"rehearsal": "hall", "player": "Rowan", "instrument": "double horn"}
    return {"line": line, "once": os.urandom(16).hex(), **names, **more}


@contextmanager
def served(room: Room, devices: Devices | None = None) -> Iterator[str]:
    """Serve a room on a real port and yield its address."""
    with listening(0) as listener:
        port = listener.getsockname()[1]
        state = State(room, devices)
        app = create_app(state, hosts=hosts_of(["127.0.0.1"], port))
        running = Server(app, state.broadcast.end)
        thread = threading.Thread(target=running.run, kwargs={"sockets": [listener]})
        thread.start()
        try:
            yield f"http://127.0.0.1:{port}"
        finally:
            running.should_exit = True
            thread.join(20)
            assert not thread.is_alive()


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Program:
    """``drift page`` as a program of its own, that can be killed."""

    def __init__(
        self, book: Path, *options: str, environment: Mapping[str, str] = os.environ
    ) -> None:
        self.book, self.port, self.options = book, free_port(), options
        self.environment = environment
        self.address = f"http://127.0.0.1:{self.port}"
        self.process: subprocess.Popen[str] | None = None

    def start(self) -> None:
        command = [sys.executable, "-m", "drift", "page", str(self.book), "--port", str(self.port)]
        self.process = subprocess.Popen(
            [*command, *self.options],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env={**self.environment, "OPENBLAS_NUM_THREADS": "1"},
        )
        until = time.monotonic() + 60
        while time.monotonic() < until:
            try:
                httpx.get(f"{self.address}/page.css", timeout=1).raise_for_status()
                return
            except httpx.HTTPError:
                assert self.process.poll() is None, self.process.communicate()[0]
                time.sleep(0.1)
        raise AssertionError("the page did not start within a minute")

    def kill(self) -> None:
        assert self.process is not None
        self.process.kill()
        self.process.communicate()
        self.process = None

    def stop(self) -> str:
        """Stop it as Ctrl-C does, and return what it said."""
        assert self.process is not None
        self.process.send_signal(signal.SIGINT)
        said = self.process.communicate(timeout=30)[0]
        self.process = None
        return said
