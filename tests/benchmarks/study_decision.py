"""What knowing the drift of a player is worth: five rehearsals, then ten performances.

    OPENBLAS_NUM_THREADS=1 python tests/benchmarks/study_decision.py --players 200

Bands of four rehearse five times indoors, twelve readings for each player and rehearsal, and then
play ten performances of an hour at 0 to 35 °C. Tuned at 20 °C after half an hour of playing, each
player sets the slides once for a performance, for as many cents as one of these says: nothing
(leave), 3 cents for each °C, a straight line through the player's own readings (least squares),
acoustics alone, the Bayesian method, or the truth after half an hour, which nobody knows. The error
is the mean distance from the pitch that was meant, after 10, 30 and 60 minutes of playing there.

Both kinds of season of `study_coverage.py`; seeds begin at 4 000 000, which nothing was chosen on.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import numpy as np
import pandas as pd

from drift.regression.fits import fit, physics
from tests.bands import band_season
from tests.bore_bands import bore_band_season

FIRST_SEED = 4_000_000
PLAYERS, REHEARSALS, PERFORMANCES = 4, 5, 10
MINUTES = (10.0, 30.0, 60.0)
POLICIES = ("leave", "3 cents per °C", "least squares", "acoustics", "bayesian", "truth known")
ACOUSTICS = physics()


def performances(seed: int) -> list[float]:
    """Return the temperatures of the performances [°C]."""
    random = np.random.default_rng([80, seed])
    return random.uniform(0.0, 35.0, PERFORMANCES).round(1).tolist()


def one_band(kind: str, seed: int) -> list[dict[str, object]]:
    """Return a line for each player and performance: the error of each policy [cents]."""
    asked = tuple((celsius, minutes) for celsius in performances(seed) for minutes in MINUTES)
    if kind == "band":
        rows, band = band_season(seed, PLAYERS, REHEARSALS)
        true = {
            name: {at: band.change(own, *at) for at in asked} for name, own in band.players.items()
        }
    else:
        rows, bore = bore_band_season(seed, PLAYERS, REHEARSALS, asked)
        true = {name: one.changes for name, one in bore.players.items()}
    found = fit(rows)
    lines = []
    for name, changes in true.items():
        own = fit(rows[rows["player"] == name].reset_index(drop=True), method="least-squares")
        for celsius in performances(seed):
            said = {
                "leave": 0.0,
                "3 cents per °C": 3.0 * (celsius - 20.0),
                "least squares": own.change(celsius=celsius).estimate,
                "acoustics": ACOUSTICS.change("Bb trumpet", celsius=celsius).estimate,
                "bayesian": found.change(celsius=celsius, player=name).estimate,
                "truth known": changes[celsius, 30.0],
            }
            there = np.array([changes[celsius, minutes] for minutes in MINUTES])
            errors = {policy: float(np.abs(there - cents).mean()) for policy, cents in said.items()}
            lines.append({"kind": kind, "seed": seed, "player": name, "celsius": celsius} | errors)
    return lines


def table(lines: pd.DataFrame, by: list[str]) -> str:
    """Return mean errors, and the 95th percentile of those of single performances."""
    parts = lines.groupby(by, observed=True)
    mean = parts[list(POLICIES)].mean().round(1).assign(performances=parts.size())
    worst = parts[list(POLICIES)].quantile(0.95).round(1)
    return f"mean error [cents]\n{mean.to_string()}\n95th percentile\n{worst.to_string()}"


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--players", type=int, default=200, help="of each kind")
    parser.add_argument("--results", type=Path, default=Path("decision.jsonl"))
    options = parser.parse_args()
    read = options.results.read_text("utf-8").splitlines() if options.results.exists() else []
    lines = [json.loads(line) for line in read]
    known = {(one["kind"], one["seed"]) for one in lines}
    for number in range(-(-options.players // PLAYERS)):
        for kind in ("band", "bore"):
            if (kind, FIRST_SEED + number) not in known:
                new = one_band(kind, FIRST_SEED + number)
                with options.results.open("a", encoding="utf-8") as file:
                    file.writelines(json.dumps(line) + "\n" for line in new)
                lines += new
    frame = pd.DataFrame(lines)
    frame["air"] = pd.cut(frame["celsius"], [-1, 10, 25, 36], labels=["0-10", "10-25", "25-35"])
    print(table(frame, ["kind"]))
    print(table(frame, ["kind", "air"]))
    players = frame.groupby(["kind", "seed", "player"])[list(POLICIES)].mean()
    worse = players.gt(players["leave"], axis=0).groupby("kind").mean()
    print(f"% of players who end worse than untouched\n{(100.0 * worse).round(0).to_string()}")


if __name__ == "__main__":
    main()
