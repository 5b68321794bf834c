"""How often "so many more readings now, and the answer will be good to" is kept.

    OPENBLAS_NUM_THREADS=1 python tests/benchmarks/study_promise.py --seeds 62100 62150 --evenings 1
    OPENBLAS_NUM_THREADS=1 python tests/benchmarks/study_promise.py --seeds 62200 62230 --evenings 4

Players of `tests/evenings.py`, at minutes 10, 22, 50 and 80 of their last evening. Where readings
are asked for, they are taken, 20 seconds apart, of the side's tuning notes by chance, and put to
the estimate; then the interval is compared with the one promised, as shown (rounded up).
"""

from __future__ import annotations

import argparse
import sys
from math import ceil
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import numpy as np

from drift.tonight.progress import progress
from tests.evenings import Evening, Player
from tests.tonight.judging import learnt, tonight_of

MOMENTS = (10.0, 22.0, 50.0, 80.0)
APART_MINUTES = 0.33


def promises(seed: int, evenings: int) -> list[tuple[float, float, float, float]]:
    """Return, a moment each: readings asked for; half-width before, promised, and then [cents]."""
    player = Player(seed)
    *earlier, truth = [Evening(player, number) for number in range(evenings)]
    knowledge = learnt(earlier, player.kind, list(player.notes))
    found = []
    for now in MOMENTS:
        known = progress(knowledge, tonight_of(truth, now), now)
        if known is None or not known.more or not truth.playing(now):
            continue
        times = [now + APART_MINUTES * (place + 1) for place in range(known.more)]
        more = [truth.read(time, usual=True) for time in times]
        then = progress(knowledge, tonight_of(truth, times[-1], more), times[-1])
        assert then is not None
        found.append((known.more, known.half_cents, known.then_cents, then.half_cents))
    return found


def main() -> None:
    """Run the study and print its row."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", nargs=2, type=int, default=(62_100, 62_150))
    parser.add_argument("--evenings", type=int, default=1)
    options = parser.parse_args()
    rows = [row for seed in range(*options.seeds) for row in promises(seed, options.evenings)]
    asked, before, promised, then = np.array(rows).T
    kept = np.mean([ceil(b) <= ceil(a) for a, b in zip(promised, then, strict=True)])
    print(
        f"{len(rows)} moments, {asked.mean():.1f} readings asked for; ±{np.median(before):.1f}, "
        f"promised ±{np.median(promised):.1f}, then ±{np.median(then):.1f} (medians); "
        f"kept as shown {100 * kept:.0f} %"
    )


if __name__ == "__main__":
    main()
