"""What the digests of a logbook cost: their share of the processor time of loading it.

python tests/benchmarks/bench_digests.py [readings]
"""

from __future__ import annotations

import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from drift.logbook import digests
from drift.logbook.book import Logbook
from drift.logbook.records import Reading
from drift.logbook.rehearsals import load

START = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)


def main(count: int) -> None:
    """Load a logbook of so many readings five times, and print the median share."""
    spent = [0.0]
    real = digests.digest_of

    def timed(*arguments: Any) -> bytes:
        began = time.process_time()
        found = real(*arguments)
        spent[0] += time.process_time() - began
        return found

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "band.logbook"
        with Logbook(path, writer="benchmark") as book:
            book.keep_all(
                [
                    Reading(
                        START + timedelta(seconds=n), "hall", "Rowan", "double horn", "F", "F4",
                        n % 400 / 10 - 20,
                    )
                    for n in range(count)
                ]
            )  # fmt: skip
        digests.digest_of = timed
        shares = []
        for _ in range(5):
            spent[0], began = 0.0, time.process_time()
            load(path)
            shares.append(spent[0] / (time.process_time() - began - spent[0]))
    print(f"{count} readings: digests cost {sorted(shares)[2]:.0%} of loading without them")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 50_000)
