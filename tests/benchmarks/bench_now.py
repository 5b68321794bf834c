"""How long `now` takes against one fit of the same rehearsals: a ratio, for one shared machine.

Run ``python tests/benchmarks/bench_now.py``.
"""

import time

import numpy as np
import pandas as pd

import drift
from drift.instruments.catalogue import Catalogue
from drift.tonight import know, pitch_now
from tests.evenings import Evening, Player
from tests.tonight.judging import paired, tonight_of


def took(call, times=5):
    """Processor seconds of the quickest of some calls."""
    spent = []
    for _ in range(times):
        begin = time.process_time()
        call()
        spent.append(time.process_time() - begin)
    return min(spent)


def main():
    player = Player(12)  # a double horn
    *earlier, tonight = [Evening(player, number) for number in range(41)]
    rows = pd.concat([paired(e) for e in earlier], ignore_index=True)
    fit = drift.fit(rows)
    horn = Catalogue.shipped().find(player.kind)
    draws = fit.draws(player.kind, 600, 1)
    known = know(horn, draws, fit.rows, more_notes=list(player.notes))
    evening = tonight_of(tonight, 105.0)
    once = took(lambda: drift.fit(rows), times=2)
    learn = took(lambda: know(horn, draws, fit.rows, more_notes=list(player.notes)))
    now = took(lambda: pitch_now(known, evening, 105.0))
    print(f"{len(rows)} earlier readings, {len(evening.readings)} tonight")
    print(f"a fit takes {once:.2f} s; the notes {learn / once:.3f} of it, once an evening;")
    print(f"each answer {now / once:.4f} of it ({1000 * now:.0f} ms)")
    print(f"(numpy {np.__version__})")


if __name__ == "__main__":
    main()
