"""Slide corrections: from a fit and two conditions to moves, marks and what is left over."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from drift.errors import ReachError
from drift.instruments import Catalogue, find
from drift.instruments.anatomy import Instrument, MeasuredSlopes
from drift.notes import shown
from drift.regression.results import Estimate, Fit
from drift.regression.warmup import TIMES_TO_95_PERCENT
from drift.slides.moves import MM_UNSEEN, Solution, solve
from drift.slides.valves import ValveMove, cents_left_alone, valve_moves

__all__ = ["Correction", "Move", "correct", "moves_against"]


@dataclass(frozen=True)
class Move:
    """What to do with one slide.

    Attributes
    ----------
    slide : str
        Its name.
    move_mm, low_mm, high_mm : float
        Move [mm], positive when pulled out, and what the interval of the drift makes of it.
    to_mm : float or None
        The position it comes to, from fully in; None where its position is not known.
    limited : bool
        Whether travel, or being stuck, kept it from going further.
    """

    slide: str
    move_mm: float
    low_mm: float
    high_mm: float
    to_mm: float | None
    limited: bool

    def to_json(self) -> dict[str, Any]:
        """Return the move by name of its numbers; ``to_mm`` only where it is known."""
        return {key: value for key, value in vars(self).items() if value is not None}


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
    at : dict of str to float
        Known positions of its slides [mm].
    expected_cents : dict of str to Estimate
        How sharp each side is expected to be there.
    moves : tuple of Move
        What to do, in the order players work.
    left_over_cents : dict of str to float
        What stays of it on each side [cents].
    valve_slides : tuple of ValveMove
        Moves of the valve slides that keep the valve combinations where they were.
    valve_left_over_cents : dict
        How sharp each combination is by side if the valve slides are left alone [cents].
    warnings : tuple of str
        What to know about the answer.
    calibration : dict of (str, str) to float
        Measured cents per millimetre that were used, by slide and side.
    warm_after_minutes : float
        Minutes of playing until it is 95 % warm: three time constants, from the fit where it
        knows one, else as expected of an instrument of its size.
    """

    instrument: Instrument
    celsius: float
    minutes: float
    tuned_celsius: float
    tuned_minutes: float
    at: dict[str, float]
    expected_cents: dict[str, Estimate]
    moves: tuple[Move, ...]
    left_over_cents: dict[str, float]
    valve_slides: tuple[ValveMove, ...] = ()
    valve_left_over_cents: dict[str, dict[str, float]] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()
    calibration: dict[tuple[str, str], float] = field(default_factory=dict)
    warm_after_minutes: float = float("nan")

    def to_json(self) -> dict[str, Any]:
        """Return the answer as one JSON object (numbers unrounded)."""
        return {
            "instrument": self.instrument.name,
            "tuned": {
                "celsius": self.tuned_celsius,
                "minutes": self.tuned_minutes,
                "positions_mm": dict(self.at),
            },
            "there": {"celsius": self.celsius, "minutes": self.minutes},
            "expected_cents": {
                side: {"estimate": e.estimate, "low": e.low, "high": e.high}
                for side, e in self.expected_cents.items()
            },
            "moves": [move.to_json() for move in self.moves],
            "left_over_cents": dict(self.left_over_cents),
            "valve_slides": [
                {"side": v.side, "valve": v.valve, "move_mm": v.move_mm} for v in self.valve_slides
            ],
            "valve_left_over_cents": self.valve_left_over_cents,
            "calibration": [
                {
                    "slide": slide,
                    "side": side,
                    "cents_per_mm": measured,
                    "calculated": self.instrument.cents_per_mm(side, slide),
                }
                for (slide, side), measured in self.calibration.items()
            ],
            "warnings": list(self.warnings),
        }

    def to_frame(self) -> pd.DataFrame:
        """Return one row a slide: ``slide, move_mm, low_mm, high_mm, to_mm, limited``."""
        columns = list(Move.__dataclass_fields__)
        return pd.DataFrame([vars(move) for move in self.moves], columns=columns)

    def summary(self, *, inches: bool = False) -> str:
        """Return the answer in words, in the order a player works.

        Parameters
        ----------
        inches : bool
            Give lengths to the nearest sixteenth of an inch instead of millimetres.
        """
        from drift.slides.work_order import in_words

        return in_words(self, inches=inches)


