"""An evening as it was logged: readings, slide settings, the air and the playing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from math import log2

import numpy as np

from drift.instruments.anatomy import Instrument, MeasuredSlopes
from drift.tonight.course import Course

__all__ = ["Evening", "NotUsed", "Reading", "SlideSetting", "usable"]

SETTLE_MINUTES = 0.5
"""Readings this soon after playing began are set aside: breath CO2 first lowers the pitch."""


class NotUsed(StrEnum):
    """Why a reading of tonight says nothing about the pitch now."""

    NO_SIDE = "no_side"
    UNKNOWN_SIDE = "unknown_side"
    NO_TEMPERATURE = "no_temperature"
    NOT_PLAYING = "not_playing"
    SETTLING = "settling"
    FLAGGED = "flagged"


@dataclass(frozen=True)
class Reading:
    """One tuner reading.

    Attributes
    ----------
    minutes : float
        When [min], on the clock of the evening's `Course`.
    note : str
        Sounding note.
    cents : float
        Deviation from equal temperament at ``a4_hz``, sharp positive.
    side : str
        Side of the instrument; ``""`` where there is one.
    a4_hz : float
        What the tuner was set to [Hz].
    cents_sd : float
        Standard uncertainty of the reading itself [cents], beside the spread of the player.
    outlier_probability : float or None
        Chance that it is an outlier, where something is known of it.
    flagged : bool
        Whether the player calls it unusual.
    air_known : bool
        Whether the temperature at it is known.
    """

    minutes: float
    note: str
    cents: float
    side: str = ""
    a4_hz: float = 440.0
    cents_sd: float = 0.0
    outlier_probability: float | None = None
    flagged: bool = False
    air_known: bool = True

    @property
    def cents_at_440(self) -> float:
        """Deviation from equal temperament at A4 = 440 Hz [cents]."""
        return self.cents + 1200.0 * log2(self.a4_hz / 440.0)


@dataclass(frozen=True)
class SlideSetting:
    """A slide that was set and logged.

    Attributes
    ----------
    minutes : float
        When [min].
    slide : str
        Which slide.
    position_mm : float
        Where it was set, from fully in [mm].
    """

    minutes: float
    slide: str
    position_mm: float


@dataclass(frozen=True)
class Evening:
    """What one player logged tonight.

    Attributes
    ----------
    course : Course
        The air and the playing.
    readings : tuple of Reading
        In order of time.
    settings : tuple of SlideSetting
        In order of time.
    reference_mm : mapping of str to float
        The player's reference position of each slide [mm]: the first that was ever logged.
    start_mm : mapping of str to float
        Positions when the evening began [mm]; the reference where left out.
    air_reach_minutes : float
        A reading further than this from every sample of the air is not used [min].
    """

    course: Course
    readings: tuple[Reading, ...] = ()
    settings: tuple[SlideSetting, ...] = ()
    reference_mm: Mapping[str, float] = field(default_factory=dict)
    start_mm: Mapping[str, float] = field(default_factory=dict)
    air_reach_minutes: float = 10.0

    def positions_mm(self, at_minutes: float) -> dict[str, float]:
        """Return the logged position of each slide [mm] at a time [min]."""
        positions = {**self.reference_mm, **self.start_mm}
        for setting in self.settings:
            if setting.minutes <= at_minutes:
                positions[setting.slide] = setting.position_mm
        return positions

    def slide_cents(
        self,
        instrument: Instrument,
        at_minutes: float,
        calibration: MeasuredSlopes | None = None,
    ) -> dict[str, float]:
        """Return what the logged slides do to each side at a time, against the reference [cents].

        A slide whose reference nobody knows counts from its first setting of the evening.
        """
        known = {s.slide: s.position_mm for s in reversed(self.settings)}
        reference = {**known, **self.start_mm, **self.reference_mm}
        moves = {
            slide: position - reference[slide]
            for slide, position in self.positions_mm(at_minutes).items()
        }
        return {
            side.name: instrument.cents_of_moves(side.name, moves, calibration)
            for side in instrument.sides
        }


def usable(
    instrument: Instrument, evening: Evening, until_minutes: float
) -> tuple[list[Reading], dict[NotUsed, int]]:
    """Return the readings so far that say something of the pitch, and how many do not, and why.

    Parameters
    ----------
    instrument : Instrument
        The instrument.
    evening : Evening
        What was logged.
    until_minutes : float
        Now [min].
    """
    taken: list[Reading] = []
    left_out: Counter[NotUsed] = Counter()
    for reading in evening.readings:
        if reading.minutes > until_minutes:
            continue
        reason = _not_used(instrument, evening, reading)
        if reason is None:
            taken.append(reading)
        else:
            left_out[reason] += 1
    return taken, dict(left_out)


def _not_used(instrument: Instrument, evening: Evening, reading: Reading) -> NotUsed | None:
    course, sides = evening.course, [side.name for side in instrument.sides]
    if reading.side not in sides:
        return NotUsed.UNKNOWN_SIDE if reading.side else NotUsed.NO_SIDE
    if reading.flagged:
        return NotUsed.FLAGGED
    distance = np.abs(course.air_minutes - reading.minutes).min()
    if not reading.air_known or distance > evening.air_reach_minutes:
        return NotUsed.NO_TEMPERATURE
    # One in a rest is of an instrument that cools; nobody knows of one before any playing.
    if reading.minutes < min(course.switches_minutes, default=np.inf):
        return NotUsed.NOT_PLAYING
    begun = course.played_minutes_at(reading.minutes) < SETTLE_MINUTES
    if begun and course.initial_warmth < 1.0:  # one that is warm already is full of breath
        return NotUsed.SETTLING
    return None
