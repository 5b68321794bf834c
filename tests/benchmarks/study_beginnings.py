"""Do the two recipes for an effect on the beginning hold what a warmed mouthpiece did?

    OPENBLAS_NUM_THREADS=1 python tests/benchmarks/study_beginnings.py

Bores of several time constants along the bore (`tests.wall_bands`), whose first fifth is nearly
warm at every other rehearsal of a player. Ten players, six rehearsals; the recipes are those of
``docs/how-to/compare-two-beginnings.md``: a column that fades with the time constant of the cold
half, and columns for each span of playing minutes, one for everybody and one for the warmed half
(``spans``) or the latter alone (``alone``). That everybody's are of all spans was chosen on seeds
8 500 000 to 8 500 024; those from 8 600 000 are for judging, which nothing was chosen on.
"""

from __future__ import annotations

import argparse
import itertools
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import numpy as np
import pandas as pd

from drift.regression.fits import fit
from tests.wall_bands import Walls, wall_season, warmed

ENDS = (0, 3, 8, 15, 30)
ASKED = (1.0, 5.0, 15.0)
STEP = 0.02


def effect(bore: Walls, minutes: np.ndarray) -> np.ndarray:
    """Return what the warmed fifth adds at 20 °C after so long [cents]."""
    every = np.arange(0.0, 40.0, STEP)[:, None]
    room, playing = np.full(every.shape, 20.0), np.ones(every.shape, dtype=bool)
    more = warmed(bore).run(room, playing, STEP)[0] - bore.run(room, playing, STEP)[0]
    return np.interp(minutes, every[:, 0], more[:, 0])


def one_season(seed: int, players: int) -> list[tuple[str, str, float, float, float, float]]:
    """Return recipe, minutes, truth, estimate and limits [cents at 20 °C]."""
    rows, bore = wall_season("several", seed, players, 6, halves=True)
    began, minutes = rows["warmed"], rows["playing_minutes"]
    first = minutes < ENDS[-1]
    weight = (34.0 - rows["celsius"]) / 14.0
    cold = fit(rows[~began]).population.set_index("quantity")
    tau = cold.loc["warm_up_time_constant_minutes", "estimate"]
    faded = fit(
        rows.assign(fading=began * np.exp(-minutes / tau) * weight), covariates=["fading"]
    ).population.set_index("quantity")
    numbers = faded.loc["fading", ["estimate", "low", "high"]].to_numpy(dtype=float)
    found = [
        ("fading", f"{asked:g}", float(effect(bore, np.array([asked]))[0]),
         *(numbers * np.exp(-asked / tau)))
        for asked in ASKED
    ]  # fmt: skip
    within = {
        f"from_{low}": first & minutes.between(low, high, inclusive="left")
        for low, high in itertools.pairwise(ENDS)
    }
    alone = {name: (began & here) * weight for name, here in within.items()}
    everybody = {f"all_{name}": within[name] * weight for name in within}
    for recipe, columns in (("alone", alone), ("spans", alone | everybody)):
        spread = fit(rows.assign(**columns), covariates=list(columns))
        answers = spread.population.set_index("quantity")
        for name, here in within.items():
            truth = float(effect(bore, minutes[began & here].to_numpy()).mean())
            limits = answers.loc[name, ["estimate", "low", "high"]].to_numpy(dtype=float)
            found.append((recipe, name, truth, *limits))
    return found


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--sets", type=int, default=24, help="seasons")
    parser.add_argument("--players", type=int, default=10)
    parser.add_argument("--first", type=int, default=8_600_000, help="first seed")
    options = parser.parse_args()
    seeds = range(options.first, options.first + options.sets)
    found = pd.DataFrame(
        [one for seed in seeds for one in one_season(seed, options.players)],
        columns=["recipe", "minutes", "truth", "estimate", "low", "high"],
    )
    found["held"] = (found["low"] <= found["truth"]) & (found["truth"] <= found["high"])
    grouped = found.groupby(["recipe", "minutes"], sort=False)
    print(grouped.mean().round(2).assign(held=grouped["held"].sum(), sets=options.sets).to_string())


if __name__ == "__main__":
    main()
