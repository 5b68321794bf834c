"""The air in the instrument and its warmth at every reading, for many time constants at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.breath import BREATH_CELSIUS
from drift.regression.state import SPAN, states
from drift.regression.warmup import REFERENCE_CELSIUS

__all__ = ["Histories", "histories_of", "no_histories"]

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.intp]
Flags = npt.NDArray[np.bool_]

Course = tuple[tuple[float, float], ...]

UNIT = BREATH_CELSIUS - 1.0
"""Where the course is not known, what lacks of warmth is followed for 1 °C below the breath."""


@dataclass(frozen=True)
class Histories:
    """What the instruments went through before each reading.

    Readings that share their past share a row of steps. A step ends where playing begins or stops
    and where the course of the temperature has a knot; a piece is what follows a step.

    Parameters
    ----------
    step_minutes, before, after, duty : arrays of shape (pasts, steps)
        Length of each step [min], the air around the player at its beginning and its end [°C],
        and whether it was played; padded with steps of no length.
    first : array of shape (pasts,)
        Air in the instrument before the first step [°C].
    initial : array of shape (pasts,)
        How warm the instrument was then, 0 to 1.
    slope : array of shape (pasts, steps + 1)
        How fast the air changes in each piece [°C/min].
    past, piece : arrays of shape (n,)
        Where each reading is.
    since : array of shape (n,)
        Minutes since the step before the piece.
    celsius : array of shape (n,)
        The air around the player at each reading [°C].
    known : array of shape (n,)
        Whether the course of the temperature is known; if not, the reading is taken to have been
        made in air as constant as its own temperature.
    playing : array of shape (n,)
        Whether it was made while playing.
    carried : bool
        Whether the course is known of any reading, so that `A` depends on time constants.
    """

    step_minutes: Array
    before: Array
    after: Array
    duty: Array
    first: Array
    initial: Array
    slope: Array
    past: Codes
    piece: Codes
    since: Array
    celsius: Array
    known: Flags
    playing: Flags
    carried: bool

    def take(self, rows: Any) -> Histories:
        """Return the histories of some readings, without the pasts of others."""
        kept, past = np.unique(self.past[rows], return_inverse=True)
        table = ("step_minutes", "before", "after", "duty", "first", "initial", "slope")
        own = ("piece", "since", "celsius", "known", "playing")
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
        cold : array of shape (n, j), or (n, 1) where no course is known
            ``A - 20`` [°C].
        rise : array of shape (n, j)
            ``E/14 - 1``.
        begun : array of shape (n, j), or None
            What one more unit of warmth at the start adds to `rise`, where nothing is stated.

        Notes
        -----
        Within a piece the air ``T`` changes evenly, by ``c`` a minute, and with the time constant
        ``tau`` of playing or resting, ``u`` minutes after the step before it::

            A - T        = (A0 - T0 + c tau) exp(-u/tau) - c tau
            E - (34 - T) = (E0 - 34 + T0 - c tau) exp(-u/tau) + c tau      while playing
            E            = E0 exp(-u/tau)                                   at rest

        ``T`` is the reading's own temperature, so that in constant air ``A = T`` and
        ``E = w (34 - T)`` whatever the knots.
        """
        here = (self.past, slice(None), self.piece)
        at_steps = np.concatenate([self.first[:, None], self.after], axis=1)[:, None]
        air, excess = self._at_steps(warm, cool)
        room = (BREATH_CELSIUS - self.celsius)[:, None]
        scale = np.where(self.known[:, None], 1.0, room)
        rested = np.flatnonzero(~self.playing)
        kept = self._kept(warm, cool, rested)
        lag = self.slope[self.past, self.piece][:, None] * warm if self.carried else 0.0
        lacking = (excess - (BREATH_CELSIUS - at_steps))[here]
        rise = (room + scale * ((lacking - lag) * kept + lag)) / SPAN - 1.0
        if len(rested):
            left = excess[self.past[rested], :, self.piece[rested]]
            rise[rested] = left * kept[rested] * scale[rested] / SPAN - 1.0
        cold = (self.celsius - REFERENCE_CELSIUS)[:, None]
        if self.carried:
            if len(rested):
                lag[rested] *= cool / warm  # type: ignore[index]
            cold = cold + ((air - at_steps)[here] + lag) * kept - lag
        begun = self._begun(warm, cool)[here] * kept * scale if start else None
        return cold, rise, begun

    def _at_steps(self, warm: Array, cool: Array) -> tuple[Array, Array]:
        """Return A and E before the first step and after each, shape (pasts, j, steps + 1)."""
        first = self.first[:, None] + 0.0 * warm
        begun = (self.initial * (BREATH_CELSIUS - self.first))[:, None] + 0.0 * warm
        air, excess = states(self.step_minutes[:, None], self.after[:, None], self.duty[:, None],
                             warm, cool, first, begun, self.before[:, None])  # fmt: skip
        return (
            np.concatenate([first[..., None], air], axis=2),
            np.concatenate([begun[..., None], excess], axis=2),
        )

    def _kept(self, warm: Array, cool: Array, rested: Codes) -> Array:
        """Return what is left of a piece's beginning, shape (n, j).

        Few time constants differ, and most readings are played: exponentials are what costs.
        """
        times, which = np.unique(warm, return_inverse=True)
        kept = np.exp(-self.since[:, None] / times)[:, which]
        if len(rested):
            kept[rested] = np.exp(-self.since[rested, None] / cool)
        return kept

    def _begun(self, warm: Array, cool: Array) -> Array:
        """Return what is left of warmth at the start, for pasts of which none is stated."""
        begun = ((self.initial == 0.0) * (BREATH_CELSIUS - self.first) / SPAN)[:, None] + 0.0 * warm
        left, _ = states(self.step_minutes[:, None], 0.0, self.duty[:, None], warm, cool, begun)
        return np.concatenate([begun[..., None], left], axis=2)


