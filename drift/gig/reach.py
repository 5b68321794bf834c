"""How far the slides of a section can bring its pitch, all sides alike."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from drift.gig.roster import Section
from drift.instruments import Instrument
from drift.slides.moves import room_to_move

__all__ = [
    "CENTS_PER_OCTAVE",
    "NEAR_CENTS",
    "REACH_CENTS",
    "Reach",
    "reach_is_known",
    "reach_of_slides",
    "real_slopes",
]

CENTS_PER_OCTAVE = 1200.0
#: A section counts as reaching a pitch that it comes within this of [cents]: tuning is no finer.
NEAR_CENTS = 5.0
#: A pitch is set in steps of half a hertz, at most a cent away: what a section may lack of one that
#: all come near to [cents].
REACH_CENTS = NEAR_CENTS + 1.0
#: A change of length that no slide makes, so that reaching it means that no limit is known.
OCTAVE = 0.5


@dataclass(frozen=True)
class Reach:
    """The pitches a section can be brought to at every tune.

    Attributes
    ----------
    section : str
        Its name.
    lowest_a4_hz, highest_a4_hz : float
        Limits [Hz]; 0 and infinity where travel is not known. The lowest above the highest means
        that no one pitch can be reached at every tune.
    """

    section: str
    lowest_a4_hz: float
    highest_a4_hz: float

    def to_json(self) -> dict[str, Any]:
        """Return the limits by name; null where travel is not known."""
        low, high = self.lowest_a4_hz, self.highest_a4_hz
        return {
            "section": self.section,
            "lowest_a4_hz": low if low > 0 else None,
            "highest_a4_hz": high if math.isfinite(high) else None,
        }

    def includes(self, a4_hz: float) -> bool:
        """Return whether the section comes within 5 cents of a pitch at every tune.

        A pitch is set in steps of half a hertz, so that a cent more may remain of the five.

        Examples
        --------
        >>> found = Reach("tubas", 0.0, 436.0)
        >>> found.includes(430.0), found.includes(437.0), found.includes(438.5)
        (True, True, False)
        """
        near = 2 ** (REACH_CENTS / CENTS_PER_OCTAVE)
        return self.lowest_a4_hz / near <= a4_hz <= self.highest_a4_hz * near


def reach_of_slides(section: Section) -> tuple[float, float]:
    """Return how far slides can bring all sides of a section, alike, down and up.

    Parameters
    ----------
    section : Section
        Its slides, positions and travels; stuck slides and those not listed stay.

    Returns
    -------
    tuple of two floats
        Lowest and highest change of pitch [cents]; infinite where no limit is known.

    Notes
    -----
    A pitch lower by ``c`` cents needs every side longer by the same fraction
    ``u = 2^(c/1200) - 1``: exactly linear in the moves, so the largest and the smallest ``u`` are
    two small linear programmes.

    Examples
    --------
    >>> from drift.instruments import find
    >>> trumpets = Section("trumpets", find("Bb trumpet"), 12, ("main",), {"main": 5}, {"main": 25})
    >>> low, high = reach_of_slides(trumpets)
    >>> round(low, 1), round(high, 1)
    (-50.9, 13.0)
    """
    if not section.movable:
        return 0.0, 0.0
    shortest, longest = (_extreme_fraction(section, sign) for sign in (1.0, -1.0))
    return _cents(longest), _cents(shortest)


def real_slopes(instrument: Instrument) -> dict[tuple[str, str], float]:
    """Return what a millimetre of each slide does on a real bore, by slide and side [cents/mm].

    Parameters
    ----------
    instrument : Instrument
        Its slides; `drift.instruments.effects` says what is known of their bores.

    Examples
    --------
    >>> from drift.instruments import find
    >>> trumpet = find("Bb trumpet")
    >>> slope = real_slopes(trumpet)["main", ""]
    >>> 1.0 < slope / trumpet.cents_per_mm("", "main") < 1.2
    True
    """
    return {
        (slide.name, side.name): instrument.cents_per_mm(side.name, slide.name)
        * slide.effect.on(side.tuning_notes)[0]
        for slide in instrument.slides
        for side in instrument.sides
        if side.name in slide.sides
    }


def reach_is_known(section: Section, sharp_cents: float) -> bool:
    """Return whether the roster says how far a section can go against a deviation.

    Parameters
    ----------
    section : Section
        Its slides, positions and travels.
    sharp_cents : float
        Where it stands [cents]: flat asks for positions to push in from, sharp for travel too.

    Examples
    --------
    >>> from drift.instruments import find
    >>> trumpets = Section("trumpets", find("Bb trumpet"), 12, ("main",), {"main": 5})
    >>> reach_is_known(trumpets, -10.0), reach_is_known(trumpets, 10.0)
    (True, False)
    """
    return all(
        slide in section.at_mm and (sharp_cents <= 0 or slide in section.travel_mm)
        for slide in section.movable
    )


def _cents(fraction: float) -> float:
    if math.isinf(fraction):
        return -fraction
    return -CENTS_PER_OCTAVE * math.log2(1.0 + fraction)


def _extreme_fraction(section: Section, sign: float) -> float:
    """Minimise ``sign * u`` subject to ``path @ moves = length * u`` within travel."""
    instrument, movable = section.instrument, section.movable
    real = real_slopes(instrument)
    path = np.array(
        [[instrument.path_per_mm(s.name, name, real) for name in movable] for s in instrument.sides]
    )
    lengths = np.array([[1000 * side.length_m] for side in instrument.sides])
    room = room_to_move(instrument, at=section.at_mm, travel=section.travel_mm)
    ends = [room[name] for name in movable]
    if len(lengths) == 1:  # all slides to the same end
        all_alike = [low if sign > 0 else high for low, high in ends]
        return float((path @ all_alike).item() / lengths.item())
    from scipy.optimize import linprog

    answer = linprog(
        np.r_[np.zeros(len(movable)), sign],
        A_eq=np.hstack([path, -lengths]) / lengths,
        b_eq=np.zeros(len(lengths)),
        bounds=[*ends, (-OCTAVE, OCTAVE)],
    )
    fraction = float(answer.x[-1])
    return math.copysign(math.inf, fraction) if abs(fraction) > OCTAVE - 1e-6 else fraction
