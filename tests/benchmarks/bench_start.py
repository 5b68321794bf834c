"""How long a player waits: the start of the commands against a bare Python, in the same run.

Run ``python tests/benchmarks/bench_start.py``. Prints the median of each and its ratio to
``python -c pass``; 5 is the limit the project keeps to for ``--help`` and the start of ``log``.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROUNDS = 21


def seconds(*words: str) -> float:
    """Return how long one run takes [s]."""
    start = time.perf_counter()
    subprocess.run([sys.executable, *words], input=b"end\n", capture_output=True, check=True)
    return time.perf_counter() - start


def first_answer(book: Path) -> float:
    """Return how long it takes until the first entry is kept [s]."""
    words = ["-m", "drift", "log", str(book), "--rehearsal", "r"]
    start = time.perf_counter()
    with subprocess.Popen(
        [sys.executable, *words],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
    ) as log:
        assert log.stdin is not None
        assert log.stdout is not None
        log.stdin.write(b"play\nend\n")
        log.stdin.flush()
        line = log.stdout.readline()
        elapsed = time.perf_counter() - start
        assert line == b"kept play\n", line
        log.communicate()
    return elapsed


def main() -> None:
    """Measure in turn, so that a change of the machine's speed meets all alike."""
    with tempfile.TemporaryDirectory() as place:
        book = Path(place) / "start.logbook"
        what = {
            "python -c pass": lambda: seconds("-c", "pass"),
            "drift --help": lambda: seconds("-m", "drift", "--help"),
            "drift log, until the first entry is kept": lambda: first_answer(book),
        }
        times: dict[str, list[float]] = {name: [] for name in what}
        for _ in range(ROUNDS):
            for name, run in what.items():
                times[name].append(run())
    medians = {name: statistics.median(found) for name, found in times.items()}
    for name, median in medians.items():
        print(f"{name:42} {median * 1000:7.1f} ms  {median / medians['python -c pass']:5.2f} x")


if __name__ == "__main__":
    main()
