"""The readings without a fault: a linear model, solved player by player.

``cents = note of a player + coefficients of the kind + of the player + rehearsal + day + side of a
day + noise``, all normal given ratios to the noise: those of day and rehearsal are summed over a
grid, that of sides is the likeliest; the noise variance is integrated. The players' own effects and
days are eliminated in closed form, so the cost is linear in players.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from drift.regression.notices.days import Days, days_at, sides_of_days
from drift.regression.notices.season import OWN_SD, Season, population_sd

__all__ = ["SCALE_CENTS", "Node", "Null", "Piece", "log_bayes_factor"]

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int64]

SCALE_CENTS = 3.0
"""All is in units of about the noise."""
DAY_RATIOS: tuple[float, ...] = (0.2, 0.33, 0.55, 0.9, 1.5)
REHEARSAL_RATIOS: tuple[float, ...] = (0.1, 0.3, 0.6, 1.0)
NO_REHEARSAL: tuple[float, ...] = (0.01,)
FIRST_DAY, FIRST_REHEARSAL = 0.5, 0.2
SIDE_RATIOS: tuple[float, ...] = (0.15, 0.3, 0.6, 1.0)
MANY = 20_000
"""With so many readings the ratios are known well, and a coarse grid does."""
DAY_SD, DAY_LOG_SD, REHEARSAL_SD = 1.7, 0.5, 1.0
"""What is believed of the sds of a day (log-normal) and a rehearsal (half-normal) [cents]."""
SIDE_SD, SIDE_LOG_SD = 1.8, 0.7
"""The same of a side of a day, log-normal: two of them are 2.6 cents apart [cents]."""
NOTE_PRECISION = 1e-6
SHRINKAGE = 20.0
"""A player's own scatter is shrunk with so many readings."""


@dataclass(frozen=True)
class Piece:
    """Columns of a fault on readings of one unit.

    Parameters
    ----------
    unit : int
    rows : array of shape (r,)
        Readings, numbers within the season: whole days of the unit, in order.
    values : array of shape (r, m)
        The columns [cents for one unit of the effect].
    """

    unit: int
    rows: npt.NDArray[np.intp]
    values: Array


@dataclass(frozen=True)
class _Local:
    """What one unit's model is made of, at any ratio."""

    low: int
    high: int
    weight: Array
    day: Codes
    part: Codes | None
    own: Array  # columns of this unit alone
    own_precision: Array
    shared: Array  # columns that other units have as well
    place: Codes  # of the shared columns among all
    y: Array


@dataclass(frozen=True)
class _Solved:
    """One unit at one ratio of day to noise."""

    days: Days
    inverse_root: Array
    y: Array  # P y of this unit alone
    own_y: Array
    own_shared: Array


@dataclass(frozen=True)
class Node:
    """The model at one pair of ratios.

    Parameters
    ----------
    units : tuple
        Every unit by itself.
    inverse : array of shape (q, q)
        Of the normal equations of what units share.
    root : array of shape (q, q)
        ``inverse = root' root``.
    shared : array of shape (q,)
        Its solution.
    left : float
        Weighted sum of squares that is left.
    log : float
        Log evidence up to a constant.
    """

    units: tuple[_Solved, ...]
    root: Array
    shared: Array
    left: float
    log: float


