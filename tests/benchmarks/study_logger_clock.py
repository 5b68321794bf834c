"""What a logger that is an hour off does to the answer, where its record hides that.

    python tests/benchmarks/study_logger_clock.py --first 930000 --seasons 24

Seasons of eight evenings, each in a cold room and a warm one, of sixteen players on four
instruments who change rooms; about 190 readings a rehearsal. From the fifth evening on the logger
is an hour late, as where its clock follows summer time and is read as UTC. Its record is short
(from 20 minutes before the rehearsal to 20 after it) or long (from half past four to eleven, as of
one that runs all day). Written from laws of first order, without any code of the estimator.
"""

from __future__ import annotations

import argparse

import numpy as np
import pandas as pd

import drift

INSTRUMENTS = {
    "Bb trumpet": (2.9, 14.0, 5.0, 11.0, ("Bb4", "F4")),
    "tenor trombone": (2.7, 12.0, 9.0, 18.0, ("Bb3", "F3")),
    "horn": (2.9, 16.0, 7.0, 15.0, ("F4", "C4")),
    "Bb clarinet": (2.5, 15.0, 4.0, 9.0, ("C5", "G4")),
}
"""Cold slope [cents/°C], rise [cents], time constants of warming and cooling [min], notes."""
BEGIN = pd.Timestamp("2026-03-03T18:00Z")
EVENINGS, PLAYERS, LENGTH, REST = 8, 16, 125.0, (55.0, 75.0)
RECORDS = {"short": (-20, 145), "long": (-170, 240)}
LATE_FROM, LATE_MINUTES = 4, 60.0
STEP = 0.05


