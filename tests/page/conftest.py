"""The fixtures of the page's tests."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import pytest

from drift.page import Room
from tests.page.visits import Program, SetClock, Visitor


@pytest.fixture
def clock() -> SetClock:
    return SetClock()


@pytest.fixture
def book(tmp_path: Path) -> Path:
    return tmp_path / "band.logbook"


@pytest.fixture
def room(book: Path, clock: SetClock) -> Iterator[Room]:
    with Room(book, clock) as open_room:
        open_room.begin("hall", player="Rowan", instrument="double horn")
        yield open_room


@pytest.fixture
def visitor(room: Room) -> Visitor:
    return Visitor.of(room)


@pytest.fixture
def program(book: Path) -> Iterator[Callable[..., Program]]:
    started: list[Program] = []

    def make(*options: str, environment: Mapping[str, str] = os.environ) -> Program:
        started.append(Program(book, *options, environment=environment))
        started[-1].start()
        return started[-1]

    yield make
    for one in started:
        if one.process is not None:
            one.kill()


@pytest.fixture(scope="module")  # while it lives, no other event loop runs in this thread
def chromium() -> Iterator[object]:
    """A headless Chromium; where CI runs, its absence is a failure."""
    names = ("chromium", "chromium-browser", "google-chrome")
    path = next(filter(None, map(shutil.which, names)), None)
    if path is None:
        if os.environ.get("CI"):
            pytest.fail("no chromium on this machine, and CI is set: install Debian's chromium")
        pytest.skip("no chromium on this machine")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=path,
            args=[
                "--no-sandbox",
                "--disable-gpu",
                "--disable-dev-shm-usage",
                "--disable-background-networking",
                "--disable-component-update",
                "--no-first-run",
            ],
        )
        yield browser
        browser.close()
