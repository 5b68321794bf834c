"""A season in which half of the players blow warm air before the first note, with a known truth.

In each rehearsal it is the other half, so that players, rooms and routines can be told apart.
"""

import numpy as np
import pandas as pd

MINUTES = (0.7, 1.6, 3.0, 5.0, 8.0, 12.0, 17.0, 24.0, 32.0, 45.0, 60.0)
COLD, RISE, WARM_MINUTES = 2.9, 16.0, 6.0
BEGUN = 1.0 - np.exp(-5.0 / WARM_MINUTES)
"""How warm five minutes make an instrument."""


def two_beginnings(seed=1, begun=BEGUN, players=8, rehearsals=6):
    """Return a paired table with a column ``routine``: ``cold``, or ``warm air``."""
    random = np.random.default_rng([83, seed])
    p, r, m = (
        one.ravel()
        for one in np.meshgrid(range(players), range(rehearsals), MINUTES, indexing="ij")
    )
    p, r = p.astype(int), r.astype(int)
    minute = m + random.uniform(0.0, 0.25, len(m))
    room = random.permutation(np.linspace(13.0, 27.0, rehearsals)) + random.normal(0, 0.5)
    celsius = room[r] + 1.5 * (1.0 - np.exp(-minute / 40.0))
    warmed = (p + r) % 2 == 0
    w = 1.0 - (1.0 - begun * warmed) * np.exp(-minute / WARM_MINUTES)
    own = random.normal(0.0, (0.15, 2.0, 0.5), (players, 3))
    cents = (
        (COLD + own[p, 0]) * (celsius - 20.0)
        + (RISE + own[p, 1]) * (w * (34.0 - celsius) / 14.0 - 1.0)
        + own[p, 2] * minute / 60.0
        + random.normal(0.0, 6.0, players)[p]
        + random.normal(0.0, 1.5, (players, rehearsals))[p, r]
        + random.normal(0.0, 2.5, len(m))
    )
    start = pd.Timestamp("2026-01-14T18:00Z")
    return pd.DataFrame(
        {
            "time": start + pd.to_timedelta(r * 10080.0 + minute, "min"),
            "rehearsal": [f"R{one + 1}" for one in r], "player": [f"P{one + 1}" for one in p],
            "instrument": "Bb trumpet", "note": "Bb4", "cents": cents, "reference_cents": cents,
            "celsius": celsius, "playing_minutes": minute,
            "routine": np.where(warmed, "warm air", "cold"),
        }
    )  # fmt: skip
