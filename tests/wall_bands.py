"""Seasons of a band whose bores have walls of several time constants, and when those are warm.

A bore is cells in a row. Each takes a share of what breath is warmer than the room, and follows it
with a time constant of its own; the pitch is that of the time sound needs through all of them.
Lips, days, notes and scatter as in `tests.bore_bands`. No code of the estimator is used.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from tests.bands import NOTES
from tests.bore_bands import plan, played

BREATH = 34.0
COOLS_SLOWER = 2.0
"""Every wall takes so many times as long to cool as to warm."""


@dataclass(frozen=True)
class Walls:
    """Cells: the share of breath that each takes when warm, its time constant [min], its start."""

    shares: np.ndarray
    minutes: np.ndarray
    start: np.ndarray | float = 0.0

    def run(
        self, room: np.ndarray, playing: np.ndarray, step: float
    ) -> tuple[np.ndarray, np.ndarray]:
        """Return the pitch [cents] at each time of each column, and how warm the cells end."""
        begun = np.broadcast_to(self.start, self.minutes.shape)
        w = np.repeat(begun[:, None], room.shape[1], axis=1)
        found = np.empty(room.shape)
        for k in range(len(room)):
            found[k] = self.pitch(room[k], w)
            ends = np.where(playing[k], 1.0, 0.0)
            minutes = self.minutes[:, None] * np.where(playing[k], 1.0, COOLS_SLOWER)
            w = ends + (w - ends) * np.exp(-step / minutes)
        return found, w

    def pitch(self, room: np.ndarray, w: np.ndarray) -> np.ndarray:
        """Return the pitch against 20 °C in cents, where the cells are so warm."""
        celsius = room + self.shares[:, None] * w * (BREATH - room)
        return -1200.0 * np.log2(np.mean((293.15 / (273.15 + celsius)) ** 0.5, axis=0))

    def minutes_to(self, share: float, *, cooling: bool = False) -> float:
        """Return after how long the pitch at 20 °C has made so much of its whole way."""
        minutes = np.arange(0.0, 600.0, 0.02)
        constants = self.minutes * (COOLS_SLOWER if cooling else 1.0)
        left = np.exp(-minutes / constants[:, None])
        course = self.pitch(np.full(len(minutes), 20.0), left if cooling else 1.0 - left)
        ends = self.pitch(np.full(1, 20.0), np.full((len(constants), 1), 0.0 if cooling else 1.0))
        gone = (course - course[0]) / (ends[0] - course[0])
        return float(minutes[np.argmax(gone >= share)])


def warmed(bore: Walls) -> Walls:
    """Return a bore of which the first fifth is nearly warm before it is played."""
    first = np.arange(len(bore.minutes)) < len(bore.minutes) / 5
    return replace(bore, start=np.where(first, 0.9, 0.0))


def walls(kind: str, random: np.random.Generator) -> Walls:
    """Return a bore: of ``one`` constant, of ``several``, or ``late N``: N % at four times.

    With ``late N x2.7`` these take 2.7 times as long.
    """
    if kind == "several":
        along = (np.arange(20) + 0.5) / 20
        near, far = random.uniform(2.0, 4.0), random.uniform(7.0, 12.0)
        shares = 0.95 * np.exp(-along / random.uniform(0.45, 0.55))
        return Walls(shares, near + (far - near) * along)
    late = 0 if kind == "one" else int(kind.split()[1])
    minutes = np.full(100, random.uniform(3.0, 8.0))
    minutes[100 - late :] *= float(kind.partition(" x")[2] or 4.0)
    return Walls(np.full(100, random.uniform(0.25, 0.45)), minutes)


def wall_season(
    kind: str, seed: int, players: int, rehearsals: int, readings: int = 12, halves: bool = False
) -> tuple[pd.DataFrame, Walls]:
    """Return a paired table of ``players x rehearsals x readings``, and the bore of the kind.

    Players differ by how much of the breath their walls take. With ``halves`` each begins `warmed`
    at every other rehearsal, a column ``warmed`` of the table.
    """
    random = np.random.default_rng([83, seed])
    bore, lips = walls(kind, random), random.normal(-0.5, 1.0)
    rows = plan(random, players, rehearsals, readings)
    p, t, note = (rows[name].to_numpy() for name in "ptn")
    cents = random.normal(0.0, 8.0, (players, len(NOTES)))[p, note]
    cents += random.normal(0.0, random.uniform(0.0, 2.0), (players, rehearsals))[p, t]
    cents += random.normal(0.0, random.uniform(0.0, 1.5), rehearsals)[t]
    cents += random.normal(0.0, random.uniform(1.5, 4.0), len(rows))
    cents += random.normal(lips, 0.5, players)[p] * rows["playing_minutes"].to_numpy() / 60.0
    other = halves & ((p + t) % 2 == 1)
    for player in range(players):
        mine = np.flatnonzero(p == player)
        own = Walls(np.clip(bore.shares * random.normal(1.0, 0.1), 0.0, 0.97), bore.minutes)
        cents[mine] += played(own, rows.iloc[mine], rehearsals)
        if halves:
            mine = mine[other[mine]]
            cents[mine] += played(warmed(own), rows.iloc[mine], rehearsals)
            cents[mine] -= played(own, rows.iloc[mine], rehearsals)
    table = rows.drop(columns=["p", "t", "n", "minute", "start", "trend", "rested"])
    return table.assign(reference_cents=cents, warmed=other), bore
