"""Judge each side of a double horn on evenings whose F side is apart by a number of its own.

Run ``python tests/benchmarks/study_sides.py --seasons 40 --first 60000``; the spread of that number
is none, 2.6 and 5 cents in turn, and ``--prior`` changes what the estimate takes it to be.
"""

import argparse

import numpy as np
import pandas as pd

from drift.tonight import knowledge, pitch_now
from tests.evenings import Evening as Truth
from tests.evenings import Player
from tests.tonight.judging import learnt, tonight_of


def main():
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--seasons", type=int, default=40, help="players for each spread")
    ask.add_argument("--first", type=int, default=60000, help="first seed")
    ask.add_argument("--prior", type=float, help="the spread that the estimate expects [cents]")
    given = ask.parse_args()
    if given.prior is not None:
        knowledge.SIDE_TONIGHT_SD_CENTS = given.prior
    rows = [
        row
        for apart_sd in (0.0, 2.6, 5.0)
        for number in range(given.seasons)
        for which in (1, 3)
        for row in trial(given.first + 4 * number, which, apart_sd)
    ]
    parts = pd.DataFrame(rows).groupby(["apart_sd", "which", "side", "read"])
    print(parts.apply(figures, include_groups=False).round(1).to_string())


def trial(seed, which, apart_sd):
    """One player's evening after ``which - 1`` others: each side, at four moments."""
    player = Player(seed)
    player.apart_sd = apart_sd
    *earlier, truth = [Truth(player, number) for number in range(which)]
    known = learnt(earlier, player.kind, list(player.notes))
    rows, rng = [], np.random.default_rng([seed, 7])
    for now in (rng.uniform(7, 12), rng.uniform(18, 26), rng.uniform(38, 50), rng.uniform(65, 85)):
        found = pitch_now(known, tonight_of(truth, now), now)
        for side, answer in found.sides.items():
            off, true = answer.off_cents, truth.off(now, side, truth.pitch)
            rows.append({
                "apart_sd": apart_sd, "which": which, "side": side,
                "read": any(r.side == side and r.minutes <= now for r in truth.readings),
                "error": off.estimate - true, "held": off.low <= true <= off.high,
                "width": off.high - off.low,
            })  # fmt: skip
    return rows


def figures(part):
    error = part["error"].abs()
    return pd.Series({
        "mean": error.mean(), "95th": error.quantile(0.95), "holds %": 100 * part["held"].mean(),
        "width": part["width"].mean(), "moments": len(part),
    })  # fmt: skip


if __name__ == "__main__":
    main()
