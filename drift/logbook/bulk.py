"""Tables into a logbook in bulk: one transaction, a few thousand entries at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import chain, repeat
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.logbook.blocks import BLOCK, COLUMNS, uncollected
from drift.logbook.book import Logbook
from drift.logbook.connection import Connection
from drift.logbook.records import RECORDS
from drift.logbook.saved import Saved, microseconds_of, saved_tables
from drift.tables.loading import Loaded

__all__ = ["Progress", "import_tables"]

#: Called with how much is done and how much there is to do, in rows.
Progress = Callable[[int, int], None]
Flags = npt.NDArray[np.bool_]
#: Entries that are written, and covered by digests, before the next are made; whole blocks, so
#: that no block is read back twice.
_AT_ONCE = 64 * BLOCK


class _Part(NamedTuple):
    """Rows of one kind that get entry numbers in a row."""

    kind: str
    frame: pd.DataFrame
    rehearsal_ids: list[Any]
    time_us: npt.NDArray[np.int64]


def import_tables(book: Logbook, loaded: Loaded, *, progress: Progress | None = None) -> int:
    """Save everything that tables hold, all or nothing, and return how many rows were new.

    Parameters
    ----------
    book : Logbook
        Open for writing.
    loaded : Loaded
        What `drift.tables.loading.load_tables` returned, checked therefore.
    progress : callable, optional
        Called now and then with the number of rows that are saved and the number of all.

    Returns
    -------
    int
        The number of rows that the book did not hold. A row is known again by its values: it is
        in the book as often as in the tables then, whether it stands there or was taken back.

    Raises
    ------
    LogbookError
        When they could not be written, or what the book holds is damaged; nothing is saved then.
    """
    with book.in_bulk() as file, uncollected():
        standing, undone = _not_saved_yet(book, loaded)
        parts = [_part(file, name, frame) for name, frame in standing.items()]
        taken_back = [_part(file, name, frame) for name, frame in undone.items()]
        new = sum(len(part.frame) for part in (*parts, *taken_back))
        _write(file, book.last_entry + 1, parts, taken_back, _counted(progress, new))
    return new


def _counted(progress: Progress | None, rows: int) -> Callable[[int], None]:
    if progress is None:
        return lambda done: None
    return lambda done: progress(done, rows)


def _not_saved_yet(
    book: Logbook, loaded: Loaded
) -> tuple[dict[str, pd.DataFrame], dict[str, pd.DataFrame]]:
    """Return the rows that stand, and those that were taken back, which a book does not hold."""
    if not book.last_entry:
        return loaded.frames, loaded.undone
    saved = saved_tables(book.sound_blocks())
    standing: dict[str, pd.DataFrame] = {}
    undone: dict[str, pd.DataFrame] = {}
    for name, frame in loaded.frames.items():
        taken_back = loaded.undone.get(name, frame.iloc[:0])
        new, new_undone = _new_rows(name, frame, taken_back, saved[name])
        standing[name] = frame[new]
        if name in loaded.undone:
            undone[name] = taken_back[new_undone]
    return standing, undone


def _new_rows(
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


def _part(file: Connection, table: str, frame: pd.DataFrame) -> _Part:
    ids: list[Any] = [None] * len(frame)
    if "rehearsal" in frame and len(frame):
        codes, names = pd.factorize(frame["rehearsal"])
        known = dict(file.execute(_REHEARSALS).fetchall())
        file.insert_many("rehearsal", ("name",), ((name,) for name in names if name not in known))
        known = dict(file.execute(_REHEARSALS).fetchall())
        ids = np.array([known[name] for name in names])[codes].tolist()
    return _Part(table.removesuffix("s"), frame, ids, microseconds_of(frame["time"]))


def _write(
    file: Connection,
    first: int,
    parts: list[_Part],
    taken_back: list[_Part],
    progress: Callable[[int], None],
) -> None:
    """Write all parts, entry numbers rising from the first, then what takes the last ones back."""
    end = first
    for part in (*parts, *taken_back):
        begin, end = end, end + len(part.frame)
        for start, stop in _pieces(begin, end):
            _write_piece(file, part, start, slice(start - begin, stop - begin))
            file.add_digests()
            progress(stop - first)
    undone = sum(len(part.frame) for part in taken_back)
    _write_undo(file, range(end - undone, end), taken_back)


def _write_undo(file: Connection, undone: range, taken_back: list[_Part]) -> None:
    numbers = range(undone.stop, undone.stop + len(undone))
    times = [microseconds_of(part.frame["undone_time"]).tolist() for part in taken_back]
    ids = chain.from_iterable(part.rehearsal_ids for part in taken_back)
    rows = zip(numbers, repeat("undo"), ids, chain.from_iterable(times), strict=False)
    file.insert_many("entry", _ENTRY, rows)
    file.insert_many("undo", COLUMNS["undo"], zip(numbers, undone, strict=True))


_REHEARSALS = "SELECT name, rehearsal_id FROM rehearsal"
_ENTRY = ("entry_id", "kind", "rehearsal_id", "time_us")


def _pieces(first: int, end: int) -> Iterator[tuple[int, int]]:
    """Yield where to begin and to stop, so that each piece but the last fills its blocks."""
    while first < end:
        stop = min(end, (first - 1) // _AT_ONCE * _AT_ONCE + _AT_ONCE + 1)
        yield first, stop
        first = stop


def _write_piece(file: Connection, part: _Part, begin: int, rows: slice) -> None:
    numbers = range(begin, begin + rows.stop - rows.start)
    times = part.time_us[rows].tolist()
    entries = zip(numbers, repeat(part.kind), part.rehearsal_ids[rows], times, strict=False)
    file.insert_many("entry", _ENTRY, entries)
    names = COLUMNS[part.kind]
    lists = [_values(part.frame[name].iloc[rows]) for name in names[1:]]
    file.insert_many(part.kind, names, zip(numbers, *lists, strict=True))


def _values(column: pd.Series[Any]) -> list[Any]:
    """Return the values of a column as SQLite takes them: what is missing is None."""
    if column.dtype.kind == "b":
        return column.astype(int).tolist()
    if column.dtype.kind == "f" and column.hasnans:
        return [None if value != value else value for value in column.tolist()]
    return column.tolist()
