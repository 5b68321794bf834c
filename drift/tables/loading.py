"""The tables of any source as DataFrames."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import tzinfo

import pandas as pd

from drift.tables.checking import Conventions
from drift.tables.frames import frame_of
from drift.tables.taking import Source, Taken, TakenBack, TakenTables, take_tables
from drift.tables.understood import Understood

__all__ = ["Loaded", "load_tables", "loaded_of"]


@dataclass(frozen=True)
class Loaded:
    """What a source of tables holds.

    Attributes
    ----------
    frames : dict of str to DataFrame
        The tables by name, as `drift.logbook.rehearsals.Rehearsals` holds them.
    undone : dict of str to DataFrame
        The entries that were taken back, by table, each with its ``undone_time`` and its row
        ``at`` in the table of what was taken back.
    understood : tuple of Understood
        What was taken though it could have been meant otherwise, each to be mentioned once.
    zone : tzinfo or None
        In which the times of the readings were written, where that is one.
    """

    frames: dict[str, pd.DataFrame]
    undone: dict[str, pd.DataFrame]
    understood: tuple[Understood, ...] = ()
    zone: tzinfo | None = None


def load_tables(
    source: Source,
    how: Conventions | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Loaded:
    """Read the tables of a source.

    Parameters
    ----------
    source : Path, str or mapping of str to DataFrame
        A rehearsal folder (CSV or Parquet files, or partitioned data sets, called as the tables
        are), a spreadsheet, a single Parquet file of readings, or tables in memory.
    how : Conventions, optional
        The instruments, and how times without an offset are told.
    progress : callable, optional
        Called now and then with the number of rows that are checked and the number of all.

    Returns
    -------
    Loaded
        All of them, each value within its limits.

    Raises
    ------
    InputError
        When there is no such source, or a file cannot be read.
    TablesRefused
        With everything that is wrong; nothing is half taken.
    """
    return loaded_of(take_tables(source, how, progress))


def loaded_of(taken: TakenTables) -> Loaded:
    """Return tables that were taken as DataFrames."""
    return Loaded(
        {name: _frame(name, table) for name, table in taken.tables.items()},
        {name: _taken_back(name, entries) for name, entries in taken.undone.items()},
        taken.understood,
        taken.zone,
    )


def _frame(name: str, table: Taken) -> pd.DataFrame:
    frame, order = frame_of(name, table.values), table.in_order()
    if (order[1:] > order[:-1]).all():
        return frame
    return frame.iloc[order].reset_index(drop=True)


def _taken_back(name: str, entries: TakenBack) -> pd.DataFrame:
    times = pd.Series(entries.undone_us.astype("datetime64[us]")).dt.tz_localize("UTC")
    return frame_of(name, entries.values).assign(undone_time=times.array, at=entries.at)
