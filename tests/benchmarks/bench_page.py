"""Fifty listening browsers and a reading each second for ten minutes, accelerated.

    python tests/benchmarks/bench_page.py [--listeners 50] [--readings 600] [--per-second 10]

Serves a page as a program of its own, with a thermometer at one sample a second, and listens to it
over real sockets. Every tenth listener breaks its connection now and then and comes back with the
id of the last message it saw. Prints, for the time from sending an entry until another browser
hears of it, the median and the 99th percentile; entries that a listener did not hear of; and the
memory of the server at each fifth of the way. Exits 1 when an entry was lost, heard twice, or heard
out of order, when the median is 100 ms or more, or when memory grew by more than a tenth between
the second fifth and the last.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import os
import statistics
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import httpx

from tests.page.visits import Program, entry

MEDIAN_LIMIT_MS = 100.0
GROWTH_LIMIT = 0.1
BREAKS_EVERY = 150


class Listener:
    """One browser's event stream: which readings it heard of, and when."""

    def __init__(self, port: int, *, breaks: bool) -> None:
        self.port, self.breaks = port, breaks
        self.heard: list[tuple[int, float]] = []
        self.last_id = ""
        self.whole = 0
        self.ready = asyncio.Event()

    async def listen(self, until: int) -> None:
        """Listen until the reading of a number was heard."""
        while not self.heard or self.heard[-1][0] < until:
            reader, writer = await asyncio.open_connection("127.0.0.1", self.port, limit=2**20)
            again = f"Last-Event-ID: {self.last_id}\r\n" if self.last_id else ""
            writer.write(
                f"GET /events HTTP/1.1\r\nHost: 127.0.0.1:{self.port}\r\n{again}\r\n".encode()
            )
            await self._read(reader, until)
            writer.close()

    async def _read(self, reader: asyncio.StreamReader, until: int) -> None:
        since = 0
        while line := await reader.readline():
            if line.startswith(b"id: "):
                self.last_id = line[4:].strip().decode()
            if not line.startswith(b'data: {"rehearsal"'):
                continue
            self.ready.set()
            told = json.loads(line[6:])
            self.whole += len(told["regions"]) == 5
            if not (said := told.get("said", "")).startswith("saved F4 "):
                continue
            number = round(float(said.split()[2]) * 10) + 1000
            self.heard.append((number, time.perf_counter()))
            since += 1
            if number >= until or (self.breaks and since >= BREAKS_EVERY):
                return


async def type_readings(page: Program, count: int, per_second: float) -> dict[int, float]:
    """Send the readings at their pace; the cents of each tell its number."""
    sent: dict[int, float] = {}
    headers = {"Origin": page.address}
    began = time.perf_counter()
    async with httpx.AsyncClient(timeout=30) as client:
        for number in range(count):
            await asyncio.sleep(max(0.0, began + number / per_second - time.perf_counter()))
            cents = (number - 1000) / 10
            sent[number] = time.perf_counter()
            typed = entry(f"F4 {cents:+.1f} F", player=f"player {number % 4 + 1}")
            answer = await client.post(f"{page.address}/entries", json=typed, headers=headers)
            assert answer.json()["saved"], answer.text
    return sent


async def watch_memory(process: int, stop: asyncio.Event) -> list[tuple[float, float]]:
    """Return resident memory [MiB] and processor time [s], five times a second."""
    found = []
    while not stop.is_set():
        found.append((time.perf_counter(), resident_mib(process)))
        await asyncio.sleep(0.2)
    return found


def resident_mib(process: int) -> float:
    """Return the resident memory of a process [MiB]; Linux only."""
    pages = int(Path(f"/proc/{process}/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 2**20


async def measure(page: Program, listeners: int, readings: int, per_second: float) -> bool:
    """Run the load and print what came of it; return whether it is within the limits."""
    assert page.process is not None
    everyone = [Listener(page.port, breaks=n % 10 == 9) for n in range(listeners)]
    tasks = [asyncio.create_task(one.listen(readings - 1)) for one in everyone]
    await asyncio.gather(*(one.ready.wait() for one in everyone))
    stop = asyncio.Event()
    memory_task = asyncio.create_task(watch_memory(page.process.pid, stop))
    began = time.perf_counter()
    sent = await type_readings(page, readings, per_second)
    done, pending = await asyncio.wait(tasks, timeout=60)
    for task in (*done, *pending):
        task.cancel() if task in pending else task.result()
    stop.set()
    memory = await memory_task
    took = time.perf_counter() - began

    waits = sorted(1000 * (at - sent[n]) for one in everyone for n, at in one.heard)
    wrong = sum([n for n, _ in one.heard] != list(range(readings)) for one in everyone)
    lost = sum(readings - len({n for n, _ in one.heard}) for one in everyone)
    fifths = [
        statistics.median(m for at, m in memory if k <= 5 * (at - began) / took < k + 1)
        for k in range(5)
    ]
    median, late = statistics.median(waits), waits[int(0.99 * len(waits))]
    growth = fifths[-1] / fifths[1] - 1
    print(
        f"{listeners} listeners, {readings} readings in {took:.0f} s: {len(waits)} messages heard"
    )
    print(f"entry to another browser: median {median:.1f} ms, 99 % within {late:.1f} ms")
    print(f"lost {lost}; listeners that heard something twice or out of order {wrong}")
    print(f"broken and resumed: {sum(one.breaks for one in everyone)} listeners")
    print(f"memory of the server: {', '.join(f'{m:.0f}' for m in fifths)} MiB ({growth:+.1%})")
    return not lost and not wrong and median < MEDIAN_LIMIT_MS and growth < GROWTH_LIMIT


def main() -> int:
    """Run the benchmark and return 1 when a limit was passed."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--listeners", type=int, default=50)
    parser.add_argument("--readings", type=int, default=600)
    parser.add_argument("--per-second", type=float, default=10.0)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        page = Program(
            Path(place) / "bench.logbook",
            *("--rehearsal", "hall", "--instrument", "double horn"),
            *("--thermometer", "simulated:?celsius=18&every=1&name=stage"),
        )
        page.start()
        try:
            within = asyncio.run(
                measure(page, options.listeners, options.readings, options.per_second)
            )
        finally:
            print(page.stop() if page.process else "", end="")
    return 0 if within else 1


if __name__ == "__main__":
    sys.exit(main())
