"""The air in the instrument and its warmth at every reading, for many time constants at once."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.breath import BREATH_CELSIUS
from drift.regression.state import drift_columns_of_state, states
from drift.regression.warmup import REFERENCE_CELSIUS

__all__ = ["Histories", "histories_of"]

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.intp]

LONGEST = 40
"""Readings in one row of steps."""

Course = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Histories:
    """What the instruments went through before each reading.

    Readings that share their past share a row of steps; each is a step of its own in it.

    Parameters
    ----------
    step_minutes, before, after, duty : arrays of shape (pasts, steps)
        Length of each step [min], the air around the player at its beginning and its end [°C],
        and whether it was played; padded with steps of no length.
    first : array of shape (pasts,)
        Air in the instrument before the first step [°C].
    initial : array of shape (pasts,)
        How warm the instrument was then, 0 to 1.
    past, step : arrays of shape (n,)
        Where each reading is.
    celsius : array of shape (n,)
        The air around the player at each reading [°C].
    into : array of shape (n,)
        Minutes of the current stretch [min].
    playing : array of shape (n,)
        Whether that is one of playing.
    carried : bool
        Whether the course of the temperature is known; if not, each reading is taken to have been
        made in air as constant as its own temperature.
    """

    step_minutes: Array
    before: Array
    after: Array
    duty: Array
    first: Array
    initial: Array
    past: Codes
    step: Codes
    celsius: Array
    into: Array
    playing: npt.NDArray[np.bool_]
    carried: bool

    def take(self, rows: Any) -> Histories:
        """Return the histories of some readings, without the pasts of others."""
        kept, past = np.unique(self.past[rows], return_inverse=True)
        table = ("step_minutes", "before", "after", "duty", "first", "initial")
        own = ("step", "celsius", "into", "playing")
        parts = {name: getattr(self, name)[kept] for name in table}
        parts |= {name: getattr(self, name)[rows] for name in own}
        return replace(self, past=past.ravel(), **parts)

    def columns(
        self, warm: Array, cool: Array, start: bool = False
    ) -> tuple[Array, Array, Array | None]:
        """Return the columns of the regression at time constants of shape (j,).

        Parameters
        ----------
        warm, cool : arrays of shape (j,)
            Time constants [min].
        start : bool
            Whether to return the third column.

        Returns
        -------
        cold : array of shape (n, j), or (n, 1) where the course is not known
            ``A - 20`` [°C].
        rise : array of shape (n, j)
            ``E/14 - 1``.
        begun : array of shape (n, j), or None
            What one more unit of warmth at the start adds to `rise`, where nothing is stated.
        """
        here = (self.past, slice(None), self.step)
        if not self.carried:
            return self._in_constant_air(warm, cool, start)
        excess = (self.initial * (BREATH_CELSIUS - self.first))[:, None] + 0.0 * warm
        first = self.first[:, None] + 0.0 * warm
        air, added = states(self.step_minutes[:, None], self.after[:, None], self.duty[:, None],
                            warm, cool, first, excess, self.before[:, None])  # fmt: skip
        cold, rise = drift_columns_of_state(air[here], added[here])
        if not start:
            return cold, rise, None
        begun = self._begun(warm, cool) * ((BREATH_CELSIUS - self.first) / 14.0)[:, None, None]
        return cold, rise, np.asarray(begun[here])

    def _in_constant_air(
        self, warm: Array, cool: Array, start: bool
    ) -> tuple[Array, Array, Array | None]:
        """Return the columns where ``A = T`` and ``E = w (34 - T)``; steps are those before."""
        span = BREATH_CELSIUS - REFERENCE_CELSIUS
        room = (BREATH_CELSIUS - self.celsius)[:, None] / span
        lacking = np.ones((len(self.first), len(warm))) * (1.0 - self.initial)[:, None]
        left = np.ones_like(lacking) * (self.initial == 0.0)[:, None]
        for step in range(self.step_minutes.shape[1]):
            minutes, played = self.step_minutes[:, step, None], self.duty[:, step, None] == 1.0
            kept = np.exp(-minutes / np.where(played, warm, cool))
            lacking = np.where(played, lacking * kept, 1.0 - (1.0 - lacking) * kept)
            left = left * kept
        # Few time constants differ, and most readings are played: exponentials are what costs.
        times, which = np.unique(warm, return_inverse=True)
        kept = np.exp(-self.into[:, None] / times)[:, which]
        rested = np.flatnonzero(~self.playing)
        w = 1.0 - lacking[self.past] * kept
        if len(rested):
            kept[rested] = np.exp(-self.into[rested, None] / cool)
            w[rested] = (1.0 - lacking[self.past[rested]]) * kept[rested]
        rise = w * room - 1.0
        cold = (self.celsius - REFERENCE_CELSIUS)[:, None]
        return cold, rise, left[self.past] * kept * room if start else None

    def _begun(self, warm: Array, cool: Array) -> Array:
        """Return what is left of warmth at the start, for pasts of which none is stated."""
        kept, _ = states(self.step_minutes[:, None], 0.0, self.duty[:, None], warm, cool,
                         1.0 + 0.0 * (warm + self.first[:, None]))  # fmt: skip
        return np.asarray(kept * (self.initial == 0.0)[:, None, None])


def histories_of(rows: pd.DataFrame) -> Histories:
    """Return what the instruments went through, from the rows to fit.

    Parameters
    ----------
    rows : DataFrame
        With ``celsius, spells, minutes_into_spell, initial_warmth``, and where it is known
        ``course``: pairs of (minutes since playing began, °C), the temperature around the player,
        which changes evenly between them.
    """
    spells = [tuple(map(float, one)) for one in rows["spells"].tolist()]
    courses = rows["course"].tolist() if "course" in rows else [()] * len(rows)
    initial = rows["initial_warmth"].to_numpy(dtype=float)
    celsius = rows["celsius"].to_numpy(dtype=float)
    carried = "course" in rows and all(len(one) > 0 for one in courses)
    # A course is one tuple for all readings of a player's rehearsal; looking it up by identity
    # spares comparing it with itself.
    names = [id(one) for one in courses] if carried else [0] * len(rows)
    numbers: dict[Any, int] = {}
    keys = zip(spells, initial.tolist(), names, strict=True)
    past = np.array([numbers.setdefault(key, len(numbers)) for key in keys], dtype=np.intp)
    into = rows["minutes_into_spell"].to_numpy(dtype=float)
    playing = np.array([len(one) % 2 == 0 for one in spells], dtype=bool)
    if not carried:
        lengths = [np.array(key[0]) for key in numbers]
        tracks = [_steps(one, np.arange(len(one)) % 2 == 0) for one in lengths]
        begun = np.array([key[1] for key in numbers])
        nowhere = np.zeros(len(rows), dtype=np.intp)
        return _padded(tracks, begun, past, nowhere, celsius, into, playing, False)
    order = np.lexsort((into, past))
    # Readings of one past share a row of steps, but no row becomes much longer than the others.
    began = np.flatnonzero(np.diff(past[order], prepend=-1))
    place = np.arange(len(order)) - np.repeat(began, np.diff(np.append(began, len(order))))
    cuts = np.flatnonzero(place % LONGEST == 0)
    past[order] = np.cumsum(place % LONGEST == 0) - 1
    step = np.empty(len(rows), dtype=np.intp)
    tracks = []
    for here in np.split(order, cuts[1:]):
        track, step[here] = _track(spells[here[0]], into[here], courses[here[0]])
        tracks.append(track)
    return _padded(tracks, initial[order[cuts]], past, step, celsius, into, playing, True)


def _steps(lengths: Array, played: Any) -> Array:
    """Return steps of which the temperature does not matter."""
    zeros = np.zeros_like(lengths)
    return np.stack([lengths, zeros, zeros, np.asarray(played, dtype=float)])


def _track(
    spells: tuple[float, ...], into: Array, course: Course
) -> tuple[Array, npt.NDArray[np.intp]]:
    """Return (minutes, before, after, duty) of one past, (4, steps), and the readings' steps."""
    switches = np.concatenate([[0.0], np.cumsum(spells)])
    last = switches[-1]
    when = last + into
    knots, celsius = np.array(course, dtype=float).T
    inside = knots[(knots > 0.0) & (knots < when[-1])]
    times = np.unique(np.concatenate([switches[1:], inside, when]))
    after = np.interp(times, knots, celsius)
    before = np.concatenate([[np.interp(0.0, knots, celsius)], after[:-1]])
    begun = np.searchsorted(switches, times, side="left") - 1
    duty = np.where(np.minimum(np.maximum(begun, 0), len(spells)) % 2 == 0, 1.0, 0.0)
    return np.stack([np.diff(times, prepend=0.0), before, after, duty]), np.searchsorted(
        times, when
    )


def _padded(
    tracks: list[Array],
    initial: Array,
    past: Codes,
    step: Codes,
    celsius: Array,
    into: Array,
    playing: npt.NDArray[np.bool_],
    carried: bool,
) -> Histories:
    """Return tracks of several lengths as tables, ended with steps of no length."""
    table = np.zeros((4, len(tracks), max(track.shape[1] for track in tracks)))
    for number, track in enumerate(tracks):
        table[:, number, : track.shape[1]] = track
        if carried:
            table[1:3, number, track.shape[1] :] = track[2, -1]
    first = table[1, :, 0] if carried else np.zeros(len(tracks))
    minutes, before, after, duty = table
    return Histories(
        minutes, before, after, duty, first, initial, past, step, celsius, into, playing, carried
    )
