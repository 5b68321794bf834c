"""What a tuning leaves: the tuned state, and what it taught of the slides."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Any

from drift.regression.results import Estimate
from drift.tonight.tuning_steps import Tuning
from drift.tonight.valves import combination_cents

__all__ = ["Tuned", "pooled_slope", "tuned_of"]

SHOWN_SD = 0.08
"""A slope that is known less well than this is not shown as a calibration."""


@dataclass(frozen=True)
class Tuned:
    """The tuned state of an instrument: the reference of later answers.

    Attributes
    ----------
    positions_mm : dict of str to float
        Where the slides are [mm].
    off_cents : dict of str to Estimate
        How far off each side is left, warm [cents].
    celsius : float or None
        The air, where it is known [°C].
    minutes : float
        Minutes of playing before [min].
    combinations_cents : dict of str to dict of str to float
        By side, what combinations of valves leave [cents].
    slope_factors : dict of (str, str) to Estimate
        By slide and side, what a millimetre does over the nominal cents.
    """

    positions_mm: dict[str, float]
    off_cents: dict[str, Estimate]
    celsius: float | None
    minutes: float
    combinations_cents: dict[str, dict[str, float]]
    slope_factors: dict[tuple[str, str], Estimate]

    def to_json(self) -> dict[str, Any]:
        """Return the state as one JSON object (numbers unrounded)."""
        return {
            "positions_mm": self.positions_mm,
            "off_cents": {side: off.to_json() for side, off in self.off_cents.items()},
            "celsius": self.celsius,
            "minutes": self.minutes,
            "combinations_cents": self.combinations_cents,
            "slope_factors": [
                {"slide": slide, "side": side, **factor.to_json()}
                for (slide, side), factor in self.slope_factors.items()
            ],
        }


def tuned_of(tuning: Tuning, celsius: float | None = None) -> Tuned:
    """Return the state that a tuning has reached.

    Parameters
    ----------
    tuning : Tuning
        The tuning, at its end or before.
    celsius : float, optional
        The air [°C].
    """
    belief = tuning.belief
    read = {
        side: {v.valve: v.cents - _mended(v.cents, v.move_mm) for v in tuning.valves
               if v.side == side and v.read}
        for side in tuning.sides
    }  # fmt: skip
    return Tuned(
        positions_mm=dict(belief.positions_mm),
        off_cents={side: tuning.off_cents(side) for side in tuning.sides},
        celsius=celsius,
        minutes=belief.minutes,
        combinations_cents={
            side: combination_cents(tuning.instrument, sharp)
            for side, sharp in read.items()
            if sharp
        },
        slope_factors={
            (slide.name, side): belief.slope_factor(slide.name, side)
            for slide in tuning.instrument.slides
            for side in slide.sides
            if side in tuning.sides
        },
    )


def _mended(cents: float, move_mm: float | None) -> float:
    """Return what a valve slide's move took away: all of it, where one was made."""
    return cents if move_mm else 0.0


def pooled_slope(
    before: tuple[float, float], evenings: Sequence[tuple[float, float]]
) -> tuple[float, float, bool]:
    """Return what several tunings say together of a slide, and whether it is worth showing.

    Parameters
    ----------
    before : (float, float)
        Mean and sd that every tuning began with.
    evenings : sequence of (float, float)
        Mean and sd after each of them.

    Returns
    -------
    mean, sd : float
    shown : bool
        Whether the relative sd is below 8 %: less is not a calibration.

    Notes
    -----
    Each evening holds the beginning; it is taken out of all but one, precisions added.

    Examples
    --------
    >>> mean, sd, shown = pooled_slope((1.10, 0.11), [(1.05, 0.09)] * 3)
    >>> round(mean, 2), round(sd, 3), shown
    (1.01, 0.07, True)
    """
    mean, sd = before
    precision, weighted = sd**-2, mean * sd**-2
    for after_mean, after_sd in evenings:
        own = after_sd**-2 - sd**-2
        if own > 0.0:
            precision += own
            weighted += after_mean * after_sd**-2 - mean * sd**-2
    pooled = weighted / precision
    spread = 1.0 / sqrt(precision)
    return pooled, spread, spread < SHOWN_SD * pooled
