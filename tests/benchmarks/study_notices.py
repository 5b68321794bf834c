"""How often each fault of a season is noticed, and how often clean seasons are accused.

    python tests/benchmarks/study_notices.py --seasons 40 [--first 7000] [--save FILE.csv]

Seasons are drawn from the seed by `tests.spoilt_seasons`, which shares no code with the program:
each fault is put into seasons of six rehearsals by four players and by one (of a section: by eight
players of two instruments), with three kinds of physics; clean seasons have 3 x 1 to 12 x 12
players and rehearsals. All goes the way of a logbook: tables, pairing, fit, notices. With
``--save`` what was done is kept, and the same command goes on where it stopped. Seeds below 1000
are those that constants were chosen on.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from pathlib import Path
from typing import Any, NamedTuple

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import pandas as pd

import drift
from drift.errors import InputError
from drift.pairing.spoilt import SpoiltKind, spoilt_tables
from drift.regression.notices import NoticeKind
from tests.spoilt_seasons import (
    CLEAN,
    FAULTS,
    OF_SECTIONS,
    OF_TWO,
    TABLE_FAULTS,
    Made,
    clean,
    name_of,
)

SETUPS = [
    (6, 4, "double horn", "linear"), (6, 4, "Bb trumpet", "slow walls"),
    (6, 1, "double horn", "two parts"), (6, 1, "Bb trumpet", "linear"),
]  # fmt: skip
SIZES = [
    (3, 1, "double horn", "two parts"), (3, 4, "Bb trumpet", "linear"),
    (6, 4, "double horn", "two parts"), (6, 1, "Bb trumpet", "slow walls"),
    (12, 1, "double horn", "linear"), (12, 4, "Bb trumpet", "two parts"),
    (6, 12, "double horn", "slow walls"), (12, 12, "double horn", "two parts"),
]  # fmt: skip
RIGHT = {
    "slide": {NoticeKind.SLIDE}, "A4": {NoticeKind.A4}, "day": {NoticeKind.DAY},
    "swap": {NoticeKind.SWAP}, "sign": {NoticeKind.SIGN}, "names": {NoticeKind.NAMES},
    "one": {NoticeKind.WRONG_NOTE, NoticeKind.OUTLIER}, "watches": {NoticeKind.WATCHES},
    "thermometer": {NoticeKind.THERMOMETER}, "rests": {NoticeKind.REST},
    "°F": {SpoiltKind.FAHRENHEIT}, "clock": {SpoiltKind.CLOCK}, "slow": {SpoiltKind.SLOW_PROBE},
    "two": {SpoiltKind.TWO_THERMOMETERS}, "duplicates": {SpoiltKind.DUPLICATES},
    "written": {SpoiltKind.WRITTEN}, "clean": set(),
}  # fmt: skip
"""Causes that name a fault rightly, by the first word of the fault."""


class Refused(NamedTuple):
    """What is not let in."""

    kind: SpoiltKind
    rehearsal: str = ""


def one_season(fault: str, seed: int, turn: int) -> dict[str, object] | None:
    """Return what was noticed in one season; None where it cannot have the fault."""
    setups = [*SIZES, *SETUPS] if fault in CLEAN else SETUPS
    rehearsals, players, instrument, physics = setups[turn % len(setups)]
    spoil, size = FAULTS[fault]
    if fault in OF_TWO and players == 1:
        rehearsals, players, instrument, physics = setups[turn % 2]
    if fault in OF_SECTIONS:
        players = 8
    made = clean((seed, turn), rehearsals, players, instrument, physics)
    unlogged = any(made.rests)
    spoil(made, size)
    if fault == "rests not logged" and not unlogged:
        return None
    began = time.process_time()
    found = looked(made, fault not in TABLE_FAULTS)
    right = RIGHT[fault.replace(",", " ").split()[0]]
    first = found[0] if found else None
    causes = [] if first is None else [first.kind, getattr(first, "second", None)]
    return {
        "fault": fault, "seed": seed, "turn": turn, "rehearsals": rehearsals, "players": players,
        "instrument": instrument, "physics": physics, "noticed": bool(found),
        "named": bool(causes) and causes[0] in right, "in_two": bool(right & set(causes)),
        "there": first is not None and first.rehearsal in ("", name_of(made.middle)),
        "causes": "; ".join(one.kind.value for one in found),
        "times": getattr(first, "times", 0.0), "seconds": time.process_time() - began,
    }  # fmt: skip


def looked(made: Made, fitted: bool) -> list[Any]:
    """Return what the tables show, and what the fit notices."""
    try:
        logged = drift.load(made.tables())
    except InputError:  # more °F than any air has °C is refused when it is read
        return [Refused(SpoiltKind.FAHRENHEIT)]
    return [*spoilt_tables(logged), *(drift.fit(drift.pair(logged)).notices if fitted else ())]


def table_of(rows: pd.DataFrame) -> pd.DataFrame:
    """Return a line a fault: seasons, % noticed, and of those % named first and among two."""
    lines = []
    for fault, part in rows.groupby("fault", sort=False):
        seen = part[part["noticed"]]
        share = {name: 100.0 * seen[name].mean() if len(seen) else float("nan")
                 for name in ("named", "in_two", "there")}  # fmt: skip
        lines.append({"fault": fault, "seasons": len(part),
                      "noticed": 100.0 * part["noticed"].mean(), **share})  # fmt: skip
    return pd.DataFrame(lines).round(0)


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--seasons", type=int, default=40, help="of each fault")
    ask.add_argument("--clean", type=int, help="clean seasons (default: four times as many)")
    ask.add_argument("--first", type=int, default=7000, help="seed")
    ask.add_argument("--only", nargs="*", default=list(FAULTS), help="faults")
    ask.add_argument("--save", type=Path, help="a CSV file that keeps what was done")
    given = ask.parse_args()
    kept = pd.read_csv(given.save) if given.save and given.save.exists() else pd.DataFrame()
    done = set(zip(kept["fault"], kept["seed"], kept["turn"], strict=True)) if len(kept) else set()
    many = 4 * given.seasons if given.clean is None else given.clean
    for turn in range(max(given.seasons, many)):
        new = []
        for fault in given.only:
            wanted = turn < (many if fault in CLEAN else given.seasons)
            if wanted and (fault, given.first, turn) not in done:
                row = one_season(fault, given.first, turn)
                new += [] if row is None else [row]
        if new:
            kept = pd.concat([kept, pd.DataFrame(new)], ignore_index=True)
            if given.save:
                kept.to_csv(given.save, index=False)
    print(table_of(kept).to_string(index=False))
    accused = kept[kept["fault"].isin(CLEAN)]
    print(accused.groupby(["rehearsals", "players", "physics"])["noticed"].agg(["size", "sum"]))


if __name__ == "__main__":
    main()
