"""The rows of a logbook by blocks of entry numbers, and the bytes that a digest is made of."""

from __future__ import annotations

import gc
import sqlite3
import sys
import zlib
from array import array
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from hashlib import sha256
from math import nan
from typing import Any, NamedTuple

from drift.logbook.records import RECORDS

__all__ = [
    "BLOCK",
    "CHECK_BYTES",
    "COLUMNS",
    "Columns",
    "Entries",
    "Rows",
    "checks_of",
    "columns_of",
    "digest_of",
    "entries_of",
    "of_one_kind",
    "part_of",
    "rows_of",
    "uncollected",
]

#: How many entry numbers one digest covers.
BLOCK = 256
CHECK_BYTES = 4
Rows = list[tuple[Any, ...]]
Columns = dict[str, Sequence[Any]]


class Entries(NamedTuple):
    """Entries whose numbers follow each other.

    Attributes
    ----------
    columns : dict of str to dict
        By the table of the database.
    checks : bytes
        The check numbers of the entries from the place ``begins`` on.
    """

    columns: Mapping[str, Columns]
    checks: bytes
    begins: int = 0

    def checks_between(self, first: int, last: int) -> bytes:
        """Return the check numbers of entries from one number to another."""
        where = _between(self.columns["entry"]["entry_id"], first, last)
        begin, end = where.start - self.begins, where.stop - self.begins
        return self.checks[CHECK_BYTES * begin : CHECK_BYTES * end]


#: Columns that hold whole numbers, and those that hold numbers or nothing; all others hold text.
_WHOLE = ("entry_id", "time_us", "flagged", "already_warm", "undone_id", "start_id", "session_id")
_NUMBERS = {"rehearsal_id"} | {
    column.name for record in RECORDS.values() for column in record.columns if column.is_number
}
#: The columns of each table, the number of the entry first.
COLUMNS: dict[str, tuple[str, ...]] = {
    "entry": ("entry_id", "kind", "rehearsal_id", "name", "time_us", "once"),
    **{
        table.removesuffix("s"): (
            "entry_id",
            *(c.name for c in record.columns if c.name not in ("time", "rehearsal")),
        )
        for table, record in RECORDS.items()
    },
    "choice": ("entry_id", "what", "name"),
    "undo": ("entry_id", "undone_id"),
    "session": ("start_id", "session_id", "rehearsal_id"),
}


def _query(table: str) -> str:
    """Return the query for a block of rows, sought by number alone: no index can hide one."""
    number, names = COLUMNS[table][0], ", ".join(COLUMNS[table])
    source = f"{table} NOT INDEXED"
    if table == "entry":
        names = names.replace("rehearsal_id", "e.rehearsal_id")
        source = "entry e NOT INDEXED LEFT JOIN rehearsal r ON r.rehearsal_id = e.rehearsal_id"
    return f"SELECT {names} FROM {source} WHERE {number} BETWEEN ? AND ? ORDER BY {number}"


_QUERIES = {table: _query(table) for table in COLUMNS}


