"""What is known of a player before tonight's first reading: notes, slide and drift."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.instruments.anatomy import Instrument, MeasuredSlopes, Slide
from drift.regression.estimates import NORMAL_95
from drift.regression.results import Draws, Estimate
from drift.regression.warmup import drift_columns, warmth
from drift.tonight.assumptions import (
    BASE_SD_CENTS,
    BEND_SD_CENTS,
    DAY_SD_CENTS,
    FIRST_BEND_SD_CENTS,
    FIRST_SLIDE_SHARE,
    NOTE_SD_CENTS,
    PULLED_IN,
    READING_SD_CENTS,
    REHEARSALS_THAT_SHOW_A_DAY,
    REHEARSALS_THAT_SHOW_WATCHING,
    SETTING_SD_MM,
    SIDE_SD_CENTS,
    SIDE_TONIGHT_SD_CENTS,
    WATCHING_SHARE,
)

__all__ = ["MEASURED", "Knowledge", "Note", "SlideSlope", "know"]

Array = npt.NDArray[np.float64]
Note = tuple[str, str]
"""A side and a sounding note."""


@dataclass(frozen=True)
class SlideSlope:
    """What a millimetre of slide does, over the nominal cents of the catalogue or a calibration.

    Attributes
    ----------
    mean, sd : float
        Factor on the nominal cents, and its relative uncertainty.
    by_note_sd : float
        Its relative spread from note to note.
    notes : tuple of (str, float)
        Notes whose factor is known apart.
    """

    mean: float
    sd: float
    by_note_sd: float
    notes: tuple[tuple[str, float], ...] = ()

    def factor(self, notes: Sequence[str]) -> float:
        """Return the factor on the mean of some notes."""
        known = dict(self.notes)
        return sum(known.get(note, self.mean) for note in notes) / len(notes)


MEASURED = SlideSlope(1.0, 0.03, 0.03)
"""A slope that the player has measured."""


@dataclass(frozen=True)
class Knowledge:
    """What earlier rehearsals say of one player on one instrument.

    The state has one number for each note (what it reads warm, at 20 °C, with the slides at the
    player's reference, in cents), one for the relative error of the slides' slope (over what the
    catalogue says of real bores, or the player's calibration), one for the level of the evening,
    and one for each slide: what it is away from where it was logged, in cents of the first side
    that it serves.

    Attributes
    ----------
    instrument : Instrument
        The instrument.
    draws : Draws
        n draws of the drift.
    notes : tuple of (str, str)
        Side and note of each number of the state.
    mean : array of shape (n, p)
        Mean of the state for each draw, p = notes + 2 + slides.
    covariance : array of shape (p, p)
        Its covariance.
    reading_sd_cents, bend_sd_cents : float
        Spread of a reading, and of what the model of warming up leaves out.
    slope : SlideSlope
        What a millimetre does, over the nominal cents.
    rehearsals : int
        Earlier rehearsals with readings.
    gains : mapping of float to float
        Probability of each share of the deviation that readings show.
    tuning_notes : mapping of str to tuple of str
        The notes whose mean is to be in tune, by side.
    calibration : mapping of (str, str) to float
        Measured cents per millimetre, by slide and side.
    """

    instrument: Instrument
    draws: Draws
    notes: tuple[Note, ...]
    mean: Array
    covariance: Array
    reading_sd_cents: float
    bend_sd_cents: float
    slope: SlideSlope
    rehearsals: int
    gains: Mapping[float, float]
    tuning_notes: Mapping[str, tuple[str, ...]]
    calibration: MeasuredSlopes = field(default_factory=dict)

    def row(self, *, slide_cents: float = 0.0, note: Note | None = None, side: str = "") -> Array:
        """Return the weights of the state in one note, or in the mean of a side's tuning notes.

        Parameters
        ----------
        slide_cents : float
            What the logged slides do to it against the reference [cents], from `moved_cents`.
        note : (str, str), optional
            The note; the tuning notes of ``side`` when left out.
        side : str
            The side.
        """
        weights = np.zeros(len(self.covariance))
        notes = self._meant(note, side)
        for each in notes:
            weights[self.notes.index(each)] = 1.0 / len(notes)
        size, side = len(self.notes), notes[0][0]
        weights[size : size + 2] = slide_cents, 1.0
        for place, slide in enumerate(self.instrument.slides):
            weights[size + 2 + place] = self.cents_per_mm(slide.name, side) / self.cents_per_mm(
                slide.name, slide.sides[0]
            )
        return weights

    def moved_cents(self, nominal: float, *, note: Note | None = None, side: str = "") -> float:
        """Return what nominal cents of the slides are on a note, or on a side's tuning notes."""
        return nominal * self.slope.factor([name for _, name in self._meant(note, side)])

    def _meant(self, note: Note | None, side: str) -> list[Note]:
        return [note] if note else [(side, name) for name in self.tuning_notes[side]]

    @property
    def level_place(self) -> int:
        """Place of the level of the evening in the state."""
        return len(self.notes) + 1

    def slide_place(self, slide: str) -> int:
        """Return the place of a slide in the state."""
        names = [each.name for each in self.instrument.slides]
        return len(self.notes) + 2 + names.index(slide)

    def shares_of_moves(self, side: str | None = None) -> dict[str, float]:
        """Return the slides of a side (of all sides: None), and which is moved how often."""
        slides = self.instrument.slides
        rest = (1.0 - FIRST_SLIDE_SHARE) / max(len(slides) - 1, 1)
        shares = {
            slide.name: rest if place else FIRST_SLIDE_SHARE
            for place, slide in enumerate(slides)
            if side is None or side in slide.sides
        }
        return {slide: share / sum(shares.values()) for slide, share in shares.items()}

    def unit(self, place: int) -> Array:
        """Return the direction of one number of the state."""
        direction = np.zeros(len(self.covariance))
        direction[place] = 1.0
        return direction

    def cents_per_mm(self, slide: str, side: str) -> float:
        """Return the nominal slope of a slide on a side, measured where it was [cents/mm]."""
        return self.instrument.cents_per_mm(side, slide, self.calibration)

    def set_variance(self, slide: str) -> float:
        """Return the variance of setting a slide by eye [cents²], on the first side it serves."""
        first = self.instrument.slide(slide).sides[0]
        return (SETTING_SD_MM * self.cents_per_mm(slide, first)) ** 2

    def tendencies(self, side: str) -> dict[str, Estimate]:
        """Return how each known note of a side differs from the mean of its tuning notes [cents].

        Parameters
        ----------
        side : str
            The side.
        """
        found = {}
        middle = self.row(side=side)
        for note in self.notes:
            if note[0] == side:
                row = self.row(note=note) - middle
                means = self.mean @ row
                mean = float(means.mean())
                half = NORMAL_95 * float(np.sqrt(row @ self.covariance @ row + means.var()))
                found[note[1]] = Estimate(mean, mean - half, mean + half)
        return found


def know(
    instrument: Instrument,
    draws: Draws,
    earlier: pd.DataFrame | None = None,
    *,
    reading_sd_cents: float | None = None,
    day_sd_cents: float | None = None,
    tuning_notes: Mapping[str, Sequence[str]] | None = None,
    more_notes: Sequence[Note] = (),
    calibration: MeasuredSlopes | None = None,
) -> Knowledge:
    """Learn a player's notes and slide from the rehearsals before tonight.

    Parameters
    ----------
    instrument : Instrument
        The instrument.
    draws : Draws
        Draws of the drift from the fit of the same earlier rehearsals, or from acoustics.
    earlier : DataFrame, optional
        This player's rows on this instrument as the fit has them: ``rehearsal, side, note, cents,
        a4_hz, reference_cents, celsius, spells, minutes_into_spell, playing_minutes,
        initial_warmth`` and, where known, ``weight`` and ``cents_sd``. None of tonight.
    reading_sd_cents, day_sd_cents : float, optional
        Spread of a reading and of a day, from the fit.
    tuning_notes : mapping of str to sequence of str, optional
        The player's own tuning notes by side (default: the catalogue's).
    more_notes : sequence of (str, str)
        Other notes that are read tonight.
    calibration : mapping, optional
        Measured cents per millimetre, by slide and side.

    Returns
    -------
    Knowledge

    Notes
    -----
    A reading is ``y = a[side, note] + u + D + (1 + g) c + e``: notes ``a`` (base, side and note
    of sd 20, 5 and 5 cents), the level ``u`` of the day, the drift ``D`` of a draw, the nominal
    cents ``c`` of the slides and the error ``g`` of their slope. Given a draw the posterior is
    normal, ``Λ = P⁻¹ + Σ HᵀV⁻¹H`` over the rehearsals with ``V = diag(σ²/weight) + σ_day² 11ᵀ``,
    and with 2.6² more between readings of a side that is tuned after the first: such a side has
    its own offset each evening (`drift.tonight.assumptions`), tonight too.
    """
    rows = None if earlier is None or not len(earlier) else earlier.reset_index(drop=True)
    wanted = tuning_notes or {side.name: side.tuning_notes for side in instrument.sides}
    tuned = {side: tuple(names) for side, names in wanted.items() if names}
    read = [] if rows is None else list(zip(rows["side"], rows["note"], strict=True))
    listed = [(side, name) for side, names in tuned.items() for name in names]
    notes = tuple(dict.fromkeys([*listed, *read, *more_notes]))
    rehearsals = 0 if rows is None else int(rows["rehearsal"].nunique())
    reading_sd = READING_SD_CENTS if rows is None or reading_sd_cents is None else reading_sd_cents
    day_sd = DAY_SD_CENTS
    if rehearsals >= REHEARSALS_THAT_SHOW_A_DAY and day_sd_cents is not None:
        day_sd = max(day_sd_cents, 1.0)
    slope = _slope_of(instrument, calibration or {})
    prior = _before(notes, slope.sd)
    mean = np.zeros((len(draws.cold), len(prior)))
    if rows is not None:
        paired_by = {side: slope.factor(names) for side, names in tuned.items()}
        days = day_sd**2 + _apart_tonight(instrument, rows["side"].tolist())
        mean, prior = _learn(rows, notes, draws, prior, reading_sd, days, slope, paired_by)
    prior[: len(notes), : len(notes)] += _apart_tonight(instrument, [side for side, _ in notes])
    state = _with_evening(instrument, prior, day_sd, calibration)
    watching = WATCHING_SHARE if rehearsals >= REHEARSALS_THAT_SHOW_WATCHING else 0.0
    return Knowledge(
        instrument=instrument,
        draws=draws,
        notes=notes,
        mean=np.hstack([mean, np.zeros((len(mean), len(state) - len(prior)))]),
        covariance=state,
        reading_sd_cents=reading_sd,
        bend_sd_cents=BEND_SD_CENTS if rehearsals else FIRST_BEND_SD_CENTS,
        slope=slope,
        rehearsals=rehearsals,
        gains={1.0: 1.0 - watching} | ({1.0 - PULLED_IN: watching} if watching else {}),
        tuning_notes=tuned,
        calibration=dict(calibration or {}),
    )


def _with_evening(
    instrument: Instrument, prior: Array, day_sd: float, calibration: MeasuredSlopes | None
) -> Array:
    """Return the covariance with tonight's level and where the slides really stand."""
    nominal = [
        instrument.cents_per_mm(slide.sides[0], slide.name, calibration)
        for slide in instrument.slides
    ]
    size = len(prior)
    state = np.zeros((size + 1 + len(nominal), size + 1 + len(nominal)))
    state[:size, :size] = prior
    tonight = [day_sd**2, *((SETTING_SD_MM * cents) ** 2 for cents in nominal)]
    state[size:, size:] = np.diag(tonight)
    return state


def _before(notes: Sequence[Note], slope_sd: float) -> Array:
    """Return the covariance of the notes and of the error of the slope, before a reading."""
    size = len(notes)
    sides = np.array([side for side, _ in notes])
    covariance = np.zeros((size + 1, size + 1))
    covariance[:size, :size] = (
        BASE_SD_CENTS**2
        + SIDE_SD_CENTS**2 * (sides[:, None] == sides)
        + NOTE_SD_CENTS**2 * np.eye(size)
    )
    covariance[size, size] = max(slope_sd, 1e-6) ** 2
    return covariance


def _apart_tonight(instrument: Instrument, sides: Sequence[str]) -> Array:
    """Return the covariance of what one evening adds to notes of the sides tuned after the first.

    The level of the evening is that of the side with the first slide, which is tuned first. A
    further side has a number of its own for each evening; every note of it has that number in it,
    and so it is in the covariance of the notes, and needs no place in the state.
    """
    names = np.array(sides)
    first = instrument.slides[0].sides[0] if instrument.slides else instrument.sides[0].name
    same = (names[:, None] == names) & (names != first)
    return np.asarray(SIDE_TONIGHT_SD_CENTS**2 * same)


def _slope_of(instrument: Instrument, calibration: MeasuredSlopes) -> SlideSlope:
    """Return the slope of the first slide, which does most of the tuning."""
    if not instrument.slides:
        return SlideSlope(1.0, 0.0, 0.0)
    slide: Slide = instrument.slides[0]
    if (slide.name, slide.sides[0]) in calibration:
        return MEASURED
    effect = slide.effect
    known = tuple((name, mean) for name, mean, _ in effect.notes)
    return SlideSlope(effect.mean, effect.sd / effect.mean, effect.note_sd / effect.mean, known)


def _learn(
    rows: pd.DataFrame,
    notes: Sequence[Note],
    draws: Draws,
    prior: Array,
    reading_sd: float,
    days: Array,
    slope: SlideSlope,
    paired_by: Mapping[str, float],
) -> tuple[Array, Array]:
    """Return mean (for each draw) and covariance of notes and slope after earlier rehearsals.

    Pairing took off what the slides are expected to do on the tuning notes of a side.
    """
    taken_off = _slide_cents(rows)
    expected = np.array([paired_by.get(side, slope.mean) for side in rows["side"]])
    moved = taken_off / expected * np.array([slope.factor([note]) for note in rows["note"]])
    left = (rows["reference_cents"].to_numpy(float) + taken_off - moved)[:, None]
    left = left - _drift_of(rows, draws)
    design = np.zeros((len(rows), len(prior)))
    place = {note: column for column, note in enumerate(notes)}
    keys = zip(rows["side"], rows["note"], strict=True)
    design[np.arange(len(rows)), [place[key] for key in keys]] = 1.0
    design[:, -1] = moved
    weight = rows["weight"].to_numpy(float) if "weight" in rows else np.ones(len(rows))
    own = rows["cents_sd"].fillna(0.0).to_numpy(float) if "cents_sd" in rows else 0.0
    variance = (reading_sd**2 + own**2) / np.maximum(weight, 1e-6) + (slope.by_note_sd * moved) ** 2
    information = np.linalg.inv(prior)
    right = np.zeros((len(prior), left.shape[1]))
    for part in rows.groupby("rehearsal", sort=False).indices.values():
        spread = np.diag(variance[part]) + days[part][:, part]
        half = np.linalg.solve(spread, design[part]).T
        information = information + half @ design[part]
        right = right + half @ left[part]
    covariance = np.linalg.inv(information)
    return np.asarray((covariance @ right).T), np.asarray(covariance)


def _slide_cents(rows: pd.DataFrame) -> Array:
    """Return the cents that were taken off each reading to bring it to the reference."""
    a4 = rows["a4_hz"].to_numpy(float) if "a4_hz" in rows else np.full(len(rows), 440.0)
    raw = rows["cents"].to_numpy(float) + 1200.0 * np.log2(a4 / 440.0)
    return np.asarray(raw - rows["reference_cents"].to_numpy(float))


def _drift_of(rows: pd.DataFrame, draws: Draws) -> Array:
    """Return the drift at each row, of each draw, of shape (rows, draws) [cents]."""
    warm = warmth(
        rows["spells"].tolist(),
        rows["minutes_into_spell"].to_numpy(float),
        draws.warm_minutes,
        draws.cool_minutes,
        rows["initial_warmth"].to_numpy(float),
    )
    cold, rise = drift_columns(rows["celsius"].to_numpy(float)[:, None], warm)
    late = np.minimum(rows["playing_minutes"].to_numpy(float) / 60.0, draws.horizon_hours)
    slow = draws.slow * late[:, None] + draws.curvature * cold**2
    return np.asarray(draws.cold * cold + draws.rise * rise + slow)
