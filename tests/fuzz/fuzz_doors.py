"""Structured fuzzing of every door: valid inputs, changed a little, put through public functions.

    python tests/fuzz/fuzz_doors.py book folder --seconds 120 --seed 1
    python tests/fuzz/fuzz_doors.py --seconds 120            # every door, one after the other
    python tests/fuzz/fuzz_doors.py http --repeat 4711       # one input again, with its traceback

Prints a row for each door: inputs tried, refused, answered, tracebacks (different ones counted
once). The input of attempt ``n`` depends on nothing but the seed and ``n``, except that a door
that writes a logbook goes on with the one it has. Ends with exit status 1 after a traceback.
"""

from __future__ import annotations

import argparse
import collections
import random
import sys
import tempfile
import time
import traceback
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.fuzz.doors import DOORS


def place_of(error: BaseException) -> str:
    """Return where an exception came from, so that one fault is counted once."""
    ours = [
        frame
        for frame in traceback.extract_tb(error.__traceback__)
        if "/drift/" in frame.filename or "/sensors/" in frame.filename
    ]
    where = ours[-1] if ours else traceback.extract_tb(error.__traceback__)[-1]
    return f"{type(error).__name__} at {Path(where.filename).name}:{where.lineno}"


def fuzz(name: str, seconds: float, seed: int) -> tuple[collections.Counter[str], dict[str, int]]:
    """Try inputs at one door for some seconds; return the counts, and an attempt for each fault."""
    counts: collections.Counter[str] = collections.Counter()
    faults: dict[str, int] = {}
    memory = Path("/dev/shm")
    with (
        tempfile.TemporaryDirectory(dir=memory if memory.is_dir() else None) as folder,
        DOORS[name](Path(folder)) as attempt,
    ):
        until = time.monotonic() + seconds
        number = 0
        while time.monotonic() < until:
            number += 1
            counts["tried"] += 1
            try:
                counts[attempt(random.Random(f"{seed} {number}"))] += 1
            except Exception as error:
                counts["tracebacks"] += 1
                if place_of(error) not in faults:
                    faults[place_of(error)] = number
                    text = "".join(traceback.format_exception(error))
                    print(f"{name}, attempt {number}:\n{text[-3000:]}", file=sys.stderr, flush=True)
    return counts, faults


def main() -> int:
    """Run the doors that are asked for."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("doors", nargs="*", metavar="DOOR", help=f"of {', '.join(DOORS)}")
    parser.add_argument("--seconds", type=float, default=120.0, help="for each door")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--repeat", type=int, metavar="N", help="try input N alone")
    options = parser.parse_args()
    if options.repeat is not None:
        with tempfile.TemporaryDirectory() as folder, DOORS[options.doors[0]](Path(folder)) as one:
            print(one(random.Random(f"{options.seed} {options.repeat}")))
        return 0
    failed = False
    print("| door | tried | refused | answered | tracebacks |\n|---|---|---|---|---|")
    for name in options.doors or DOORS:
        counts, faults = fuzz(name, options.seconds, options.seed)
        cells = [counts[key] for key in ("tried", "refused", "answered", "tracebacks")]
        print(f"| {name} | {' | '.join(map(str, cells))} |", flush=True)
        for fault, number in faults.items():
            print(f"  {fault}: --seed {options.seed} --repeat {number}", flush=True)
        failed = failed or bool(faults)
    return int(failed)


if __name__ == "__main__":
    sys.exit(main())