class Null:
    """The model of a season without a fault, or with those that were absorbed.

    Parameters
    ----------
    season : Season
    absorbed : sequence of (array of shape (n,), float)
        Columns of faults that were found, and the sds of their effects.
    shift : array of shape (n,), optional
        Added to the readings [cents].
    """

    def __init__(
        self,
        season: Season,
        absorbed: tuple[tuple[Array, float], ...] = (),
        shift: Array | None = None,
    ) -> None:
        self.season, self._absorbed = season, absorbed
        self._y = season.cents - season.mean + (0.0 if shift is None else shift)
        self._cuts = np.append(np.flatnonzero(np.diff(season.unit, prepend=-1)), len(season))
        self._kinds = int(season.kind.max()) + 1
        self.freedom = 0.0
        self.of_sides = SIDE_RATIOS[0]
        self.scatter = np.ones(len(season.players))
        self._prepare()
        self._with_scatter()
        self._prepare()

    @property
    def ratios(self) -> list[tuple[float, float]]:
        """The grid of ratios of day and of rehearsal to noise."""
        days = DAY_RATIOS[1:4] if len(self.season) > MANY else DAY_RATIOS
        shared = REHEARSAL_RATIOS[::2] if len(self.season) > MANY else REHEARSAL_RATIOS
        shared = NO_REHEARSAL if self.season.alone else shared
        return [(day, rehearsal) for day in days for rehearsal in shared]

    @cached_property
    def nodes(self) -> tuple[Node, ...]:
        """The model at every node of the grid."""
        return tuple(self._solve(*pair, self.of_sides) for pair in self.ratios)

    @cached_property
    def weights(self) -> Array:
        """Posterior probabilities of the nodes."""
        day, rehearsal = np.array(self.ratios).T * SCALE_CENTS
        prior = (np.log(day / DAY_SD) / DAY_LOG_SD) ** 2
        prior = prior + (0.0 if self.season.alone else (rehearsal / REHEARSAL_SD) ** 2)
        logs = np.array([node.log for node in self.nodes]) - 0.5 * prior
        weights = np.exp(logs - logs.max())
        return np.asarray(weights / weights.sum())

    @cached_property
    def best(self) -> Node:
        """The most probable node."""
        return self.nodes[int(self.weights.argmax())]

    def parts(self, node: Node, pieces: tuple[Piece, ...]) -> tuple[Array, Array]:
        """Return ``c'Py`` and ``c'Pc`` of the columns of a fault, arrays of shape (m,)."""
        width = pieces[0].values.shape[1]
        size, right = np.zeros(width), np.zeros(width)
        shared = np.zeros((width, len(node.shared)))
        for piece in pieces:
            through, own, projected, values = self._through(node, piece)
            size += (values * through).sum(axis=0) - (own**2).sum(axis=0)
            right += projected
            shared += self._shared(node, piece.unit, piece.rows, through, own)
        away = shared @ node.root.T
        return np.asarray(right - shared @ node.shared), np.asarray(size - (away**2).sum(axis=1))

    def block(self, node: Node, piece: Piece) -> tuple[Array, Array]:
        """Return ``C'Py`` of shape (m,) and ``C'PC`` of shape (m, m) of columns taken together."""
        through, own, projected, values = self._through(node, piece)
        shared = self._shared(node, piece.unit, piece.rows, through, own)
        away = shared @ node.root.T
        return projected - shared @ node.shared, values.T @ through - own.T @ own - away @ away.T

    def gain(self, piece: Piece, residual: Array) -> Array:
        """Return ``2 c'Py - c'Pc`` at the best node, roughly: as if only days were unknown.

        A day that is off as a whole is in the day's effect, and not in what is left of readings.
        """
        local, solved = self._locals[piece.unit], self.best.units[piece.unit]
        rows = _span(piece.rows, local.low)
        weight, left = local.weight[rows], residual[piece.rows]
        through = solved.days.without(piece.values, rows)
        found = piece.values * (2.0 * (weight * left)[:, None] - through)
        return np.asarray(found.sum(axis=0) / SCALE_CENTS**2)

    def residual(self) -> Array:
        """Return what is left of each reading at the best node [cents]."""
        found = np.zeros(len(self.season))
        for local, solved in zip(self._locals, self.best.units, strict=True):
            shared = self._project(local, solved, local.shared)
            rest = solved.y - shared @ self.best.shared[local.place]
            found[local.low : local.high] = rest / local.weight * SCALE_CENTS
        return found

    def intercepts(self) -> Array:
        """Return the pitch of each reading's note at the best node [cents]."""
        found = np.zeros(len(self.season))
        for local, solved in zip(self._locals, self.best.units, strict=True):
            own = solved.own_y - solved.own_shared @ self.best.shared[local.place]
            beta = solved.inverse_root.T @ own
            count = local.own.shape[1] - (0 if self.season.alone else len(_OWN))
            here = local.own[:, :count] @ beta[:count]
            found[local.low : local.high] = here * SCALE_CENTS
        return found

    def coefficients(self) -> Array:
        """Return the coefficients of each kind beside the expected ones, shape (kinds, 7)."""
        width = 7 * self._kinds
        return np.asarray(self.best.shared[:width].reshape(self._kinds, 7) * SCALE_CENTS)

    def _prepare(self) -> None:
        self._locals = tuple(self._local(*ends) for ends in pairwise(self._cuts.tolist()))
        groups = sum(one.own.shape[1] for one in self._locals)
        own = 0 if self.season.alone else len(_OWN) * len(self._locals)
        self.freedom = len(self.season) - groups + own

    def _with_scatter(self) -> None:
        """Let each player scatter as the residuals show, robustly; and sides of days."""
        if any(local.part is not None for local in self._locals):
            self.of_sides = max(SIDE_RATIOS, key=self._log_of_sides)
        self.nodes = (self._solve(FIRST_DAY, FIRST_REHEARSAL, self.of_sides),)
        self.weights = np.ones(1)
        if not self.season.alone:
            left = self.residual()
            every = max(_spread(left), 1e-6)
            for unit, (low, high) in enumerate(pairwise(self._cuts.tolist())):
                ratio = (_spread(left[low:high]) / every) ** 2
                count = high - low
                self.scatter[unit] = np.sqrt((SHRINKAGE + count * ratio) / (SHRINKAGE + count))
        for name in ("nodes", "weights", "best"):
            self.__dict__.pop(name, None)

    def _log_of_sides(self, ratio: float) -> float:
        """Return how likely it is that sides of a day lie so far apart, up to a constant."""
        believed = np.log(ratio * SCALE_CENTS / SIDE_SD) / SIDE_LOG_SD
        return self._solve(FIRST_DAY, FIRST_REHEARSAL, ratio).log - 0.5 * float(believed) ** 2

    def _local(self, low: int, high: int) -> _Local:
        season = self.season
        unit, kind = int(season.unit[low]), int(season.kind[low])
        group = np.unique(season.group[low:high], return_inverse=True)[1]
        own = np.eye(group.max() + 1)[group]
        precision = np.full(own.shape[1], NOTE_PRECISION)
        base = season.base[low:high]
        if not season.alone:
            own = np.column_stack([own, base[:, list(_OWN)]])
            precision = np.append(precision, (SCALE_CENTS / np.array(OWN_SD)[list(_OWN)]) ** 2)
        shared, place = [base], [np.arange(7) + 7 * kind]
        if self._absorbed:
            shared.append(np.column_stack([column[low:high] for column, _ in self._absorbed]))
            place.append(7 * self._kinds + np.arange(len(self._absorbed)))
        rehearsals, which = np.unique(season.rehearsal[low:high], return_inverse=True)
        if not season.alone:
            shared.append(np.eye(len(rehearsals))[which])
            place.append(7 * self._kinds + len(self._absorbed) + rehearsals)
        variance = self.scatter[unit] ** 2 + (season.own_sd[low:high] / SCALE_CENTS) ** 2
        day = season.day[low:high] - season.day[low]
        return _Local(
            low, high, 1.0 / variance, day, sides_of_days(day, season.side[low:high]), own,
            precision, np.column_stack(shared), np.concatenate(place).astype(np.int64),
            self._y[low:high] / SCALE_CENTS,
        )  # fmt: skip

    def _solve(self, day: float, rehearsal: float, of_sides: float) -> Node:
        size = 7 * self._kinds + len(self._absorbed)
        size += 0 if self.season.alone else len(self.season.rehearsals)
        normal, right = np.diag(self._precision(size, rehearsal)), np.zeros(size)
        log, squares, units = 0.0, 0.0, []
        for local in self._locals:
            solved, part, column, square, half_log = _solve_unit(local, day, of_sides)
            normal[np.ix_(local.place, local.place)] += part
            right[local.place] += column
            squares += square
            log -= half_log
            units.append(solved)
        root = np.linalg.inv(np.linalg.cholesky(normal))
        shared = root.T @ (root @ right)
        left = squares - float(right @ shared)
        log += float(np.log(np.diag(root)).sum())
        log -= 0.0 if self.season.alone else len(self.season.rehearsals) * np.log(rehearsal)
        log -= 0.5 * (self.freedom + 2.0) * np.log(left + 2.0)
        return Node(tuple(units), root, shared, left, float(log))

    def _precision(self, size: int, rehearsal: float) -> Array:
        sds = np.array([sd for _, sd in self._absorbed])
        known = np.append(np.tile(population_sd(), self._kinds), sds) / SCALE_CENTS
        return np.append(known**-2.0, np.full(size - len(known), rehearsal**-2.0))

    def _through(self, node: Node, piece: Piece) -> tuple[Array, Array, Array, Array]:
        local, solved = self._locals[piece.unit], node.units[piece.unit]
        rows, values = _span(piece.rows, local.low), piece.values / SCALE_CENTS
        through = solved.days.without(values, rows)
        own = solved.inverse_root @ (local.own[rows].T @ through)
        projected = through.T @ local.y[rows] - own.T @ solved.own_y
        return through, own, projected, values

    def _shared(
        self, node: Node, unit: int, rows: npt.NDArray[np.intp], through: Array, own: Array
    ) -> Array:
        local, solved = self._locals[unit], node.units[unit]
        found = np.zeros((through.shape[1], len(node.shared)))
        here = through.T @ local.shared[_span(rows, local.low)] - own.T @ solved.own_shared
        found[:, local.place] = here
        return found

    def _project(self, local: _Local, solved: _Solved, values: Array) -> Array:
        through = solved.days.without(values)
        own = solved.inverse_root @ (local.own.T @ through)
        back = solved.days.without(local.own)
        return through - back @ (solved.inverse_root.T @ own)


