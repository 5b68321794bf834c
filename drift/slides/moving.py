"""One move of one slide, and the moves that take cents away, each with its interval."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import Any

from drift.instruments.anatomy import Instrument, MeasuredSlopes
from drift.instruments.slopes import expected_slopes
from drift.regression.estimates import NORMAL_95
from drift.regression.results import Estimate
from drift.slides.moves import MM_UNSEEN, Solution, room_to_move, solve

__all__ = ["Move", "mm_of_cents", "moves_for"]

MOST = 0.5
"""A move that is by at least so much for another slide is said to make up for it."""


@dataclass(frozen=True)
class Move:
    """What to do with one slide.

    Attributes
    ----------
    slide : str
        Its name.
    move_mm, low_mm, high_mm : float
        Move [mm], positive when pulled out, and what the interval of the cents makes of it.
    from_mm, to_mm : float or None
        The positions before and after, from fully in; None where the position is not known.
    at_end_of_travel : bool
        Whether travel, or being stuck, kept it from going further.
    makes_up_for : str or None
        The slide of several sides that goes the other way, where most of this move only makes up
        for it on the side of its own.
    """

    slide: str
    move_mm: float
    low_mm: float
    high_mm: float
    from_mm: float | None = None
    to_mm: float | None = None
    at_end_of_travel: bool = False
    makes_up_for: str | None = None

    @property
    def interval_includes_zero(self) -> bool:
        """Whether it may as well go the other way, or nowhere."""
        return self.low_mm <= 0.0 <= self.high_mm

    def counted_from(self, now_mm: float) -> Move:
        """Return it with the same end, counted from where the slide is now [mm from fully in].

        Examples
        --------
        >>> moved = Move("main", -16.0, -23.0, -6.0, 23.0, 7.0).counted_from(26.0)
        >>> moved.move_mm, moved.low_mm, moved.high_mm, moved.to_mm
        (-19.0, -26.0, -9.0, 7.0)
        """
        if self.from_mm is None:
            return self
        since = now_mm - self.from_mm
        return replace(
            self,
            move_mm=self.move_mm - since,
            low_mm=self.low_mm - since,
            high_mm=self.high_mm - since,
            from_mm=now_mm,
        )

    def to_json(self) -> dict[str, Any]:
        """Return the move as one JSON object (numbers unrounded)."""
        return {
            "slide": self.slide,
            "move_mm": {"estimate": self.move_mm, "low": self.low_mm, "high": self.high_mm},
            "from_mm": self.from_mm,
            "to_mm": self.to_mm,
            "at_end_of_travel": self.at_end_of_travel,
            "interval_includes_zero": self.interval_includes_zero,
            "makes_up_for": self.makes_up_for,
        }


def moves_for(
    instrument: Instrument,
    sharp_cents: Mapping[str, Estimate],
    *,
    at: Mapping[str, float] | None = None,
    travel: Mapping[str, float] | None = None,
    stuck: Collection[str] = (),
    calibration: MeasuredSlopes | None = None,
    slope_sd: Mapping[str, float] | None = None,
) -> tuple[Solution, tuple[Move, ...]]:
    """Return the moves that take cents away from sides, each with its interval.

    Parameters
    ----------
    instrument : Instrument
        The instrument.
    sharp_cents : mapping of str to Estimate
        How sharp each side is [cents]; sides left out are not corrected.
    at, travel, stuck, calibration
        As in `drift.slides.moves.solve`.
    slope_sd : mapping of str to float, optional
        How sure the slope of each slide is: its standard uncertainty over itself. It widens the
        interval of a move, in quadrature with that of the cents.

    Returns
    -------
    Solution
        The answer to the estimates themselves.
    tuple of Move
        One for each slide, in the order players work.

    Examples
    --------
    >>> from drift.instruments import find
    >>> sharp = {"": Estimate(10.0, 6.0, 14.0)}
    >>> (move,) = moves_for(find("Bb trumpet"), sharp, at={"main": 12.0})[1]
    >>> round(move.move_mm, 1), round(move.low_mm, 1), round(move.high_mm, 1), round(move.to_mm, 1)
    (4.3, 2.6, 6.0, 16.3)
    """
    positions = {instrument.slide(name).name: float(mm) for name, mm in (at or {}).items()}
    middle, low, high = (
        solve(
            instrument,
            {side: getattr(cents, end) for side, cents in sharp_cents.items()},
            at=positions,
            travel=travel,
            stuck=stuck,
            calibration=calibration,
        )
        for end in ("estimate", "low", "high")
    )
    room = room_to_move(instrument, at=positions, travel=travel, stuck=stuck)
    moves = []
    for slide, move_mm in middle.moves_mm.items():
        share = NORMAL_95 * (slope_sd or {}).get(slide, 0.0)
        ends = _widened(move_mm, (low.moves_mm[slide], high.moves_mm[slide]), share, room[slide])
        before = positions.get(slide)
        after = None if before is None else before + move_mm
        end = slide in middle.at_end_of_travel
        for_which = _makes_up_for(instrument, slide, middle.moves_mm, calibration)
        moves.append(Move(slide, move_mm, ends[0], ends[-1], before, after, end, for_which))
    return middle, tuple(moves)


def mm_of_cents(
    instrument: Instrument, slide: str, cents: float, calibration: MeasuredSlopes | None = None
) -> float:
    """Return the move of a slide for a few cents on the side it is set on [mm, out positive].

    Parameters
    ----------
    instrument : Instrument
        The instrument.
    slide : str
        Which slide.
    cents : float
        How sharp [cents].
    calibration : mapping, optional
        Measured cents per millimetre, keyed ``(slide, side)``.

    Examples
    --------
    >>> from drift.instruments import find
    >>> round(mm_of_cents(find("tenor trombone"), "main", 3.0), 1)
    2.3
    """
    side = instrument.slide(slide).sides[0]
    return -cents / expected_slopes(instrument, calibration)[slide, side]


def _makes_up_for(
    instrument: Instrument,
    name: str,
    moves_mm: Mapping[str, float],
    calibration: MeasuredSlopes | None,
) -> str | None:
    """Return the slide of several sides for which most of a move of another makes up."""
    sides = instrument.slide(name).sides
    for common in instrument.slides:
        if len(sides) > 1 or not set(sides) < set(common.sides):
            continue
        there = moves_mm[common.name]
        (side,) = sides
        gear = instrument.cents_per_mm(side, common.name, calibration) / instrument.cents_per_mm(
            side, name, calibration
        )
        share = -there * gear / moves_mm[name] if moves_mm[name] else 0.0
        if abs(there) >= MM_UNSEEN and share >= MOST:
            return common.name
    return None


def _widened(
    move_mm: float, ends: tuple[float, float], share: float, room: tuple[float, float]
) -> tuple[float, float]:
    """Return the ends of a move's interval with what is not known of the slide, within its room."""
    low, high = sorted((*ends, move_mm))[0], sorted((*ends, move_mm))[-1]
    own = share * abs(move_mm)
    return (
        max(move_mm - math.hypot(move_mm - low, own), min(room[0], low)),
        min(move_mm + math.hypot(high - move_mm, own), max(room[1], high)),
    )
