"""A file of temperatures, played as if it happened now."""

from __future__ import annotations

import csv
import math
import time
from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Self, TextIO

from sensors.errors import LineRefused, SourceUnavailable
from sensors.quantities import Measured, celsius_of, humidity_of, measured, pressure_of
from sensors.reading import Clock, Notice, Sample

__all__ = ["Replay"]

LONGEST_SLEEP_SECONDS = 0.2
#: Of a recorded time; a day added, or another zone, never overflows.
YEARS = range(1800, 2200)


class Replay:
    """Temperatures from a CSV file, at the pace at which they were taken or a faster one.

    Parameters
    ----------
    path : path
        A table with the columns ``time`` (RFC 3339 with an offset) and ``celsius`` or
        ``fahrenheit``; ``humidity_percent``, ``pressure_hpa`` and ``source`` are optional.
    clock : Clock
        For the time of each temperature.
    name : str
        The name of the thermometer.
    speed : float
        How many times as fast as it happened; ``math.inf`` waits for nothing.
    recorded_times : bool
        Give the times of the file instead of those of the replay.
    only : str
        The one ``source`` of the file to play; empty for all.
    sleep : callable
        How to wait, given seconds.
    """

    def __init__(
        self,
        path: str | Path,
        clock: Clock,
        *,
        name: str = "",
        speed: float = 1.0,
        recorded_times: bool = False,
        only: str = "",
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        self.path = Path(path)
        self.clock = clock
        self.name = name or self.path.stem or str(path)
        self.speed = speed
        self.recorded_times = recorded_times
        self.only = only
        self._sleep = sleep
        self._file: TextIO | None = None

    def __enter__(self) -> Self:
        """Open the file and look at its header."""
        try:
            # bytes that are no text spoil their own row, not the whole file
            self._file = self.path.open(encoding="utf-8-sig", errors="replace", newline="")
        except OSError as error:
            raise SourceUnavailable(
                f"{self.path} cannot be read: {error.strerror or error}",
                "check the path after replay:",
            ) from None
        columns = set(next(csv.reader([self._file.readline().strip()]), []))
        self._file.seek(0)
        if "time" not in columns or not columns & {"celsius", "fahrenheit"}:
            self._file.close()
            raise SourceUnavailable(
                f"{self.path} has no columns time and celsius: {', '.join(sorted(columns))[:60]}",
                "give a table like temperatures.csv of a rehearsal folder",
            )
        return self

    def __exit__(self, *error: object) -> None:
        """Close the file."""
        if self._file is not None:
            self._file.close()

    def __iter__(self) -> Iterator[Sample | Notice | None]:
        """Yield the rows in their order, None while the next is not due, and end."""
        try:
            yield from self._play()
        except csv.Error as error:
            text = f"the rest of the file is no table: {error}"
            yield Notice(self.clock.now(), "refused", text, self.name)

    def _play(self) -> Iterator[Sample | Notice | None]:
        started, first = self.clock.monotonic(), None
        for row in csv.DictReader(self._file or ()):
            if self.only and row.get("source") != self.only:
                continue
            raw = ",".join(str(value) for value in row.values())
            try:
                taken, found = _instant(row, raw), _row(row, raw)
            except LineRefused as refusal:
                yield Notice(self.clock.now(), "refused", refusal.problem, self.name, raw)
                continue
            first = first or taken
            yield from self._wait(started + (taken - first).total_seconds() / self.speed)
            yield Sample(
                taken if self.recorded_times else self.clock.now(),
                found.celsius,
                found.humidity_percent,
                found.pressure_hpa,
                self.name,
                raw,
            )

    def _wait(self, due: float) -> Iterator[None]:
        while (left := due - self.clock.monotonic()) > 0:
            self._sleep(min(left, LONGEST_SLEEP_SECONDS))
            yield None


def _instant(row: Mapping[str, str | None], raw: str) -> datetime:
    text = (row["time"] or "").strip()
    try:
        instant = datetime.fromisoformat(text)
        if instant.tzinfo is not None and instant.year in YEARS:
            return instant.astimezone(UTC)
    except ValueError:
        pass
    raise LineRefused(f"no time with an offset: {text!r}", "write 2031-03-04T19:30Z", raw)


def _row(row: Mapping[str, str | None], raw: str) -> Measured:
    celsius = _number(row.get("celsius"), raw)
    if celsius is None:
        fahrenheit = _number(row.get("fahrenheit"), raw)
        celsius = math.nan if fahrenheit is None else celsius_of(fahrenheit, "F")
    humidity = humidity_of(_number(row.get("humidity_percent"), raw))
    return measured(celsius, raw, humidity, pressure_of(_number(row.get("pressure_hpa"), raw)))


def _number(text: str | None, raw: str) -> float | None:
    if not (text or "").strip():
        return None
    try:
        return float(str(text))
    except ValueError:
        raise LineRefused(f"no number: {text!r}", "correct the file", raw) from None
