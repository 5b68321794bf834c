"""How often 95 % intervals hold the truth where players differ: resumable, by size of the season.

usage: python tests/benchmarks/study_players.py [--sets 100] [--out FILE.jsonl] [--course]
                                                [--unlike CENTS] [3x4 10x4 10x10 ...]

Each season is drawn by `tests.bands.band_season`, which shares no code with the estimator: players
who differ, days they share, slow drift, a bend, rests. Seeds begin at 1 000 000; those below were
for choosing. With --course the air is followed through each room that warms, where the truth has
constant air: what following costs indoors. With --unlike the first player drifts by so many
cents/°C more than the others do, and is fitted alone as well. What is done is kept in FILE, a line
a season, and not done again.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).parents[2]))

from drift.regression.fits import fit
from tests.bands import band_season

FIRST_SEED = 1_000_000


def season(size: str, seed: int, course: bool, unlike: float) -> dict[str, object]:
    """Return which intervals hold the truth, and the errors of a player's own drift."""
    players, rehearsals = map(int, size.split("x"))
    rows, truth = band_season(seed, players, rehearsals, course=course)
    first = next(iter(truth.players))
    of_first = rows["player"] == first
    rows.loc[of_first, "reference_cents"] += unlike * (rows.loc[of_first, "celsius"] - 20.0)
    found = fit(rows)
    kind = found.kinds["Bb trumpet"]
    entries = kind.population.entries()
    slope, rise, slow = truth.population
    answers = {
        "warm slope": (entries["warm_cents_per_celsius"], slope - rise / 14.0),
        "rise": (entries["warm_up_cents"], rise),
        "slow drift": (entries["slow_cents_per_hour"], slow),
    }
    held = {name: [entry.low <= value <= entry.high] for name, (entry, value) in answers.items()}
    errors: dict[str, list[float]] = {}
    asked = [(found, name, "own") for name in truth.players]
    if unlike:
        asked[0] = (found, first, "the unlike")
        asked.append((fit(rows[of_first]), first, "the unlike, alone,"))
    for one, name, who in asked:
        for celsius, minutes in ((5.0, 30.0), (35.0, 30.0), (20.0, 100.0)):
            entry = one.change(celsius=celsius, minutes=minutes, player=name)
            more = unlike * (celsius - 20.0) * (name == first)
            value = truth.change(truth.players[name], celsius, minutes) + more
            label = f"{who} at {celsius:g} °C after {minutes:g} min"
            held.setdefault(label, []).append(bool(entry.low <= value <= entry.high))
            errors.setdefault(label, []).append(abs(entry.estimate - value))
    return {
        "size": size, "seed": seed, "course": course, "unlike": unlike,
        "held": {name: float(np.mean(hits)) for name, hits in held.items()},
        "error": {name: float(np.mean(values)) for name, values in errors.items()},
        "pareto_k": found.diagnostics["pareto_k"],
    }  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("sizes", nargs="*", default=["3x4", "10x4", "10x10"])
    parser.add_argument("--sets", type=int, default=100)
    parser.add_argument("--out", type=Path, default=Path("players.jsonl"))
    parser.add_argument("--course", action="store_true")
    parser.add_argument("--unlike", type=float, default=0.0, help="cents/°C")
    options = parser.parse_args()
    lines = options.out.read_text("utf-8").splitlines() if options.out.exists() else []
    done = [json.loads(line) for line in lines]
    done = [one for one in done if one.get("course", False) == options.course]
    done = [one for one in done if one.get("unlike", 0.0) == options.unlike]
    known = {(one["size"], one["seed"]) for one in done}
    for number in range(options.sets):
        for size in options.sizes:
            if (size, FIRST_SEED + number) in known:
                continue
            done.append(season(size, FIRST_SEED + number, options.course, options.unlike))
            with options.out.open("a", encoding="utf-8") as file:
                file.write(json.dumps(done[-1]) + "\n")
    table = pd.DataFrame([{"size": one["size"], **one["held"]} for one in done]).groupby("size")
    print("share of 95 % intervals that hold the truth")
    print((100 * table.mean()).round(0).assign(sets=table.size()).to_string())
    errors = pd.DataFrame([{"size": one["size"], **one["error"]} for one in done]).groupby("size")
    print("mean error of a player's own drift [cents]")
    print(errors.mean().round(1).to_string())


if __name__ == "__main__":
    main()