@contextmanager
def uncollected() -> Iterator[None]:
    """Leave Python's collector of cycles out while rows are made by the million.

    None of them is in a cycle, and it would look over them all again and again, which takes a
    third of the time of loading a logbook.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def rows_of(sqlite: sqlite3.Connection, first: int, last: int) -> dict[str, Rows]:
    """Return the rows of some entries by the table of the database, in order of their numbers."""
    return {
        table: sqlite.execute(query, (first, last)).fetchall() for table, query in _QUERIES.items()
    }


def columns_of(rows: Mapping[str, Rows]) -> dict[str, Columns]:
    """Return the columns of each table, empty where there are no rows."""
    return {table: _columns(table, found) if found else _NONE[table] for table, found in
            rows.items()}  # fmt: skip


def _columns(table: str, rows: Rows) -> Columns:
    names = COLUMNS[table]
    columns = zip(*rows, strict=True) if rows else [()] * len(names)
    return {name: _typed(name, values) for name, values in zip(names, columns, strict=True)}


def _typed(name: str, values: Sequence[Any]) -> Sequence[Any]:
    """Return numbers as an array, one that is missing as NaN; as they are where one is none."""
    try:
        if name in _WHOLE:
            return array("q", values)
        if name in _NUMBERS:
            return array(
                "d", [nan if v is None else v for v in values] if None in values else values
            )
    except (TypeError, OverflowError):
        pass
    return values


def entries_of(rows: Mapping[str, Rows], first: int) -> Entries:
    """Return entries from their rows, with the check numbers of those from a number on."""
    columns = columns_of(rows)
    begins = bisect_left(columns["entry"]["entry_id"], first)
    checked = {
        table: found[bisect_left(columns[table][COLUMNS[table][0]], first) :]
        for table, found in rows.items()
    }
    return Entries(columns, checks_of(checked), begins)


def of_one_kind(kind: str, entry: Columns, own: Columns) -> Entries:
    """Return entries of one kind as SQLite gives them back after they were written.

    Parameters
    ----------
    kind : str
        Their own table.
    entry, own : dict of str to sequence
        The columns of the table ``entry`` and of their own, in the order of `COLUMNS`, a row for
        each entry; no number is -0.0, of which SQLite keeps no sign.
    """
    columns = _NONE | {
        table: {name: _typed(name, values) for name, values in written.items()}
        for table, written in (("entry", entry), (kind, own))
    }
    return Entries(columns, _crc(_as_written(entry, own)))


def _as_written(*tables: Columns) -> Iterator[str]:
    """Return what `checks_of` takes of each entry; what all have in common is written once."""
    varying: list[Sequence[Any]] = []
    texts = []
    for columns in tables:
        places = []
        for values in columns.values():
            if 1 < len(values) == values.count(values[0]):
                places.append(ascii(values[0]).replace("%", "%%"))
            else:
                places.append("%a")
                varying.append(values)
        texts.append(f"({', '.join(places)})")
    template = f"[{', '.join(texts)}]"
    return map(template.__mod__, zip(*varying, strict=True))


def part_of(columns: Mapping[str, Columns], first: int, last: int) -> dict[str, Columns]:
    """Return the part of each column that belongs to entries from one number to another."""
    part: dict[str, Columns] = {}
    for table, found in columns.items():
        where = _between(found[COLUMNS[table][0]], first, last)
        if where.start == where.stop:
            part[table] = _NONE[table]
        else:
            part[table] = {name: _slice(name, values, where) for name, values in found.items()}
    return part


def _between(numbers: Sequence[int], first: int, last: int) -> slice:
    return slice(bisect_left(numbers, first), bisect_right(numbers, last))


def _slice(name: str, values: Sequence[Any], where: slice) -> Sequence[Any]:
    part = values[where]
    # A value of the wrong kind elsewhere kept the column from being numbers.
    return part if isinstance(part, array) else _typed(name, part)


def _bytes(name: str, values: Sequence[Any]) -> bytes:
    """Return one column in its only form, little-endian."""
    if name in _WHOLE or name in _NUMBERS:
        if not isinstance(values, array):
            raise TypeError(name)
        if sys.byteorder == "little":
            return values.tobytes()
        numbers = values[:]
        numbers.byteswap()
        return numbers.tobytes()
    texts = ["\1" if v is None else v for v in values] if None in values else values
    return b"%d:" % len(values) + "\0".join(texts).encode("utf-8", "surrogatepass")


_NONE = {table: _columns(table, []) for table in COLUMNS}
_NO_BYTES = {
    table: b"".join(_bytes(name, values) for name, values in columns.items())
    for table, columns in _NONE.items()
}


def digest_of(seed: bytes, block: Mapping[str, Columns]) -> bytes:
    """Return the digest of a block; an empty one where a value is of no kind its column takes."""
    try:
        digest = sha256(seed)
        for table, columns in block.items():
            if columns is _NONE[table]:
                digest.update(_NO_BYTES[table])
                continue
            for name, values in columns.items():
                digest.update(_bytes(name, values))
    except (TypeError, OverflowError):
        return b""
    return digest.digest()


def checks_of(rows: Mapping[str, Rows]) -> bytes:
    """Return the check numbers of entries, by their numbers: CRC-32 of its rows in ASCII."""
    own: dict[int, list[Any]] = {row[0]: [row] for row in rows["entry"]}
    for table, found in rows.items():
        for row in found if table != "entry" else ():
            if row[0] in own:
                own[row[0]].append(row)
            else:
                own[row[0]] = [row]
    return _crc(map(ascii, map(own.__getitem__, sorted(own))))


def _crc(written: Iterable[str]) -> bytes:
    checks = array("I", map(zlib.crc32, map(str.encode, written)))
    if sys.byteorder == "little":
        checks.byteswap()
    return checks.tobytes()