def correct(
    fit: Fit,
    instrument: str | Instrument,
    celsius: float,
    minutes: float = 30.0,
    *,
    tuned_celsius: float = 20.0,
    tuned_minutes: float = 30.0,
    at: Mapping[str, float] | None = None,
    travel: Mapping[str, float] | None = None,
    stuck: Collection[str] = (),
    calibration: MeasuredSlopes | None = None,
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
    tuned_celsius, tuned_minutes : float
        The same where the slides stood right.
    at, travel : mapping of str to float, optional
        Positions and usable travel [mm] by slide, measured from fully in.
    stuck : collection of str
        Slides that do not move.
    calibration : mapping, optional
        Measured cents per millimetre, keyed ``(slide, side)``.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.

    Returns
    -------
    Correction
        Moves with intervals, what is left over, valve slides and warnings.

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
    95 % interval of the drift would ask for; travel may cut it short. Calibrations are taken as
    exact. With drifts under 50 cents the formula itself is better than the slides can be set.

    Examples
    --------
    >>> import drift
    >>> moves = drift.correct(drift.physics(), "Bb trumpet", celsius=33.0, at={"main": 12.0})
    >>> [move.slide for move in moves.moves]
    ['main']
    """
    _check_conditions(celsius, minutes)
    _check_conditions(tuned_celsius, tuned_minutes)
    horn = instrument if isinstance(instrument, Instrument) else find(instrument, catalogue)
    positions = {horn.slide(name).name: float(mm) for name, mm in (at or {}).items()}
    expected = _expected(fit, horn, celsius, minutes, tuned_celsius, tuned_minutes)
    middle, moves = moves_against(
        horn, expected, at=positions, travel=travel, stuck=stuck, calibration=calibration
    )
    return Correction(
        instrument=horn,
        celsius=float(celsius),
        minutes=float(minutes),
        tuned_celsius=float(tuned_celsius),
        tuned_minutes=float(tuned_minutes),
        at=positions,
        expected_cents={side.name: expected for side in horn.sides},
        moves=moves,
        left_over_cents=middle.left_over_cents,
        valve_slides=valve_moves(horn, middle.moves_mm, calibration),
        valve_left_over_cents=cents_left_alone(horn, middle.moves_mm, calibration),
        warnings=(
            *_about_the_drift(fit, horn, expected, (celsius, tuned_celsius)),
            *_about_the_slides(horn, middle, positions, stuck),
        ),
        calibration=dict(calibration or {}),
        warm_after_minutes=_warm_after_minutes(fit, horn),
    )


def moves_against(
    instrument: Instrument,
    drift: Estimate,
    *,
    at: Mapping[str, float],
    travel: Mapping[str, float] | None = None,
    stuck: Collection[str] = (),
    calibration: MeasuredSlopes | None = None,
) -> tuple[Solution, tuple[Move, ...]]:
    """Return the moves that undo a drift of all sides alike, each with its interval.

    Parameters
    ----------
    instrument : Instrument
        The instrument.
    drift : Estimate
        How sharp it is [cents].
    at, travel, stuck, calibration
        As in `drift.slides.moves.solve`.

    Returns
    -------
    Solution
        The answer to the estimate itself.
    tuple of Move
        One for each slide.
    """
    middle, low, high = (
        solve(
            instrument,
            {side.name: cents for side in instrument.sides},
            at=at,
            travel=travel,
            stuck=stuck,
            calibration=calibration,
        )
        for cents in (drift.estimate, drift.low, drift.high)
    )
    moves = []
    for slide, move_mm in middle.moves_mm.items():
        ends = sorted((move_mm, low.moves_mm[slide], high.moves_mm[slide]))
        to_mm = at[slide] + move_mm if slide in at else None
        moves.append(Move(slide, move_mm, ends[0], ends[-1], to_mm, slide in middle.limited))
    return middle, tuple(moves)


def _check_conditions(celsius: float, minutes: float) -> None:
    if not math.isfinite(celsius):
        raise ReachError(f"temperature {celsius:g} °C is no number", "give degrees Celsius")
    if not 0.0 <= minutes < math.inf:
        raise ReachError(
            f"{minutes:g} minutes of playing are not possible", "give minutes, zero or more"
        )


def _expected(
    fit: Fit,
    horn: Instrument,
    celsius: float,
    minutes: float,
    tuned_celsius: float,
    tuned_minutes: float,
) -> Estimate:
    if horn.fixed_pitch is None:
        return fit.change(
            horn.name,
            celsius=celsius,
            minutes=minutes,
            tuned_celsius=tuned_celsius,
            tuned_minutes=tuned_minutes,
        )
    warmer, bars = celsius - tuned_celsius, horn.fixed_pitch
    ends = sorted((bars.low * warmer, bars.high * warmer))
    return Estimate(bars.cents_per_celsius * warmer, *ends)


def _warm_after_minutes(fit: Fit, horn: Instrument) -> float:
    if horn.fixed_pitch is not None:
        return 0.0
    known = fit.curve(horn.name).entries().get("warm_up_time_constant_minutes")
    return TIMES_TO_95_PERCENT * (known.estimate if known else horn.priors.warm_minutes)


def _about_the_drift(
    fit: Fit, horn: Instrument, expected: Estimate, temperatures: tuple[float, float]
) -> list[str]:
    if horn.fixed_pitch is not None:
        return [f"nothing on a {shown(horn.name)} can be moved"]
    warnings = [text for celsius in temperatures if (text := fit.extrapolation(celsius))]
    if expected.low < 0.0 < expected.high and abs(expected.estimate) > 0.05:
        warnings.append("the move is smaller than its own uncertainty: leave the slides and listen")
    return warnings


def _about_the_slides(
    horn: Instrument, middle: Solution, at: Mapping[str, float], stuck: Collection[str]
) -> list[str]:
    warnings = []
    fast = {horn.slide(name).name for name in stuck}
    for slide, move in middle.moves_mm.items():
        if slide in middle.limited:
            why = "is stuck" if slide in fast else "is at the end of its travel"
            warnings.append(f"the {shown(slide)} slide {why}")
        if move < -MM_UNSEEN and slide not in at:
            warnings.append(
                f"the {shown(slide)} slide is to be pushed in and its position is not known: "
                "check that it stands out so far"
            )
    for side, cents in middle.left_over_cents.items():
        if abs(cents) >= 0.5:
            where = f"the {shown(side)} side" if side else "the instrument"
            warnings.append(
                f"{where} stays {abs(cents):.1f} cents {'sharp' if cents > 0 else 'flat'}"
            )
    return warnings
