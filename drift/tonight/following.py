"""Following an evening: from what is known of a player to where the pitch is now."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import exp
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from drift.tonight import stories as accounts
from drift.tonight.assumptions import (
    AIR_SD_CELSIUS,
    MOVE_SD_CENTS,
    MOVES_PER_HOUR,
    OUTLIER_DENSITY,
    OUTLIER_SHARE,
    REHEARSALS_THAT_SHOW_A_DAY,
    WALK_SD_CENTS,
)
from drift.tonight.course import Course, Drifting, air_ahead, drift_along
from drift.tonight.evening import Evening, Reading, SlideSetting
from drift.tonight.knowledge import Knowledge
from drift.tonight.stories import Stories

__all__ = ["Belief", "Expected", "drift_ahead", "follow", "off_samples", "read_as_expected"]

SAMPLES = 2000
UNSURE_SETTINGS = 2
"""So many first settings are logged with double the spread, by those who are new to it."""
SHORTEST_HOURS, LONGEST_HOURS = 1.0 / 60.0, 12.0
"""Between readings, for the chance of an unlogged move: a longer silence adds nothing to it."""

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Expected:
    """A reading, and what was expected of it.

    Attributes
    ----------
    reading : Reading
        What was read.
    cents, sd_cents : float
        Mean and standard deviation of what was expected of it, at A4 = 440 Hz [cents].
    """

    reading: Reading
    cents: float
    sd_cents: float


@dataclass(frozen=True)
class Belief:
    """What is believed of a player's pitch at a moment of the evening.

    Attributes
    ----------
    knowledge : Knowledge
        What was known before.
    stories : Stories
        The accounts of the evening.
    minutes, warmth : float
        The moment [min], and how warm the instrument is then.
    last_reading_minutes : float
        When the last reading was taken, or the evening began [min].
    expected : tuple of Expected
        The readings so far, with what was expected of each.
    logged_mm : mapping of str to float
        Where slides were logged since the last reading, from fully in [mm].
    """

    knowledge: Knowledge
    stories: Stories
    minutes: float
    warmth: float
    last_reading_minutes: float
    expected: tuple[Expected, ...] = ()
    logged_mm: Mapping[str, float] = field(default_factory=dict)

    @property
    def watching(self) -> float:
        """Probability that the player watches the tuner and pulls the note in."""
        return self.stories.chance(lambda verdicts, gain: gain < 1.0)

    @property
    def slope_error(self) -> float:
        """Mean of the relative error of the slides' slope."""
        weights = np.exp(self.stories.log_weight)
        return float((weights * self.stories.mean[:, :, len(self.knowledge.notes)]).sum())


def follow(
    knowledge: Knowledge, evening: Evening, readings: Sequence[Reading], until_minutes: float
) -> Belief:
    """Follow an evening through its settings and readings.

    Parameters
    ----------
    knowledge : Knowledge
        What was known before tonight.
    evening : Evening
        What was logged.
    readings : sequence of Reading
        Those to use, in order of time (`drift.tonight.evening.usable`).
    until_minutes : float
        Now [min].

    Returns
    -------
    Belief
    """
    course = evening.course
    begin = min([*course.switches_minutes[:1], *(r.minutes for r in readings[:1]), until_minutes])
    events: list[Reading | SlideSetting] = [
        *(s for s in evening.settings if begin < s.minutes <= until_minutes),
        *readings,
    ]
    events.sort(key=lambda event: event.minutes)
    drifting = drift_along(knowledge.draws, course, [begin, *(e.minutes for e in events)])
    stories = accounts.begin(knowledge.mean, knowledge.covariance, knowledge.gains)
    belief = Belief(knowledge, stories, begin, float(drifting.warmth[0]), begin)
    settings = 0
    for place, event in enumerate(events, 1):
        belief = pass_to(belief, event.minutes, float(drifting.warmth[place]))
        if isinstance(event, SlideSetting):
            belief = _set(belief, event, settings)
            settings += 1
        else:
            nominal = evening.slide_cents(
                knowledge.instrument, event.minutes, knowledge.calibration
            )[event.side]
            belief = _read(belief, event, nominal, drifting.cents[:, place])
    return belief


def pass_to(belief: Belief, minutes: float, warmth: float) -> Belief:
    """Let the level of the evening wander to a later moment."""
    knowledge = belief.knowledge
    hours = max(minutes - belief.minutes, 0.0) / 60.0
    variance = WALK_SD_CENTS**2 * hours + knowledge.bend_sd_cents**2 * abs(warmth - belief.warmth)
    level = knowledge.unit(knowledge.level_place)
    stories = accounts.widen(belief.stories, level, variance)
    return replace(belief, stories=stories, minutes=max(minutes, belief.minutes), warmth=warmth)


