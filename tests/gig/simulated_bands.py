"""Simulated bands and evenings that share no code with the planner.

Three physics: *lumped* (one state of air and one of warmth, by small steps; in a third of the bands
the air in the bore is that around it at once), *bore* (twelve segments, each with a wall that
breath heats and the air outside cools, walls of thin to thick tube) and, where it is asked for,
*staged*: two such states, the second of which takes 2.5 to 3 times as long, has half of the air and
0.3 of the rise, and the air in it may be that around it at once. Players differ, slides hit
their stops, tuner readings have an sd of 2.5 cents, and the forecast errs by 1 °C (sd).
"""

from dataclasses import dataclass

import numpy as np

STEP = 0.25  # minutes
BREATH = 34.0
#: name, catalogue name, players, slide, its place and travel [mm], cents a mm by the rule,
#: minutes of warming (63 %), cents above or below which a real millimetre differs
BAND = (
    ("flutes", "flute", 8, "head", 14.0, 25.0, 2.25, 4.5),
    ("clarinets", "Bb clarinet", 9, "barrel", 6.0, 10.0, 3.6, 5.5),
    ("trumpets", "Bb trumpet", 10, "main", 15.0, 38.0, 2.35, 4.0),
    ("mellophones", "mellophone", 6, "main", 20.0, 45.0, 1.76, 5.0),
    ("trombones", "tenor trombone", 8, "main", 26.0, 75.0, 1.17, 5.5),
    ("baritones", "baritone", 6, "main", 26.0, 60.0, 1.17, 6.0),
    ("sousaphones", "sousaphone", 5, "main", 55.0, 110.0, 0.59, 8.0),
    ("horns", "F horn", 4, "main", 24.0, 45.0, 0.88, 5.5),
    ("saxophones", "alto saxophone", 6, "mouthpiece", 14.0, 22.0, 2.35, 5.5),
)


@dataclass
class Section:
    """One section of the truth; arrays have one number a player."""

    name: str
    instrument: str
    slide: str
    at_mm: np.ndarray
    travel_mm: float
    cents_per_mm: np.ndarray
    lumped: bool
    at_once: bool
    slope: np.ndarray
    rise: np.ndarray
    warm: np.ndarray
    cool: np.ndarray
    inner: np.ndarray
    speed: np.ndarray
    times_later: float = 0.0

    def drift(self, celsius, duty):
        """Pitch of each player at each step, shape (players, steps), slides untouched [cents]."""
        if self.times_later:
            first, later = (self._state(celsius, duty, k) for k in (1.0, self.times_later))
            air, excess = (0.5 * (first[0] + later[0]), 0.7 * first[1] + 0.3 * later[1])
        elif self.lumped:
            air, excess = self._state(celsius, duty)
        else:
            return self._bore(celsius, duty)
        return self.slope[:, None] * (air - 20) + self.rise[:, None] * (excess / 14 - 1)

    def _state(self, celsius, duty, times=1.0):
        """Air and excess of breath in one part, whose walls take so many times as long [°C]."""
        air, excess = np.full(len(self.slope), celsius[0]), np.zeros(len(self.slope))
        course = np.empty((2, len(self.slope), len(celsius)))
        for step, (around, blown) in enumerate(zip(celsius, duty, strict=True)):
            rate = (blown / self.warm + (1 - blown) / self.cool) / times
            air = np.full_like(air, around) if self.at_once else air + STEP * rate * (around - air)
            warmed = blown / self.warm / times * (BREATH - around)
            excess = excess + STEP * (warmed - rate * excess)
            course[:, :, step] = air, excess
        return course

    def _bore(self, celsius, duty):
        segments = 12
        wall = np.full((segments, len(self.slope)), celsius[0])
        cents = np.empty((len(self.slope), len(celsius)))
        outside = 0.25 * self.speed  # per minute
        for step, (around, blown) in enumerate(zip(celsius, duty, strict=True)):
            gas, breath = np.empty_like(wall), np.full(len(self.slope), BREATH)
            for place in range(segments):
                breath = wall[place] + (breath - wall[place]) * np.exp(-self.inner / segments)
                gas[place] = breath
            mixed = blown * gas + (1 - blown) * wall
            heat = 1.0 * (gas - wall) * blown
            wall = wall + STEP * outside * ((around - wall) + heat)
            delay = np.mean(1 / np.sqrt(273.15 + mixed), axis=0)
            cents[:, step] = -1200 * np.log2(delay * np.sqrt(273.15 + 24.7))
        return cents


