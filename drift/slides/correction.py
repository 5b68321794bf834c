"""Slide corrections: from a fit and two conditions to moves, positions and the remaining error."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from statistics import NormalDist
from typing import Any

import numpy as np
import pandas as pd

from drift.instruments import Catalogue, find
from drift.instruments.anatomy import Instrument, MeasuredSlopes
from drift.instruments.slopes import expected_slopes, slope_sd
from drift.notes import cents_between
from drift.regression.asked import read_or_new
from drift.regression.estimates import NORMAL_95, ONLY
from drift.regression.results import Estimate, Fit
from drift.slides.caveats import (
    About,
    Caveat,
    about_slides,
    about_temperatures,
    moved_since,
)
from drift.slides.moving import Move, moves_for
from drift.slides.read_there import off_where_tuned
from drift.slides.reference import (
    ASSUMED_A4_HZ,
    Reference,
    TunedFrom,
    check_conditions,
    where_tuned,
)
from drift.slides.valves import ValveMove, cents_left_alone, valve_moves
from drift.slides.warming import warm_after
from drift.tonight.decision import Action, Decision, Reason, decide_playing

__all__ = ["About", "Caveat", "Correction", "Move", "correct"]

QUANTILES = 401


@dataclass(frozen=True)
class Correction:
    """Slide moves for a room or a field, from the conditions the instrument was tuned in.

    Attributes
    ----------
    instrument : Instrument
        The instrument.
    celsius, minutes : float
        Temperature there [°C], and minutes of playing.
    tuned_celsius, tuned_minutes : float
        The same where it was tuned.
    tuned_warm : bool
        Whether it was tuned for when it is warm: the minutes are then those until it is, and not
        those that were played.
    tuned_given : frozenset of str
        Which of ``celsius`` and ``minutes`` of the tuning whoever asks gave.
    at : dict of str to float
        Known positions of its slides [mm].
    expected_cents : dict of str to Estimate
        How sharp each side is expected to be there, against ``a4_hz``.
    moves : tuple of Move
        What to do, in the order players work.
    remaining_cents : dict of str to float
        Error that remains on each side [cents].
    warm_after : Estimate
        Minutes of playing until it is 95 % warm: three time constants, from the fit where it
        knows one, else as expected of an instrument of its size.
    valve_slides : tuple of ValveMove
        Moves of the valve slides that keep the valve combinations where they were.
    valve_remaining_cents : dict
        How sharp each combination is by side if the valve slides are left alone [cents].
    decision : Decision
        Whether to move at all, by the same rule as while playing.
    notices : tuple of Caveat
        What to know about the answer.
    calibration : dict of (str, str) to float
        Measured cents per millimetre that were used, by slide and side.
    tuned_from : TunedFrom
        What says where it was tuned.
    reference : Reference or None
        The last tuning that was logged; it says what was not given.
    a4_hz, tuned_a4_hz : float
        Pitch that the moves are for, and that it was tuned to [Hz].
    """

    instrument: Instrument
    celsius: float
    minutes: float
    tuned_celsius: float
    tuned_minutes: float
    at: dict[str, float]
    expected_cents: dict[str, Estimate]
    decision: Decision
    moves: tuple[Move, ...]
    remaining_cents: dict[str, float]
    warm_after: Estimate
    valve_slides: tuple[ValveMove, ...] = ()
    valve_remaining_cents: dict[str, dict[str, float]] = field(default_factory=dict)
    notices: tuple[Caveat, ...] = ()
    calibration: dict[tuple[str, str], float] = field(default_factory=dict)
    tuned_from: TunedFrom = TunedFrom.GIVEN
    tuned_warm: bool = False
    tuned_given: frozenset[str] = frozenset()
    reference: Reference | None = None
    a4_hz: float = ASSUMED_A4_HZ
    tuned_a4_hz: float = ASSUMED_A4_HZ

    @property
    def extrapolated(self) -> bool:
        """Whether a temperature lies outside those measured so far."""
        return any(notice.kind is About.EXTRAPOLATED for notice in self.notices)

    @property
    def moved_to_mm(self) -> dict[str, float]:
        """Where slides are now that were moved since the tuning, which `moves` start from [mm]."""
        return {
            notice.slide: notice.value
            for notice in self.notices
            if notice.kind is About.MOVED_SINCE and notice.value is not None
        }

    def to_json(self) -> dict[str, Any]:
        """Return the answer as one JSON object (numbers unrounded)."""
        return {
            "instrument": self.instrument.name,
            "tuned": {
                "celsius": self.tuned_celsius,
                "minutes": self.tuned_minutes,
                "warm": self.tuned_warm,
                "a4_hz": self.tuned_a4_hz,
                "positions_mm": dict(self.at),
                "from": self.tuned_from.value,
                "rehearsal": self.reference.rehearsal if self.reference else None,
            },
            "there": {"celsius": self.celsius, "minutes": self.minutes, "a4_hz": self.a4_hz},
            "expected_cents": {
                side: {"estimate": e.estimate, "low": e.low, "high": e.high}
                for side, e in self.expected_cents.items()
            },
            "decision": self.decision.action.value,
            "reason": self.decision.reason.value,
            "moves": [move.to_json() for move in self.moves],
            "remaining_cents": dict(self.remaining_cents),
            "valve_slides": [
                {"side": v.side, "valve": v.valve, "move_mm": v.move_mm} for v in self.valve_slides
            ],
            "valve_remaining_cents": self.valve_remaining_cents,
            "calibration": [
                {
                    "slide": slide,
                    "side": side,
                    "cents_per_mm": measured,
                    "calculated": self.instrument.cents_per_mm(side, slide),
                }
                for (slide, side), measured in self.calibration.items()
            ],
            "warm_after_minutes": self.warm_after.to_json(),
            "extrapolated": self.extrapolated,
            "warnings": [notice.to_json() for notice in self.notices],
        }

    def to_frame(self) -> pd.DataFrame:
        """Return one row a slide: ``slide, move_mm, low_mm, high_mm, from_mm, to_mm, ...``."""
        columns = list(Move.__dataclass_fields__)
        return pd.DataFrame([vars(move) for move in self.moves], columns=columns)

    def summary(self, *, inches: bool = False) -> str:
        """Return the answer in words, in the order a player works; in 1/16 inch if asked to."""
        from drift.words.slides import answer

        return answer(self, inches=inches)


def correct(
    fit: Fit,
    instrument: str | Instrument,
    celsius: float,
    minutes: float = 30.0,
    *,
    tuned_celsius: float | None = None,
    tuned_minutes: float | None = None,
    a4_hz: float | None = None,
    tuned_a4_hz: float = ASSUMED_A4_HZ,
    reference: Reference | None = None,
    read_from: Mapping[str, float] | None = None,
    at: Mapping[str, float] | None = None,
    travel: Mapping[str, float] | None = None,
    stuck: Collection[str] = (),
    calibration: MeasuredSlopes | None = None,
    player: str | None = ONLY,
    catalogue: Catalogue | None = None,
) -> Correction:
    """Return the slide moves for a room or a field.

    Parameters
    ----------
    fit : Fit
        What is known of the drift; `drift.physics` where nothing was logged yet.
    instrument : str or Instrument
        The instrument, by name or as it stands.
    celsius, minutes : float
        Temperature of the air there [°C], and minutes of unbroken playing.
    tuned_celsius, tuned_minutes : float, optional
        The same where the slides were right; by default as the reference has it, without one 20 °C
        after 30 minutes.
    a4_hz, tuned_a4_hz : float
        Pitch to be in tune with there, by default as it was tuned, and that it was tuned to [Hz].
    reference : Reference, optional
        The last tuning that was logged. One that was made for the warm instrument counts as after
        as many minutes as it takes to be warm, at least; that is said to be warm, not so many
        minutes.
    read_from : mapping of str to float, optional
        Positions that the player's readings were brought to [mm]: with them, readings that
        contradict an assumed tuning are named in a notice.
    at, travel : mapping of str to float, optional
        Positions and usable travel [mm] by slide, measured from fully in.
    stuck : collection of str
        Slides that do not move.
    calibration : mapping, optional
        Measured cents per millimetre, keyed ``(slide, side)``.
    player : str or None
        Who plays: a name, ``"new"`` for somebody of whom there are no readings, None for the mean
        of all; by default the only player of the readings.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.

    Returns
    -------
    Correction
        Moves with intervals, the remaining error, valve slides and notices.

    Raises
    ------
    InstrumentError
        If the instrument, a slide or a side does not exist.
    ReachError
        If a position, a travel, a temperature or a number of minutes is impossible.

    Notes
    -----
    The drift of the air is the same on every side of an instrument; the sides differ in length,
    so the same cents take different millimetres. The interval of a move is what the ends of the
    95 % interval of the drift would ask for, widened by what is not known of the slide: on real
    bores a millimetre does 1.10 ± 0.10 times what the length says (brass, until the player has
    measured it; see `drift.instruments.effects`). Travel may cut it short.

    Examples
    --------
    >>> import drift
    >>> moves = drift.correct(drift.physics(), "Bb trumpet", celsius=33.0, at={"main": 12.0})
    >>> [move.slide for move in moves.moves]
    ['main']
    """
    horn = instrument if isinstance(instrument, Instrument) else find(instrument, catalogue)
    warming = warm_after(fit, horn)
    tuned_from, tuned_celsius, tuned_minutes, tuned_warm, given = where_tuned(
        tuned_celsius, tuned_minutes, reference, warming.estimate
    )
    a4_hz = tuned_a4_hz if a4_hz is None else a4_hz
    check_conditions(celsius, minutes, a4_hz)
    check_conditions(tuned_celsius, tuned_minutes, tuned_a4_hz)
    positions = {horn.slide(name).name: float(mm) for name, mm in (at or {}).items()}
    expected = _raised(
        _expected(fit, horn, celsius, minutes, tuned_celsius, tuned_minutes, player),
        cents_between(tuned_a4_hz, a4_hz),
    )
    slopes = expected_slopes(horn, calibration)
    tuned = tuned_celsius, tuned_minutes, tuned_a4_hz
    middle, moves = moves_for(
        horn,
        dict.fromkeys((side.name for side in horn.sides), expected),
        at=positions,
        travel=travel,
        stuck=stuck,
        calibration=slopes,
        slope_sd={
            slide.name: max(slope_sd(horn, slide.name, side, calibration) for side in slide.sides)
            for slide in horn.slides
        },
    )
    return Correction(
        instrument=horn,
        celsius=float(celsius),
        minutes=float(minutes),
        tuned_celsius=tuned_celsius,
        tuned_minutes=tuned_minutes,
        at=positions,
        expected_cents={side.name: expected for side in horn.sides},
        decision=_decision(horn, expected),
        moves=moves,
        remaining_cents=middle.remaining_cents,
        valve_slides=valve_moves(horn, middle.moves_mm, slopes),
        valve_remaining_cents=cents_left_alone(horn, middle.moves_mm, slopes),
        notices=(
            *(
                off_where_tuned(fit, horn, player, positions, read_from, tuned, calibration or {})
                if read_from is not None and tuned_from is TunedFrom.ASSUMED
                else ()
            ),
            *about_temperatures(fit, horn, (celsius, tuned_celsius)),
            *about_slides(horn, middle, positions, travel or {}, stuck),
            *moved_since(reference, positions),
        ),
        calibration=dict(calibration or {}),
        warm_after=warming,
        tuned_from=tuned_from,
        tuned_warm=tuned_warm,
        tuned_given=given,
        reference=reference,
        a4_hz=float(a4_hz),
        tuned_a4_hz=float(tuned_a4_hz),
    )


def _expected(
    fit: Fit,
    horn: Instrument,
    celsius: float,
    minutes: float,
    tuned_celsius: float,
    tuned_minutes: float,
    player: str | None,
) -> Estimate:
    if horn.fixed_pitch is None:
        return fit.change(
            horn.name,
            celsius=celsius,
            minutes=minutes,
            tuned_celsius=tuned_celsius,
            tuned_minutes=tuned_minutes,
            player=read_or_new(fit, horn.name, player),
        )
    warmer, bars = celsius - tuned_celsius, horn.fixed_pitch
    ends = sorted((bars.low * warmer, bars.high * warmer))
    return Estimate(bars.cents_per_celsius * warmer, *ends)


def _raised(expected: Estimate, cents: float) -> Estimate:
    ends = {name: getattr(expected, name) + cents for name in ("estimate", "low", "high")}
    return replace(expected, **ends)


def _decision(horn: Instrument, expected: Estimate) -> Decision:
    """Return whether to move, by the rule of tonight; no reading can be taken there yet."""
    spread = (expected.high - expected.low) / (2.0 * NORMAL_95)
    if not horn.slides:
        return Decision(Action.LEAVE, Reason.FIXED_PITCH, expected.estimate, spread)
    quantiles = [NormalDist().inv_cdf((n + 0.5) / QUANTILES) for n in range(QUANTILES)]
    return decide_playing(expected.estimate + spread * np.array(quantiles), may_ask=False)
