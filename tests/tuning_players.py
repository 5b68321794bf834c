"""Simulated players who tune: a truth of its own to judge the steps by.

Sides 5 to 40 cents sharp with the slides in (or flat), notes with habits, slides that do 10 % more
than the rule, give or take 10 %, and differ by note; slides set by eye; readings that stray.
"""

import numpy as np

SPEED = 343.987
RISE, RISE_SD = 14.0, 8.0


class TuningPlayer:
    """The truth of one player and instrument.

    ``slides`` maps a slide to {side: cents per millimetre by the rule}; ``notes`` a side to its
    tuning notes; ``spread`` is how unlike notes move with a slide, ``set_sd`` the eye [mm].
    """

    def __init__(self, seed, notes, slides, *, factors=None, spread=0.08, set_sd=0.3, tau=6.0,
                 sharp=(5.0, 40.0), minutes=20.0, stuck=(), factor=(1.10, 0.10)):  # fmt: skip
        self.rng = rng = np.random.default_rng(seed)
        base = rng.uniform(*sharp)
        self.level = {side: base + rng.normal(0.0, 4.0) for side in notes}
        self.habit = {(s, n): rng.normal(0.0, 5.0) for s in notes for n in notes[s]}
        self.notes, self.set_sd, self.stuck, self.minutes = notes, set_sd, set(stuck), minutes
        self.slope = {}
        for slide, sides in slides.items():
            for side, rule in sides.items():
                real = rule * rng.normal(*factor)
                for note in notes[side]:
                    known = (factors or {}).get(note, 1.0)
                    self.slope[slide, side, note] = real * known * (1 + rng.normal(0, spread))
        self.rise, self.tau = max(0.0, rng.normal(RISE, RISE_SD)), tau * np.exp(rng.normal(0, 0.6))
        self.at = dict.fromkeys(slides, 0.0)

    def shown(self, side, note, warm=False):
        cents = self.level[side] + self.habit.get((side, note), 0.0)
        for (slide, name, which), slope in self.slope.items():
            if (name, which) == (side, note):
                cents += slope * self.at[slide]
        return cents - (0.0 if warm else self.rise * np.exp(-self.minutes / self.tau))

    def off(self, side):
        return float(np.mean([self.shown(side, note, warm=True) for note in self.notes[side]]))

    def read(self, side, note, sd):
        if self.rng.random() < 0.02:
            return float(self.rng.uniform(-50.0, 50.0))
        return float(self.shown(side, note) + self.rng.normal(0.0, sd))

    def move(self, slide, to):
        if slide not in self.stuck:
            self.at[slide] = max(0.0, to + self.rng.normal(0.0, self.set_sd))
