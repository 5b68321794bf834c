"""How often could a fault be noticed by somebody who knew nearly everything about the season?

    python tests/benchmarks/study_visible.py [--seasons 6000] [--first 96000]

Seasons are those of `tests.spoilt_seasons`, as numbers alone: six rehearsals, 8 to 15 readings,
notes that differ by 6 cents, noise of 2 to 4 cents, days of 1 to 2.5. Drift and noise are known
exactly, and the right kind of fault is the only one that is looked for, with the share and the
threshold of `drift.regression.notices`. What is noticed less often than that is lost to what must
be estimated; what is not noticed even so cannot be seen at that price.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import numpy as np
import numpy.typing as npt

from drift.regression.notices.faults import SHARE_OF, NoticeKind
from drift.regression.notices.search import THRESHOLD

Array = npt.NDArray[np.float64]

REHEARSALS = 6
NOTE_SD = 6.0
DAY_EFFECT_SD = 8.0
BELIEVED_SD, BELIEVED_LOG_SD = 1.7, 0.5
WIDTHS = np.exp(np.linspace(np.log(0.5), np.log(4.5), 9))
TELLING_CENTS = 6.0
"""Notes whose tendencies differ by less are not looked at."""


def days(random: np.random.Generator, players: int, cents: float) -> tuple[float, float, float]:
    """Return E of a day that is off: pitch and widths known, widths known, neither known."""
    noise, width = random.uniform(2, 4), random.uniform(1, 2.5)
    error = noise**2 / random.integers(8, 16, (players, REHEARSALS))
    mean = random.normal(0.0, np.sqrt(error + width**2))
    mean[0, REHEARSALS // 2] += cents
    share = SHARE_OF[NoticeKind.DAY]
    known = share * _times(mean, error + width**2, pitch_known=True)[0]
    learned = share * _times(mean, error + width**2)[0]
    found = np.array([_times(mean, error + one**2) for one in WIDTHS])
    logs = found[:, 1] - 0.5 * (np.log(WIDTHS / BELIEVED_SD) / BELIEVED_LOG_SD) ** 2
    weights = np.exp(logs - logs.max())
    return known, learned, share * float(weights @ found[:, 0] / weights.sum())


def _times(mean: Array, variance: Array, pitch_known: bool = False) -> tuple[float, float]:
    """Return how many times better one day off explains means of days, and their log evidence."""
    weight = 1.0 / variance
    whole = weight.sum(axis=1, keepdims=True)
    left = mean - (0.0 if pitch_known else (weight * mean).sum(axis=1, keepdims=True) / whole)
    right, size = weight * left, weight - (0.0 if pitch_known else weight**2 / whole)
    spread = 1.0 + DAY_EFFECT_SD**2 * size
    times = np.exp(0.5 * DAY_EFFECT_SD**2 * right**2 / spread) / np.sqrt(spread)
    log = 0.5 * (np.log(weight).sum() - np.log(whole).sum() - (weight * left**2).sum())
    return float(times.mean()), float(log)


def wrong_note(random: np.random.Generator, players: int) -> float:
    """Return E of one reading under another note of its side, the one true choice alone."""
    noise, (as_entered, as_played) = random.uniform(2, 4), random.normal(0.0, NOTE_SD, 2)
    error = random.normal(0.0, noise)
    apart = as_played - as_entered
    log = 0.5 * ((error + apart) ** 2 - error**2) / noise**2
    choices = 0.5 * 2 * 11.5 * REHEARSALS * players  # half of two other notes lie far enough away
    times = np.exp(log) / choices if abs(apart) > TELLING_CENTS else 0.0
    return SHARE_OF[NoticeKind.WRONG_NOTE] * float(times)


def names(random: np.random.Generator) -> float:
    """Return E of two of four players exchanged for half of a rehearsal, the true choice alone."""
    noise, width = random.uniform(2, 4), random.uniform(1, 2.5)
    level = random.normal(0.0, NOTE_SD, (2, 6))
    log = 0.0
    for player in range(2):
        count = int(random.integers(8, 16))
        note, late = random.integers(6, size=count), np.arange(count) >= count // 2
        apart = (level[1 - player] - level[player])[note] * late
        error = random.normal(0.0, noise, count) + random.normal(0.0, width)
        inverse = np.linalg.inv(noise**2 * np.eye(count) + width**2)
        log += 0.5 * float((error + apart) @ inverse @ (error + apart) - error @ inverse @ error)
    choices = REHEARSALS * 6 * 2 * 10
    return SHARE_OF[NoticeKind.NAMES] * float(np.exp(min(log, 300.0))) / choices


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--seasons", type=int, default=6000)
    ask.add_argument("--first", type=int, default=96000, help="seed")
    given = ask.parse_args()
    random = np.random.default_rng(given.first)
    print(f"% of {given.seasons} seasons with E > {THRESHOLD}, four players and one")
    for cents in (0.0, 6.0, 8.0, 10.0):
        found = np.array([[days(random, players, cents) for players in (4, 1)]
                          for _ in range(given.seasons)])  # fmt: skip
        share = 100.0 * (found > THRESHOLD).mean(axis=0)
        print(f"day +{cents:.0f}: all known {share[:, 0].round(1)}, the player's pitch learned "
              f"{share[:, 1].round(1)}, the width of days too {share[:, 2].round(1)}")  # fmt: skip
    for players in (4, 1):
        times = np.array([wrong_note(random, players) for _ in range(given.seasons)])
        print(f"one wrong note, {players}: {100.0 * (times > THRESHOLD).mean():.1f}")
    times = np.array([names(random) for _ in range(given.seasons)])
    print(f"names, 4: {100.0 * (times > THRESHOLD).mean():.1f}")


if __name__ == "__main__":
    main()
