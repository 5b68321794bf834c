"""What holds in every test."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from types import FrameType

import pytest
from hypothesis import HealthCheck, settings

PROGRAM = str(Path(__file__).parents[1] / "drift") + os.sep
BOOKS = (".logbook", ".logbook-wal", ".logbook-shm")


def _forbid_books(event: str, arguments: tuple[object, ...]) -> None:
    """Refuse that the program opens a logbook beside SQLite.

    Closing any descriptor of a file drops the POSIX locks that this process holds on it, those of
    SQLite too. Tests may: they damage books.
    """
    if event != "open" or not str(arguments[0]).endswith(BOOKS):
        return
    frame: FrameType | None = sys._getframe(1)
    while frame is not None and "tests" not in Path(frame.f_code.co_filename).parts:
        if frame.f_code.co_filename.startswith(PROGRAM):
            raise AssertionError(f"{arguments[0]} is opened beside SQLite")
        frame = frame.f_back


sys.addaudithook(_forbid_books)

# A busy machine is no fault: no example fails by its time. What hangs is ended by pytest-timeout.
settings.register_profile("untimed", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("untimed")


@pytest.fixture
def in_berlin(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Let this computer be in Berlin, where it can be told."""
    if not hasattr(time, "tzset"):
        pytest.skip("this system takes no TZ")
    monkeypatch.setenv("TZ", "Europe/Berlin")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


def pytest_xdist_auto_num_workers() -> int:
    """Return one worker more than there are cores: tests of the page and of clocks wait a lot."""
    of_this_process = getattr(os, "sched_getaffinity", None)
    return (len(of_this_process(0)) if of_this_process else os.cpu_count() or 2) + 1
