"""Judge the estimate of pitch tonight on simulated evenings; prints the tables of its page.

Run ``python tests/benchmarks/study_tonight.py --seasons 50 --first 50000 --save FILE.csv``; with
``--save`` what was done is kept, and the same command goes on where it stopped.
"""

import argparse
from pathlib import Path

import pandas as pd

from tests.tonight.judging import outdoors, summary, trial


def main():
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--seasons", type=int, default=50, help="players for each rehearsal judged")
    ask.add_argument("--first", type=int, default=50000, help="first seed (below 9000: chosen on)")
    ask.add_argument("--save", type=Path, help="a CSV file that keeps the moments judged")
    given = ask.parse_args()
    kept = pd.read_csv(given.save) if given.save and given.save.exists() else pd.DataFrame()
    done = (
        set(zip(kept["seed"], kept["which"], kept["watched"], strict=True)) if len(kept) else set()
    )
    plans = [(which, watched) for which, watched in ((1, False), (2, False), (5, False), (5, True))]
    for number in range(given.seasons):
        for place, (which, watched) in enumerate(plans):
            seed = given.first + 1000 * place + number
            if (seed, which, watched) in done or (watched and number % 3):
                continue
            kept = pd.concat([kept, pd.DataFrame(trial(seed, which, watched))], ignore_index=True)
            if given.save:
                kept.to_csv(given.save, index=False)
    tables(kept)
    cold = pd.DataFrame(
        [outdoors(given.first + 8000 + n, m) for n in range(given.seasons) for m in (5.0, 15.0)]
    )
    print("\ntuned in a room, played in the cold: |mean off| of the playing [cents]")
    for (physics, minutes), part in cold.groupby(["physics", "minutes"]):
        left = part["target"].abs()
        print(
            f"{physics}, tuned after {minutes:.0f} min: zero {part['zero'].abs().mean():.1f}, "
            f"target {left.mean():.1f} (95th {left.quantile(0.95):.1f}); "
            f"printed half-width {part['half'].mean():.0f} holds {100 * part['held'].mean():.0f} %"
        )


def tables(rows):
    rows["surprises"] = rows["surprises"].astype(str)
    honest = rows[~rows["watched"]]
    parts = {
        "all": honest,
        **{f"rehearsal {which}": part for which, part in honest.groupby("which")},
        **dict(list(honest.groupby("physics"))),
        **dict(list(honest.groupby("kind"))),
        "after an unlogged move": honest[honest["moved"]],
        "watching the tuner": rows[rows["watched"]],
    }
    table = pd.DataFrame({name: summary(part) for name, part in parts.items() if len(part)}).T
    print(table.round(1).to_string())
    since = honest[honest["moved"] & (honest["since"] >= 2)]
    large = since[since["move_cents"].abs() >= 8]
    said = honest["surprises"].str.contains("jumped|shifted")
    print(
        f"\nunlogged moves with two or more readings since: announced {_percent(since)} of "
        f"{len(since)}, of at least 8 cents {_percent(large)} of {len(large)}; "
        f"falsely {100 * said[~honest['moved']].mean():.1f} % of {(~honest['moved']).sum()}"
    )
    watching = rows["surprises"].str.contains("watching")
    print(
        f"watching announced {100 * watching[rows['watched']].mean():.0f} %, "
        f"falsely {100 * watching[~rows['watched']].mean():.1f} %"
    )


def _percent(part):
    return f"{100 * part['surprises'].str.contains('jumped|shifted').mean():.0f} %"


if __name__ == "__main__":
    main()