def band(seed, staged=False, at_once=False):
    """The sections of one simulated band."""
    rng = np.random.default_rng(seed)
    lumped, some = bool(rng.integers(2)), bool(rng.integers(3) == 0)
    times_later = np.random.default_rng([seed, 3]).uniform(2.5, 3.0) if staged else 0.0
    at_once |= some and not staged
    found = []
    for name, instrument, players, slide, at, travel, rule, minutes in BAND:
        shared = rng.normal(size=4)
        own = rng.normal(size=(6, players))
        factor = rng.normal(1.1, 0.08) + 0.03 * own[0]
        warm = minutes * np.exp(0.3 * shared[2] + 0.15 * own[3])
        found.append(
            Section(
                name,
                instrument,
                slide,
                np.clip(at + 3 * own[1], 1.0, travel),
                travel,
                rule * factor,
                lumped,
                at_once,
                2.9 + 0.2 * shared[0] + 0.12 * own[2],
                np.clip(14 + 4 * shared[1] + 2 * own[4], 4, None),
                warm,
                warm * np.exp(0.6 + 0.2 * shared[3]),
                np.exp(rng.normal(1.2, 0.25) + 0.1 * own[5]),
                np.full(players, np.exp(rng.uniform(np.log(0.15), 0.0))),
                times_later,
            )
        )
    return found


def rehearsals(section, rng, count=8, players=3):
    """Indoor readings of a section, as rows of a paired table."""
    rows = []
    for number in range(count):
        celsius = rng.uniform(15.0, 27.0)
        steps = int(60 / STEP)
        cents = section.drift(np.full(steps, celsius), np.ones(steps))
        day = rng.normal(0, 2)
        for minutes in np.arange(2.0, 58.0, 5.0):
            at = int(minutes / STEP)
            for player in range(players):
                rows.append(
                    {
                        "rehearsal": f"r{number}",
                        "player": f"{section.name} {player}",
                        "instrument": section.instrument,
                        "note": "A4",
                        "reference_cents": cents[player, at] + day + rng.normal(0, 2.5),
                        "celsius": celsius + rng.normal(0, 0.2),
                        "playing_minutes": minutes,
                    }
                )
    return rows


#: (activity, first minute, last minute, celsius of the room or None for the forecast)
COLD = (
    ("play", 0, 20, 21.0), ("tune", 20, 30, 21.0), ("rest", 30, 60, None), ("play", 60, 75, None),
    ("rest", 75, 100, None), ("play", 100, 110, None), ("rest", 110, 140, None),
    ("tune", 140, 150, None), ("play", 150, 168, None), ("rest", 168, 210, None),
    ("tune", 210, 218, None), ("play", 218, 230, None), ("rest", 230, 245, None),
    ("play", 245, 255, None),
)  # fmt: skip
HOT = (
    ("play", 0, 15, 22.0), ("tune", 15, 25, 22.0), ("rest", 25, 50, None), ("play", 50, 75, None),
    ("rest", 75, 85, None), ("play", 85, 110, None), ("rest", 110, 140, None),
    ("tune", 140, 148, None), ("play", 148, 170, None),
)  # fmt: skip
MILD = (
    ("tune", 0, 12, None), ("play", 12, 35, None), ("rest", 35, 75, None), ("tune", 75, 85, None),
    ("play", 85, 110, None), ("rest", 110, 125, None), ("play", 125, 140, None),
)  # fmt: skip
APART = (
    ("rest", 0, 30, 21.0), ("rest", 30, 42, None), ("tune", 42, 55, None), ("play", 55, 70, None),
    ("stands", 70, 137, None), ("play", 140, 155, None),
)  # fmt: skip
#: rows, temperature at the beginning and its change in an hour; two are harder, and in the last one
#: tune after a bus serves two shows an hour apart
EVENINGS = {
    "cold": (COLD, 9.0, -0.7),
    "hot": (HOT, 30.0, 0.5),
    "mild": (MILD, 18.5, -0.5),
    "colder": (COLD, 5.0, -1.0),
    "hotter": (HOT, 31.0, 1.0),
    "apart": (APART, 7.0, -1.1),
}
