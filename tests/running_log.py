"""A real `drift log` in a process of its own, and a thermometer on a pseudo-terminal for it."""

from __future__ import annotations

import os
import select
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from drift.logbook.book import Logbook

PATIENCE_SECONDS = 60.0  # for a loaded machine; a test that passes waits far less


def start_log(book: Path, *options: str, **popen: Any) -> subprocess.Popen[bytes]:
    """Start logging the rehearsal ``tonight``."""
    return subprocess.Popen(
        [sys.executable, "-m", "drift", "log", str(book), "--rehearsal", "tonight", *options],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONUTF8": "1"}, **popen,
    )  # fmt: skip


def say(log: subprocess.Popen[bytes], line: str) -> str:
    """Type one line and return the answer."""
    assert log.stdin is not None
    assert log.stdout is not None
    log.stdin.write(line.encode() + b"\n")
    log.stdin.flush()
    return log.stdout.readline().decode().rstrip("\r\n")


def rows(book: Path, table: str, **options: Any) -> list[dict[str, Any]]:
    with Logbook(book) as opened:
        return list(opened.rows(table, **options))


def wait_for(condition: Callable[[], Any], what: str = "it") -> None:
    deadline = time.monotonic() + PATIENCE_SECONDS
    while not condition():
        assert time.monotonic() < deadline, f"{what} did not happen in time"
        time.sleep(0.02)


class Numbered:
    """A thermometer on a pseudo-terminal whose temperatures count up in thousandths of a degree.

    Parameters
    ----------
    bytes_per_second : float
        At most so many; 11 520 is a line at 115200 baud that never pauses.
    """

    FIRST = -39.0

    def __init__(self, bytes_per_second: float = 2000.0) -> None:
        self.bytes_per_second = bytes_per_second
        self.count = 0  # lines written whole
        self.held_up_seconds = 0.0  # the longest that nobody made room for a line
        self._stop = threading.Event()

    def __enter__(self) -> Numbered:
        import tty

        self._master, self._slave = os.openpty()
        tty.setraw(self._slave)
        self.address = f"serial:{os.ttyname(self._slave)}?baud=115200&dialect=plain&name=stage"
        self._thread = threading.Thread(target=self._write)
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join()
        os.close(self._master)
        os.close(self._slave)

    def stop(self) -> None:
        """Say no more; the line stays open."""
        self._stop.set()
        self._thread.join()

    def _write(self) -> None:
        began, written = time.monotonic(), 0
        while not self._stop.is_set():
            due = int((time.monotonic() - began) * self.bytes_per_second)
            if written >= due:
                self._stop.wait(0.005)
                continue
            if due - written > self.bytes_per_second:  # nobody read: do not make up for it
                began, written = time.monotonic(), 0
            line = f"{self.FIRST + self.count / 1000:.3f}\r\n".encode()
            if not self._write_whole(line):
                return
            written += len(line)
            self.count += 1

    def _write_whole(self, line: bytes) -> bool:
        began = time.monotonic()
        while line and not self._stop.is_set():
            _, ready, _ = select.select([], [self._master], [], 0.1)
            if ready:
                line = line[os.write(self._master, line) :]
        self.held_up_seconds = max(self.held_up_seconds, time.monotonic() - began)
        return not line


def numbers(celsius: Sequence[float]) -> list[int]:
    """Return which lines of a `Numbered` thermometer some temperatures were."""
    return [round((value - Numbered.FIRST) * 1000) for value in celsius]
