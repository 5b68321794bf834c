"""How often do the intervals hold when an instrument is 95 % warm, and 95 % cooled?

    OPENBLAS_NUM_THREADS=1 python tests/benchmarks/study_minutes.py

Seasons of bands whose bores have walls of one time constant, of several along the bore, or of which
a part takes four times as long as the rest (`tests.wall_bands`), and of bores of segments
(`tests.bore_bands`, warm alone). The allowance for late walls was chosen on seeds from 8 100 000;
those here begin at 8 200 000, which nothing was chosen on. ``--late`` tries another allowance.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import pandas as pd

from drift.regression.fits import fit
from drift.regression.priors import Priors
from tests.bore_bands import bore_band_season
from tests.wall_bands import wall_season

KINDS = ("one", "several", "late 7", "late 15", "bore")
SIZES = ("1x4", "3x4", "10x6", "10x10")
TO_95_PERCENT = 3.0


def one_season(kind: str, size: str, seed: int, priors: Priors) -> list[dict[str, object]]:
    """Return what a season says of both times, and what is true [min]."""
    players, rehearsals = map(int, size.split("x"))
    if kind == "bore":
        rows, band = bore_band_season(seed, players, rehearsals, ())
        truths = {"warm": band.warm_after}
    else:
        rows, bore = wall_season(kind, seed, players, rehearsals)
        truths = {"warm": bore.minutes_to(0.95), "cooled": bore.minutes_to(0.95, cooling=True)}
    entries = fit(rows, priors=priors).kinds["Bb trumpet"].population.entries()
    names = {"warm": "warm_up_time_constant_minutes", "cooled": "cool_down_time_constant_minutes"}
    found = []
    for what, truth in truths.items():
        one = entries[names[what]]
        low, high = TO_95_PERCENT * one.low, TO_95_PERCENT * one.high
        found.append(
            {
                "95 %": what, "size": size, "bore": kind, "% held": 100.0 * (low <= truth <= high),
                "truth": truth, "estimate": TO_95_PERCENT * one.estimate, "low": low, "high": high,
            }
        )  # fmt: skip
    return found


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("sizes", nargs="*", default=list(SIZES))
    parser.add_argument("--kinds", nargs="+", default=list(KINDS))
    parser.add_argument("--sets", type=int, default=40, help="seasons of each kind and size")
    parser.add_argument("--first", type=int, default=8_200_000, help="first seed")
    parser.add_argument("--late", type=float, default=Priors().late_walls_log_sd)
    options = parser.parse_args()
    priors = Priors(late_walls_log_sd=options.late)
    found = [
        one
        for size in options.sizes
        for kind in options.kinds
        for seed in range(options.first, options.first + options.sets)
        for one in one_season(kind, size, seed, priors)
    ]
    table = pd.DataFrame(found)
    for name in ("95 %", "size", "bore"):
        table[name] = pd.Categorical(table[name], table[name].unique(), ordered=True)
    print(table.groupby(["95 %", "size", "bore"], observed=True).mean().round(1).to_string())


if __name__ == "__main__":
    main()
