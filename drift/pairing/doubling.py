"""Players with two instruments in one rehearsal: one cools while the other is played."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

__all__ = ["Turn", "only_in", "turns_of"]

Array = npt.NDArray[np.float64]


class Turn(NamedTuple):
    """A stretch of a rehearsal in which a player has one instrument in hand.

    Attributes
    ----------
    instrument : str
        Which.
    begins, ends : float
        From when to when, in minutes since 1970; the first turn has no beginning, the last no end.
    """

    instrument: str
    begins: float
    ends: float


def turns_of(
    instruments: Sequence[str], when: Sequence[float], plays: Sequence[float], lead: float
) -> list[Turn]:
    """Return who had which instrument in hand, from what was read on each.

    Parameters
    ----------
    instruments : sequence of str
        Of each reading of one player in one rehearsal, in order of time.
    when : sequence of float
        The minutes of those readings.
    plays : sequence of float
        The minutes at which somebody said that playing began.
    lead : float
        Where nobody said so, an instrument is taken up so long before its first reading [min].

    Examples
    --------
    >>> turns_of(["flute", "flute", "euphonium"], [1.0, 9.0, 25.0], [0.0, 20.0], 1.0)[1]
    Turn(instrument='euphonium', begins=20.0, ends=inf)
    """
    begins = [-np.inf]
    held = [instruments[0]]
    for place in range(1, len(instruments)):
        if instruments[place] != held[-1]:
            before, first = when[place - 1], when[place]
            said = [minute for minute in plays if before < minute <= first]
            begins.append(said[-1] if said else max(first - lead, before))
            held.append(instruments[place])
    ends = [*begins[1:], np.inf]
    return [Turn(*turn) for turn in zip(held, begins, ends, strict=True)]


def only_in(switches: Array, turns: Sequence[Turn], instrument: str) -> Array:
    """Return when one instrument was played: what was played, in its own turns.

    Parameters
    ----------
    switches : array of shape (n,)
        The minutes at which the player began, stopped, began, ... to play anything.
    turns : sequence of Turn
        What was in hand.
    instrument : str
        Which.

    Returns
    -------
    array
        The minutes at which it began, stopped, began, ... to be played.

    Examples
    --------
    >>> turns = [Turn("flute", -np.inf, 20.0), Turn("euphonium", 20.0, np.inf)]
    >>> only_in(np.array([0.0, 10.0, 15.0]), turns, "euphonium").tolist()
    [20.0]
    >>> only_in(np.array([0.0, 10.0, 15.0]), turns, "flute").tolist()
    [0.0, 10.0, 15.0, 20.0]
    """
    found: list[float] = []
    for turn in turns:
        if turn.instrument == instrument:
            for begins, ends in _stretches(switches):
                low, high = max(begins, turn.begins), min(ends, turn.ends)
                found += [low, high] if low < high else []
    return np.array(found[:-1] if found and found[-1] == np.inf else found)


def _stretches(switches: Array) -> Iterator[tuple[float, float]]:
    times = [*switches.tolist(), *([np.inf] if len(switches) % 2 else [])]
    yield from zip(times[::2], times[1::2], strict=True)
