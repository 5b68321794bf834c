"""Seasons of a band whose instruments are bores of segments: a physics that is not the model's.

Every player blows a bore of their own (`tests.simulate.Bore`), which differs from the band's in how
much heat its walls lose to the room, how far breath keeps its heat, how fast the walls warm and how
warm the breath is. On top come what the physics of a bore does not have: slow drift of lips, days a
player or everybody is off, the pitch of each note, and the scatter of a reading. No code of the
estimator is used.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.optimize import curve_fit

from tests.bands import NOTES
from tests.simulate import Bore, air, random_bore

STEP_MINUTES = 0.25
SEGMENTS = 40
OTHERS = 60
"""Players never read, whose mean stands for that of the population."""


@dataclass(frozen=True)
class PlayerTruth:
    """What a fit should find of one player: cents/°C, cents, cents/hour, and changes in cents.

    ``changes`` is keyed by (°C, minutes of playing), against 20 °C after 30 minutes.
    """

    warm_slope: float
    rise: float
    slow: float
    changes: dict[tuple[float, float], float]


@dataclass(frozen=True)
class BoreBandTruth:
    """The players who were read, one who was not, and the means of all there could be.

    ``goes_on`` is how the pitch goes on with playing time [cents/hour]: the slow drift of lips, and
    what walls that warm late add to the line of a curve with one time constant. ``warm_after`` is
    after how many minutes at 20 °C the mean has made 95 % of its whole rise, lips apart (at most
    220).
    """

    players: dict[str, PlayerTruth]
    new: PlayerTruth
    warm_slope: float
    rise: float
    slow: float
    goes_on: float
    warm_after: float


def bore_band_season(
    seed: int,
    players: int,
    rehearsals: int,
    conditions: tuple[tuple[float, float], ...],
    readings: int = 12,
) -> tuple[pd.DataFrame, BoreBandTruth]:
    """Return a paired table of ``players x rehearsals x readings``, and its truth.

    Parameters
    ----------
    seed : int
        Where chance begins.
    players, rehearsals, readings : int
        Size of the season; readings are those of each player in each rehearsal.
    conditions : tuple of (°C, minutes)
        Where the truth is asked for.
    """
    random = np.random.default_rng([78, seed])
    band, unlike = random_bore(random, SEGMENTS), random.uniform(0.0, 0.2)
    slow, slow_sd = random.normal(-1.5, 1.5), abs(random.normal(0.0, 1.0))
    own = [(_player_of(random, band, unlike), random.normal(slow, slow_sd))
           for _ in range(players + 1)]  # fmt: skip
    others = [_player_of(random, band, unlike) for _ in range(OTHERS)]
    reading_sd, day_sd, shared_sd = (
        random.uniform(1.5, 4.0), random.uniform(0.0, 2.5), random.uniform(0.0, 2.0)
    )  # fmt: skip
    rows = plan(random, players, rehearsals, readings)
    p, t = rows["p"].to_numpy(), rows["t"].to_numpy()
    drift = np.zeros(len(rows))
    for player, (bore, lips) in enumerate(own[:players]):
        mine = np.flatnonzero(p == player)
        drift[mine] = played(bore, rows.iloc[mine], rehearsals)
        drift[mine] += lips * rows["playing_minutes"].to_numpy()[mine] / 60.0
    note = rows["n"].to_numpy()
    cents = (
        drift
        + random.normal(0.0, 8.0, (players, len(NOTES)))[p, note]
        + random.normal(0.0, day_sd, (players, rehearsals))[p, t]
        + random.normal(0.0, shared_sd, rehearsals)[t]
        + random.normal(0.0, reading_sd, len(rows))
    )
    truths = [_truth(bore, lips, conditions) for bore, lips in own]
    named = {f"p{k:03d}": one for k, one in enumerate(truths[:players])}
    means = np.mean([(one.warm_slope(), _rise(one)) for one in others], axis=0)
    minutes, course = _course(others)
    table = rows.drop(columns=["p", "t", "n", "minute", "start", "trend", "rested"])
    return table.assign(reference_cents=cents), BoreBandTruth(
        named, truths[players], float(means[0]), float(means[1]), float(slow),
        float(slow) + _late_walls(minutes, course),
        float(np.interp(0.95 * means[1], course - course[0], minutes)),
    )  # fmt: skip


def _player_of(random: np.random.Generator, band: Bore, unlike: float) -> Bore:
    """Return a player's bore, unlike the band's by so much (log sd of each of its numbers)."""
    share, reach, speed = np.exp(random.normal(0.0, unlike, 3))
    kept = band.cooling ** (1.0 / reach)
    return Bore(
        kept,
        float(np.clip(band.share * share, 0.15, 0.9)),
        band.warm_minutes * speed,
        band.breath + random.normal(0.0, 0.5),
    )


def plan(random: np.random.Generator, players: int, rehearsals: int, readings: int) -> pd.DataFrame:
    """Return who reads what and when; half of the rehearsals rest from minute 45 to 57."""
    start, trend = random.normal(19.0, 5.0, rehearsals), random.uniform(0.0, 4.0, rehearsals)
    resting = random.random(rehearsals) < 0.5
    count = players * rehearsals * readings
    p = np.repeat(np.arange(players), rehearsals * readings)
    t = np.tile(np.repeat(np.arange(rehearsals), readings), players)
    minute = random.uniform(1.0, 110.0, count)
    minute = np.where(resting[t] & (minute > 44.0) & (minute < 58.0), minute - 20.0, minute)
    after = resting[t] & (minute > 57.0)
    note = random.integers(len(NOTES), size=count)
    return pd.DataFrame(
        {
            "p": p, "t": t, "n": note, "minute": minute, "start": start[t], "trend": trend[t],
            "rested": resting[t],
            "rehearsal": [f"r{k:03d}" for k in t], "player": [f"p{k:03d}" for k in p],
            "instrument": "Bb trumpet", "side": "", "note": np.array(NOTES)[note],
            "celsius": air(minute, start[t], trend[t]),
            "playing_minutes": np.where(after, minute - 12.0, minute),
            "spells": pd.Series([(45.0, 12.0) if one else () for one in after], dtype=object),
            "minutes_into_spell": np.where(after, minute - 57.0, minute), "initial_warmth": 0.0,
            "time": pd.Timestamp("2026-01-05T18:00Z") + pd.to_timedelta(t * 10080 + minute, "min"),
        }
    )  # fmt: skip


def played(bore: Bore, rows: pd.DataFrame, rehearsals: int) -> np.ndarray:
    """Return the pitch of one player's readings [cents], all rehearsals at once."""
    first = rows.drop_duplicates("t").set_index("t").reindex(range(rehearsals))
    minutes = np.arange(0.0, 111.0, STEP_MINUTES)[:, None]
    room = air(minutes, first["start"].to_numpy(), first["trend"].to_numpy())
    rests = first["rested"].to_numpy(dtype=bool) & (minutes >= 45.0) & (minutes < 57.0)
    pitch, _ = bore.run(room, ~rests, STEP_MINUTES)
    place = rows["minute"].to_numpy() / STEP_MINUTES
    low = place.astype(int)
    t, part = rows["t"].to_numpy(), place - low
    return (1.0 - part) * pitch[low, t] + part * pitch[low + 1, t]


