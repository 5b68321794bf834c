"""From cents to millimetres: the slide moves that bring every side back, within travel.

Players tune the sides that a common slide serves with that slide first, and then the other sides
with their own. The same rule decides here whenever several settings do equally well: the last
slide of the instrument's list moves least, then the one before it, the first (main) one last.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drift.errors import ReachError
from drift.instruments.anatomy import Instrument, MeasuredSlopes

__all__ = ["Solution", "room_to_move", "solve"]

# A side counts as corrected, and a slide as not at its end, within this much [cents], [mm].
CENTS_THAT_COUNT = 1e-6
MM_THAT_COUNT = 1e-7

# A slide is set by eye to about half a millimetre (common practice): less is no move.
MM_UNSEEN = 0.25

Matrix = NDArray[np.float64]


@dataclass(frozen=True)
class Solution:
    """Moves of slides and the error that remains.

    Attributes
    ----------
    moves_mm : dict of str to float
        Move of each slide from where it is [mm], positive when pulled out.
    remaining_cents : dict of str to float
        What each side is still off afterwards [cents], positive when sharp.
    at_end_of_travel : frozenset of str
        Slides that travel, or being stuck, kept from going further.
    """

    moves_mm: dict[str, float]
    remaining_cents: dict[str, float]
    at_end_of_travel: frozenset[str]

    def summary(self) -> str:
        """Return the moves and the remaining error, one line each."""
        from drift.words.solution import summary_of

        return summary_of(self)


def room_to_move(
    instrument: Instrument,
    *,
    at: Mapping[str, float] | None = None,
    travel: Mapping[str, float] | None = None,
    stuck: Collection[str] = (),
) -> dict[str, tuple[float, float]]:
    """Return how far each slide can go in and out from where it is.

    Parameters
    ----------
    instrument : Instrument
        Whose slides.
    at : mapping of str to float, optional
        Positions [mm] by slide, measured from fully in.
    travel : mapping of str to float, optional
        Usable travel [mm] by slide, from fully in to the last usable position.
    stuck : collection of str
        Slides that do not move.

    Returns
    -------
    dict of str to (float, float)
        Lowest and highest move [mm]. Without a position a slide with known travel may move by
        all of it either way; without travel it may go out as far as needed.

    Raises
    ------
    InstrumentError
        If a slide does not exist.
    ReachError
        If a position or a travel is negative, not a number, or the position beyond the travel.

    Examples
    --------
    >>> from drift.instruments import find
    >>> room_to_move(find("Bb trumpet"), at={"main": 12.0}, travel={"main": 30.0})
    {'main': (-12.0, 18.0)}
    """
    positions = _by_slide(instrument, at or {}, "position")
    travels = _by_slide(instrument, travel or {}, "travel")
    fast = {instrument.slide(name).name for name in stuck}
    room = {}
    for slide in instrument.slides:
        position, reach = positions.get(slide.name), travels.get(slide.name)
        if position is not None and reach is not None and position > reach:
            raise ReachError(
                f"slide {slide.name} stands at {position:g} mm, beyond its travel of {reach:g} mm",
                "give the position and the travel both in millimetres from fully in",
            )
        if slide.name in fast:
            room[slide.name] = (0.0, 0.0)
        elif position is not None:
            room[slide.name] = (-position, math.inf if reach is None else reach - position)
        else:
            span = math.inf if reach is None else reach
            room[slide.name] = (-span, span)
    return room


def _by_slide(instrument: Instrument, given: Mapping[str, float], what: str) -> dict[str, float]:
    values = {instrument.slide(name).name: float(value) for name, value in given.items()}
    for slide, value in values.items():
        if not 0.0 <= value < math.inf:
            raise ReachError(
                f"{what} of slide {slide} is {value:g} mm",
                "give millimetres from fully in, zero or more",
            )
    return values


def solve(
    instrument: Instrument,
    sharp_cents: Mapping[str, float],
    *,
    at: Mapping[str, float] | None = None,
    travel: Mapping[str, float] | None = None,
    stuck: Collection[str] = (),
    calibration: MeasuredSlopes | None = None,
) -> Solution:
    """Return the slide moves that bring sides back to pitch as far as travel allows.

    Parameters
    ----------
    instrument : Instrument
        The instrument.
    sharp_cents : mapping of str to float
        How sharp each side is [cents]; sides left out are not corrected.
    at, travel : mapping of str to float, optional
        Positions and usable travel [mm] by slide, measured from fully in.
    stuck : collection of str
        Slides that do not move.
    calibration : mapping, optional
        Measured cents per millimetre, keyed ``(slide, side)``.

    Returns
    -------
    Solution
        Moves, the remaining error, and which slides would go further if they could.

    Raises
    ------
    InstrumentError
        If a side or a slide does not exist.
    ReachError
        If a position or a travel is impossible, or a number of cents is not finite.

    Notes
    -----
    Minimises the sum over the sides of ``(s - 1200 log2(1 + sum_j k_j x_j / L))²`` for moves
    ``x`` within the room to move. In the added paths ``sum_j k_j x_j`` that sum is strictly
    convex for any drift under 1700 cents, so they are unique; among the moves that give them,
    the last slide of the list moves least, then the one before it, and so on.

    Examples
    --------
    >>> from drift.instruments import find
    >>> horn = find("double horn")
    >>> moves = solve(horn, {"F": 22.1, "Bb": 22.1}).moves_mm
    >>> {slide: round(move, 2) for slide, move in moves.items()}
    {'main': 18.96, 'F': 6.35, 'Bb': 0.0}
    """
    sharp = {instrument.side(name).name: float(value) for name, value in sharp_cents.items()}
    for side, cents in sharp.items():
        if not abs(cents) < 1200.0:
            raise ReachError(
                f"{cents:g} cents on side {side or 'of the instrument'} is out of range",
                "give cents between -1200 and 1200",
            )
    room = room_to_move(instrument, at=at, travel=travel, stuck=stuck)
    everywhere = dict.fromkeys(room, (-math.inf, math.inf))
    moves = _best_moves(instrument, sharp, room, calibration)
    wished = _best_moves(instrument, sharp, everywhere, calibration)
    left = {
        side: _without_dust(cents + instrument.cents_of_moves(side, moves, calibration))
        for side, cents in sharp.items()
    }
    asked = {
        slide: _without_dust(
            -sum(c * instrument.cents_per_mm(side, slide, calibration) for side, c in left.items())
        )
        for slide in room
    }
    limited = frozenset(
        slide
        for slide, (low, high) in room.items()
        if (moves[slide] >= high and (wished[slide] > high or asked[slide] > 0.0))
        or (moves[slide] <= low and (wished[slide] < low or asked[slide] < 0.0))
    )
    return Solution(moves, left, limited)


def _best_moves(
    instrument: Instrument,
    sharp: Mapping[str, float],
    room: Mapping[str, tuple[float, float]],
    calibration: MeasuredSlopes | None,
) -> dict[str, float]:
    free = [slide for slide, (low, high) in room.items() if low < high]
    path = np.array(
        [[instrument.path_per_mm(side, slide, calibration) for slide in free] for side in sharp]
    ).reshape(len(sharp), len(free))
    length_mm = np.array([1000.0 * instrument.side(side).length_m for side in sharp])
    ends = np.array([room[slide] for slide in free]).reshape(-1, 2).T
    found = _best(path, length_mm, np.array(list(sharp.values())), ends)
    return dict.fromkeys(room, 0.0) | dict(zip(free, map(float, found), strict=True))


def _best(path: Matrix, length_mm: Matrix, sharp: Matrix, room: Matrix) -> Matrix:
    """Return the moves, from those that need the fewest slides to the bounded search."""
    wanted_mm = length_mm * np.expm1(sharp * math.log(2.0) / 1200.0)
    slides = path.shape[1]
    if not slides:  # older versions of numpy and scipy have no answer about nothing
        return np.zeros(0)
    for used in range(slides + 1):
        exact = _exact(path[:, :used], wanted_mm, room[:, :used])
        if exact is not None:
            return np.pad(exact, (0, slides - used))
    if path.shape == (1, 1):
        return np.asarray(np.clip(wanted_mm / path[0], *room))
    moves = _bounded(path, length_mm, sharp, room)
    if np.linalg.matrix_rank(path) < slides:
        moves = _in_order(path, path @ moves, room)
    return _clean(moves, room)


def _exact(path: Matrix, wanted_mm: Matrix, room: Matrix) -> Matrix | None:
    """Return the only moves of these slides that correct every side, if there are any."""
    used = path.shape[1]
    if not used:
        return np.zeros(0) if np.all(wanted_mm == 0.0) else None
    found, _, rank, _ = np.linalg.lstsq(path, wanted_mm, rcond=None)
    if rank < used:
        return None
    moves = _clean(np.asarray(found, dtype=np.float64), room)
    inside = np.all((moves >= room[0]) & (moves <= room[1]))
    return (
        moves if inside and np.all(np.abs(path @ moves - wanted_mm) < 10 * MM_THAT_COUNT) else None
    )


def _bounded(path: Matrix, length_mm: Matrix, sharp: Matrix, room: Matrix) -> Matrix:
    """Return moves of least squares within the room: Gauss-Newton, each step bounded."""
    from scipy.optimize import lsq_linear  # not needed for most questions

    moves = np.zeros(path.shape[1])
    for _ in range(60):
        stretched = length_mm + path @ moves
        left = sharp - 1200.0 * np.log2(stretched / length_mm)
        slope = 1200.0 / math.log(2.0) * path / stretched[:, None]
        step = lsq_linear(
            slope, left, bounds=(room[0] - moves, room[1] - moves), method="bvls", tol=1e-14
        ).x
        moves = np.minimum(np.maximum(moves + step, room[0]), room[1])
        if np.max(np.abs(step), initial=0.0) < 1e-10:
            break
    return moves


def _in_order(path: Matrix, added_mm: Matrix, room: Matrix) -> Matrix:
    """Return the moves that add these paths and leave the last slides alone first."""
    from scipy.optimize import linprog

    low, high = room.copy()
    for slide in reversed(range(path.shape[1])):
        ends = []
        for sign in (1.0, -1.0):
            aim = np.zeros(path.shape[1])
            aim[slide] = sign
            answer = linprog(aim, A_eq=path, b_eq=added_mm, bounds=np.column_stack([low, high]))
            ends.append(answer.x[slide] if answer.success else sign * -math.inf)
        low[slide] = high[slide] = min(max(0.0, ends[0]), ends[1])
    return np.asarray(low, dtype=np.float64)


def _without_dust(cents: float) -> float:
    return 0.0 if abs(cents) < CENTS_THAT_COUNT else cents


def _clean(moves: Matrix, room: Matrix) -> Matrix:
    """Return moves without the dust of the arithmetic, on an end where they are at it."""
    cleaned = moves.copy()
    for mark in (*room, np.zeros_like(moves)):
        near = np.abs(moves - mark) < MM_THAT_COUNT
        cleaned[near] = mark[near]
    return cleaned
