"""How far the notes of two players lie apart, leaving out readings whose names are in doubt."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from drift.regression.notices.season import Season

__all__ = ["Tendencies"]

Array = npt.NDArray[np.float64]
Rows = npt.NDArray[np.intp]
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Tendencies:
    """The pitch of each note of each player, and the readings that it is known from.

    Parameters
    ----------
    season : Season
    level, count : arrays of shape (groups,)
        Pitch of each note of each player [cents], and how many readings show it.
    residual : array of shape (n,)
        What is left of each reading [cents].
    group_of : dict of (int, int) to int
        The group of a unit and of a key, a note on a side.
    """

    season: Season
    level: Array
    count: Array
    residual: Array
    group_of: dict[tuple[int, int], int]

    @classmethod
    def of(cls, season: Season, intercepts: Array, residual: Array) -> Tendencies:
        """Return the tendencies of a season from the pitch of each reading's note [cents]."""
        level = np.zeros(int(season.group.max()) + 1)
        level[season.group] = intercepts
        keys = zip(season.unit.tolist(), season.key.tolist(), strict=True)
        group_of = dict(zip(keys, season.group.tolist(), strict=True))
        return cls(season, level, np.bincount(season.group).astype(float), residual, group_of)

    def apart(self, rows: Rows, units: tuple[int, int], chosen: Flags) -> Array:
        """Return how far the same notes lie with the other player [cents].

        Parameters
        ----------
        rows : array of shape (r,)
            Readings of both players.
        units : (int, int)
            The players.
        chosen : array of shape (r, m)
            Readings that may have changed hands, one choice in each column.

        Returns
        -------
        array of shape (r, m)
            0 for what is not chosen, and where a note is not known of both.

        Notes
        -----
        What is chosen does not count: readings under a wrong name draw both players' tendencies
        together, and with them the column that is to show it. Of ``n`` readings of a note ``m``
        are left out by ``level - sum(residual)/(n - m)``.
        """
        season = self.season
        mine = season.group[rows]
        other = np.where(season.unit[rows] == units[0], units[1], units[0])
        pairs = zip(other.tolist(), season.key[rows].tolist(), strict=True)
        there = np.array([self.group_of.get(pair, -1) for pair in pairs])
        groups = np.unique(np.concatenate([mine, there[there >= 0]]))
        level = self._without(groups, mine, rows, chosen)
        away = level[np.searchsorted(groups, there)] - level[np.searchsorted(groups, mine)]
        return np.nan_to_num(np.where(there[:, None] >= 0, away, 0.0)) * chosen

    def _without(self, groups: Rows, mine: Rows, rows: Rows, chosen: Flags) -> Array:
        """Return the pitch of groups without chosen readings; nan where none is left."""
        of_group = (mine == groups[:, None]).astype(float)
        left = self.count[groups, None] - of_group @ chosen
        taken = of_group @ (self.residual[rows][:, None] * chosen)
        left[left == 0.0] = np.nan
        return np.asarray(self.level[groups, None] - taken / left)
