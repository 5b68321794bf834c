"""Judge how often the readings that are asked for do decide, on simulated evenings.

Run ``python tests/benchmarks/study_deciding.py --seasons 60 --first 70000``.
"""

import argparse

import numpy as np
import pandas as pd

from drift.tonight import Action, pitch_now
from tests.evenings import Evening as Truth
from tests.evenings import Player
from tests.tonight.judging import learnt, tonight_of


def main():
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--seasons", type=int, default=60, help="players for each rehearsal")
    ask.add_argument("--first", type=int, default=70000, help="first seed")
    given = ask.parse_args()
    rows = pd.DataFrame([
        row
        for number in range(given.seasons)
        for which in (1, 3)
        for row in trial(given.first + number, which)
    ])  # fmt: skip
    parts = rows.groupby("count")["decided"]
    print((100 * parts.mean()).round(0).to_frame("decided %").assign(moments=parts.size()))


def trial(seed, which):
    """One player's evening: at moments that ask for readings, whether as many as asked decide."""
    player = Player(seed)
    *earlier, truth = [Truth(player, number) for number in range(which)]
    known, rng = learnt(earlier, player.kind, list(player.notes)), np.random.default_rng([seed, 9])
    rows = []
    for now in rng.uniform(5.0, 85.0, 8):
        found = pitch_now(known, tonight_of(truth, now), now)
        wanted = found.sides[found.side].wanted
        if wanted is None or not truth.playing(now):
            continue
        more = [truth.read(now + 0.3 * (place + 1), usual=True) for place in range(wanted.count)]
        then = now + 0.3 * max(wanted.count, 1)
        after = pitch_now(known, tonight_of(truth, then, more), then)
        if more and more[0].side != found.side:
            continue
        decided = after.sides[found.side].decision.action is not Action.READ
        rows.append({"count": wanted.count, "decided": decided})
    return rows


if __name__ == "__main__":
    main()
