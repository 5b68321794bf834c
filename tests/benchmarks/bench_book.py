"""Where the time of ``drift fit`` of a logbook goes, step by step: seconds of the processor.

    python tests/benchmarks/bench_book.py BOOK

Such a book is left behind by ``bench_tables.py --book --folder DIR``, as ``DIR/bench.logbook``. A
step is a function of the package; what is indented is part of the step before it.
"""

from __future__ import annotations

import sys
import time
from collections import defaultdict
from collections.abc import Callable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from drift.logbook import digests, saved
from drift.pairing import readings as pairing
from drift.regression import bayesian, fits
from drift.study import Study
from drift.words.noticed import beside

STARTED = time.process_time()
INSIDE: dict[str, list[tuple[str, Any, str]]] = {
    "the logbook is read": [
        ("rows from SQLite", digests, "rows_of"),
        ("rows to columns", digests, "columns_of"),
        ("digests", digests, "digest_of"),
        ("texts numbered", saved._Texts, "extend"),
        ("tables", saved, "_saved"),
    ],
    "readings are paired": [
        ("temperatures", pairing, "temperatures_at"),
        ("playing time", pairing, "playing_before"),
        ("courses of the air", pairing, "courses_at"),
        ("slides undone", pairing, "reference_shift"),
    ],
    "the fit": [
        ("rows checked", fits, "rows_to_fit"),
        ("columns", fits, "columns_of"),
        ("sums of the readings", bayesian, "sums_of"),
        ("notes and days taken out", bayesian, "reduce"),
        ("the mode", bayesian, "newton"),
        ("draws, with all players", bayesian, "importance"),
        ("residuals", bayesian, "seen_with"),
        ("sensitivity to priors", fits, "sensitivity_of"),
        ("notices and warnings", fits, "with_warnings"),
    ],
    "the tables looked through": [],
    "the answer in words": [],
}


def timed(owner: Any, name: str, spent: dict[str, float], what: str) -> None:
    """Let a function add up the time that is spent in it."""
    inner: Callable[..., Any] = getattr(owner, name)

    def outer(*given: Any, **named: Any) -> Any:
        began = time.process_time()
        try:
            return inner(*given, **named)
        finally:
            spent[what] += time.process_time() - began

    setattr(owner, name, outer)


def main() -> None:
    """Fit, and print each step."""
    book, spent = sys.argv[1], defaultdict[str, float](float)
    for parts in INSIDE.values():
        for what, owner, name in parts:
            timed(owner, name, spent, what)
    laps = [time.process_time()]

    def lap() -> None:
        laps.append(time.process_time())

    study = Study.open(book)
    lap()
    study.paired  # noqa: B018
    lap()
    found = study.fit
    lap()
    study.spoilt  # noqa: B018
    lap()
    "\n".join([found.summary(), *beside(study, found, zone=None)])
    lap()
    print(f"{STARTED:6.2f} s  start of Python, with pandas and scipy")
    for (step, parts), before, after in zip(INSIDE.items(), laps, laps[1:], strict=False):
        print(f"{after - before:6.2f} s  {step}")
        for what, _, _ in parts:
            print(f"{'':10}{spent[what]:6.2f} s  {what}")
    print(f"{laps[-1]:6.2f} s  in all")


if __name__ == "__main__":
    main()
