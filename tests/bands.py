"""Seasons of a band with a known truth: players who differ, days they share, slow drift.

Written from the physics in words, without any code of the estimator: a player's own slope, rise
and slow drift; time constants of the instrument; a rehearsal that is off for everybody; a day of a
player's own; a pitch of each note; and the scatter of a reading.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

NOTES = ("F4", "C4", "Bb3", "D4")


@dataclass(frozen=True)
class BandTruth:
    """What a fit should find.

    ``players``, ``population`` and ``new`` (a player of the same band who was never read) hold
    slope (cents/°C), rise (cents), slow drift (cents/hour).
    """

    players: dict[str, tuple[float, float, float]]
    population: tuple[float, float, float]
    new: tuple[float, float, float]
    warm_minutes: float
    curvature: float

    def change(self, own: tuple[float, float, float], celsius: float, minutes: float) -> float:
        """Return cents there against 20 °C, both after unbroken playing: there, and 30 minutes."""
        return self._pitch(own, celsius, minutes) - self._pitch(own, 20.0, 30.0)

    def _pitch(self, own: tuple[float, float, float], celsius: float, minutes: float) -> float:
        slope, rise, slow = own
        w = 1.0 - np.exp(-minutes / self.warm_minutes)
        bent = self.curvature * (celsius - 20.0) ** 2
        warmed = rise * (w * (34.0 - celsius) / 14.0 - 1.0)
        return float(slope * (celsius - 20.0) + warmed + slow * minutes / 60.0 + bent)


def band_season(
    seed: int,
    players: int,
    rehearsals: int,
    readings: int = 12,
    instrument: str = "Bb trumpet",
    *,
    course: bool = False,
) -> tuple[pd.DataFrame, BandTruth]:
    """Return a paired table of ``players x rehearsals x readings``, and its truth.

    All numbers are drawn anew for each seed, from ranges that a band could have. With ``course``
    the table says how the air went, although the truth is that of constant air.
    """
    random = np.random.default_rng([77, seed])
    population = (random.normal(2.95, 0.4), random.normal(14.0, 5.0), random.normal(-1.5, 1.5))
    spread = np.abs(random.normal(0.0, (0.25, 4.0, 1.0)))
    own = np.array(population) + random.normal(size=(players, 3)) * spread
    tau_w, tau_c = 4.5 * np.exp(random.normal(0.0, 0.5, 2)) * (1.0, 2.0)
    curvature = random.normal(0.002, 0.003)
    reading_sd, day_sd, shared_sd = (
        random.uniform(1.5, 4.0), random.uniform(0.0, 2.5), random.uniform(0.0, 2.0)
    )  # fmt: skip
    room, warming = random.normal(19.0, 5.0, rehearsals), random.uniform(0.0, 4.0, rehearsals)
    count = players * rehearsals * readings
    p = np.repeat(np.arange(players), rehearsals * readings)
    t = np.tile(np.repeat(np.arange(rehearsals), readings), players)
    note = random.integers(len(NOTES), size=count)
    rested = random.random(rehearsals)[t] < 0.5  # a rest from minute 45 to minute 57
    minute = random.uniform(1.0, 110.0, count)
    minute = np.where(rested & (minute > 44.0) & (minute < 58.0), minute - 20.0, minute)
    after = rested & (minute > 57.0)
    into, played = np.where(after, minute - 57.0, minute), np.where(after, minute - 12.0, minute)
    celsius = room[t] + warming[t] * (1.0 - np.exp(-minute / 40.0))
    begun = np.where(after, (1.0 - np.exp(-45.0 / tau_w)) * np.exp(-12.0 / tau_c), 0.0)
    w = 1.0 - (1.0 - begun) * np.exp(-into / tau_w)
    cents = (
        own[p, 0] * (celsius - 20.0)
        + own[p, 1] * (w * (34.0 - celsius) / 14.0 - 1.0)
        + own[p, 2] * played / 60.0
        + curvature * (celsius - 20.0) ** 2
        + random.normal(0.0, 8.0, (players, len(NOTES)))[p, note]
        + random.normal(0.0, day_sd, (players, rehearsals))[p, t]
        + random.normal(0.0, shared_sd, rehearsals)[t]
        + random.normal(0.0, reading_sd, count)
    )
    spells = pd.Series([(45.0, 12.0) if one else () for one in after], dtype=object)
    rows = pd.DataFrame(
        {
            "rehearsal": [f"r{k:03d}" for k in t], "player": [f"p{k:03d}" for k in p],
            "instrument": instrument, "side": "", "note": np.array(NOTES)[note],
            "celsius": celsius, "playing_minutes": played, "spells": spells,
            "minutes_into_spell": into, "initial_warmth": 0.0, "reference_cents": cents,
            "time": pd.Timestamp("2026-01-05T18:00Z") + pd.to_timedelta(t * 10080 + minute, "min"),
        }
    )  # fmt: skip
    if course:
        knots = np.arange(0.0, 121.0, 10.0)
        went = [
            tuple(zip(knots, cold + by * (1.0 - np.exp(-knots / 40.0)), strict=True))
            for cold, by in zip(room, warming, strict=True)
        ]
        rows["course"] = pd.Series([went[k] for k in t], dtype=object)
    names = {f"p{k:03d}": tuple(map(float, own[k])) for k in range(players)}
    new = np.array(population) + np.random.default_rng([79, seed]).normal(size=3) * spread
    return rows, BandTruth(
        names, tuple(map(float, population)), tuple(map(float, new)), float(tau_w), float(curvature)
    )
