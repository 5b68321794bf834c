"""Seasons of several bands as data sets of Parquet files, with all that pairing must carry over."""

from pathlib import Path

import numpy as np
import pandas as pd

NOTES = {"double horn": ("F4", "C4", "Bb3"), "Bb trumpet": ("C5", "G4", "Bb4")}
SIDES = {"double horn": "F", "Bb trumpet": ""}


def tables(rehearsals=8, bands=3, players=3, readings=6, seed=1):
    """Bands that play on different evenings; one player helps out in the next band."""
    random = np.random.default_rng(seed)
    found = {"readings": [], "temperatures": [], "events": []}
    for evening in range(rehearsals):
        for band in range(bands):
            _evening(found, random, f"band {band} evening {evening:02d}", evening, band,
                     players, readings)  # fmt: skip
    frames = {name: pd.DataFrame(rows) for name, rows in found.items()}
    frames["readings"]["flagged"] = random.random(len(frames["readings"])) < 0.03
    frames["calibrations"] = pd.DataFrame(
        {"time": [_at(0, 0, -30)], "player": ["player 0.0"], "instrument": ["double horn"],
         "slide": ["F"], "side": ["F"], "cents_per_mm": [-1.9]}
    )  # fmt: skip
    return frames


def _at(evening, band, minute):
    start = pd.Timestamp("2026-01-05T18:00Z") + pd.Timedelta(days=3 * evening + band)
    return start + pd.Timedelta(minutes=float(minute))


def _evening(found, random, name, evening, band, players, readings):
    start = random.uniform(12.0, 28.0)
    for minute in range(-6, 121, 6):
        celsius = start + 0.03 * minute
        found["temperatures"].append(
            {"time": _at(evening, band, minute), "rehearsal": name, "celsius": round(celsius, 2),
             "humidity_percent": 50.0, "source": "stage" if evening % 4 else "hall"}
        )  # fmt: skip
        if evening % 4 == 0:
            found["temperatures"].append(
                {"time": _at(evening, band, minute + 1), "rehearsal": name, "source": "stage",
                 "celsius": round(celsius + 0.2, 2), "humidity_percent": np.nan}
            )  # fmt: skip
    for minute, event in ((0.0, "play"), (50.0, "rest"), (60.0, "play")):
        found["events"].append({"time": _at(evening, band, minute), "rehearsal": name,
                                "event": event, "player": "", "slide": "", "instrument": "",
                                "position_mm": np.nan})  # fmt: skip
    who = [(band, number) for number in range(players)] + [((band + 1) % 3, 0)] * (evening % 3 == 0)
    for home, number in who:
        player = f"player {home}.{number}"
        kind = "double horn" if (home + number) % 2 == 0 else "Bb trumpet"
        pulled = 0.0
        if kind == "double horn" and evening % 3 == 1:
            pulled = float(2 * evening)
            found["events"].append({"time": _at(evening, band, 1.0), "rehearsal": name,
                                    "event": "slide", "player": player, "slide": "F",
                                    "instrument": kind, "position_mm": pulled})  # fmt: skip
        level = 3.0 * number + random.normal(0.0, 1.0)
        for minute in np.sort(random.uniform(2.0, 115.0, readings)):
            for note in NOTES[kind]:
                warm = 1.0 - np.exp(-minute / 8.0)
                celsius = start + 0.03 * minute
                cents = 2.0 * (celsius - 20.0) + 12.0 * (warm - 1.0) + level
                wild = 40.0 * (random.random() < 0.01)
                found["readings"].append(
                    {"time": _at(evening, band, minute), "rehearsal": name, "player": player,
                     "instrument": kind, "side": SIDES[kind], "note": note,
                     "cents": round(cents + wild + random.normal(0.0, 3.0), 1)}
                )  # fmt: skip


def written(folder: Path, frames) -> Path:
    """Write tables as a data set, the readings in several row groups."""
    folder.mkdir()
    for name, frame in frames.items():
        frame.to_parquet(folder / f"{name}.parquet", index=False, row_group_size=500)
    return folder
