"""Valve slides: what the loops should do when the open instrument has been made longer.

A valve adds a loop that is a fraction of the open tube. Once a tuning slide has made the open
tube longer, the same loop is too small a fraction of it, and every valve combination is sharp
against the open notes unless the loops are pulled as well.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

from drift.instruments.anatomy import Instrument, MeasuredSlopes, Side, Valve

__all__ = [
    "ValveMove",
    "cents_left_alone",
    "combinations_of",
    "equal_tempered_cents",
    "loop_length_m",
    "valve_moves",
]

# A valve slide is U-shaped: a pull adds twice its length (common practice).
PATH_FACTOR_OF_A_LOOP = 2.0

# The combinations that players name, in the order of the semitones they lower.
USUAL = ("2", "1", "3", "1+2", "2+3", "1+3", "1+2+3", "4", "2+4")


@dataclass(frozen=True)
class ValveMove:
    """The move of one valve slide.

    Attributes
    ----------
    side, valve : str
        Which loop.
    move_mm : float
        Move [mm], positive when pulled out.
    """

    side: str
    valve: str
    move_mm: float


def combinations_of(instrument: Instrument) -> tuple[str, ...]:
    """Return the valve combinations of an instrument that players use, such as ``1+2``."""
    names = [valve.name for valve in instrument.valves]
    all_of_them = {
        "+".join(sorted(chosen))
        for count in range(1, len(names) + 1)
        for chosen in combinations(names, count)
    }
    usual = [combination for combination in USUAL if combination in all_of_them]
    alone = [name for name in names if name not in usual]
    return (*usual, *alone)


def loop_length_m(side: Side, valve: Valve) -> float:
    """Return the length of a valve's loop on a side [m]."""
    return valve.fraction * side.length_m


def _loops(instrument: Instrument, combination: str) -> float:
    by_name: Mapping[str, Valve] = {valve.name: valve for valve in instrument.valves}
    return math.fsum(by_name[name].fraction for name in combination.split("+"))


def equal_tempered_cents(instrument: Instrument) -> dict[str, float]:
    """Return how sharp each valve combination is against equal temperament by its lengths alone.

    Parameters
    ----------
    instrument : Instrument
        An instrument with valves.

    Returns
    -------
    dict of str to float
        Combination to deviation [cents], positive when sharp.

    Notes
    -----
    ``100 n - 1200 log2(1 + sum of the fractions)`` with n the semitones the combination should
    lower, taken as the nearest whole number for each valve alone.

    Examples
    --------
    >>> from drift.instruments import find
    >>> sharp = equal_tempered_cents(find("Bb trumpet"))
    >>> round(sharp["1+2"], 1), round(sharp["1+2+3"], 1)
    (10.6, 53.6)
    """
    semitones = {v.name: round(12.0 * math.log2(1.0 + v.fraction)) for v in instrument.valves}
    return {
        combination: 100.0 * sum(semitones[name] for name in combination.split("+"))
        - 1200.0 * math.log2(1.0 + _loops(instrument, combination))
        for combination in combinations_of(instrument)
    }


def _stretch(
    instrument: Instrument,
    side: str,
    moves_mm: Mapping[str, float],
    calibration: MeasuredSlopes | None,
) -> float:
    """Return the fraction by which moves lengthen an open side."""
    return math.exp2(-instrument.cents_of_moves(side, moves_mm, calibration) / 1200.0) - 1.0


def valve_moves(
    instrument: Instrument,
    moves_mm: Mapping[str, float],
    calibration: MeasuredSlopes | None = None,
) -> tuple[ValveMove, ...]:
    """Return the moves of the valve slides that keep every combination where it was.

    Parameters
    ----------
    instrument : Instrument
        The instrument.
    moves_mm : mapping of str to float
        Moves of the tuning slides [mm].
    calibration : mapping, optional
        Measured cents per millimetre of the tuning slides, keyed ``(slide, side)``.

    Returns
    -------
    tuple of ValveMove
        One for each side and valve.

    Notes
    -----
    The loop of a valve grows by the same fraction as the open side, by half of that in slide:
    ``move = v L e / 2`` with ``v`` the loop as a fraction of the open length ``L`` and ``e`` the
    fraction that the tuning slides add. A valve slide serves one side.

    Examples
    --------
    >>> from drift.instruments import find
    >>> moves = valve_moves(find("Bb trumpet"), {"main": 10.0})
    >>> [(move.valve, round(move.move_mm, 2)) for move in moves]
    [('2', 0.59), ('1', 1.22), ('3', 1.89)]
    """
    return tuple(
        ValveMove(
            side.name,
            valve.name,
            1000.0
            * loop_length_m(side, valve)
            * _stretch(instrument, side.name, moves_mm, calibration)
            / PATH_FACTOR_OF_A_LOOP,
        )
        for side in instrument.sides
        for valve in instrument.valves
    )


def cents_left_alone(
    instrument: Instrument,
    moves_mm: Mapping[str, float],
    calibration: MeasuredSlopes | None = None,
) -> dict[str, dict[str, float]]:
    """Return how far valve combinations move against the open notes if the loops stay put.

    Parameters
    ----------
    instrument : Instrument
        The instrument.
    moves_mm : mapping of str to float
        Moves of the tuning slides [mm].
    calibration : mapping, optional
        Measured cents per millimetre of the tuning slides, keyed ``(slide, side)``.

    Returns
    -------
    dict of str to dict of str to float
        Side to combination to change [cents], positive when sharper than before.

    Notes
    -----
    ``1200 log2((1 + e)(1 + v) / (1 + e + v))`` with ``v`` the loops of the combination and ``e``
    the lengthening, both as fractions of the open side.

    Examples
    --------
    >>> from drift.instruments import find
    >>> left = cents_left_alone(find("Bb trumpet"), {"main": 10.0})
    >>> round(left[""]["1+2+3"], 1)
    6.3
    """
    if not instrument.valves:
        return {}
    return {
        side.name: {
            combination: _left_alone(
                _stretch(instrument, side.name, moves_mm, calibration),
                _loops(instrument, combination),
            )
            for combination in combinations_of(instrument)
        }
        for side in instrument.sides
    }


def _left_alone(stretch: float, loops: float) -> float:
    return 1200.0 * math.log2((1.0 + stretch) * (1.0 + loops) / (1.0 + stretch + loops))