def _set(belief: Belief, setting: SlideSetting, earlier: int) -> Belief:
    """Take a logged setting: the slide is there now, give or take the eye."""
    knowledge = belief.knowledge
    new = knowledge.rehearsals < REHEARSALS_THAT_SHOW_A_DAY and earlier < UNSURE_SETTINGS
    variance = knowledge.set_variance(setting.slide) * (4.0 if new else 1.0)
    place = knowledge.slide_place(setting.slide)
    return replace(
        belief,
        stories=accounts.reset(belief.stories, place, variance),
        logged_mm={**belief.logged_mm, setting.slide: setting.position_mm},
    )


def moved_since(belief: Belief, minutes: float) -> float:
    """Return the probability of an unlogged move since the last reading."""
    hours = (minutes - belief.last_reading_minutes) / 60.0
    hours = min(max(hours, SHORTEST_HOURS), LONGEST_HOURS)
    return 1.0 - exp(-MOVES_PER_HOUR * hours)


class _Seen(NamedTuple):
    """How a reading depends on the state: weights, what draws add to it, and its variance."""

    row: Array
    shift: Array
    noise: float


def _seen(knowledge: Knowledge, reading: Reading, nominal: float, drift: Array) -> _Seen:
    note = reading.side, reading.note
    slide_cents = knowledge.moved_cents(nominal, note=note)
    noise = (
        knowledge.reading_sd_cents**2
        + reading.cents_sd**2
        + (knowledge.slope.by_note_sd * slide_cents) ** 2
    )
    return _Seen(knowledge.row(note=note, slide_cents=slide_cents), drift + slide_cents, noise)


def _read(belief: Belief, reading: Reading, nominal: float, drift: Array) -> Belief:
    """Take a reading into every account."""
    knowledge = belief.knowledge
    row, shift, noise = _seen(knowledge, reading, nominal, drift)
    mean, sd = belief.stories.moments(row, shift)
    moved = moved_since(belief, reading.minutes)
    jumps = {
        slide: (knowledge.unit(knowledge.slide_place(slide)), moved * share)
        for slide, share in knowledge.shares_of_moves(reading.side).items()
    }
    outlier = OUTLIER_SHARE
    if reading.outlier_probability is not None:
        outlier = min(max(reading.outlier_probability, OUTLIER_SHARE), 0.5)
    stories = accounts.observe(
        accounts.settle(belief.stories, belief.logged_mm),
        row,
        reading.cents_at_440,
        shift,
        noise,
        jumps,
        outlier,
    )
    expected = Expected(reading, mean, float(np.hypot(sd, np.sqrt(noise))))
    return replace(
        belief,
        stories=stories,
        last_reading_minutes=reading.minutes,
        expected=(*belief.expected, expected),
        logged_mm={},
    )


def read_as_expected(
    beliefs: Sequence[Belief],
    evening: Evening,
    side: str,
    minutes: float,
    drifting: Drifting,
    random: np.random.Generator,
) -> list[Belief]:
    """Return beliefs after one more reading each, drawn as each of them expects it.

    Parameters
    ----------
    beliefs : sequence of Belief
        After the last thing logged.
    evening : Evening
        What was logged.
    side : str
        On which one of its tuning notes is read, whichever it be.
    minutes : float
        When [min].
    drifting : Drifting
        What `drift_ahead` gives for then.
    random : Generator
        Of the readings: their scatter, outliers and slides moved unlogged are in it.
    """
    knowledge = beliefs[0].knowledge
    warmth, drift = float(drifting.warmth[0]), drifting.cents[:, 0]
    nominal = evening.slide_cents(knowledge.instrument, minutes, knowledge.calibration)[side]
    notes = knowledge.tuning_notes[side]
    found = []
    for before in beliefs:
        belief = pass_to(before, minutes, warmth)
        reading = Reading(minutes, notes[int(random.integers(len(notes)))], 0.0, side)
        seen = _seen(knowledge, reading, nominal, drift)
        cents = belief.stories.draw(seen.row, seen.shift, seen.noise, random)
        if random.random() < OUTLIER_SHARE:
            cents += random.uniform(-0.5, 0.5) / OUTLIER_DENSITY
        if random.random() < moved_since(belief, minutes):
            cents += random.normal(0.0, MOVE_SD_CENTS)
        found.append(_read(belief, replace(reading, cents=cents), nominal, drift))
    return found


