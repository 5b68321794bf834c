"""Tables into a logbook in bulk: one transaction, a few thousand entries at a time.

pandas, which takes as long to import as two million rows to read, is needed only where the book
holds rows already.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import chain, repeat
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from drift.logbook.blocks import BLOCK, COLUMNS, Entries, of_one_kind, uncollected
from drift.logbook.book import Logbook
from drift.logbook.connection import Connection
from drift.logbook.records import RECORDS
from drift.tables.columns import Packed, Texts, texts_at
from drift.tables.taking import TakenTables, Values

__all__ = ["Progress", "import_tables"]

#: Called with how much is done and how much there is to do, in rows.
Progress = Callable[[int, int], None]
Rows = npt.NDArray[np.int64]
#: Entries that are written, and covered by digests, before the next are made; whole blocks, so
#: that no block is read back.
_AT_ONCE = 64 * BLOCK


class _Part(NamedTuple):
    """Rows of one kind that get entry numbers in a row, in this order."""

    kind: str
    values: Values
    rows: Rows
    rehearsal_ids: Mapping[str, int]
    undone_us: Rows


def import_tables(book: Logbook, taken: TakenTables, *, progress: Progress | None = None) -> int:
    """Save everything that tables hold, all or nothing, and return how many rows were new.

    Parameters
    ----------
    book : Logbook
        Open for writing.
    taken : TakenTables
        What `drift.tables.taking.take_tables` returned, checked therefore.
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
        standing, undone = _not_saved_yet(book, taken)
        parts = [
            _part(file, name, taken.tables[name].values, rows) for name, rows in standing.items()
        ]
        taken_back = [
            _part(file, name, taken.undone[name].values, rows)._replace(
                undone_us=taken.undone[name].undone_us[rows]
            )
            for name, rows in undone.items()
        ]
        new = sum(len(part.rows) for part in (*parts, *taken_back))
        _write(file, book.last_entry + 1, parts, taken_back, _counted(progress, new))
    return new


def _counted(progress: Progress | None, rows: int) -> Callable[[int], None]:
    if progress is None:
        return lambda done: None
    return lambda done: progress(done, rows)


def _not_saved_yet(book: Logbook, taken: TakenTables) -> tuple[dict[str, Rows], dict[str, Rows]]:
    """Return the rows that stand, and those that were taken back, which a book does not hold."""
    standing = {name: table.in_order() for name, table in taken.tables.items()}
    undone = {name: np.arange(len(back.at)) for name, back in taken.undone.items()}
    if not book.last_entry:
        return standing, undone
    from drift.logbook.known import new_rows  # with pandas

    new = new_rows(book.sound_blocks(), taken, standing)
    return (
        {name: rows[new[name][0]] for name, rows in standing.items()},
        {name: rows[new[name][1]] for name, rows in undone.items()},
    )


def _part(file: Connection, table: str, values: Values, rows: Rows) -> _Part:
    ids: dict[str, int] = {}
    if "rehearsal" in values and len(rows):
        names = list(dict.fromkeys(texts_at(values["rehearsal"], rows)))
        known = dict(file.execute(_REHEARSALS).fetchall())
        file.insert_many("rehearsal", ("name",), ((name,) for name in names if name not in known))
        ids = dict(file.execute(_REHEARSALS).fetchall())
    return _Part(table.removesuffix("s"), values, rows, ids, rows[:0])


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
        begin, end = end, end + len(part.rows)
        for start, stop in _pieces(begin, end):
            piece = part.rows[start - begin : stop - begin]
            file.add_digests(_write_piece(file, part, start, piece))
            progress(stop - first)
    undone = sum(len(part.rows) for part in taken_back)
    _write_undo(file, range(end - undone, end), taken_back)


def _write_undo(file: Connection, undone: range, taken_back: list[_Part]) -> None:
    numbers = range(undone.stop, undone.stop + len(undone))
    times = chain.from_iterable(part.undone_us.tolist() for part in taken_back)
    ids = chain.from_iterable(_rehearsals(part, part.rows)[0] for part in taken_back)
    rows = zip(numbers, repeat("undo"), ids, times, strict=False)
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


def _write_piece(file: Connection, part: _Part, begin: int, rows: Rows) -> Entries:
    """Write rows of one kind with the numbers from one on, and return them as they were written."""
    ids, names = _rehearsals(part, rows)
    entry = {
        "entry_id": range(begin, begin + len(rows)),
        "kind": [part.kind] * len(rows),
        "rehearsal_id": ids,
        "name": names,
        "time_us": part.values["time"][rows].tolist(),
        "once": [None] * len(rows),
    }
    kinds = {column.name: column.kind for column in RECORDS[f"{part.kind}s"].columns}
    own = {"entry_id": entry["entry_id"]} | {
        name: _values(kinds[name], part.values[name], rows) for name in COLUMNS[part.kind][1:]
    }
    file.insert_many("entry", _ENTRY, zip(*(entry[name] for name in _ENTRY), strict=True))
    file.insert_many(part.kind, tuple(own), zip(*own.values(), strict=True))
    return of_one_kind(part.kind, entry, own)


def _rehearsals(part: _Part, rows: Rows) -> tuple[Sequence[int | None], Sequence[str | None]]:
    """Return the numbers and the names of the rehearsals of some rows."""
    if "rehearsal" not in part.values:
        return [None] * len(rows), [None] * len(rows)
    names = texts_at(part.values["rehearsal"], rows)
    return list(map(part.rehearsal_ids.__getitem__, names)), names


def _values(kind: str, column: Texts | Packed | npt.NDArray[Any], rows: Rows) -> Sequence[Any]:
    """Return the values of some rows as SQLite takes and gives them: what is missing is None."""
    if isinstance(column, Texts | Packed):
        return texts_at(column, rows)
    values = column[rows]
    if kind == "boolean":
        return list(map(int, values.tolist()))
    listed: list[float] = (values + 0.0).tolist()  # SQLite keeps no sign of a zero
    if kind == "whole":
        return [None if value != value else int(value) for value in listed]
    return [None if v != v else v for v in listed] if np.isnan(values).any() else listed
