"""How long the anchored method takes: 500 readings within a second, 20 000 within ten.

python tests/benchmarks/bench_fit.py
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import numpy as np

from drift.regression.fits import fit
from tests.simulate import from_the_priors, random_plan

GOALS = {(1, 40): 1.0, (10, 50): 1.0, (100, 200): 10.0}


def main() -> int:
    missed = 0
    for (rehearsals, count), goal in GOALS.items():
        plan = random_plan(np.random.default_rng(1), rehearsals, count, spread_celsius=6.0)
        rows, _ = from_the_priors(1, plan)
        fit(rows)
        began = time.perf_counter()
        fit(rows)
        seconds = time.perf_counter() - began
        print(f"{len(rows)} readings: {seconds:.3f} s (goal: within {goal:g} s)")
        missed += seconds > goal
    return int(missed > 0)


if __name__ == "__main__":
    sys.exit(main())
