"""A day of two thermometers in a minute: what a source keeps in memory does not grow.

    python tests/benchmarks/bench_sources_soak.py [--hours 24]

Two serial sources read what two thermometers would send at one line a second, with a fault value
now and then, garbage, silence and an unplugging every hour; the clock and the port are stand-ins
that go as fast as they are read. Exits 1 if memory grows by more than 1 MB after the first hour.
"""

from __future__ import annotations

import argparse
import random
import sys
import tracemalloc
from datetime import UTC, datetime, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import serial

from sensors.detection import choose
from sensors.reading import Sample
from sensors.serial_line import SerialLine

MOST_BYTES = 1_000_000


class Clock:
    """Goes on by what is waited for."""

    def __init__(self) -> None:
        self.seconds = 0.0
        self.start = datetime(2031, 3, 4, tzinfo=UTC)

    def now(self) -> datetime:
        """Return the time of day."""
        return self.start + timedelta(seconds=self.seconds)

    def monotonic(self) -> float:
        """Return the seconds."""
        return self.seconds

    def go_on(self, seconds: float) -> None:
        """Let time pass."""
        self.seconds += seconds


class Line:
    """Stands in for an open port: each read takes half a second."""

    def __init__(self, clock: Clock, seed: int) -> None:
        self.clock, self.chance, self.reads = clock, random.Random(seed), 0

    def read(self, size: int) -> bytes:
        """Return a line at every second read; once an hour, trouble."""
        self.clock.go_on(0.5)
        self.reads += 1
        second = self.reads // 2
        if second % 3600 == 1800:
            raise serial.SerialException("unplugged")
        if self.reads % 2 or 3000 <= second % 3600 < 3090:  # a minute and a half of silence
            return b""
        if second % 600 == 0:
            return self.chance.randbytes(40)
        if second % 600 == 1:
            return b"\n"
        return (
            b"T=85.00\r\n"
            if second % 900 == 7
            else f"T={self.chance.gauss(22, 1):.2f}\r\n".encode()
        )

    def close(self) -> None:
        """Close nothing."""


def main() -> int:
    """Run the day, print the figures, return 0 if memory stayed where it was."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--hours", type=int, default=24)
    options = parser.parse_args()
    clocks = [Clock(), Clock()]
    lines = {f"stand-in {n}": Line(clock, n) for n, clock in enumerate(clocks)}
    serial.serial_for_url = lambda name, **settings: lines[name]
    sources = [
        SerialLine(name, choose(), clock, list_ports=tuple, sleep=clock.go_on)
        for name, clock in zip(lines, clocks, strict=True)
    ]
    words = [iter(source.__enter__()) for source in sources]
    temperatures, notices, base = 0, dict[str, int](), 0
    tracemalloc.start()
    for hour in range(1, options.hours + 1):
        for clock, said in zip(clocks, words, strict=True):
            while clock.seconds < hour * 3600:
                item = next(said)
                if isinstance(item, Sample):
                    temperatures += 1
                elif item is not None:
                    notices[item.kind] = notices.get(item.kind, 0) + 1
        if hour == 1:
            base = tracemalloc.get_traced_memory()[0]
    grown = tracemalloc.get_traced_memory()[0] - base
    print(f"{options.hours} h of two thermometers: {temperatures} temperatures, notices {notices}, "
          f"memory grown by {grown / 1000:.1f} kB after the first hour")  # fmt: skip
    return 0 if grown < MOST_BYTES else 1


if __name__ == "__main__":
    sys.exit(main())
