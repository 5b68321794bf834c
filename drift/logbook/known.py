"""Which rows of tables a logbook does not hold yet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.logbook.blocks import Columns
from drift.logbook.records import RECORDS
from drift.logbook.saved import Saved, saved_tables
from drift.tables.frames import frame_of
from drift.tables.taking import TakenTables

__all__ = ["new_rows"]

Flags = npt.NDArray[np.bool_]


def new_rows(
    blocks: Iterable[Mapping[str, Columns]],
    taken: TakenTables,
    order: Mapping[str, npt.NDArray[np.int64]],
) -> dict[str, tuple[Flags, Flags]]:
    """Return for each table which rows that stand, and which that were taken back, are new.

    Parameters
    ----------
    blocks : iterable of dict
        All that a logbook holds, as `drift.logbook.digests.sound_blocks` yields it.
    taken : TakenTables
        The tables.
    order : mapping of str to array of int
        The rows of each table that stand, in the order in which they are to be saved.
    """
    saved = saved_tables(blocks)
    found: dict[str, tuple[Flags, Flags]] = {}
    for name, table in taken.tables.items():
        standing = frame_of(name, table.values).iloc[order[name]]
        back = taken.undone.get(name)
        undone = standing.iloc[:0] if back is None else frame_of(name, back.values)
        found[name] = _new(name, standing, undone, saved[name])
    return found


def _new(
    table: str, standing: pd.DataFrame, undone: pd.DataFrame, saved: Saved
) -> tuple[Flags, Flags]:
    """Return which rows that stand, and which that were taken back, are not among the saved.

    Each saved row makes one row known. A row that was taken back is known by one that was; one
    that stands by any that is left, so that what was imported and taken back stays taken back.
    """
    names = [column.name for column in RECORDS[table].columns]
    perhaps = saved.frame["time"].isin(standing["time"]) | saved.frame["time"].isin(undone["time"])
    there = saved.frame[perhaps]
    parts = [standing[names], undone[names], there[names]]
    group = pd.concat(parts).groupby(names, sort=False, dropna=False).ngroup().to_numpy()
    of_standing, of_undone, of_saved = np.split(group, np.cumsum([len(p) for p in parts[:2]]))
    count = int(group.max(initial=-1)) + 1
    all_saved = np.bincount(of_saved, minlength=count)
    saved_undone = np.bincount(of_saved[saved.undone[perhaps.to_numpy()]], minlength=count)
    known_undone = np.minimum(saved_undone, np.bincount(of_undone, minlength=count))
    left = all_saved - known_undone
    return (
        _earlier_alike(of_standing) >= left[of_standing],
        _earlier_alike(of_undone) >= saved_undone[of_undone],
    )


def _earlier_alike(group: npt.NDArray[np.integer]) -> Any:
    """Return how many rows of its own group stand before each row."""
    return pd.Series(group).groupby(group).cumcount().to_numpy()
