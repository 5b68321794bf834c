"""How warm a played instrument is, and what that does to its pitch.

The air in a played bore is warmed by breath and cooled by the room through the wall. ``w`` says how
far the instrument has come: 0 as cold as the room, 1 as warm as playing makes it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

import numpy as np
import numpy.typing as npt

from drift.breath import BREATH_CELSIUS

__all__ = ["REFERENCE_CELSIUS", "TIMES_TO_95_PERCENT", "drift_columns", "warmth"]

REFERENCE_CELSIUS = 20.0
"""Drift is zero for a warmed-up instrument at this temperature (°C), the custom of tuning."""

TIMES_TO_95_PERCENT = 3.0
"""After so many time constants 95 % of the way is done: ``1 - exp(-3)`` is 0.950."""

Array = npt.NDArray[np.float64]


def warmth(
    spells: Sequence[float] | Sequence[Sequence[float]],
    minutes_into_spell: npt.ArrayLike,
    warm_minutes: npt.ArrayLike,
    cool_minutes: npt.ArrayLike,
    initial: npt.ArrayLike = 0.0,
) -> Array:
    """Return how far an instrument is warmed up after stretches of playing and resting.

    Parameters
    ----------
    spells : sequence of float, or sequence of n such sequences
        Completed stretches in minutes before the current one: playing, resting, playing, ...
        An even number of them means that the player is playing now.
    minutes_into_spell : float or array of shape (n,)
        Minutes since the current stretch began.
    warm_minutes, cool_minutes : float or array
        Time constants in minutes (63 % of the way), of any shapes that broadcast to ``g``.
    initial : float or array of shape (n,)
        ``w`` before the first stretch: 0 for an instrument out of its case, 1 for one that has
        just been played.

    Returns
    -------
    array of shape (n,) + g, or g for a single reading
        ``w``, between 0 and 1.

    Notes
    -----
    ``dw/dt = (1 - w)/tau_w`` while playing and ``dw/dt = -w/tau_c`` while resting, solved exactly
    stretch by stretch. One time constant is a simplification: a real bore has a warm end and a
    cold end. No published time constant was found; 5 to 15 minutes for small brass and 15 to 30
    for a tuba in the cold are common practice.

    Examples
    --------
    >>> print(warmth((), 6.0, warm_minutes=6.0, cool_minutes=12.0).round(3))
    0.632
    >>> warmth([(), (20.0,)], [6.0, 12.0], 6.0, 12.0).round(3)  # the second has rested 12 minutes
    array([0.632, 0.355])
    """
    single = np.ndim(minutes_into_spell) == 0
    pasts_given = cast(Sequence[Sequence[float]], [spells] if single else spells)
    rows = [tuple(map(float, row)) for row in pasts_given]
    now = np.atleast_1d(np.asarray(minutes_into_spell, dtype=float))
    start = np.broadcast_to(np.asarray(initial, dtype=float), now.shape)
    warm, cool = np.broadcast_arrays(
        np.asarray(warm_minutes, dtype=float), np.asarray(cool_minutes, dtype=float)
    )
    # Readings of one stretch share their past, so that past is worked out once.
    keys = list(zip(rows, start.tolist(), strict=True))
    pasts = {key: index for index, key in enumerate(dict.fromkeys(keys))}
    before = _after_spells(list(pasts), warm, cool)
    which = np.array([pasts[key] for key in keys], dtype=int)
    playing = np.array([len(row) % 2 == 0 for row in rows], dtype=bool)
    elapsed = now.reshape(-1, *[1] * warm.ndim)
    state = before[which]
    result = np.empty_like(state)
    result[playing] = 1.0 - (1.0 - state[playing]) * np.exp(-elapsed[playing] / warm)
    result[~playing] = state[~playing] * np.exp(-elapsed[~playing] / cool)
    return np.asarray(result[0] if single else result)


def _after_spells(pasts: list[tuple[tuple[float, ...], float]], warm: Array, cool: Array) -> Array:
    """Return ``w`` at the end of the completed stretches, one row a past."""
    longest = max((len(spells) for spells, _ in pasts), default=0)
    lengths = np.zeros((len(pasts), longest))
    for row, (spells, _) in enumerate(pasts):
        lengths[row, : len(spells)] = spells
    state = np.array([initial for _, initial in pasts], dtype=float)
    state = np.broadcast_to(state.reshape(-1, *[1] * warm.ndim), (len(pasts), *warm.shape)).copy()
    for position in range(longest):  # a stretch of no length changes nothing
        minutes = lengths[:, position].reshape(-1, *[1] * warm.ndim)
        if position % 2 == 0:
            state = 1.0 - (1.0 - state) * np.exp(-minutes / warm)
        else:
            state = state * np.exp(-minutes / cool)
    return state


def drift_columns(celsius: npt.ArrayLike, warmth: npt.ArrayLike) -> tuple[Array, Array]:
    """Return the two columns of the model of drift.

    Parameters
    ----------
    celsius : float or array
        Temperature of the air around the player (°C).
    warmth : float or array
        How far the instrument is warmed up (0 to 1).

    Returns
    -------
    cold, rise : arrays
        ``drift = b cold + r rise`` in cents, where ``b`` (cents/°C) is the slope of an unplayed
        instrument and ``r`` (cents) how much the pitch rises from cold to warm at 20 °C.

    Notes
    -----
    ``drift(T, w) = b (T - T0) + r [w (Tb - T)/(Tb - T0) - 1]`` with ``T0 = 20 °C`` and
    ``Tb = 34 °C``: playing warms the air in proportion to how much colder than breath it is.
    A warm instrument therefore has the smaller slope ``b - r/(Tb - T0)``.

    Examples
    --------
    >>> cold, rise = drift_columns(20.0, 1.0)  # warmed up at 20 °C: no drift, by definition
    >>> print(cold, rise)
    0.0 0.0
    """
    celsius = np.asarray(celsius, dtype=float)
    span = BREATH_CELSIUS - REFERENCE_CELSIUS
    rise = np.asarray(warmth, dtype=float) * (BREATH_CELSIUS - celsius) / span - 1.0
    return celsius - REFERENCE_CELSIUS, rise
