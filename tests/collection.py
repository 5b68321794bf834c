"""Bands that differ, with players who differ, on instruments that are not as the catalogue says.

Written from the physics in words, without any code of the estimator. A kind of instrument has a
slope, a rise, a slow drift, a bend and two time constants; a band differs from it in all six, a
player from the band in the first three.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

# Of four kinds, off what the catalogue expects: cents/°C, cents, cents/hour, cents/°C², log min.
TRUE = {
    "flute": (2.85, 9.0, -0.8, 0.003, np.log(3.0), np.log(7.0)),
    "Bb clarinet": (2.70, 12.0, -0.5, 0.003, np.log(6.0), np.log(8.0)),
    "BBb tuba": (3.10, 10.0, -1.2, 0.003, np.log(16.0), np.log(22.0)),
    "piccolo": (2.80, 9.5, -0.6, 0.003, np.log(3.5), np.log(7.0)),
}
BAND_SD = np.array([0.12, 1.5, 0.5, 0.0005, 0.2, 0.2])
PLAYER_SD = np.array([0.15, 2.0, 0.6])
READING_SD, DAY_SD, REHEARSAL_SD = 2.5, 1.5, 1.0
SHARE = {"flute": 0.4, "Bb clarinet": 0.4, "BBb tuba": 0.2}


@dataclass(frozen=True)
class BandOf:
    """A band of one kind of instrument: its readings, and what is true of it and its players."""

    rows: pd.DataFrame
    phi: np.ndarray
    players: dict[str, np.ndarray]


def change(phi: np.ndarray, celsius: float, minutes: float) -> np.ndarray:
    """Return cents there after so much unbroken playing, against 20 °C after 30 minutes."""
    return _pitch(phi, celsius, minutes) - _pitch(phi, 20.0, 30.0)


def _pitch(phi: np.ndarray, celsius: float, minutes: float) -> np.ndarray:
    slope, rise, slow, bend, log_warm = np.moveaxis(np.asarray(phi, dtype=float), -1, 0)[:5]
    warmed = 1.0 - np.exp(-minutes / np.exp(log_warm))
    return (
        slope * (celsius - 20.0)
        + rise * (warmed * (34.0 - celsius) / 14.0 - 1.0)
        + slow * minutes / 60.0
        + bend * (celsius - 20.0) ** 2
    )


def band(
    random: np.random.Generator,
    kind: str,
    players: int,
    rehearsals: int,
    readings: int = 5,
    shift: float | np.ndarray = 0.0,
) -> BandOf:
    """Return a season of a band, drawn anew; `shift` is added to what is true of it."""
    phi = np.array(TRUE[kind]) + BAND_SD * random.normal(size=6) + shift
    own = np.repeat(phi[None], players, axis=0)
    own[:, :3] += PLAYER_SD * random.normal(size=(players, 3))
    p = np.repeat(np.arange(players), rehearsals * readings)
    t = np.tile(np.repeat(np.arange(rehearsals), readings), players)
    rest_at, rest = random.uniform(25.0, 45.0, rehearsals), random.uniform(5.0, 18.0, rehearsals)
    start, warming = random.uniform(10.0, 29.0, rehearsals), random.uniform(0.0, 4.0, rehearsals)
    minute = random.uniform(1.0, 100.0, len(p))
    kept = (minute < rest_at[t]) | (minute > (rest_at + rest)[t] + 0.5)
    p, t, minute = p[kept], t[kept], minute[kept]
    after = minute > rest_at[t]
    into = np.where(after, minute - (rest_at + rest)[t], minute)
    played = np.where(after, minute - rest[t], minute)
    begun = (1.0 - np.exp(-rest_at / np.exp(phi[4]))) * np.exp(-rest / np.exp(phi[5]))
    warmed = 1.0 - (1.0 - np.where(after, begun[t], 0.0)) * np.exp(-into / np.exp(phi[4]))
    celsius = start[t] + warming[t] * (1.0 - np.exp(-minute / 40.0))
    note = random.integers(3, size=len(p))
    cents = (
        own[p, 0] * (celsius - 20.0)
        + own[p, 1] * (warmed * (34.0 - celsius) / 14.0 - 1.0)
        + own[p, 2] * played / 60.0
        + phi[3] * (celsius - 20.0) ** 2
        + random.normal(0.0, 8.0, (players, 3))[p, note]
        + random.normal(0.0, DAY_SD, (players, rehearsals))[p, t]
        + random.normal(0.0, REHEARSAL_SD, rehearsals)[t]
        + random.normal(0.0, READING_SD, len(p))
    )
    spells = [(rest_at[k], rest[k]) if later else () for k, later in zip(t, after, strict=True)]
    rows = pd.DataFrame({
        "rehearsal": [f"r{k:03d}" for k in t], "player": [f"p{k:03d}" for k in p],
        "instrument": kind, "side": "", "note": np.array(["F4", "C4", "Bb3"])[note],
        "celsius": celsius, "playing_minutes": played,
        "spells": pd.Series(spells, dtype=object), "minutes_into_spell": into,
        "initial_warmth": 0.0, "reference_cents": cents,
        "time": pd.Timestamp("2026-01-05T18:00Z") + pd.to_timedelta(t * 10080 + minute, "min"),
    })  # fmt: skip
    return BandOf(rows, phi, {f"p{k:03d}": own[k] for k in range(players)})


def whole_band(random: np.random.Generator, shift: float | np.ndarray = 0.0) -> dict[str, BandOf]:
    """Return the sections of a band of 2 to 30 players on one to three kinds of instrument."""
    total = np.exp(random.uniform(np.log(2), np.log(30)))
    kinds = list(random.permutation(list(SHARE))[: random.integers(1, 4)])
    shares = np.array([SHARE[kind] for kind in kinds])
    counts = np.maximum(np.round(total * shares / shares.sum()), 1).astype(int)
    rehearsals = int(random.integers(1, 9))
    return {
        str(kind): band(random, str(kind), int(count), rehearsals, shift=shift)
        for kind, count in zip(kinds, counts, strict=True)
    }


def rows_of(sections: dict[str, BandOf]) -> pd.DataFrame:
    """Return the readings of all sections; players of two sections are not the same person."""
    parts = [
        part.rows.assign(player=f"{name} " + part.rows["player"]) for name, part in sections.items()
    ]
    return pd.concat(parts, ignore_index=True)
