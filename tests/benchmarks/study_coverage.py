"""Do the anchored method's 95 % intervals hold 95 % of the truth?

Thousands of seeded data sets, from 1 rehearsal with 12 readings to 12 rehearsals with 40, half of
them with hardly any change of temperature between rehearsals (the trap); truths drawn from the
priors, and from a bore of segments that knows nothing of the model.

    python tests/benchmarks/study_coverage.py --sets 2000 --results coverage.csv --plot coverage.svg

The results file is added to and read again, so that an interrupted study goes on where it stopped.
"""

from __future__ import annotations

import argparse
import csv
import itertools
import os
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import numpy as np
import pandas as pd

from drift.regression.fits import fit
from tests.simulate import QUANTITIES, from_a_bore, from_the_priors

FIRST_SEED = 1_000_000
SOURCES = {"priors": from_the_priors, "bore": from_a_bore}
GOALS = {"priors": (0.93, 0.97), "bore": (0.90, 1.0)}
SIZES = {"up to 40": 40, "41 to 100": 100, "101 to 200": 200, "201 to 480": 480}


def one_set(task: tuple[str, int]) -> list[dict[str, object]]:
    """Fit one data set and return a row for each quantity."""
    source, seed = task
    readings, truth = SOURCES[source](FIRST_SEED + seed)
    began = time.process_time()
    found = fit(readings)
    seconds = time.process_time() - began
    entries = found.curve().entries()
    pairs = [
        (entries["warm_cents_per_celsius"], truth.warm_slope),
        (entries["warm_up_cents"], truth.rise),
        (found.change(celsius=5.0), truth.at_5),
        (found.change(celsius=35.0), truth.at_35),
    ]
    return [
        {
            "source": source,
            "seed": seed,
            "readings": len(readings),
            "rehearsals": readings["rehearsal"].nunique(),
            "span_celsius": round(float(np.ptp(readings["celsius"])), 2),
            "quantity": quantity,
            "truth": value,
            "estimate": estimate.estimate,
            "low": estimate.low,
            "high": estimate.high,
            "seconds": seconds,
        }
        for quantity, (estimate, value) in zip(QUANTITIES, pairs, strict=True)
    ]


def table_of(results: pd.DataFrame) -> pd.DataFrame:
    """Return coverage, median width and bias by source, size and quantity."""
    sizes = pd.cut(results["readings"], [0, *SIZES.values()], labels=list(SIZES))
    rows = results.assign(
        held=(results["low"] <= results["truth"]) & (results["truth"] <= results["high"]),
        width=results["high"] - results["low"],
        error=results["estimate"] - results["truth"],
        size=sizes.astype(str),
    )
    everything = rows.assign(size="all")
    grouped = pd.concat([everything, rows]).groupby(["source", "quantity", "size"], sort=False)
    return grouped.agg(
        sets=("held", "size"),
        coverage=("held", "mean"),
        width=("width", "median"),
        bias=("error", "mean"),
    ).reset_index()


def plot(table: pd.DataFrame, path: Path) -> None:
    """Draw the coverage by size, with twice its standard error and the goal."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(9.0, 4.0), layout="constrained")
    for axes, source in zip(figure.subplots(1, 2, sharey=True), SOURCES, strict=True):
        low, high = GOALS[source]
        axes.axhspan(low, high, color="0.9")
        axes.axhline(0.95, color="0.5", linewidth=0.8)
        for number, quantity in enumerate(QUANTITIES):
            part = table[(table["source"] == source) & (table["quantity"] == quantity)]
            part = part.set_index("size").reindex(["all", *SIZES])
            error = 2.0 * np.sqrt(part["coverage"] * (1.0 - part["coverage"]) / part["sets"])
            where = np.arange(len(part)) + 0.12 * (number - 1.5)
            axes.errorbar(
                where, part["coverage"], error, fmt="osD^"[number], markersize=4, label=quantity
            )
        axes.set_xticks(range(len(part)), part.index, fontsize=8)
        axes.set(
            xlabel="readings in the data set",
            title=f"truth from {'the priors' if source == 'priors' else 'a bore of segments'}",
        )
    figure.axes[0].set(ylabel="share of 95 % intervals that hold the truth", ylim=(0.8, 1.0))
    figure.axes[0].legend(fontsize=8, loc="lower left")
    figure.savefig(path)


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--sets", type=int, default=2000, help="data sets from each source")
    parser.add_argument("--jobs", type=int, default=os.cpu_count())
    parser.add_argument("--results", type=Path, default=Path("coverage.csv"))
    parser.add_argument("--plot", type=Path)
    options = parser.parse_args()
    done: set[tuple[str, int]] = set()
    if options.results.exists():
        before = pd.read_csv(options.results)
        done = set(zip(before["source"], before["seed"], strict=True))
    tasks = [task for task in itertools.product(SOURCES, range(options.sets)) if task not in done]
    with options.results.open("a", newline="") as file, ProcessPoolExecutor(options.jobs) as pool:
        writer = None
        for number, rows in enumerate(pool.map(one_set, tasks, chunksize=8), 1):
            if writer is None:
                writer = csv.DictWriter(file, list(rows[0]))
                if not done:
                    writer.writeheader()
            writer.writerows(rows)
            if number % 200 == 0:
                file.flush()
                print(f"{number} of {len(tasks)}", file=sys.stderr)
    results = pd.read_csv(options.results)
    table = table_of(results)
    print(table.to_string(index=False, float_format="%.3f"))
    milliseconds = 1000.0 * results["seconds"].median()
    print(f"median time of a fit: {milliseconds:.0f} ms of processor time")
    if options.plot:
        plot(table, options.plot)
    kept = True
    for row in table[table["size"] == "all"].to_dict("records"):
        low, high = GOALS[row["source"]]
        if not low <= row["coverage"] <= high:
            kept = False
            print(f"missed: {row['source']}, {row['quantity']}: {row['coverage']:.3f}")
    return 0 if kept else 1


if __name__ == "__main__":
    sys.exit(main())
