"""What is believed while an instrument is tuned: sides, notes, slides, and the warm-up left.

A reading of a note on a side at a minute is ``level + tendency + slides - r exp(-t/tau) + noise``.
In tune, warm, means that level, mean tendency of the tuning notes and slides add up to nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import exp, log, pi, sqrt

import numpy as np
import numpy.typing as npt

from drift.instruments.anatomy import Instrument, MeasuredSlopes, Slide
from drift.regression.estimates import NORMAL_95
from drift.regression.results import Estimate
from drift.tonight.assumptions import OUTLIER_DENSITY, OUTLIER_SHARE
from drift.tonight.knowledge import MEASURED, Note

__all__ = ["Habit", "TuningBelief", "believe", "setting_sd_mm"]

Array = npt.NDArray[np.float64]
Mixture = list[tuple[float, float, float]]

LEVEL_SD_CENTS, LEVELS_ALIKE = 25.0, 0.8
"""How far off an instrument may be before a reading, and how much its sides have in common."""
HABIT_SD_CENTS = 5.0
"""A note's usual difference from the mean of the tuning notes, before any reading."""
BEND_SD_CENTS, WALK_SD_CENTS = 1.5, 2.0
"""What the warm-up leaves out (over a whole one), and how the level wanders (in an hour)."""
TAUS = ((0.28, 0.5), (0.44, 1.0), (0.24, 2.0), (0.04, 4.0))
"""Weights of time constants, as multiples of the median: a logarithm of sd 0.6, in four cells."""
STORIES, FAINT = 16, 9.0
"""Accounts that are kept, and how much less likely (as a logarithm) one may be."""

BRASS_SETTING_MM, WOODWIND_SETTING_MM = 0.3, 0.15
"""A slide is set by eye to half a millimetre, a joint on a rule to a quarter (common practice)."""


def setting_sd_mm(instrument: Instrument) -> float:
    """Return how well a slide of an instrument can be set [mm]."""
    return BRASS_SETTING_MM if instrument.family == "brass" else WOODWIND_SETTING_MM


@dataclass(frozen=True)
class Habit:
    """What is known of a note before it is read.

    Attributes
    ----------
    cents, sd_cents : float
        Its usual difference from the mean of the tuning notes [cents], and how sure that is.
    """

    cents: float = 0.0
    sd_cents: float = HABIT_SD_CENTS


@dataclass(frozen=True)
class Account:
    """One account of the readings: a time constant, and which readings were outliers."""

    log_weight: float
    mean: Array
    covariance: Array
    tau_minutes: float


