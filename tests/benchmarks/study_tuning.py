"""Judge tuning step by step on simulated players; prints the tables of its page.

Run ``python tests/benchmarks/study_tuning.py --players 200 --first 70000``.
"""

import argparse

import pandas as pd

from drift.instruments.catalogue import Catalogue
from tests.tonight.tuning_trials import by_feel, by_formula, figures, steps


def main():
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--players", type=int, default=200)
    ask.add_argument("--first", type=int, default=70000, help="first seed (below 9000: chosen on)")
    ask.add_argument("--instrument", action="append", help="only these")
    ask.add_argument("--way", help="only the ways whose name begins so")
    given = ask.parse_args()
    catalogue = Catalogue.shipped()
    names = given.instrument or [name for name in catalogue if catalogue.find(name).slides]
    seeds = range(given.first, given.first + given.players)
    ways = {
        "steps, readings sd 2": lambda name, seed: steps(name, seed, sd=2.0),
        "steps, readings sd 3": lambda name, seed: steps(name, seed, sd=3.0),
        "steps, came cold": lambda name, seed: steps(name, seed, sd=2.0, minutes=5.0),
        "by feel": by_feel,
        "one formula move": by_formula,
    }
    for title, way in ways.items():
        if not title.startswith(given.way or ""):
            continue
        table = {name: figures([row for s in seeds for row in way(name, s)]) for name in names}
        print(f"\n{title}\n{pd.DataFrame(table).T.round(1).to_string()}", flush=True)


if __name__ == "__main__":
    main()