def no_histories(carried: bool) -> Histories:
    """Return the histories of no reading, of others than which the course may be known."""
    table, row, number = np.zeros((0, 0)), np.zeros(0), np.zeros(0, dtype=np.intp)
    flag = np.zeros(0, dtype=bool)
    return Histories(
        table, table, table, table, row, row, table, number, number, row, row, flag, flag, carried
    )


def histories_of(rows: pd.DataFrame, carried: bool = False) -> Histories:
    """Return what the instruments went through, from the rows to fit.

    Parameters
    ----------
    rows : DataFrame
        With ``celsius, spells, minutes_into_spell, initial_warmth``, and where it is known
        ``course``: pairs of (minutes since playing began, °C), the temperature around the player,
        which changes evenly between them; empty where it is not known.
    carried : bool
        Whether the course is known of other readings, so that these must follow it as well.
    """
    spell, lengths_of = _numbered(rows["spells"].tolist(), lambda one: tuple(map(float, one)))
    courses = rows["course"].tolist() if "course" in rows else [()] * len(rows)
    course, course_of = _numbered(courses, lambda one: one)
    initial = rows["initial_warmth"].to_numpy(dtype=float)
    into = rows["minutes_into_spell"].to_numpy(dtype=float)
    began, warmths = pd.factorize(initial)
    keys = (spell * len(warmths) + began) * len(course_of) + course
    past, kept = pd.factorize(keys)
    of_spell, rest = np.divmod(kept, max(len(warmths) * len(course_of), 1))
    of_warmth, of_course = np.divmod(rest, max(len(course_of), 1))
    numbers = [
        (lengths_of[one], float(warmths[warm]), int(which))
        for one, warm, which in zip(of_spell, of_warmth, of_course, strict=True)
    ]
    tracks = [_track(lengths, course_of[which]) for lengths, _, which in numbers]
    piece, since = np.zeros(len(rows), dtype=np.intp), into
    carried = carried or any(course_of)
    if carried:
        piece, since = _pieces(tracks, past, into)
    else:
        piece = np.array([len(lengths) for lengths, _, _ in numbers], dtype=np.intp)[past]
    step_minutes, before, after, duty = _padded([track.steps for track in tracks])
    return Histories(
        step_minutes=step_minutes,
        before=before,
        after=after,
        duty=duty,
        first=np.array([track.first for track in tracks]),
        initial=np.array([warmth for _, warmth, _ in numbers]),
        slope=_padded([track.slope[None] for track in tracks])[0],
        past=past,
        piece=piece,
        since=since,
        celsius=rows["celsius"].to_numpy(dtype=float),
        known=np.array([bool(course_of[which]) for _, _, which in numbers], dtype=bool)[past],
        playing=np.array([len(one) % 2 == 0 for one, _, _ in numbers], dtype=bool)[past],
        carried=carried,
    )