@dataclass(frozen=True)
class TuningBelief:
    """What is believed at a moment of tuning.

    Attributes
    ----------
    instrument : Instrument
        The instrument.
    places : dict
        Place in the state of each level, habit and slope error, and of the rise left.
    accounts : tuple of Account
        The likeliest accounts.
    positions_mm : dict of str to float
        Where each slide is, from fully in [mm].
    minutes : float
        Minutes of playing so far.
    calibration : mapping of (str, str) to float
        Measured cents per millimetre, by slide and side.
    """

    instrument: Instrument
    places: dict[tuple[str, ...], int]
    accounts: tuple[Account, ...]
    positions_mm: dict[str, float]
    minutes: float
    calibration: MeasuredSlopes = field(default_factory=dict)

    def slope(self, slide: str, side: str, note: str | None = None) -> float:
        """Return the expected cents per millimetre of a slide on a note, or on the tuning notes."""
        nominal = self.instrument.cents_per_mm(side, slide, self.calibration)
        if not nominal or (slide, side) in self.calibration:
            return nominal
        effect = self.instrument.slide(slide).effect
        notes = self.instrument.side(side).tuning_notes if note is None else (note,)
        return nominal * effect.on(notes)[0]

    def row(
        self, side: str, note: str | None = None, positions_mm: Mapping[str, float] | None = None
    ) -> tuple[Array, float]:
        """Return the weights of the state in a note, and what the slides are expected to do to it.

        Without a note: in the mean of the side's tuning notes. The second is in cents.
        """
        weights, moved = np.zeros(len(self.places)), 0.0
        weights[self.places["level", side]] = 1.0
        notes = self.instrument.side(side).tuning_notes if note is None else (note,)
        for name in notes:
            weights[self.places["habit", side, name]] = 1.0 / len(notes)
        for slide, position in (positions_mm or self.positions_mm).items():
            place = self.places.get(("slope", slide, side))
            if place is not None:
                cents = self.slope(slide, side, note) * position
                weights[place], moved = cents, moved + cents
        return weights, moved

    def off(self, side: str, positions_mm: Mapping[str, float] | None = None) -> Mixture:
        """Return how far off a side will be when warm: weight, mean and sd of each account."""
        row, moved = self.row(side, None, positions_mm)
        return [
            (
                exp(a.log_weight),
                float(a.mean @ row) + moved,
                float(np.sqrt(row @ a.covariance @ row)),
            )
            for a in self.accounts
        ]

    def estimate(self, side: str) -> tuple[float, float]:
        """Return mean and sd of how far off a side will be when warm [cents]."""
        return moments(self.off(side))

    def expected(self, side: str, note: str) -> tuple[float, float]:
        """Return mean and sd of what a note would show now, its reading spread left out."""
        row, moved = self.row(side, note)
        parts = []
        for a in self.accounts:
            now = self._cooled(row, a)
            parts.append(
                (
                    exp(a.log_weight),
                    float(a.mean @ now) + moved,
                    float(np.sqrt(now @ a.covariance @ now)),
                )
            )
        return moments(parts)

    def _cooled(self, row: Array, account: Account) -> Array:
        now = row.copy()
        now[self.places["rise",]] = -exp(-self.minutes / account.tau_minutes)
        return now

    def gain(self, side: str, note: str, reading_sd_cents: float) -> float:
        """Return the variance of a side that a reading of a note would take away [cents²]."""
        likeliest = max(self.accounts, key=lambda a: a.log_weight)
        row = self._cooled(self.row(side, note)[0], likeliest)
        aim = self.row(side)[0]
        spread = row @ likeliest.covariance @ row + reading_sd_cents**2
        return float((aim @ likeliest.covariance @ row) ** 2 / spread)

    def rise_left(self) -> float:
        """Return by how much the pitch would still rise with playing [cents]."""
        place = self.places["rise",]
        return sum(
            exp(a.log_weight) * float(a.mean[place]) * exp(-self.minutes / a.tau_minutes)
            for a in self.accounts
        )

    def slope_factor(self, slide: str, side: str) -> Estimate:
        """Return what a millimetre does over the nominal cents, as it is known by now."""
        place = self.places["slope", slide, side]
        mean, sd = moments(
            [
                (exp(a.log_weight), float(a.mean[place]), sqrt(a.covariance[place, place]))
                for a in self.accounts
            ]
        )
        over = self.slope(slide, side) / self.instrument.cents_per_mm(side, slide, self.calibration)
        half = NORMAL_95 * sd
        return Estimate(over * (1.0 + mean), over * (1.0 + mean - half), over * (1.0 + mean + half))

    def passed(self, minutes: float) -> TuningBelief:
        """Return the belief after some minutes of playing."""
        tau = self.instrument.priors.warm_minutes
        warmed = exp(-self.minutes / tau) - exp(-(self.minutes + minutes) / tau)
        variance = BEND_SD_CENTS**2 * warmed + WALK_SD_CENTS**2 * minutes / 60.0
        directions = np.zeros((len(self.places), len(self.places)))
        for key, place in self.places.items():
            if key[0] == "level":
                directions[place, place] = variance
        return replace(self._wider(directions), minutes=self.minutes + minutes)

    def moved(self, slide: str, to_mm: float) -> TuningBelief:
        """Return the belief after a slide was set: the eye errs, and notes move unlike."""
        far = abs(to_mm - self.positions_mm[slide])
        size = len(self.places)
        added, level = np.zeros((size, size)), np.zeros(size)
        for side in self.instrument.slide(slide).sides:
            slope = self.slope(slide, side)
            level[self.places["level", side]] = slope
            spread = self._note_spread(slide, side) * slope * far
            for key, place in self.places.items():
                if key[:2] == ("habit", side):
                    added[place, place] = spread**2
        added += setting_sd_mm(self.instrument) ** 2 * np.outer(level, level)
        positions = {**self.positions_mm, slide: to_mm}
        return replace(self._wider(added), positions_mm=positions)

    def _note_spread(self, slide: str, side: str) -> float:
        if (slide, side) in self.calibration:
            return MEASURED.by_note_sd
        effect = self.instrument.slide(slide).effect
        return effect.note_sd / effect.mean

    def heard(self, side: str, note: str, cents: float, sd_cents: float) -> TuningBelief:
        """Return the belief after a note was read."""
        row, moved = self.row(side, note)
        branched: list[Account] = []
        for account in self.accounts:
            now = self._cooled(row, account)
            along = account.covariance @ now
            spread = float(now @ along) + sd_cents**2
            error = cents - moved - float(account.mean @ now)
            fit = log(1.0 - OUTLIER_SHARE) - 0.5 * (error**2 / spread + log(2.0 * pi * spread))
            branched.append(
                replace(
                    account,
                    log_weight=account.log_weight + fit,
                    mean=account.mean + along * error / spread,
                    covariance=account.covariance - np.outer(along, along) / spread,
                )
            )
            stray = account.log_weight + log(OUTLIER_SHARE * OUTLIER_DENSITY)
            branched.append(replace(account, log_weight=stray))
        return replace(self, accounts=_likeliest(branched))

    def _wider(self, added: Array) -> TuningBelief:
        return replace(
            self,
            accounts=tuple(replace(a, covariance=a.covariance + added) for a in self.accounts),
        )