def off_samples(
    belief: Belief,
    evening: Evening,
    now_minutes: float,
    ahead_minutes: Sequence[float],
    a4_hz: float = 440.0,
    seed: int = 0,
    drifting: Drifting | None = None,
) -> dict[str, Array]:
    """Return samples of how far each side is off, now and ahead, if playing goes on.

    Parameters
    ----------
    belief : Belief
        After the last thing logged.
    evening : Evening
        What was logged.
    now_minutes : float
        Now [min].
    ahead_minutes : sequence of float
        m times from now [min], in order, the first 0.
    a4_hz : float
        What tonight is tuned to [Hz].
    seed : int
        Of the samples.
    drifting : Drifting, optional
        What `drift_ahead` gives for the same times, where several beliefs are asked.

    Returns
    -------
    dict of str to array of shape (2000, m)
        By side, the deviation of the mean of its tuning notes [cents]; the slides are left alone.
    """
    knowledge, random = belief.knowledge, np.random.default_rng(seed)
    ahead = np.asarray(ahead_minutes, dtype=float)
    if drifting is None:
        drifting = drift_ahead(knowledge, evening.course, now_minutes, ahead)
    belief = pass_to(belief, now_minutes, float(drifting.warmth[0]))
    stories, size = belief.stories, len(knowledge.draws.cold)
    weights = np.exp(stories.log_weight).ravel()
    which = random.choice(len(weights), SAMPLES, p=weights / weights.sum())
    story, draw = np.divmod(which, size)
    states = stories.mean[story, draw]
    for place in np.unique(story):
        here = story == place
        states[here] += random.multivariate_normal(
            np.zeros(states.shape[1]), stories.covariance[place], int(here.sum()), method="eigh"
        )
    states += _moved(belief, now_minutes, random)
    wander = _wander(knowledge, drifting, ahead, draw, random)
    slides = evening.slide_cents(knowledge.instrument, now_minutes, knowledge.calibration)
    pitch = 1200.0 * np.log2(a4_hz / 440.0)
    found = {}
    for side in knowledge.tuning_notes:
        moved = knowledge.moved_cents(slides[side], side=side)
        row = knowledge.row(side=side, slide_cents=moved)
        level = states @ row + moved - pitch
        found[side] = level[:, None] + drifting.cents[draw] + wander
    return found


def drift_ahead(knowledge: Knowledge, course: Course, now: float, ahead: Array) -> Drifting:
    """Return the drift now [min] and some minutes ahead, the first 0, if the player plays on."""
    past = course.air_minutes < now
    coming = np.arange(0.0, ahead.max() + 1.0)
    switches = tuple(s for s in course.switches_minutes if s <= now)
    expected = Course(
        np.concatenate([course.air_minutes[past], now + coming]),
        np.concatenate([course.air_celsius[past], air_ahead(course, now, coming)]),
        switches if len(switches) % 2 else (*switches, now),
        course.initial_warmth,
    )
    return drift_along(knowledge.draws, expected, now + ahead)


def _moved(belief: Belief, now: float, random: np.random.Generator) -> Array:
    """Return what slides that were moved since the last reading, unlogged, add to the state."""
    knowledge = belief.knowledge
    added = np.zeros((SAMPLES, len(knowledge.covariance)))
    hit = random.random(SAMPLES) < moved_since(belief, now)
    which, size = random.random(SAMPLES), random.normal(0.0, MOVE_SD_CENTS, SAMPLES)
    upto = 0.0
    for slide, share in knowledge.shares_of_moves().items():
        this = (which >= upto) & (which < upto + share)
        added[:, knowledge.slide_place(slide)] = np.where(hit & this, size, 0.0)
        upto += share
    return added


def _wander(
    knowledge: Knowledge,
    drifting: Drifting,
    ahead: Array,
    draw: npt.NDArray[np.int_],
    random: np.random.Generator,
) -> Array:
    """Return samples of what the level and the air add on the way ahead [cents]."""
    hours = np.diff(ahead, prepend=0.0).clip(0.0) / 60.0
    bent = np.abs(np.diff(drifting.warmth, prepend=drifting.warmth[0]))
    steps = random.standard_normal((2, len(draw), len(ahead)))
    variance = WALK_SD_CENTS**2 * hours + knowledge.bend_sd_cents**2 * bent
    level = (np.sqrt(variance) * steps[0]).cumsum(axis=1)
    air = (AIR_SD_CELSIUS * np.sqrt(hours) * steps[1]).cumsum(axis=1)
    slope = knowledge.draws.cold - knowledge.draws.rise / 14.0
    return np.asarray(level + slope[draw][:, None] * air)