def _truth(bore: Bore, slow: float, conditions: tuple[tuple[float, float], ...]) -> PlayerTruth:
    """Return what is true of one player."""

    def after(celsius: float, minutes: float) -> float:
        return bore.after(celsius, minutes) + slow * minutes / 60.0

    tuned = after(20.0, 30.0)
    return PlayerTruth(
        bore.warm_slope(),
        _rise(bore),
        slow,
        {(celsius, minutes): after(celsius, minutes) - tuned for celsius, minutes in conditions},
    )


def _course(bores: list[Bore]) -> tuple[np.ndarray, np.ndarray]:
    """Return minutes of playing at 20 °C, and the mean pitch of the bores [cents]."""
    minutes = np.arange(0.0, 220.0, STEP_MINUTES)
    room, playing = np.full((len(minutes), 1), 20.0), np.ones((len(minutes), 1), dtype=bool)
    return minutes, np.mean(
        [bore.run(room, playing, STEP_MINUTES)[0][:, 0] for bore in bores], axis=0
    )


def _late_walls(minutes: np.ndarray, course: np.ndarray) -> float:
    """Return the line that one time constant leaves of a mean course at 20 °C [cents/hour]."""

    def curve(t, cold, rise, warm_minutes, line):
        return cold + rise * -np.expm1(-t / warm_minutes) + line * t / 60.0

    seen = (minutes >= 1.0) & (minutes < 110.0)  # as the readings
    found, _ = curve_fit(curve, minutes[seen], course[seen], p0=(course[0], 15.0, 8.0, 0.0))
    return float(found[3])


def _rise(bore: Bore) -> float:
    return bore.steady(20.0) - bore.after(20.0, 0.0)
