"""What the trade does to the data, and how much it costs.

A player who watches the tuner and pulls half of the drift in; a thermometer that lags by two
minutes; readings rounded to five cents. Each is done to the same simulated seasons, and the fit is
compared with the truth.

    python tests/benchmarks/study_trade.py --sets 300
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import numpy as np
import pandas as pd

from drift.regression.fits import fit
from tests.simulate import Plan, air, from_the_priors, random_plan

FIRST_SEED = 2_000_000
LAG_MINUTES = 2.0
Spoil = Callable[[pd.DataFrame, Plan], pd.DataFrame]


def as_it_is(rows: pd.DataFrame, _: Plan) -> pd.DataFrame:
    return rows


def watched(rows: pd.DataFrame, _: Plan) -> pd.DataFrame:
    """Half of every deviation from the note's own mean pitch is pulled in."""
    mean = rows.groupby(["player", "note"])["reference_cents"].transform("mean")
    return rows.assign(reference_cents=mean + 0.5 * (rows["reference_cents"] - mean))


def lagging(rows: pd.DataFrame, plan: Plan) -> pd.DataFrame:
    """The thermometer shows the air of two minutes before."""
    where, minute = plan.rows["where"].to_numpy(), plan.rows["minute"].to_numpy()
    before = np.maximum(minute - LAG_MINUTES, 0.0)
    return rows.assign(celsius=air(before, plan.start[where], plan.trend[where]))


def rounded(rows: pd.DataFrame, _: Plan) -> pd.DataFrame:
    return rows.assign(reference_cents=5.0 * (rows["reference_cents"] / 5.0).round())


SPOILS: dict[str, Spoil] = {
    "as it is": as_it_is,
    "watches the tuner": watched,
    "thermometer 2 min late": lagging,
    "rounded to 5 cents": rounded,
}


def one_set(seed: int) -> list[dict[str, object]]:
    """Fit one season of six to twelve rehearsals, spoilt in each way."""
    random = np.random.default_rng([3, FIRST_SEED + seed])
    plan = random_plan(random, int(random.integers(6, 13)), 30, spread_celsius=6.0)
    rows, truth = from_the_priors(FIRST_SEED + seed, plan)
    found = []
    for name, spoil in SPOILS.items():
        answer = fit(spoil(rows, plan))
        slope = answer.curve().entries()["warm_cents_per_celsius"]
        there = answer.change(celsius=35.0)
        found.append(
            {
                "spoilt": name,
                "slope_ratio": slope.estimate / truth.warm_slope,
                "slope_error": slope.estimate - truth.warm_slope,
                "slope_held": slope.low <= truth.warm_slope <= slope.high,
                "error_at_35": there.estimate - truth.at_35,
                "held_at_35": there.low <= truth.at_35 <= there.high,
                "width_at_35": there.high - there.low,
            }
        )
    return found


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--sets", type=int, default=300)
    parser.add_argument("--jobs", type=int, default=os.cpu_count())
    options = parser.parse_args()
    with ProcessPoolExecutor(options.jobs) as pool:
        results = pool.map(one_set, range(options.sets), chunksize=8)
        rows = pd.DataFrame([row for result in results for row in result])
    table = rows.groupby("spoilt", sort=False).agg(
        slope_ratio=("slope_ratio", "median"),
        slope_bias=("slope_error", "mean"),
        slope_held=("slope_held", "mean"),
        bias_at_35=("error_at_35", "mean"),
        held_at_35=("held_at_35", "mean"),
        width_at_35=("width_at_35", "median"),
    )
    print(table.to_string(float_format="%.2f"))
    return 0


if __name__ == "__main__":
    sys.exit(main())