def _span(rows: npt.NDArray[np.intp], low: int) -> slice | npt.NDArray[np.intp]:
    """Return rows, in order, counted from the first of a unit: as a slice, which copies nothing."""
    first, last = int(rows[0]) - low, int(rows[-1]) - low
    return slice(first, last + 1) if last - first == len(rows) - 1 else rows - low


_OWN = tuple(place for place, sd in enumerate(OWN_SD) if sd > 0.0)


def _spread(values: Array) -> float:
    return float(1.4826 * np.median(np.abs(values)))


def _solve_unit(
    local: _Local, ratio: float, of_sides: float
) -> tuple[_Solved, Array, Array, float, float]:
    """Return one unit solved, and what it adds to the equations of what units share."""
    days = days_at(local.weight, local.day, local.part, ratio, of_sides)
    table: Array = np.column_stack([local.own, local.shared, local.y])
    through = days.without(table)
    products = table.T @ through
    k = local.own.shape[1]
    root = np.linalg.cholesky(products[:k, :k] + np.diag(local.own_precision))
    inverse_root = np.linalg.inv(root)
    own = inverse_root @ products[:k, k:]
    rest = products[k:, k:] - own.T @ own
    y = through[:, -1] - through[:, :k] @ (inverse_root.T @ own[:, -1])
    half_log = float(np.log(np.diag(root)).sum()) + days.half_log
    solved = _Solved(days, inverse_root, y, own[:, -1], own[:, :-1])
    return solved, rest[:-1, :-1], rest[:-1, -1], float(rest[-1, -1]), half_log


