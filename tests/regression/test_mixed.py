"""The mixed model where its likelihood has two tops, against the likelihood written out."""

import numpy as np
import pandas as pd
import pytest

from drift.regression.fits import fit


def warming_up(seed, players=4, rehearsals=6):
    """Six rooms and a warm-up, which a straight line can give to temperature or to rehearsals."""
    random, rows = np.random.default_rng(seed), []
    for rehearsal, room in enumerate(random.permutation([13, 16.5, 19.5, 23, 26.5, 30])):
        everybody, rise = random.normal(0, 0.6), random.uniform(0.5, 2.5)
        for player in range(players):
            day = random.normal(0, 1.2)
            for minute in (0.7, 2, 4, 7, 11, 16, 24, 34, 45, 60, 80):
                celsius = room + rise * (1 - np.exp(-minute / 40))
                warm = 1 - np.exp(-minute / 7)
                cents = 2.9 * (celsius - 20) + 14 * (warm * (34 - celsius) / 14 - 1)
                cents += everybody + day + random.normal(0, 2.2)
                rows.append((f"r{rehearsal}", f"p{player}", celsius, minute, cents))
    table = pd.DataFrame(
        rows, columns=["rehearsal", "player", "celsius", "playing_minutes", "reference_cents"]
    )
    return table.assign(instrument="tenor trombone", side="", note="Bb3")


def restricted(rows, rehearsal, day):
    """Return the restricted log-likelihood at variances over that of readings, and the slopes."""
    player = pd.get_dummies(rows["player"]).to_numpy(float)
    x = np.column_stack([rows["celsius"] - 20, rows["playing_minutes"], player])
    y = rows["reference_cents"].to_numpy()
    shared = pd.get_dummies(rows["rehearsal"]).to_numpy(float)
    own = pd.get_dummies(rows["rehearsal"] + rows["player"]).to_numpy(float)
    v = np.eye(len(y)) + rehearsal * shared @ shared.T + day * own @ own.T
    vx = np.linalg.solve(v, x)
    slopes = np.linalg.solve(x.T @ vx, vx.T @ y)
    rest = y - x @ slopes
    freedom = len(y) - x.shape[1]
    scale = rest @ np.linalg.solve(v, rest) / freedom
    logs = np.linalg.slogdet(v)[1] + np.linalg.slogdet(x.T @ vx)[1] + freedom * np.log(scale)
    return -logs / 2, slopes[:2]


@pytest.mark.slow
@pytest.mark.parametrize("seed", [28, 34])  # 28: the near top is the higher one, 34: the far one
def test_the_highest_of_several_tops_is_taken(seed):
    rows = warming_up(seed)
    grid = [
        (0.0, 0.0),
        *((s, d) for s in np.geomspace(0.001, 3000, 30) for d in (0.001, 0.03, 0.2)),
    ]
    best, slopes = max((restricted(rows, *at) for at in grid), key=lambda item: item[0])
    found = fit(rows, "mixed")
    variances = [found.sds[name].estimate ** 2 for name in ("rehearsal_sd", "day_sd")]
    there, _ = restricted(rows, *(np.array(variances) / found.reading_sd_cents**2))
    assert there > best - 0.1
    assert found.curve().coefficients == pytest.approx(slopes, rel=0.05, abs=0.01)
