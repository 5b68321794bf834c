"""A simulated band and its season: what truly happened, drawn without any code of the estimator.

The instruments are those of :mod:`tests.gig.simulated_bands`. A rehearsal lasts 75 minutes with a
rest in the middle, in a room that warms up. In a spoilt season a slide is pulled and nobody logs
it, a thermometer lags, another stops for half an hour, and one section's tuner is set to 442 Hz.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta, timezone

import numpy as np

from tests.gig.simulated_bands import STEP, band

ZONE = timezone(timedelta(hours=-4))
FIRST = datetime(2026, 9, 8, 18, 30, tzinfo=ZONE)
REHEARSALS, MINUTES, LOGGING = 30, 75.0, 3
READING_SD, DAY_SD = 2.5, 2.0
REST = (35.0, 45.0)
NOTES = {
    "flutes": "A4", "clarinets": "F4", "trumpets": "Bb4", "mellophones": "F4", "trombones": "Bb3",
    "baritones": "Bb3", "sousaphones": "Bb2", "horns": "C4", "saxophones": "Bb3",
}  # fmt: skip
HERTZ = {"A4": 440.0, "F4": 349.228, "Bb4": 466.164, "Bb3": 233.082, "Bb2": 116.541, "C4": 261.626}
#: Which rehearsal has which fault, and whom it concerns.
PULLED, LAGGING, SILENT, OTHER_TUNER, ARRIVES = 12, 8, 15, 21, 22
PULLED_PLAYER, PULLED_MM, TUNED_SECTION = "trombones 2", 8.0, "clarinets"
NEWCOMER = "trumpets 9"


@dataclass(frozen=True)
class Reading:
    minutes: float
    player: str
    section: str
    cents: float


@dataclass(frozen=True)
class Rehearsal:
    """What happened at one rehearsal, and what was written down of it."""

    number: int
    room: np.ndarray  # celsius at each step
    logged: list[tuple[float, float]]  # minutes, celsius as the thermometer said
    readings: list[Reading]

    @property
    def begin(self):
        return FIRST + timedelta(weeks=self.number)

    @property
    def name(self):
        return f"{self.begin:%Y-%m-%d} hall"


class Season:
    """Thirty rehearsals of one band, clean or with its faults; the same seed, the same dice."""

    def __init__(self, seed, spoilt):
        self.seed, self.spoilt = seed, spoilt
        self.sections = band(seed)

    def names(self, section, number):
        """Who of a section writes readings down at a rehearsal."""
        names = [f"{section.name} {place + 1}" for place in range(LOGGING)]
        if section.name == "trumpets" and number >= ARRIVES:
            names.append(NEWCOMER)
        return names

    def rehearsal(self, number):
        rng = np.random.default_rng([self.seed, 1, number])
        minutes = np.arange(0, MINUTES, STEP) + STEP / 2
        climb = 7.0 if number == LAGGING else rng.uniform(0.0, 2.5)
        room = rng.uniform(15.0, 26.0) + climb * (1 - np.exp(-minutes / 30))
        duty = np.where((minutes < REST[0]) | (minutes > REST[1]), 1.0, 0.0)
        return Rehearsal(number, room, self._logged(number, minutes, room, rng),
                         self._readings(number, minutes, room, duty, rng))  # fmt: skip

    def _logged(self, number, minutes, room, rng):
        """The thermometer, once in two minutes; it may lag by 20 minutes or be silent."""
        said = room.copy()
        if self.spoilt and number == LAGGING:
            for step in range(1, len(said)):
                said[step] = said[step - 1] + STEP / 20 * (room[step] - said[step - 1])
        noise = rng.normal(0, 0.1, len(said))
        silent = self.spoilt and number == SILENT
        return [
            (float(at), float(said[step] + noise[step]))
            for step, at in enumerate(minutes)
            if step % 8 == 0 and not (silent and 20 <= at < 50)
        ]

    def _readings(self, number, minutes, room, duty, rng):
        day, found = rng.normal(0, DAY_SD), []
        for section in self.sections:
            cents = section.drift(room, duty)
            for name in self.names(section, number):
                player = int(name.split()[-1]) - 1
                for at in (2, 7, 12, 20, 28, 34, 47, 55, 64, 73):
                    at = at + rng.uniform(-0.9, 0.9)
                    read = cents[player, int(at / STEP)] + day + rng.normal(0, READING_SD)
                    read -= self._spoils(number, section, name, player, at)
                    found.append(Reading(float(at), name, section.name, round(float(read), 1)))
        return sorted(found, key=lambda reading: reading.minutes)

    def _spoils(self, number, section, name, player, at):
        """How much flatter a fault makes what is read [cents]."""
        if not self.spoilt:
            return 0.0
        if number == PULLED and name == PULLED_PLAYER and at > 30:
            return PULLED_MM * section.cents_per_mm[player]
        if number == OTHER_TUNER and section.name == TUNED_SECTION:
            return 1200 * np.log2(442 / 440)
        return 0.0
