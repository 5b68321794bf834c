"""How long a player waits: the start of the commands against a bare Python, in the same run.

Run ``python tests/benchmarks/bench_start.py``. Prints the medians of processor time and of wall
time, and their ratios to ``python -c pass``; 5 is the limit the project keeps to for ``--help``
and for the start of ``log``, which is over when its greeting stands on standard error. The
processor time holds on a machine that is busy with other things; the wall time is what a player
waits. Bytecode is kept, as after an installation. Needs a system with ``wait4`` (not Windows).
"""

from __future__ import annotations

import itertools
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import IO

ROUNDS = 21
RATIO = 5.0

ENVIRONMENT = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
REHEARSALS = (f"rehearsal {number}" for number in itertools.count())

Times = tuple[float, float]


class Run:
    """A run of Python with its input and output, until it is stopped.

    Parameters
    ----------
    *words : str
        What is given to Python.
    """

    def __init__(self, *words: str) -> None:
        self._start = time.perf_counter()
        self._process = subprocess.Popen(
            [sys.executable, *words],
            env=ENVIRONMENT,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )

    def says(self, word: bytes, *, aloud: bool = True) -> None:
        """Wait for a line with a word on standard output, or on standard error."""
        line = _there(self._process.stdout if aloud else self._process.stderr).readline()
        assert word in line, line

    def type(self, line: bytes) -> None:
        """Type a line."""
        keyboard = _there(self._process.stdin)
        keyboard.write(line + b"\n")
        keyboard.flush()

    def stop(self) -> Times:
        """Kill it, and return its processor time and its wall time until now [s]."""
        wall = time.perf_counter() - self._start
        self._process.kill()
        return self._spent(), wall

    def finish(self) -> Times:
        """Wait for its end, and return its processor time and its wall time [s]."""
        _there(self._process.stdout).read()
        return self._spent(), time.perf_counter() - self._start

    def _spent(self) -> float:
        _, status, usage = os.wait4(self._process.pid, 0)
        self._process.returncode = os.waitstatus_to_exitcode(status)
        for stream in (self._process.stdin, self._process.stdout, self._process.stderr):
            _there(stream).close()
        return usage.ru_utime + usage.ru_stime


def _there(stream: IO[bytes] | None) -> IO[bytes]:
    assert stream is not None
    return stream


def greeting(book: Path, entry: bytes = b"") -> Times:
    """Return the times until a log has greeted, and has kept an entry where there is one."""
    log = Run(
        "-m", "drift", "log", str(book), "--rehearsal", next(REHEARSALS),
        "--player", "Rowan", "--instrument", "double horn",
    )  # fmt: skip
    log.says(b" begins", aloud=False)
    if entry:
        log.type(entry)
        log.says(b"saved ")
    return log.stop()


def main() -> None:
    """Measure in turn, so that a change of the machine's speed meets all alike."""
    with tempfile.TemporaryDirectory() as place:
        book = Path(place) / "start.logbook"
        what = {
            "python -c pass": lambda: Run("-c", "pass").finish(),
            "drift --help": lambda: Run("-m", "drift", "--help").finish(),
            "drift log, until its greeting": lambda: greeting(book),
            "drift log, until the first entry is kept": lambda: greeting(book, b"F4 +6"),
        }
        for run in what.values():
            run()  # makes the logbook, and the bytecode
        found: dict[str, list[Times]] = {name: [] for name in what}
        for _ in range(ROUNDS):
            for name, run in what.items():
                found[name].append(run())
    medians = {
        name: [statistics.median(column) for column in zip(*times, strict=True)]
        for name, times in found.items()
    }
    bare_processor, bare_wall = medians["python -c pass"]
    print(f"{'median of':42} {ROUNDS} runs  processor time            wall time")
    for name, (processor, wall) in medians.items():
        print(
            f"{name:42} {processor * 1000:12.1f} ms {processor / bare_processor:6.2f} x"
            f" {wall * 1000:12.1f} ms {wall / bare_wall:6.2f} x"
        )
    start = medians["drift log, until its greeting"][0] / bare_processor
    print(f"the start of drift log is {'within' if start <= RATIO else 'BEYOND'} {RATIO:g} times")


if __name__ == "__main__":
    main()
