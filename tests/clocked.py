"""The program with a clock that a test moves: ``python -m tests.clocked FILE log BOOK ...``.

FILE holds by how many seconds the clock is ahead of this computer's.
"""

import sys
from datetime import timedelta
from pathlib import Path

import sensors.clocks
from drift.cli import main


class MovedClock(sensors.clocks.SystemClock):
    def now(self):
        return super().now() + timedelta(seconds=ahead())

    def monotonic(self):
        return super().monotonic() + ahead()


def ahead():
    return float(Path(sys.argv[1]).read_text(encoding="ascii") or 0.0)


if __name__ == "__main__":
    sensors.clocks.SystemClock = MovedClock
    sys.exit(main(sys.argv[2:]))
