"""A clock that tests set, and what a source says until it has said enough."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from sensors.reading import Notice, Sample, Source
from tests.sensors.terminal import PATIENCE_SECONDS, FakeThermometer


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
    return lambda said: [item.celsius for item in said if isinstance(item, Sample)]


@pytest.fixture
def kinds() -> Callable[[list[Any]], list[str]]:
    return lambda said: [item.kind for item in said if isinstance(item, Notice)]
