"""How long the Bayesian method takes: small seasons from a table, large ones after the columns.

    python tests/benchmarks/bench_fit.py
    python tests/benchmarks/bench_fit.py --large [200x20x25 200x500x1 1000x40x25]

Small: 500 readings within a second, 20 000 within ten. Large (players x rehearsals x readings): in
a process of its own, seconds of the processor for the Bayesian method once the columns are there,
for the columns, and for least squares and the mixed model from the rows; with the most memory that
each process held, its start and the rows included.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import time
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import numpy as np

from drift.errors import InputError
from drift.instruments import find
from drift.regression.bayesian import fit_bayesian
from drift.regression.columns import columns_of
from drift.regression.fits import fit, rows_to_fit
from drift.regression.priors import Priors
from tests.bands import band_season
from tests.simulate import from_the_priors, random_plan

SMALL = {(1, 40): 1.0, (10, 50): 1.0, (100, 200): 10.0}
LARGE = {"200x20x25": 2.0, "200x500x1": 10.0, "1000x40x25": 15.0}
"""Seconds of the processor aimed at, after the columns."""
METHODS = ("rows alone", "bayesian", "least-squares", "mixed")
MOST_GB = 4.0


def small() -> int:
    missed = 0
    for (rehearsals, count), goal in SMALL.items():
        plan = random_plan(np.random.default_rng(1), rehearsals, count, spread_celsius=6.0)
        rows, _ = from_the_priors(1, plan)
        fit(rows)
        began = time.perf_counter()
        fit(rows)
        seconds = time.perf_counter() - began
        print(f"{len(rows)} readings: {seconds:.3f} s (goal: within {goal:g} s)")
        missed += seconds > goal
    return missed


def one(size: str, method: str) -> None:
    """Print seconds, seconds of the columns, and the most memory of this process [GB]."""
    players, rehearsals, readings = map(int, size.split("x"))
    rows, _ = rows_to_fit(band_season(1, players, rehearsals, readings)[0])
    columns = seconds = 0.0
    began = time.process_time()
    if method == "bayesian":
        made, known = columns_of(rows), Priors().of(find("Bb trumpet").name)
        columns = time.process_time() - began
        fit_bayesian(made, Priors(), (known,))
        seconds = time.process_time() - began - columns
    elif method in METHODS[2:]:
        try:
            fit(rows, method)
        except InputError as refusal:
            print(refusal.problem)
            return
        seconds = time.process_time() - began
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    print(f"{seconds:.2f} {columns:.2f} {memory:.2f}")


def large(sizes: list[str]) -> int:
    missed = 0
    for size in sizes:
        for method in METHODS:
            command = [sys.executable, __file__, "--large", size, "--method", method]
            told = subprocess.run(command, capture_output=True, text=True, check=True).stdout
            if told.rstrip().endswith("memory"):
                print(f"{size} {method}: refused: {told.rstrip()}", flush=True)
                continue
            seconds, columns, memory = map(float, told.split())
            print(f"{size} {method}: {seconds:.2f} s, columns {columns:.2f} s, {memory:.2f} GB",
                  flush=True)  # fmt: skip
            missed += method == "bayesian" and seconds > LARGE.get(size, np.inf)
            missed += memory > MOST_GB
    return missed


def main() -> int:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--large", nargs="*", metavar="PxRxN", help="players, rehearsals, readings")
    ask.add_argument("--method", choices=METHODS, help="in this process, of one size")
    given = ask.parse_args()
    if given.method:
        one(given.large[0], given.method)
        return 0
    if given.large is None:
        return int(small() > 0)
    return int(large(given.large or list(LARGE)) > 0)


if __name__ == "__main__":
    sys.exit(main())
