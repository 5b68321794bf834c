"""Readings with a known truth, from the model itself and from another physics.

`from_the_priors` draws everything from the priors that the anchored method states, so its
intervals must hold 95 % of these truths. `from_a_bore` knows nothing of the model: a tube of
segments, each with a wall that stores heat, a gas that cools as it flows down the tube, and a pitch
from the travel time of sound. The model can only approximate it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from drift.instruments.anatomy import Priors
from drift.regression.warmup import drift_columns, warmth

NOTES = ("F4", "C4", "Bb3", "A4", "D4")
QUANTITIES = ("warm slope", "warm-up rise", "drift at 5 °C", "drift at 35 °C")


@dataclass(frozen=True)
class Truth:
    """What a fit should find: in cents and cents/°C; drift against tuned (20 °C, 30 minutes)."""

    warm_slope: float
    rise: float
    at_5: float
    at_35: float
    reading_sd: float
    day_sd: float


@dataclass(frozen=True)
class Plan:
    """Who plays what and when: one row a reading, without any pitch.

    ``rows`` has rehearsal, player, note, minute (since the start of the rehearsal), celsius,
    spells, minutes_into_spell, playing_minutes.
    """

    rows: pd.DataFrame
    start: np.ndarray
    trend: np.ndarray
    rests: tuple[tuple[float, ...], ...]


def random_plan(
    random: np.random.Generator,
    rehearsals: int | None = None,
    readings: int | None = None,
    spread_celsius: float | None = None,
) -> Plan:
    """Return a plan as bands make them: often with the room warming while they play.

    One to twelve rehearsals of 12 to 40 readings, one to three players, one to five notes. Half of
    the plans stay near one temperature (the trap), the others see several.
    """
    rehearsals = rehearsals or int(random.integers(1, 13))
    readings = readings or int(random.integers(12, 41))
    players = int(random.integers(1, 4))
    notes = int(random.integers(1, 6))
    spread = random.choice([0.5, 6.0])
    spread = spread if spread_celsius is None else spread_celsius
    start = np.clip(random.normal(20.0, spread, rehearsals), 8.0, 32.0)
    trend = random.uniform(0.0, 5.0, rehearsals)
    rests = tuple(_rests(random) for _ in range(rehearsals))
    records = []
    for rehearsal in range(rehearsals):
        for minute in np.sort(random.uniform(1.0, 110.0, readings)):
            spells, into = spells_at(minute, rests[rehearsal])
            if len(spells) % 2:  # nobody reads a tuner while resting: it was read before the rest
                spells, into = spells[:-1], spells[-1] * random.uniform(0.7, 0.95)
            records.append(
                {
                    "rehearsal": f"rehearsal {rehearsal + 1}",
                    "where": rehearsal,
                    "player": f"player {random.integers(players) + 1}",
                    "note": NOTES[random.integers(notes)],
                    "minute": sum(spells) + into,
                    "spells": spells,
                    "minutes_into_spell": into,
                    "playing_minutes": sum(spells[::2]) + into,
                }
            )
    rows = pd.DataFrame(records)
    where = rows["where"].to_numpy()
    rows["celsius"] = air(rows["minute"].to_numpy(), start[where], trend[where])
    rows["time"] = pd.Timestamp("2026-01-05T18:00Z") + pd.to_timedelta(
        rows["where"] * 7 * 1440 + rows["minute"], unit="min"
    )
    rows["instrument"], rows["side"] = "Bb trumpet", ""
    return Plan(rows, start, trend, rests)


def air(minute: np.ndarray, start: np.ndarray, trend: np.ndarray) -> np.ndarray:
    """Return the temperature of a room that a band warms (°C)."""
    return start + trend * (1.0 - np.exp(-minute / 40.0))


def spells_at(minute: float, switches: tuple[float, ...]) -> tuple[tuple[float, ...], float]:
    """Return the completed stretches at a minute, and the minutes since the last switch."""
    past = [0.0, *(switch for switch in switches if switch <= minute)]
    return tuple(np.diff(past).tolist()), minute - past[-1]


def _rests(random: np.random.Generator) -> tuple[float, ...]:
    """Return when playing stops and starts again: in half of the rehearsals one or two rests."""
    if random.random() < 0.5:
        return ()
    first = random.uniform(15.0, 45.0)
    rests = [first, first + random.uniform(5.0, 20.0)]
    if random.random() < 0.5:
        second = rests[-1] + random.uniform(10.0, 30.0)
        rests += [second, second + random.uniform(5.0, 15.0)]
    return tuple(rests)


def dressed(
    plan: Plan, drift: np.ndarray, random: np.random.Generator, day_sd: float, reading_sd: float
) -> pd.DataFrame:
    """Return the readings of a plan: drift, a pitch of each note, days and noise."""
    rows = plan.rows.drop(columns=["where", "minute"])
    notes = rows.groupby(["player", "note"]).ngroup().to_numpy()
    days = rows.groupby(["player", "rehearsal"]).ngroup().to_numpy()
    cents = (
        drift
        + random.normal(0.0, 8.0, notes.max() + 1)[notes]
        + random.normal(0.0, day_sd, days.max() + 1)[days]
        + random.normal(0.0, reading_sd, len(rows))
    )
    return rows.assign(cents=cents, reference_cents=cents)


def from_the_priors(
    seed: int, plan: Plan | None = None, priors: Priors | None = None, initial: float = 0.0
) -> tuple[pd.DataFrame, Truth]:
    """Return readings and their truth, both drawn from what the anchored method assumes."""
    random = np.random.default_rng([1, seed])
    plan = plan or random_plan(random)
    priors = priors or trumpet_priors()
    slope = random.normal(priors.cold_mean, priors.cold_sd)
    rise = random.normal(priors.rise_mean, priors.rise_sd)
    warm = priors.warm_minutes * np.exp(random.normal(0.0, priors.warm_log_sd))
    cool = priors.cool_minutes * np.exp(random.normal(0.0, priors.cool_log_sd))
    reading_sd, day_sd = abs(random.normal(0.0, 4.0)), abs(random.normal(0.0, 2.0))
    rows = plan.rows
    state = warmth(rows["spells"].tolist(), rows["minutes_into_spell"], warm, cool, initial)
    cold, rises = drift_columns(rows["celsius"], state)

    def there(celsius: float) -> float:
        after = 1.0 - np.exp(-30.0 / warm)
        moved = np.diff(drift_columns(np.array([20.0, celsius]), after), axis=1)[:, 0]
        return float(slope * moved[0] + rise * moved[1])

    truth = Truth(slope - rise / 14.0, rise, there(5.0), there(35.0), reading_sd, day_sd)
    return dressed(plan, slope * cold + rise * rises, random, day_sd, reading_sd), truth


def trumpet_priors() -> Priors:
    """Return the priors of the instrument that the plans name."""
    from drift.instruments import find

    return find("Bb trumpet").priors


# --- the other physics ---------------------------------------------------------------------------


@dataclass(frozen=True)
class Bore:
    """A tube from the lips to the bell, in segments.

    ``cooling`` is how much of the gas's excess over the wall is left after one segment, ``share``
    how much of the wall's heat exchange is with the room, ``warm_minutes`` the time constants of
    the walls while playing, ``breath`` the temperature at the lips.
    """

    cooling: float
    share: float
    warm_minutes: np.ndarray
    breath: float

    @cached_property
    def pull(self) -> np.ndarray:
        """How each segment of wall (columns) pulls the gas that flows past it (rows) to itself."""
        steps = np.arange(len(self.warm_minutes))
        lag = steps[:, None] - steps[None, :]
        return np.where(lag > 0, (1 - self.cooling) * self.cooling ** (np.maximum(lag, 1) - 1), 0.0)

    def gas(self, wall: np.ndarray) -> np.ndarray:
        """Return the temperature of the gas above each wall segment while playing."""
        lips = self.breath * self.cooling ** np.arange(len(self.warm_minutes))
        return wall @ self.pull.T + lips

    def run(self, room, playing, step: float, wall=None) -> tuple[np.ndarray, np.ndarray]:
        """Return the pitch in cents against dry air at 20 °C, and the last wall.

        ``room`` (times, cases) is the air in °C and ``playing`` (times, cases) says who plays; a
        reading is played, so the pitch is that of the gas while playing.
        """
        wall = np.repeat(room[0][:, None], len(self.warm_minutes), axis=1) if wall is None else wall
        cool_minutes = self.warm_minutes / self.share
        pitch = np.empty(room.shape)
        for now in range(len(room)):
            gas = self.gas(wall)
            plays = playing[now][:, None]
            pitch[now] = cents_of(gas)
            outside = room[now][:, None]
            rest = (1 - self.share) * gas + self.share * outside
            change = np.where(
                plays, (rest - wall) / self.warm_minutes, (outside - wall) / cool_minutes
            )
            wall = wall + step * change
        return pitch, wall

    def steady(self, celsius: float) -> float:
        """Return the pitch at one temperature after playing for ever (cents)."""
        count = len(self.warm_minutes)
        lips = self.gas(np.zeros(count))
        known = (1 - self.share) * lips + self.share * celsius
        wall = np.linalg.solve(np.eye(count) - (1 - self.share) * self.pull, known)
        return float(cents_of(self.gas(wall)))

    def warm_slope(self) -> float:
        """Return the slope of the warmed-up bore at 20 °C (cents/°C)."""
        return (self.steady(25.0) - self.steady(15.0)) / 10.0

    def after(self, celsius: float, minutes: float) -> float:
        """Return the pitch after some minutes of playing from cold (cents)."""
        room = np.full((int(minutes / 0.25) + 1, 1), celsius)
        return float(self.run(room, np.ones_like(room, dtype=bool), 0.25)[0][-1, 0])


def cents_of(celsius: np.ndarray) -> np.ndarray:
    """Return cents from the travel time of sound through segments of breath.

    An ideal mixture of air and as much vapour as it can hold where it is (breath condenses as it
    cools): ``c = sqrt(gamma R T / M)``, heat capacities 7/2 R and 4.04 R, saturation by Magnus.
    """
    vapour = 611.2 * np.exp(17.62 * celsius / (243.12 + celsius)) / 101325.0
    gamma = 1.0 + 1.0 / (2.5 + 0.54 * vapour)
    mass = 28.96 - 10.945 * vapour
    speed = np.sqrt(gamma * (celsius + 273.15) / mass)
    return -1200.0 * np.log2(np.mean(1.0 / speed, axis=-1))


def random_bore(random: np.random.Generator, segments: int = 40) -> Bore:
    """Return a bore whose warm slope lies where played brass was measured, 1.2 to 2.6 cents/°C."""
    along = np.linspace(0.0, 1.0, segments)
    while True:
        share = random.uniform(0.25, 0.75)
        reach = np.exp(random.uniform(np.log(0.05), np.log(2.0)))  # of heat, in bore lengths
        warm = 5.0 * np.exp(random.normal(0.0, 0.5)) * (1 + random.uniform(-0.5, 1.0) * along)
        cooling = float(np.exp(-1.0 / (segments * reach)))
        bore = Bore(cooling, share, warm, random.uniform(33.0, 35.0))
        if 1.2 < bore.warm_slope() < 2.6:
            return bore


def from_a_bore(seed: int, plan: Plan | None = None) -> tuple[pd.DataFrame, Truth]:
    """Return readings of a bore of segments and what a fit should find."""
    random = np.random.default_rng([2, seed])
    plan = plan or random_plan(random)
    bore, step = random_bore(random), 0.25
    minutes = np.arange(0.0, 180.0, step)
    room = air(minutes[:, None], plan.start, plan.trend)
    playing = np.column_stack(
        [[sum(m >= s for s in rests) % 2 == 0 for m in minutes] for rests in plan.rests]
    )
    pitch, _ = bore.run(room, playing, step)
    rows = plan.rows
    drift = np.array(
        [
            np.interp(minute, minutes, pitch[:, where])
            for minute, where in zip(rows["minute"], rows["where"], strict=True)
        ]
    )
    tuned = bore.after(20.0, 30.0)
    reading_sd, day_sd = random.uniform(1.0, 5.0), random.uniform(0.0, 3.0)
    truth = Truth(
        bore.warm_slope(),
        bore.steady(20.0) - bore.after(20.0, 0.0),
        bore.after(5.0, 30.0) - tuned,
        bore.after(35.0, 30.0) - tuned,
        reading_sd,
        day_sd,
    )
    return dressed(plan, drift, random, day_sd, reading_sd), truth
