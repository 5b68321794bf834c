"""Simulated players and their evenings: a truth of its own, to judge the estimate of pitch by.

Nothing here comes from the estimator: the pitch follows either from sound travelling through a
bore of segments whose walls store heat, or from a warm-up in two stages, with made-up numbers for
each player; rooms, rests, moved slides, readings and what is written down of them are drawn anew.
Times are minutes from the first note.
"""

from dataclasses import dataclass

import numpy as np

STEP = 0.5
END = 150.0
CLOCK = np.arange(0.0, END, STEP)
REFERENCE_MM = 12.0

# Fundamental [Hz] of each side, its tuning notes and others, the sides of the main slide.
KINDS = {
    "double horn": {"Bb": (58.27, ["F4", "Bb3", "F3"]), "F": (43.65, ["F4", "C4", "F3"])},
    "Bb trumpet": {"": (116.54, ["Bb4", "F4", "Bb3"])},
    "tenor trombone": {"": (58.27, ["Bb3", "F3", "Bb2"])},
    "BBb tuba": {"": (29.14, ["Bb2", "F2", "Bb1"])},
}
OTHERS = ["D4", "G4"]
SPREAD_BY_NOTE = {"double horn": 0.08, "Bb trumpet": 0.06, "tenor trombone": 0.15, "BBb tuba": 0.1}


def nominal_slope(fundamental):
    """Cents a millimetre of a U-shaped slide does on an ideal tube."""
    return -1731.2340 * 2.0 / (1000.0 * 343.987 / (2.0 * fundamental))


class Bore:
    """Cents of a tube of segments: breath cools on its way, walls take up heat and lose it."""

    def __init__(self, rng):
        self.segments = int(rng.integers(5, 11))
        self.from_breath = rng.uniform(0.5, 1.4) / 5.0
        self.to_room = rng.uniform(0.1, 0.3) / 5.0 * 2.0
        self.handed = rng.uniform(0.25, 0.45)
        self.zero = self.course(np.full(len(CLOCK), 20.0), np.ones(len(CLOCK), bool))[-1]

    def gas(self, walls):
        temperatures, coming = [], 33.5
        for wall in walls:
            coming = wall + (coming - wall) * (1.0 - self.handed)
            temperatures.append(coming)
        return np.array(temperatures)

    def course(self, room, playing):
        walls, cents = np.full(self.segments, room[0]), []
        for outside, blown in zip(room, playing, strict=True):
            for _ in range(5):
                inside = self.gas(walls) if blown else walls
                walls = walls + 0.1 * STEP * 5 * (
                    self.from_breath * (inside - walls) + self.to_room * (outside - walls)
                )
            speeds = np.sqrt((273.15 + self.gas(walls)) / 293.15)
            cents.append(1731.2340 * np.log(len(walls) / np.sum(1.0 / speeds)))
        return np.array(cents)

    def cents(self, room, playing):
        return self.course(room, playing) - self.zero


class TwoStages:
    """Cents of an instrument that warms up fast in front and slowly behind."""

    def __init__(self, rng):
        self.per_degree, self.rise = rng.normal(2.9, 0.35), abs(rng.normal(14.0, 4.0))
        self.fast = float(np.exp(rng.normal(np.log(6.5), 0.4)))
        self.cools = float(np.exp(rng.normal(np.log(13.0), 0.4)))
        self.slow_share = rng.uniform(0.0, 0.4)

    def stage(self, playing, warms, cools):
        level, found = 0.0, []
        for blown in playing:
            level += (1.0 - level) * STEP / warms if blown else -level * STEP / cools
            found.append(level)
        return np.array(found)

    def cents(self, room, playing):
        warm = (1.0 - self.slow_share) * self.stage(playing, self.fast, self.cools)
        warm = warm + self.slow_share * self.stage(playing, 3 * self.fast, 2 * self.cools)
        return self.per_degree * (room - 20.0) + self.rise * (warm * (34.0 - room) / 14.0 - 1.0)


@dataclass(frozen=True)
class Read:
    """What was written down of one reading."""

    minutes: float
    side: str
    note: str
    cents: float


class Player:
    """A player with an instrument, habits and a drift of their own."""

    def __init__(self, seed):
        self.seed, self.apart_sd = seed, 0.0
        self.rng = rng = np.random.default_rng(seed)
        self.kind = list(KINDS)[seed % len(KINDS)]
        self.sides = KINDS[self.kind]
        self.main = next(iter(self.sides))
        base = rng.normal(0.0, 6.0)
        self.notes = {}
        for side, (_, tuning) in self.sides.items():
            own = rng.normal(0.0, 3.0)
            for note in [*tuning, *OTHERS]:
                self.notes[side, note] = base + own + rng.normal(0.0, 5.0)
        spread = SPREAD_BY_NOTE[self.kind]
        factor = rng.normal(1.10, 0.08)
        self.slopes = {
            (side, note): nominal_slope(self.sides[side][0]) * factor * (1 + rng.normal(0, spread))
            for side, note in self.notes
        }
        self.reading_sd, self.day_sd = rng.uniform(2.0, 4.0), rng.uniform(1.0, 3.0)
        self.physics = Bore(rng) if rng.random() < 0.4 else TwoStages(rng)

    def tuning(self, side):
        return [(side, note) for note in self.sides[side][1]]


