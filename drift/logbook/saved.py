"""What a logbook holds as tables: its blocks, column by column, each text kept once."""

from __future__ import annotations

from array import array
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.logbook.blocks import COLUMNS, Columns, uncollected
from drift.logbook.records import RECORDS, Column

__all__ = ["Saved", "microseconds_of", "saved_tables"]


class Saved(NamedTuple):
    """The rows of one table in the order they were saved.

    Attributes
    ----------
    frame : DataFrame
        The columns of the table, as `drift.logbook.rehearsals.Rehearsals` holds them.
    rehearsal_id : array of float, shape (n,)
        In the order in which rehearsals were first saved; NaN for none.
    undone : array of bool, shape (n,)
        Which of them were taken back.
    """

    frame: pd.DataFrame
    rehearsal_id: npt.NDArray[np.float64]
    undone: npt.NDArray[np.bool_]

    def standing(self) -> pd.DataFrame:
        """Return the rows that stand, by rehearsal and in order of time within each."""
        time = microseconds_of(self.frame["time"])
        none = np.isnan(self.rehearsal_id)  # sorts before all others, as NULL does in SQL
        order = np.lexsort((time, np.where(none, -1.0, self.rehearsal_id)))
        order = order[~self.undone[order]]
        if len(order) == len(time) and (order[1:] > order[:-1]).all():
            return self.frame
        return self.frame.take(order).reset_index(drop=True)


class _Texts:
    """A column of texts that grows: a number for each row, each text kept once."""

    def __init__(self) -> None:
        self._known: defaultdict[str | None, int] = defaultdict()
        self._known.default_factory = self._known.__len__
        self._codes = array("i")

    def extend(self, values: Sequence[Any]) -> None:
        """Add the values of some rows; a text that is missing is an empty one."""
        self._codes.extend(map(self._known.__getitem__, values))

    def take(self, rows: Any = slice(None)) -> pd.Series[Any]:
        """Return rows as texts."""
        known = pd.array([text or "" for text in self._known] or [""], dtype="str")
        codes = np.frombuffer(self._codes, dtype=np.int32) if self._codes else np.zeros(0, int)
        return pd.Series(known.take(codes[rows]))


class _Numbers:
    """A column of numbers that grows; one that is missing is NaN."""

    def __init__(self, kind: str) -> None:
        self._values: array[Any] = array(kind)

    def extend(self, values: Sequence[Any]) -> None:
        """Add the values of some rows, an array of the same kind."""
        self._values.extend(values)

    def take(self, rows: Any = slice(None)) -> Any:
        """Return rows as an array."""
        return np.array(self._values)[rows]


def saved_tables(blocks: Iterable[Mapping[str, Columns]]) -> dict[str, Saved]:
    """Return everything that is saved, by table, what was taken back too.

    Parameters
    ----------
    blocks : iterable of dict
        As `drift.logbook.digests.sound_blocks` yields them.
    """
    entry = {name: _Numbers("d" if name == "rehearsal_id" else "q") for name in _ENTRY}
    rehearsal = _Texts()
    undone = _Numbers("q")
    columns = {table: _growing(table) for table in RECORDS}
    with uncollected():
        for block in blocks:
            for name, growing in entry.items():
                growing.extend(block["entry"][name])
            rehearsal.extend(block["entry"]["name"])
            undone.extend(block["undo"]["undone_id"])
            for table, grown in columns.items():
                found = block[table.removesuffix("s")]
                if found["entry_id"]:
                    for name, column in grown.items():
                        column.extend(found[name])
    found_entries = {name: growing.take() for name, growing in entry.items()}
    return {
        table: _saved(table, grown, found_entries, rehearsal, undone.take())
        for table, grown in columns.items()
    }


_ENTRY = ("entry_id", "time_us", "rehearsal_id")


def _growing(table: str) -> dict[str, _Texts | _Numbers]:
    """Return a column of each name in the database, empty."""
    kinds = {column.name: column for column in RECORDS[table].columns}
    return {
        name: _Numbers("q") if name == "entry_id" else _of_kind(kinds[name])
        for name in COLUMNS[table.removesuffix("s")]
    }


def _of_kind(column: Column) -> _Texts | _Numbers:
    if column.is_number:
        return _Numbers("d")
    return _Numbers("q") if column.kind == "boolean" else _Texts()


def _saved(
    table: str,
    grown: Mapping[str, _Texts | _Numbers],
    entry: Mapping[str, Any],
    rehearsal: _Texts,
    undone: npt.NDArray[np.int64],
) -> Saved:
    number = grown["entry_id"].take()
    at = np.searchsorted(entry["entry_id"], number)
    series: dict[str, Any] = {}
    for column in RECORDS[table].columns:
        if column.name == "time":
            instants = entry["time_us"][at].astype("datetime64[us]")
            series["time"] = pd.Series(instants).dt.tz_localize("UTC")
        elif column.name == "rehearsal":
            series["rehearsal"] = rehearsal.take(at)
        else:
            values = grown[column.name].take()
            series[column.name] = values.astype(bool) if column.kind == "boolean" else values
    return Saved(pd.DataFrame(series), entry["rehearsal_id"][at], np.isin(number, undone))


def microseconds_of(times: pd.Series[Any]) -> npt.NDArray[np.int64]:
    """Return times in UTC as microseconds since 1970."""
    naive = times.dt.tz_localize(None).to_numpy(dtype="datetime64[us]")
    return np.asarray(naive.astype(np.int64))
