"""What scatter of typed temperatures does to slopes, and what is left of it once it is evened.

    OPENBLAS_NUM_THREADS=1 python tests/benchmarks/study_scatter.py --seasons 40

Seasons of a band as in `study_coverage.py`, with the temperature beside every reading: as the air
was; as people read it off (a scatter of 0.5 °F, in whole degrees Fahrenheit); and that, evened as
`drift.pair` does. Seeds begin at 9 300 000 (`--first`), which nothing was chosen on.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import numpy as np
import pandas as pd

from drift.pairing.scatter import even_of, evened, unevenness_in
from drift.regression.fits import fit
from tests.bands import band_season
from tests.bore_bands import bore_band_season

SIZES = ("1x8", "3x8", "10x6")


def read_off(rows: pd.DataFrame, seed: int, scatter: float) -> pd.DataFrame:
    """Return readings with temperatures as people read them off, in whole degrees Fahrenheit."""
    random = np.random.default_rng([93, seed])
    fahrenheit = rows["celsius"] * 1.8 + 32.0 + random.normal(0.0, scatter, len(rows))
    return rows.assign(celsius=(fahrenheit.round() - 32.0) / 1.8)


def evened_rows(rows: pd.DataFrame) -> tuple[pd.DataFrame, float]:
    """Return readings with what the air most likely was, and by how much it scattered [°C]."""
    samples = rows[["time", "rehearsal", "celsius"]].assign(source="typed")
    even = even_of(unevenness_in(samples))
    found = evened(samples, even)["celsius"].to_numpy()
    return rows.assign(celsius=found), max((one.celsius for one in even.values()), default=0.0)


def one_season(kind: str, size: str, seed: int, scatter: float) -> list[dict[str, object]]:
    """Return how far off the warm slope and the rise of the players are, each way."""
    players, rehearsals = map(int, size.split("x"))
    if kind == "band":
        rows, band = band_season(seed, players, rehearsals)
        slope, rise, _ = band.population
        slope -= rise / 14.0
    else:
        rows, bore = bore_band_season(seed, players, rehearsals, ((5.0, 30.0),))
        slope, rise = bore.warm_slope, bore.rise
    typed = read_off(rows, seed, scatter)
    even, found_scatter = evened_rows(typed)
    found = []
    for taken, given in (("as it was", rows), ("read off", typed), ("evened", even)):
        entries = fit(given).kinds["Bb trumpet"].population.entries()
        warm, up = entries["warm_cents_per_celsius"], entries["warm_up_cents"]
        found.append({
            "kind": kind, "size": size, "seed": seed, "temperatures": taken,
            "scatter found [°C]": found_scatter,
            "error of temperatures [°C]": float((given["celsius"] - rows["celsius"]).std()),
            "slope off": warm.estimate - slope, "slope held": warm.low <= slope <= warm.high,
            "slope width": warm.high - warm.low, "rise off": up.estimate - rise,
            "rise held": up.low <= rise <= up.high,
        })  # fmt: skip
    return found


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("sizes", nargs="*", default=list(SIZES))
    parser.add_argument("--seasons", type=int, default=40, help="of each kind and size")
    parser.add_argument("--first", type=int, default=9_300_000, help="first seed")
    parser.add_argument("--scatter", type=float, default=0.5, help="of what is read off [°F]")
    options = parser.parse_args()
    rows: list[dict[str, object]] = []
    for size in options.sizes:
        for kind in ("band", "bore"):
            for seed in range(options.first, options.first + options.seasons):
                rows += one_season(kind, size, seed, options.scatter)
            done = pd.DataFrame(rows).drop(columns="seed")
            by = done.groupby(["kind", "size", "temperatures"], sort=False)
            print(by.mean().round(3).to_string(), flush=True)


if __name__ == "__main__":
    main()