def log_bayes_factor(
    right: Array, size: Array, mean: Array, sd: Array, left: float, freedom: float
) -> Array:
    """Return log Bayes factors of effects N(mean, sd²) of columns, each against none.

    Parameters
    ----------
    right, size : arrays of shape (m,)
        ``c'Py`` and ``c'Pc``.
    mean, sd : arrays of shape (m,)
        Of the effect.
    left, freedom : float
        Sum of squares and degrees of freedom of the null model.

    Notes
    -----
    With ``h = c'Py``, ``A = c'Pc``, ``h1 = h - mean A`` and ``Q`` what is left::

        Q1 = Q - 2 mean h + mean² A - sd² h1²/(1 + sd² A)
        log BF = -log(1 + sd² A)/2 - (n + 2)/2 log[(Q1 + 2)/(Q + 2)]

    Examples
    --------
    >>> one = np.ones(1)
    >>> print(log_bayes_factor(0.0 * one, 9.0 * one, 0.0 * one, one, 10.0, 8.0).round(2))
    [-1.15]
    """
    shrunk = right - mean * size
    found = left - 2.0 * mean * right + mean**2 * size
    found = found - sd**2 * shrunk**2 / (1.0 + sd**2 * size)
    gain = np.log((np.maximum(found, 0.0) + 2.0) / (left + 2.0))
    return np.asarray(-0.5 * np.log1p(sd**2 * size) - 0.5 * (freedom + 2.0) * gain)