def _numbered(values: list[Any], key: Callable[[Any], Any]) -> tuple[Codes, list[Any]]:
    """Return a number for each value, and the keys of the numbers in order of appearance.

    Readings of one rehearsal mostly share one object; only different ones are compared.
    """
    codes, objects = pd.factorize(np.fromiter(map(id, values), dtype=np.int64, count=len(values)))
    first = np.zeros(len(objects), dtype=np.intp)
    first[codes[::-1]] = np.arange(len(values))[::-1]
    numbers: dict[Any, int] = {}
    known = [numbers.setdefault(key(values[row]), len(numbers)) for row in first.tolist()]
    return np.array(known, dtype=np.intp)[codes], list(numbers)


@dataclass(frozen=True)
class _Track:
    """One past, as far as its course is known.

    ``steps`` holds minutes, air before, air after and duty, and ``ends`` the minute each ends;
    ``slope`` is how fast the air changes in the pieces, ``first`` the air before playing, and
    ``resumed`` the minute of the last switch.
    """

    steps: Array
    ends: Array
    slope: Array
    first: float
    resumed: float


def _track(spells: tuple[float, ...], course: Course) -> _Track:
    """Return the steps of a past, all that its course has: a reading uses those before it."""
    switches = np.concatenate([[0.0], np.cumsum(spells)])
    if not course:
        duty = np.arange(len(spells)) % 2 == 0
        flat = np.full(len(spells), UNIT)
        steps = np.stack([np.diff(switches), flat, flat, duty])
        return _Track(steps, switches[1:], np.zeros(len(switches)), UNIT, float(switches[-1]))
    knots, celsius = np.array(course, dtype=float).T
    times = np.unique(np.concatenate([switches, knots[knots > 0.0]]))
    around = np.interp(times, knots, celsius)
    minutes = np.diff(times)
    begun = np.minimum(np.searchsorted(switches, times[:-1], side="right") - 1, len(spells))
    steps = np.stack([minutes, around[:-1], around[1:], begun % 2 == 0])
    slope = np.append(np.diff(around) / minutes, 0.0)
    return _Track(steps, times[1:], slope, float(around[0]), float(switches[-1]))


def _pieces(tracks: list[_Track], past: Codes, into: Array) -> tuple[Codes, Array]:
    """Return the piece of each reading and the minutes since it began."""
    piece, since = np.empty(len(past), dtype=np.intp), np.empty(len(past))
    order = np.argsort(past, kind="stable")
    for here in np.split(order, np.flatnonzero(np.diff(past[order])) + 1):
        track = tracks[past[here[0]]]
        when = track.resumed + into[here]
        piece[here] = np.searchsorted(track.ends, when, side="right")
        since[here] = when - np.append(0.0, track.ends)[piece[here]]
    return piece, since


def _padded(tables: list[Array]) -> Array:
    """Return tables of several lengths as one, ended with steps of no length."""
    whole = np.zeros((len(tables[0]), len(tables), max(table.shape[1] for table in tables)))
    for number, table in enumerate(tables):
        whole[:, number, : table.shape[1]] = table
    return whole
