"""How often do the Bayesian method's 95 % intervals hold the truth?

    OPENBLAS_NUM_THREADS=1 python tests/benchmarks/study_coverage.py --sets 400

Seasons are of two kinds, drawn by generators that share no code with the estimator. ``band``: the
form of the model (`tests.bands`). ``bore``: every player blows a bore of segments of their own
(`tests.bore_bands`), which knows nothing of the model. In both players differ, lips drift slowly,
days are shared and notes have pitches of their own. Twelve readings for each player and rehearsal.

Seeds begin at 3 000 000 (`--first`), which nothing was chosen on; `--sets` counts those of each
kind and size; the allowances for walls were chosen on seeds from 2 500 000, and `--walls-sd` tries
another, `--warm-log-sd` another belief in the time constants of warming and cooling.
Each season is a line of the results file, which is read again, so that an interrupted study goes on
where it stopped; `--minutes` ends it after so long.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import numpy as np
import pandas as pd

from drift.regression.fits import fit
from drift.regression.priors import Priors
from drift.regression.results import Fit
from tests.bands import band_season
from tests.bore_bands import bore_band_season

FIRST_SEED = 3_000_000
SIZES = ("1x1", "1x4", "3x4", "10x4", "10x10")
COLD, HOT, EARLY, LATE = (5.0, 30.0), (35.0, 30.0), (20.0, 3.0), (20.0, 100.0)
CONDITIONS = {"at 5 °C": COLD, "at 35 °C": HOT, "after 3 min": EARLY, "after 100 min": LATE}
LEAST = 0.92

Answer = tuple[float, float, float, float]
"""Truth, estimate, low, high."""


def answers_of(
    kind: str, size: str, seed: int, priors: Priors
) -> tuple[Fit, dict[str, list[Answer]]]:
    """Return a fit, and for each quantity what it says and what is true."""
    players, rehearsals = map(int, size.split("x"))
    if kind == "band":
        rows, band = band_season(seed, players, rehearsals)
        slope, rise, slow = band.population
        warm_slope, goes_on = slope - rise / 14.0, slow
        own = {
            name: {at: band.change(numbers, *at) for at in CONDITIONS.values()}
            for name, numbers in (band.players | {"new": band.new}).items()
        }
    else:
        rows, bore = bore_band_season(seed, players, rehearsals, tuple(CONDITIONS.values()))
        warm_slope, rise, slow = bore.warm_slope, bore.rise, bore.slow
        goes_on = bore.goes_on
        own = {name: one.changes for name, one in (bore.players | {"new": bore.new}).items()}
    found = fit(rows, priors=priors)
    entries = found.kinds["Bb trumpet"].population.entries()
    asked = {
        "warm slope": (warm_slope, entries["warm_cents_per_celsius"]),
        "rise": (rise, entries["warm_up_cents"]),
        "slow drift": (slow, entries["slow_cents_per_hour"]),
        "goes on": (goes_on, entries["slow_cents_per_hour"]),
    }
    answers = {
        name: [(truth, entry.estimate, entry.low, entry.high)]
        for name, (truth, entry) in asked.items()
    }
    for name, changes in own.items():
        for where, at in CONDITIONS.items():
            entry = found.change(celsius=at[0], minutes=at[1], player=name)
            label = f"{'new player' if name == 'new' else 'own'} {where}"
            one = (changes[at], entry.estimate, entry.low, entry.high)
            answers.setdefault(label, []).append(one)
    return found, answers


def one_season(kind: str, size: str, seed: int, priors: Priors) -> dict[str, object]:
    """Return which intervals of a season hold the truth, how wide they are and how far off."""
    began = time.process_time()
    found, answers = answers_of(kind, size, seed, priors)
    values = {name: np.array(some) for name, some in answers.items()}
    shares = found.kinds["Bb trumpet"].population.entries()
    return {
        "kind": kind, "size": size, "seed": seed,
        "held": {n: float(((v[:, 2] <= v[:, 0]) & (v[:, 0] <= v[:, 3])).mean())
                 for n, v in values.items()},
        "error": {n: float(np.abs(v[:, 1] - v[:, 0]).mean()) for n, v in values.items()},
        "width": {n: float((v[:, 3] - v[:, 2]).mean()) for n, v in values.items()},
        "from_data": {"warm slope": shares["warm_cents_per_celsius"].from_data,
                      "rise": shares["warm_up_cents"].from_data,
                      "slow drift": shares["slow_cents_per_hour"].from_data},
        "pareto_k": float(found.diagnostics["pareto_k"]),
        "seconds": time.process_time() - began,
    }  # fmt: skip


def tasks(sets: int, sizes: list[str], first: int) -> Iterator[tuple[str, str, int]]:
    """Return what is to be done, small seasons first, all sizes growing alike."""
    for block in range(0, sets, 50):
        for size in sizes:
            for kind in ("band", "bore"):
                for number in range(block, min(block + 50, sets)):
                    yield kind, size, first + number


def tables(done: list[dict[str, object]]) -> None:
    """Print shares, errors and widths, one row a kind and size."""
    keys = [{"kind": one["kind"], "size": one["size"]} for one in done]
    order = pd.CategoricalDtype(list(SIZES), ordered=True)
    for title, what, places in (
        ("% of 95 % intervals that hold the truth", "held", 1),
        ("mean error [cents, cents/°C, cents/hour]", "error", 2),
        ("mean width of the interval", "width", 2),
        ("share of the answer that came from the readings", "from_data", 2),
    ):
        frame = pd.DataFrame([key | one[what] for key, one in zip(keys, done, strict=True)])
        frame["size"] = frame["size"].astype(order)
        grouped = frame.groupby(["kind", "size"], observed=True)
        scale = 100.0 if what == "held" else 1.0
        table = (scale * grouped.mean()).round(places)
        print(f"\n{title}\n{table.assign(sets=grouped.size()).to_string()}")


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("sizes", nargs="*", default=list(SIZES))
    parser.add_argument("--sets", type=int, default=400, help="seasons of each kind and size")
    parser.add_argument("--first", type=int, default=FIRST_SEED, help="first seed")
    parser.add_argument("--minutes", type=float, default=np.inf, help="end after so long")
    parser.add_argument(
        "--walls-sd", type=float, default=Priors().walls_sd, help="allowance [cents/hour]"
    )
    parser.add_argument(
        "--warm-log-sd", type=float, help="spread of the log of the time constants (default: 0.6)"
    )
    parser.add_argument("--results", type=Path, default=Path("coverage.jsonl"))
    options = parser.parse_args()
    lines = options.results.read_text("utf-8").splitlines() if options.results.exists() else []
    done = [json.loads(line) for line in lines]
    known = {(one["kind"], one["size"], one["seed"]) for one in done}
    priors = Priors(walls_sd=options.walls_sd)
    if options.warm_log_sd:
        spread = {"warm_log_sd": options.warm_log_sd, "cool_log_sd": options.warm_log_sd}
        own = replace(priors.of("Bb trumpet"), **spread)
        priors = replace(priors, instruments={"Bb trumpet": own})
    began = time.monotonic()
    with options.results.open("a", encoding="utf-8") as file:
        for task in tasks(options.sets, options.sizes, options.first):
            if time.monotonic() - began > 60.0 * options.minutes:
                break
            if task not in known:
                done.append(one_season(*task, priors))
                file.write(json.dumps(done[-1]) + "\n")
                file.flush()
    tables(done)
    frame = pd.DataFrame([one["held"] for one in done])
    missed = {name: share for name, share in frame.mean().items() if share < LEAST}
    for name, share in missed.items():
        print(f"missed: {name}: {100 * share:.1f} %")
    print(f"median processor time of a season: {np.median([one['seconds'] for one in done]):.2f} s")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