def season(seed: int) -> tuple[dict[str, pd.DataFrame], dict[str, float]]:
    """Return the tables of a season, its air as a long record, and the true warm slopes."""
    random = np.random.default_rng(seed)
    players = []
    for number in range(PLAYERS):
        name = [*INSTRUMENTS][number % 4]
        slope, rise, *_, notes = INSTRUMENTS[name]
        own = slope + random.normal(0, 0.15), rise + random.normal(0, 1.5), random.normal(0.5, 0.5)
        players.append((f"P{number:02d}", name, own, {note: random.normal(0, 5) for note in notes}))
    readings, air_rows, events = [], [], []
    for evening in range(EVENINGS):
        for room, base in (("cold", 17.0), ("warm", 24.0)):
            rehearsal, start = f"{evening + 1} {room}", BEGIN + pd.Timedelta(days=7 * evening)
            level, gain = base + random.normal(0, 1), random.uniform(0.5, 3.0)
            for minute in range(RECORDS["long"][0], RECORDS["long"][1] + 1, 5):
                celsius = _air(level, gain, minute) + random.normal(0, 0.08)
                air_rows.append((start, minute, rehearsal, round(celsius, 2), evening))
            for minute, event in (
                (0, "play"),
                (REST[0], "rest"),
                (REST[1], "play"),
                (LENGTH, "end"),
            ):
                events.append((start + pd.Timedelta(minutes=minute), rehearsal, event))
            shared = random.normal(0, 0.4)
            for number, player in enumerate(players):
                if ((number // 4) % 2 + evening) % 2 == (room == "warm"):
                    for row in _read(random, player, level, gain, shared):
                        readings.append((start + pd.Timedelta(minutes=row[0]), rehearsal, *row[1:]))
    columns = ["time", "rehearsal", "player", "instrument", "note", "cents"]
    tables = {
        "readings": pd.DataFrame(readings, columns=columns).sort_values("time", kind="stable"),
        "air": pd.DataFrame(
            air_rows, columns=["start", "minute", "rehearsal", "celsius", "evening"]
        ),
        "events": pd.DataFrame(events, columns=["time", "rehearsal", "event"]),
    }
    warm = {
        name: float(np.mean([own[0] - own[1] / 14 for _, its, own, _ in players if its == name]))
        for name in INSTRUMENTS
    }
    return tables, warm


def _air(level: float, gain: float, minute: float | np.ndarray) -> np.ndarray:
    """Return the air of a room, which warms while it is used."""
    return level + gain * (1 - np.exp(-np.maximum(minute, 0) / 60))


def _read(random, player, level, gain, shared):  # type: ignore[no-untyped-def]
    """Yield the readings of a player in a rehearsal."""
    name, instrument, (slope, rise, slow), pitch = player
    *_, warming, cooling, notes = INSTRUMENTS[instrument]
    grid = np.arange(0.0, LENGTH + STEP, STEP)
    warm = np.zeros(len(grid))
    for step, minute in enumerate(grid[:-1]):
        rests = REST[0] <= minute < REST[1]
        to = (
            -warm[step] / cooling
            if rests
            else (34 - _air(level, gain, minute) - warm[step]) / warming
        )
        warm[step + 1] = warm[step] + STEP * to
    off = random.normal(0, 1.2)
    times = np.concatenate([
        begin + np.cumsum([random.uniform(0, 1), *random.uniform(3, 6, count)])
        for begin, count in ((1, 16), (REST[1] + 1, 15))
    ])  # fmt: skip
    for place, minute in enumerate(times[((times < 54.5) | (times > 75.5)) & (times < 124.5)]):
        note = notes[place % 2]
        played = minute if minute < REST[0] else minute - (REST[1] - REST[0])
        cents = (
            pitch[note] + slope * (_air(level, gain, minute) - 20)
            + rise * np.interp(minute, grid, warm) / 14 + slow * played / 60
            + off + shared + random.normal(0, 2.5)
        )  # fmt: skip
        if random.random() < 0.012:
            cents += random.choice([-1, 1]) * random.uniform(15, 40)
        yield minute, name, instrument, note, round(cents, 1)


def logged(tables: dict[str, pd.DataFrame], record: str, late: bool) -> dict[str, pd.DataFrame]:
    """Return the tables as logged, with a record of some length and a clock that is late or not."""
    first, last = RECORDS[record]
    air = tables["air"]
    air = air[(air["minute"] >= first) & (air["minute"] <= last)]
    shift = np.where(late & (air["evening"] >= LATE_FROM), LATE_MINUTES, 0.0)
    air = air.assign(time=air["start"] + pd.to_timedelta(air["minute"] + shift, "min"))
    temperatures = air[["time", "rehearsal", "celsius"]].assign(source=air["rehearsal"].str[2:])
    return {name: tables[name] for name in ("readings", "events")} | {"temperatures": temperatures}


def main() -> None:
    """Print, season by season, whether the clock is named and what the warm slopes become."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--first", type=int, default=930_000)
    parser.add_argument("--seasons", type=int, default=24)
    options = parser.parse_args()
    rows = []
    for seed in range(options.first, options.first + options.seasons):
        tables, warm = season(seed)
        for record in RECORDS:
            for late in (False, True):
                study = drift.Study.open(drift.load(logged(tables, record, late)))
                named = any(one.kind.value == "clock of the thermometer" for one in study.spoilt)
                found = study.fit.population
                found = found[found["quantity"] == "warm_cents_per_celsius"].set_index("instrument")
                for name, true in warm.items():
                    one = found.loc[drift.instruments.find(name).name]
                    held = one["low"] <= true <= one["high"]
                    row = {"seed": seed, "record": record, "late": late, "instrument": name}
                    off, half = one["estimate"] - true, (one["high"] - one["low"]) / 2
                    rows.append(row | {"named": named, "off": off, "half": half, "held": held})
        print(pd.DataFrame(rows[-16:]).round(2).to_string(index=False), flush=True)
    table = pd.DataFrame(rows)
    by = table.groupby(["record", "late"])
    print(by.agg(named=("named", "mean"), off=("off", "mean"), lowest=("off", "min"),
                 highest=("off", "max"), half=("half", "mean"), held=("held", "sum"),
                 of=("held", "size")).round(2))  # fmt: skip
    sides = table.pivot(index=["record", "seed", "instrument"], columns="late", values="off")
    moved = sides[True] - sides[False]
    print(moved.groupby("record").agg(["mean", "min", "max"]).round(2))


if __name__ == "__main__":
    main()
