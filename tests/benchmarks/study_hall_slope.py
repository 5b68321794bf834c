"""The slope from readings in a hall where some tones are two players: weighed, or refused.

    python tests/benchmarks/study_hall_slope.py CLIPS.csv [CLIPS.csv ...] [--sets 100] [--first 0]

CLIPS.csv is what ``study_rooms.py --out CLIPS.csv`` writes: score, uncertainty and error of tones
by one player in halls, and by two whose pitch is more than a cent from both. A set is six days
between 14 and 28 °C of one double horn, warm from the start, 40 tones played in all; each is one
of the clips, and a share of 5 or 15 % are pairs. The player varies by 1 or 3 cents from tone to
tone and by 1.5 from day to day, the true slope is drawn about what acoustics says. Each set is
fitted three times; the slope is that of this player between 20 and 28 °C:

weighed    every tone that is not refused at once, with its uncertainty and its probability, as
           `drift listen` saves them;
refused    only tones whose score is at most that at which a single tone is refused;
known      pairs left out by knowing them, single players weighed by their uncertainty alone.

A pair's pitch is as far from our player as the clip says, and from the other one with even chances
where both are as loud.
"""

from __future__ import annotations

import argparse
import csv
import sys
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import numpy as np
import pandas as pd

import drift
from sensors.quality import DOUBTFUL, PAIR, pair_probability
from tests.benchmarks.study_rooms import HARMFUL_CENTS, is_hall, number_of

INSTRUMENT, NOTES = "double horn", ("F4", "Bb3", "C4")
REHEARSALS, TONES, DAY_CENTS = 6, 40, 1.5
DEGREES = 8.0
WARMER = {"celsius": 28.0, "tuned_celsius": 20.0, "minutes": 60.0, "tuned_minutes": 60.0}
Row = dict[str, Any]


def clips(paths: list[Path]) -> tuple[list[Row], list[Row]]:
    """Return the tones of single players in halls, and of harmful pairs in any room."""
    rows = [
        {key: number_of(value) for key, value in row.items()}
        for path in paths
        for row in csv.DictReader(path.open())
    ]
    told = [row for row in rows if isinstance(row["error"], float) and row["error"] == row["error"]]
    singles = [row for row in told if not row["second"] and is_hall(row)]
    pairs = [
        row for row in told if row["second"] and is_hall(row) and abs(row["error"]) > HARMFUL_CENTS
    ]
    return singles, pairs


def season(
    singles: list[Row], pairs: list[Row], share: float, scatter: float, seed: int
) -> tuple[pd.DataFrame, float]:
    """Return the tones of a set, one row each, and the true slope [cents/°C]."""
    rng = np.random.default_rng([seed, round(100 * share), round(10 * scatter)])
    slope = rng.normal(2.95, 0.4)
    celsius = rng.permutation(np.linspace(14, 28, REHEARSALS))
    days = rng.normal(0, DAY_CENTS, REHEARSALS)
    offsets = dict(zip(NOTES, rng.normal(0, 4, len(NOTES)), strict=True))
    rows = []
    for number in range(TONES):
        day = number % REHEARSALS
        pair = rng.uniform() < share
        clip = (pairs if pair else singles)[rng.integers(len(pairs if pair else singles))]
        off = clip["error"]
        if pair and clip["level_db"] == 0 and rng.uniform() < 0.5:
            off += clip["apart"]
        note, warm = NOTES[number % len(NOTES)], celsius[day] + rng.normal(0, 0.3)
        cents = offsets[note] + days[day] + slope * (warm - 20) + rng.normal(0, scatter) + off
        rows.append(
            {
                "rehearsal": f"day {day}", "player": "Rowan", "instrument": INSTRUMENT,
                "side": "F" if note == "C4" else "Bb", "note": note, "reference_cents": cents,
                "celsius": warm, "playing_minutes": 60.0, "initial_warmth": 1.0,
                "cents_sd": max(0.001, clip["cents_sd"]), "score": clip["score"], "pair": pair,
            }
        )  # fmt: skip
    return pd.DataFrame(rows), slope


def ways(tones: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """Return the readings of each of the three ways."""
    probability = tones["score"].map(pair_probability)
    weighed = tones.assign(pair_probability=probability)[tones["score"] <= PAIR]
    refused = tones.assign(pair_probability=0.0)[tones["score"] <= DOUBTFUL]
    known = tones.assign(pair_probability=0.0)[~tones["pair"] & (tones["score"] <= PAIR)]
    return {"weighed": weighed, "refused": refused, "known": known}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("clips", type=Path, nargs="+")
    parser.add_argument("--sets", type=int, default=100)
    parser.add_argument("--first", type=int, default=0, help="number of the first set")
    options = parser.parse_args()
    singles, pairs = clips(options.clips)
    print(f"{len(singles)} single players and {len(pairs)} harmful pairs in halls\n")
    print("| pairs | scatter [cents] | way | readings | error [cents/°C] | interval holds "
          "| width [cents/°C] |\n|---|---|---|---|---|---|---|")  # fmt: skip
    for scatter in (1.0, 3.0):
        for share in (0.05, 0.15):
            found: dict[str, list[tuple[float, ...]]] = {}
            for seed in range(options.first, options.first + options.sets):
                tones, slope = season(singles, pairs, share, scatter, seed)
                for way, readings in ways(tones).items():
                    fit = drift.fit(readings.drop(columns=["score", "pair"]))
                    change = fit.change(INSTRUMENT, **WARMER)
                    entry = np.array([change.estimate, change.low, change.high]) / DEGREES
                    found.setdefault(way, []).append(
                        (entry[0] - slope, entry[1] <= slope <= entry[2], entry[2] - entry[1],
                         len(readings))
                    )  # fmt: skip
            for way, some in found.items():
                error, holds, width, count = np.array(some, dtype=float).T
                print(
                    f"| {100 * share:.0f} % | {scatter:g} | {way} | {count.mean():.0f} "
                    f"| {np.sqrt(np.mean(error**2)):.3f} | {holds.mean():.3f} "
                    f"| {width.mean():.2f} |",
                    flush=True,
                )


if __name__ == "__main__":
    main()
