"""Judge the plan of an evening on simulated bands; prints the tables of its page.

Run ``python tests/benchmarks/study_evening.py --bands 20 --first 70000 --save FILE.csv``; with
``--save`` what was done is kept, and the same command goes on where it stopped. With ``--staged``
a part of each instrument warms, cools and follows the air 2.5 to 3 times as slowly as the rest;
``--late-share 0`` plans as if no instrument had such a part.
"""

import argparse
from pathlib import Path

import pandas as pd

import drift.gig.course
from drift.gig.course import LATE_SHARE
from tests.gig.carried_out import WIDER, evening
from tests.gig.simulated_bands import EVENINGS


def main():
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--bands", type=int, default=20, help="bands for each kind of evening")
    ask.add_argument("--first", type=int, default=70000, help="first seed")
    ask.add_argument("--which", nargs="+", default=list(EVENINGS), choices=list(EVENINGS))
    ask.add_argument("--staged", action="store_true", help="walls in two stages")
    ask.add_argument("--at-once", action="store_true", help="the air inside follows at once")
    ask.add_argument("--late-share", type=float, default=LATE_SHARE, help="as in drift.gig.course")
    ask.add_argument("--save", type=Path, help="a CSV file that keeps the sections judged")
    given = ask.parse_args()
    drift.gig.course.LATE_SHARE = given.late_share
    kept = pd.read_csv(given.save) if given.save and given.save.exists() else pd.DataFrame()
    done = set(zip(kept["seed"], kept["which"], kept["own"], strict=True)) if len(kept) else set()
    for seed in range(given.first, given.first + given.bands):
        for which in given.which:
            for own in (False, True):
                if (seed, which, own) in done:
                    continue
                found = pd.DataFrame(evening(seed, which, own, given.staged, given.at_once))
                kept = pd.concat([kept, found], ignore_index=True)
                if given.save:
                    kept.to_csv(given.save, index=False)
    print(summary(kept).to_string())
    sums = kept.groupby(["own", "lumped", "section"])[
        ["targets", *(f"held_{w:g}" for w in WIDER)]
    ].sum()
    shares = 100 * sums.drop(columns="targets").div(sums["targets"], axis=0)
    print("\nheld of each section, by physics, if so much wider than drawn [%]")
    print(shares.round(0).to_string())
    worse = kept.groupby(["which", "own", "section"])[["untouched", "sheet"]].mean()
    worse = worse[worse["sheet"] > worse["untouched"]]
    print("\nsections worse than untouched, on the mean of the bands:", len(worse))
    print(worse.round(1).to_string() if len(worse) else "none")


def summary(kept):
    """Mean error untouched and with the sheet, and how often the printed intervals held."""
    groups = kept.groupby(["which", "own"])
    table = groups[["untouched", "sheet", "worst"]].mean().round(1)
    held = groups["held"].sum() / groups["targets"].sum()
    table = table.assign(held_percent=(100 * held).round(0), bands=groups["seed"].nunique())
    for wider in WIDER:
        share = 100 * groups[f"held_{wider:g}"].sum() / groups["targets"].sum()
        table[f"held_if_{wider:g}"] = share.round(1)
    return table


if __name__ == "__main__":
    main()