def moments(mixture: Mixture) -> tuple[float, float]:
    """Return mean and standard deviation of a mixture of normals."""
    mean = sum(weight * centre for weight, centre, _ in mixture)
    variance = sum(weight * (sd**2 + (centre - mean) ** 2) for weight, centre, sd in mixture)
    return mean, sqrt(variance)


def _likeliest(accounts: list[Account]) -> tuple[Account, ...]:
    kept = sorted(accounts, key=lambda a: -a.log_weight)[:STORIES]
    top = kept[0].log_weight
    kept = [a for a in kept if a.log_weight > top - FAINT]
    total = top + log(sum(exp(a.log_weight - top) for a in kept))
    return tuple(replace(a, log_weight=a.log_weight - total) for a in kept)


def believe(
    instrument: Instrument,
    *,
    positions_mm: Mapping[str, float],
    minutes_played: float,
    habits: Mapping[Note, Habit] | None = None,
    calibration: MeasuredSlopes | None = None,
    more_notes: Sequence[Note] = (),
) -> TuningBelief:
    """Return what is believed before the first reading of a tuning.

    Parameters
    ----------
    instrument : Instrument
        The instrument.
    positions_mm : mapping of str to float
        Where its slides are, from fully in [mm].
    minutes_played : float
        Minutes of playing so far.
    habits : mapping of (str, str) to Habit, optional
        What is known of notes, by side and note.
    calibration : mapping, optional
        Measured cents per millimetre, by slide and side.
    more_notes : sequence of (str, str)
        Notes to be read beside the tuning notes.
    """
    measured = dict(calibration or {})
    tuned = [(side.name, note) for side in instrument.sides for note in side.tuning_notes]
    notes = list(dict.fromkeys([*tuned, *more_notes]))
    keys: list[tuple[str, ...]] = [("level", side.name) for side in instrument.sides]
    keys += [("habit", side, note) for side, note in notes]
    keys += [("slope", s.name, side) for s in instrument.slides for side in s.sides]
    keys += [("rise",)]
    places = {key: place for place, key in enumerate(keys)}
    mean, covariance = np.zeros(len(keys)), np.zeros((len(keys), len(keys)))
    sides = len(instrument.sides)
    covariance[:sides, :sides] = LEVEL_SD_CENTS**2 * (
        LEVELS_ALIKE + (1.0 - LEVELS_ALIKE) * np.eye(sides)
    )
    for side, note in notes:
        known, place = (habits or {}).get((side, note), Habit()), places["habit", side, note]
        mean[place], covariance[place, place] = known.cents, known.sd_cents**2
    for slide in instrument.slides:
        for side in slide.sides:
            place = places["slope", slide.name, side]
            covariance[place, place] = _slope_sd(instrument, slide, side, measured) ** 2
    mean[-1], covariance[-1, -1] = instrument.priors.rise_mean, instrument.priors.rise_sd**2
    tau = instrument.priors.warm_minutes
    accounts = tuple(Account(log(w), mean, covariance, factor * tau) for w, factor in TAUS)
    return TuningBelief(
        instrument, places, accounts, dict(positions_mm), float(minutes_played), measured
    )


def _slope_sd(instrument: Instrument, slide: Slide, side: str, measured: MeasuredSlopes) -> float:
    if (slide.name, side) in measured:
        return MEASURED.sd
    mean, sd = slide.effect.on(instrument.side(side).tuning_notes)
    own = max(
        sd**2 - slide.effect.note_sd**2 / max(len(instrument.side(side).tuning_notes), 1), 0.0
    )
    return sqrt(own) / mean
