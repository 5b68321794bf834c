"""What typed temperatures do to slopes, and what is left of it once they are paired.

    OPENBLAS_NUM_THREADS=1 python tests/benchmarks/study_scatter.py --seasons 40

Seasons of a band as in `study_coverage.py`, with the temperature beside every reading: as the air
was; as people read it off (a scatter of 0.5 °F, in whole degrees Fahrenheit); and that, paired as
`drift.pair` does, with its even course. With `--every 25` people look so often [min] instead: as if
what they typed held until the next (``read off``), and as `drift.pair` does. Seeds begin at
9 300 000 (`--first`), which nothing was chosen on.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import numpy as np
import pandas as pd

from drift.pairing.nearest import STEP_CELSIUS, minutes_of, nearer
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


def looked_at(
    rows: pd.DataFrame, seed: int, scatter: float, every: float
) -> tuple[pd.DataFrame, pd.DataFrame, float]:
    """Return readings with what was typed last, and paired with all that was typed."""
    random = np.random.default_rng([94, seed])
    last, paired = rows["celsius"].to_numpy(copy=True), rows["celsius"].to_numpy(copy=True)
    minutes = minutes_of(rows["time"])
    parts = []
    for name, where in rows.groupby("rehearsal").indices.items():
        order = where[np.argsort(minutes[where])]
        when = np.arange(minutes[order[0]], minutes[order[-1]] + every, every)
        air = np.interp(when, minutes[order], rows["celsius"].to_numpy()[order])
        parts.append(pd.DataFrame({"minute": when, "rehearsal": name, "celsius": air}))
    typed = read_off(pd.concat(parts, ignore_index=True), int(random.integers(10**6)), scatter)
    typed["time"] = pd.to_datetime((typed["minute"] * 60e6).astype("int64"), unit="us", utc=True)
    typed["source"] = "typed"
    even = even_of(unevenness_in(typed))
    nothing = np.empty(0), np.empty(0)
    for taken, samples in ((last, typed), (paired, evened(typed, even))):
        for name, where in rows.groupby("rehearsal").indices.items():
            own = samples[samples["rehearsal"] == name]
            times, celsius = minutes_of(own["time"]), own["celsius"].to_numpy()
            step = STEP_CELSIUS if taken is paired else 0.0  # of 0 °C: the last holds
            taken[where] = nearer(nothing, (times, celsius), np.empty(0), minutes[where], step)
    known = np.isfinite(last) & np.isfinite(paired)
    scattered = max((one.celsius for one in even.values()), default=0.0)
    return rows.assign(celsius=last)[known], rows.assign(celsius=paired)[known], scattered


def evened_rows(rows: pd.DataFrame) -> tuple[pd.DataFrame, float]:
    """Return readings with what the air most likely was, and by how much it scattered [°C]."""
    samples = rows[["time", "rehearsal", "celsius"]].assign(source="typed")
    even = even_of(unevenness_in(samples))
    found = evened(samples, even)["celsius"].to_numpy()
    return rows.assign(celsius=found), max((one.celsius for one in even.values()), default=0.0)


def one_season(
    kind: str, size: str, seed: int, scatter: float, every: float | None
) -> list[dict[str, object]]:
    """Return how far off the warm slope and the rise of the players are, each way."""
    players, rehearsals = map(int, size.split("x"))
    if kind == "band":
        rows, band = band_season(seed, players, rehearsals)
        slope, rise, _ = band.population
        slope -= rise / 14.0
    else:
        rows, bore = bore_band_season(seed, players, rehearsals, ((5.0, 30.0),))
        slope, rise = bore.warm_slope, bore.rise
    if every is None:
        typed = read_off(rows, seed, scatter)
        even, found_scatter = evened_rows(typed)
    else:
        typed, even, found_scatter = looked_at(rows, seed, scatter, every)
    found = []
    for taken, given in (("as it was", rows), ("read off", typed), ("paired", even)):
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
    parser.add_argument("--every", type=float, help="people look so often [min]")
    options = parser.parse_args()
    rows: list[dict[str, object]] = []
    for size in options.sizes:
        for kind in ("band", "bore"):
            for seed in range(options.first, options.first + options.seasons):
                rows += one_season(kind, size, seed, options.scatter, options.every)
            done = pd.DataFrame(rows).drop(columns="seed")
            by = done.groupby(["kind", "size", "temperatures"], sort=False)
            print(by.mean().round(3).to_string(), flush=True)


if __name__ == "__main__":
    main()