class Evening:
    """One evening: the truth, and what was written down of it."""

    def __init__(self, player, number=0, watched=False):
        self.player, self.number, self.watched = player, number, watched
        rng = self.rng = player.rng
        own = np.random.default_rng([player.seed, number, 5])  # so that the others stay as they are
        self.apart = {
            side: 0.0 if side == player.main else own.normal(0.0, player.apart_sd)
            for side in player.sides
        }
        start, climb = rng.uniform(13.0, 29.0), rng.uniform(-1.0, 4.0)
        draught = np.cumsum(rng.normal(0.0, 0.05, len(CLOCK)))
        draught = draught - np.linspace(0, draught[-1], len(CLOCK))
        self.room = start + climb * (1.0 - np.exp(-CLOCK / rng.uniform(25, 70))) + draught
        lengths = [rng.uniform(18, 35), rng.uniform(4, 15), rng.uniform(20, 35), rng.uniform(4, 12)]
        self.switches = [0.0, *np.cumsum(lengths)]
        steps = rng.normal(0.0, 1.5 * np.sqrt(STEP / 60.0), len(CLOCK))
        self.level = rng.normal(0.0, player.day_sd) + np.cumsum(steps)
        self.level = self.level + rng.normal(-0.5, 1.0) * CLOCK / 60.0
        self.pitch = player.physics.cents(self.room, self.playing(CLOCK)) + self.level
        self.logged, self.real = [], [(-1.0, REFERENCE_MM + rng.normal(0.0, 0.2))]
        self.unlogged = None
        self._move_slides()
        self.air = [(m, self.room_at(m) + rng.normal(0.0, 0.06)) for m in np.arange(0.0, END - 1)]
        self.readings = []
        minute = rng.uniform(1.5, 6.0)
        while minute < 105.0:
            if self.playing(minute):
                for again in range(rng.choice([1, 2, 3], p=[0.5, 0.3, 0.2])):
                    self.readings.append(self.read(minute + again / 3.0))
            minute += rng.uniform(5.0, 18.0)

    def _move_slides(self):
        rng, player = self.rng, self.player
        early, late = rng.uniform(6.0, 16.0), rng.uniform(12.0, 75.0)
        chance = rng.random()
        if chance < 0.6:
            minute = early if chance < 0.4 else late
            wish = (self.off(minute, player.main) + rng.normal(0.0, 4.0)) / -self.slope(player.main)
            self.set_slide(minute, float(np.clip(round(2 * (REFERENCE_MM + wish)) / 2, 0.0, 45.0)))
        if rng.random() < 0.15:
            minute = rng.uniform(12.0, 75.0)
            by = rng.choice([-1.0, 1.0]) * rng.uniform(3.0, 8.0)
            self.unlogged = (minute, by)
            self.real.append((minute, self.real_mm(minute) + by))
            self.real.sort()

    def set_slide(self, minute, position_mm):
        self.logged.append((minute, position_mm))
        self.real.append((minute, position_mm + self.rng.normal(0.0, 0.25)))
        self.real.sort()

    def room_at(self, minute):
        return float(np.interp(minute, CLOCK, self.room))

    def playing(self, minute):
        return np.searchsorted(self.switches, minute, side="right") % 2 == 1

    def real_mm(self, minute):
        return [where for when, where in self.real if when <= minute][-1]

    def slope(self, side):
        return float(np.mean([self.player.slopes[key] for key in self.player.tuning(side)]))

    def off(self, minute, side, pitch=None, held=None):
        """How far off the mean of the tuning notes really is, slides as they are at ``held``."""
        moved = self.real_mm(minute if held is None else held) - REFERENCE_MM
        notes = np.mean([self.player.notes[key] for key in self.player.tuning(side)])
        drift = np.interp(minute, CLOCK, self.pitch if pitch is None else pitch)
        return float(notes + self.apart[side] + drift + self.slope(side) * moved)

    def playing_on(self, now):
        """The course of pitch if playing goes on from now without a rest."""
        playing = np.where(now >= CLOCK, self.playing(CLOCK), True)
        return self.player.physics.cents(self.room, playing) + self.level

    def read(self, minute, usual=False):
        """One reading, as it is written down."""
        rng, player = self.rng, self.player
        others = list(player.sides)
        side = player.main if usual or rng.random() < 0.6 else others[rng.integers(len(others))]
        usual = usual or rng.random() < 0.85
        keys = player.tuning(side) if usual else [key for key in player.notes if key[0] == side]
        key = keys[rng.integers(len(keys))]
        moved = self.real_mm(minute) - REFERENCE_MM
        true = player.notes[key] + np.interp(minute, CLOCK, self.pitch) + player.slopes[key] * moved
        true += self.apart[side]
        cents = true * (0.5 if self.watched else 1.0) + rng.normal(0.0, player.reading_sd)
        if (not usual and rng.random() < 0.1) or rng.random() < 0.015:
            cents += rng.uniform(-50.0, 50.0)
        return Read(minute, side, key[1], float(np.clip(np.round(cents), -150, 150)))

    def logged_mm(self, minute):
        return [REFERENCE_MM, *(where for when, where in sorted(self.logged) if when <= minute)][-1]
