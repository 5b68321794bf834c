"""Lines back to back at 115200 baud into a logbook: none lost, none doubled, none changed.

    python tests/benchmarks/bench_serial_log.py [--seconds 60]

One thread writes numbered temperatures to a real pseudo-terminal at the 11520 bytes a second that
such a line carries; a real `drift log` reads the other end and keeps them, while readings are typed
into it. Exits 1 if a line of the minute is missing from the book, or there twice.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from drift.logbook.book import Logbook
from tests.running_log import PATIENCE_SECONDS, Numbered, numbers, rows, say, start_log, wait_for

BYTES_PER_SECOND = 11_520  # ten bits a byte


@dataclass(frozen=True)
class Logged:
    """What a minute on the line came to."""

    seconds: float
    lines: int
    faults: int
    held_up_seconds: float
    typed: int
    slowest_answer_seconds: float


def log_a_line(folder: Path, seconds: float) -> Logged:
    """Log a line that never pauses for so many seconds."""
    book = folder / "line.logbook"
    who = ("--player", "Rowan", "--instrument", "Bb trumpet")
    with (
        Numbered(BYTES_PER_SECOND) as thermometer,
        start_log(book, *who, "--thermometer", thermometer.address) as log,
    ):
        assert say(log, "play") == "saved play"
        wait_for(lambda: rows(book, "temperatures"), "the first sample")
        thermometer.held_up_seconds = 0.0  # until now nobody may have listened
        first, began, answers = thermometer.count, time.monotonic(), []
        while time.monotonic() - began < seconds:
            asked = time.monotonic()
            assert say(log, "F4 +6").startswith("saved F4 +6.0 cents")
            answers.append(time.monotonic() - asked)
            time.sleep(0.25)
        thermometer.stop()
        took = time.monotonic() - began
        wait_for(lambda: _last_line(book) == thermometer.count - 1, "keeping the last line")
        log.communicate(b"end\n", timeout=PATIENCE_SECONDS)
    found = numbers([row["celsius"] for row in rows(book, "temperatures")])
    expected = range(found[0], thermometer.count)
    faults = len(set(expected).symmetric_difference(found)) + len(found) - len(set(found))
    kept = len(rows(book, "readings"))
    assert kept == len(answers)
    lines = thermometer.count - first
    return Logged(took, lines, faults, thermometer.held_up_seconds, kept, max(answers))


def _last_line(book: Path) -> int:
    with Logbook(book) as opened:
        newest = opened.rows("temperatures", after=opened.last_entry - 10)
        return max(numbers([row["celsius"] for row in newest]), default=-1)


def main() -> int:
    """Log, print the figures, return 0 if nothing is wrong."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=float, default=60.0)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        logged = log_a_line(Path(folder), options.seconds)
    print(
        f"{logged.lines} lines in {logged.seconds:.1f} s, "
        f"{logged.lines / logged.seconds:.0f} a second: "
        f"{logged.faults} lost, doubled or changed; "
        f"the sender was held up for {1000 * logged.held_up_seconds:.0f} ms at most; "
        f"{logged.typed} readings typed meanwhile, the slowest answered after "
        f"{1000 * logged.slowest_answer_seconds:.0f} ms"
    )
    return 1 if logged.faults else 0


if __name__ == "__main__":
    sys.exit(main())
