"""A season's worth in a minute: two thermometers at one sample a second into a logbook.

    python tests/benchmarks/soak.py [--hours 24] [--folder /dev/shm]

The thermometers are stand-ins that say a second's worth as fast as it is taken; the listeners, the
logbook and its file are the real ones. Every sample is a transaction of its own, as it is at one a
second. In a folder of memory the disk does not set the pace. Exits 1 if a sample is missing, if
memory grows by 5 MB or more after the first hour, or if the file is not as large as its rows need.
"""

from __future__ import annotations

import argparse
import resource
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from drift.capture.listener import Listener
from drift.logbook.book import Logbook
from sensors.reading import Notice, Sample

NAMES = ("stage", "outdoors")
START = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)
MOST_MEGABYTES = 5.0
#: What the rows, index entries and digests of one sample need: some 85 bytes of cells by the file
#: format of SQLite, in pages that are filled in order and stay nearly full, and its checks.
BYTES_A_SAMPLE = (100.0, 180.0)
AHEAD = 200  # samples that a thermometer may be ahead of what is kept


class Clock:
    """Stands at the last sample."""

    def __init__(self) -> None:
        self.seconds = 0

    def now(self) -> datetime:
        """Return the time of day."""
        return START + timedelta(seconds=self.seconds)

    def monotonic(self) -> float:
        """Return the seconds."""
        return float(self.seconds)


class Ticking:
    """A thermometer that says one temperature a second, of a time that runs as fast as it can.

    Parameters
    ----------
    name : str
        The name of the thermometer.
    hours : float
        How long it goes on [h].
    kept : callable
        How many entries are in the book; nobody gets far ahead of what is kept.
    """

    def __init__(self, name: str, hours: float, kept: Callable[[], int]) -> None:
        self.name, self.seconds, self.clock = name, int(hours * 3600), Clock()
        self._kept = kept
        self.done = threading.Event()

    def __enter__(self) -> Ticking:
        """Open nothing."""
        return self

    def __exit__(self, *_: object) -> None:
        """Close nothing."""

    def __iter__(self) -> Iterator[Sample | Notice | None]:
        """Yield a sample, then nothing for a while, as a serial line does."""
        for second in range(self.seconds):
            self.clock.seconds = second
            if second % 3600 == 1800:
                yield Notice(self.clock.now(), "away", "unplugged?", self.name)
                yield Notice(self.clock.now(), "back", "back after 0 s", self.name)
            yield Sample(self.clock.now(), 20.0 + second % 1000 / 100, source=self.name)
            yield from [None] * 5
            while second % 20 == 0 and 2 * second - self._kept() > AHEAD:
                time.sleep(0.001)
        self.done.set()


@dataclass(frozen=True)
class Soaked:
    """What a soak came to."""

    hours: float
    samples: int
    wrong: int
    megabytes_grown: float
    file_bytes: int

    @property
    def bytes_a_sample(self) -> float:
        """Size of the file for each sample."""
        return self.file_bytes / self.samples

    @property
    def faults(self) -> list[str]:
        """What is not as it should be."""
        low, high = BYTES_A_SAMPLE
        return [
            words
            for words, wrong in (
                (f"{self.wrong} samples are missing or doubled", self.wrong != 0),
                ("memory grew", self.megabytes_grown >= MOST_MEGABYTES),
                ("the file's size is unexpected", not low <= self.bytes_a_sample <= high),
            )
            if wrong
        ]


def soak(folder: Path, hours: float) -> Soaked:
    """Log two thermometers for so many hours, and measure from the end of the first hour on."""
    path = folder / "soak.logbook"
    usual = Listener.BATCH_SECONDS, Listener.BATCH
    Listener.BATCH_SECONDS, Listener.BATCH = 0.005, 1
    try:
        with Logbook(path, writer="soak") as book:
            grown = _listen(book, hours)
            found = Counter(
                (row["source"], round((row["time"] - START).total_seconds()))
                for row in book.rows("temperatures")
            )
    finally:
        Listener.BATCH_SECONDS, Listener.BATCH = usual
    expected = Counter((name, second) for name in NAMES for second in range(int(hours * 3600)))
    wrong = (expected - found).total() + (found - expected).total()
    return Soaked(hours, found.total(), wrong, grown, path.stat().st_size)


def _listen(book: Logbook, hours: float) -> float:
    """Return by how much memory grew after the first hour [MB]."""
    with ExitStack() as listening:
        sources = [Ticking(name, hours, lambda: book.last_entry) for name in NAMES]
        for source in sources:
            listening.enter_context(Listener(source, book, "season", source.clock))
        while book.last_entry < len(NAMES) * 3600:
            time.sleep(0.02)
        after_an_hour = _megabytes()
        for source in sources:
            source.done.wait()
        return _megabytes() - after_an_hour


def _megabytes() -> float:
    """Return the memory of this process [MB]: what it has now on Linux, else the most it had."""
    try:
        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    except OSError:
        scale = 1e6 if sys.platform == "darwin" else 1e3
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / scale
    return pages * resource.getpagesize() / 1e6


def main() -> int:
    """Soak, print the figures, return 0 if nothing is wrong."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--hours", type=float, default=24.0)
    parser.add_argument("--folder", type=Path, help="where the book is made (default: temporary)")
    options = parser.parse_args()
    began = time.monotonic()
    with tempfile.TemporaryDirectory(dir=options.folder) as folder:
        soaked = soak(Path(folder), options.hours)
    print(
        f"{soaked.hours:g} hours of two thermometers in {time.monotonic() - began:.0f} s: "
        f"{soaked.samples} samples, {soaked.wrong} missing or doubled; "
        f"memory {soaked.megabytes_grown:+.2f} MB after the first hour; "
        f"file {soaked.file_bytes / 1e6:.1f} MB, {soaked.bytes_a_sample:.0f} bytes a sample"
    )
    for fault in soaked.faults:
        print(fault, file=sys.stderr)
    return 1 if soaked.faults else 0


if __name__ == "__main__":
    sys.exit(main())
