"""Digests of what a logbook holds, so that a damaged one does not answer.

SQLite keeps no checksums of its own: a flipped bit in a page is a reading that nobody made. The
history is therefore cut into blocks of `BLOCK` entry numbers, and each block has a SHA-256 digest
over its rows and over the digest of the block before. The last block grows with every
transaction; its digest is made anew each time. A check number of each entry tells, in a block
that does not hold, which entries still do.

Whoever writes many entries need do nothing: `append` is called before each transaction is
committed, reads back what was written, block by block, and adds the digests. Whoever reads
everything takes `sound_blocks`: each block's rows, column by column, after they were checked.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
import sys
import zlib
from array import array
from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from hashlib import sha256
from math import nan
from pathlib import Path
from typing import Any, NamedTuple

from drift.errors import LogbookError
from drift.logbook.records import RECORDS

__all__ = [
    "BLOCK",
    "COLUMNS",
    "UNREADABLE",
    "DamagedError",
    "Head",
    "append",
    "check_head",
    "each_entry",
    "head_path",
    "newest_head",
    "read_head",
    "sound_blocks",
    "write_head",
]

#: What Python raises for a damaged file: it may name what is no text, or ask for any memory.
UNREADABLE = (sqlite3.Error, UnicodeError, MemoryError)
#: How many entry numbers one digest covers.
BLOCK = 256
_CHECK_BYTES = 4
Rows = list[tuple[Any, ...]]
Columns = dict[str, Sequence[Any]]


class Head(NamedTuple):
    """Where the chain ends: the newest entry and the digest of all up to it."""

    last_entry: int
    digest: bytes


class DamagedError(LogbookError):
    """The rows of a logbook are not those that were saved."""


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
_LAST = "SELECT last_id, first_id, digest FROM digest ORDER BY last_id DESC LIMIT 1"
_BEFORE = "SELECT digest FROM digest WHERE last_id < ? ORDER BY last_id DESC LIMIT 1"
_BLOCKS = "SELECT first_id, max(last_id), digest FROM digest GROUP BY first_id ORDER BY first_id"


def _rows(sqlite: sqlite3.Connection, first: int, last: int) -> dict[str, Rows]:
    return {
        table: sqlite.execute(query, (first, last)).fetchall() for table, query in _QUERIES.items()
    }


def _columns(table: str, rows: Rows) -> Columns:
    """Return the columns of some rows, empty where there are none."""
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


def _some(columns: Mapping[str, Columns], last: int) -> dict[str, Columns]:
    """Return the part of each column that belongs to entries up to one."""
    part: dict[str, Columns] = {}
    for table, found in columns.items():
        count = bisect_right(found[COLUMNS[table][0]], last)
        part[table] = {name: values[:count] for name, values in found.items()}
    return part


def _bytes(name: str, values: Sequence[Any]) -> bytes:
    """Return one column in its only form, little-endian."""
    if name in _WHOLE or name in _NUMBERS:
        if not isinstance(values, array):
            raise TypeError(name)
        numbers = values[:]
        if sys.byteorder == "big":
            numbers.byteswap()
        return numbers.tobytes()
    texts = ["\1" if v is None else v for v in values] if None in values else values
    return b"%d:" % len(values) + "\0".join(texts).encode("utf-8", "surrogatepass")


def _digest(seed: bytes, block: Mapping[str, Columns]) -> bytes:
    """Return the digest of a block; an empty one where a value is of no kind its column takes."""
    try:
        digest = sha256(seed)
        for columns in block.values():
            for name, values in columns.items():
                digest.update(_bytes(name, values))
    except (TypeError, OverflowError):
        return b""
    return digest.digest()


def _checks(rows: Mapping[str, Rows]) -> bytes:
    """Return the check numbers of entries, by their numbers: CRC-32 of its rows in ASCII."""
    own: dict[int, list[Any]] = {row[0]: [row] for row in rows["entry"]}
    for table in rows:
        for row in rows[table] if table != "entry" else ():
            own.setdefault(row[0], []).append(row)
    checks = array("I", [zlib.crc32(ascii(own[number]).encode()) for number in sorted(own)])
    if sys.byteorder == "little":
        checks.byteswap()
    return checks.tobytes()


def append(sqlite: sqlite3.Connection) -> None:
    """Add the digests of all entries that have none yet, within a transaction.

    Parameters
    ----------
    sqlite : sqlite3.Connection
        In a transaction that wrote entries.

    Raises
    ------
    DamagedError
        When the block to which they would be added does not hold.

    Notes
    -----
    About 5 µs an entry where thousands are written at once.
    """
    (newest,) = sqlite.execute("SELECT coalesce(max(entry_id), 0) FROM entry").fetchone()
    last, _, known = sqlite.execute(_LAST).fetchone() or (0, 0, b"")
    while last < newest:
        first = last - last % BLOCK + 1
        end = min(newest, first + BLOCK - 1)
        (seed,) = sqlite.execute(_BEFORE, (first,)).fetchone() or (b"",)
        rows = _rows(sqlite, first, end)
        block = {table: _columns(table, found) for table, found in rows.items()}
        if not isinstance(seed, bytes):
            raise _damaged(f"the digest before entry {first} cannot be read")
        if last >= first:
            if _digest(seed, _some(block, last)) != known:
                raise DamagedError(
                    f"entries {first} to {last} are not as they were saved",
                    "keep the logbook as it is, and go on in a new one; see drift check",
                )
            rows = {table: [row for row in found if row[0] > last] for table, found in rows.items()}
        known = _digest(seed, block)
        values = (end, first, _checks(rows), known)
        sqlite.execute("INSERT INTO digest VALUES (?, ?, ?, ?)", values)
        last = end


def sound_blocks(
    sqlite: sqlite3.Connection, head: Head | None = None
) -> Iterator[dict[str, Columns]]:
    """Yield everything that is saved, a block at a time, each after it was checked.

    Parameters
    ----------
    sqlite : sqlite3.Connection
        The logbook, in the transaction in which it is to be read.
    head : Head, optional
        Where the chain ended, as known from outside the file.

    Yields
    ------
    dict of str to dict
        The columns (`COLUMNS`) of each table of the database by name, each a sequence in order
        of entry numbers. What was taken back is among them, and what took it back too.

    Raises
    ------
    DamagedError
        When any row is not as it was saved, or the newest are missing. Whoever answers from a
        book therefore takes all blocks before the answer.
    """
    seed, end = b"", 0
    for first, last, digest in sqlite.execute(_BLOCKS).fetchall():
        block = {
            table: _columns(table, found) for table, found in _rows(sqlite, first, last).items()
        }
        if first != end - end % BLOCK + 1 or _digest(seed, block) != digest:
            raise _damaged(f"entries {first} to {last} are not as they were saved")
        yield block
        seed, end = digest, last
    _check_end(sqlite, end, head)


def _check_end(sqlite: sqlite3.Connection, end: int, head: Head | None) -> None:
    for table in [name for name in COLUMNS if name != "session"]:
        (newest,) = sqlite.execute(f"SELECT max(entry_id) FROM {table}").fetchone()
        if newest is not None and newest > end:
            raise _damaged(f"entry {newest} has no digest")
    check_head(sqlite, head)


def check_head(sqlite: sqlite3.Connection, head: Head | None) -> None:
    """Check that the chain still goes to where it ended, as known from outside the file.

    Raises
    ------
    DamagedError
        When the newest entries are missing, or are others.
    """
    if head is None:
        return
    found = sqlite.execute("SELECT digest FROM digest WHERE last_id = ?", (head.last_entry,))
    if found.fetchone() != (head.digest,):
        (end,) = sqlite.execute("SELECT coalesce(max(last_id), 0) FROM digest").fetchone()
        missing = f"entries {end + 1} to {head.last_entry} are missing"
        raise DamagedError(
            missing if end < head.last_entry else "its newest entries were replaced",
            "put back the newest copy; where an older one is meant to be used, delete the file "
            "LOGBOOK.head beside it",
        )


def _damaged(what: str) -> DamagedError:
    return DamagedError(what, "see which entries hold: drift check LOGBOOK --salvage FOLDER")


def each_entry(
    sqlite: sqlite3.Connection, head: Head | None = None
) -> Iterator[tuple[int, dict[str, Rows] | None]]:
    """Look at each entry by itself, in a logbook that is perhaps damaged.

    Parameters
    ----------
    sqlite : sqlite3.Connection
        The logbook.
    head : Head, optional
        Where the chain ended, as known from outside the file.

    Yields
    ------
    number : int
        Of the entry, from 1 on.
    rows : dict of str to list, or None
        Its rows by table of the database, with the columns in `COLUMNS`; None where they are not
        as they were saved, are missing or cannot be read.
    """
    known: dict[int, bytes] = {}
    sound = dict(_in_blocks_that_hold(sqlite))
    for end, _, checks in _legible(sqlite, "SELECT last_id, first_id, checks FROM digest"):
        count = len(checks) // _CHECK_BYTES
        for place in range(count):
            known[end - count + 1 + place] = checks[_CHECK_BYTES * place :][:_CHECK_BYTES]
    for number in range(1, max([0, *known, *sound, head.last_entry if head else 0]) + 1):
        rows: dict[str, Rows] | None = sound.get(number)
        if rows is None:
            with contextlib.suppress(*UNREADABLE):
                rows = _rows(sqlite, number, number)
            if rows and _checks(rows) != known.get(number):
                rows = None
        yield number, rows


def _in_blocks_that_hold(sqlite: sqlite3.Connection) -> Iterator[tuple[int, dict[str, Rows]]]:
    """Yield the entries of each block with its digest, also where a check number was damaged.

    As they were read for the digest: where the file is damaged, seeking one of them by its number
    can find another row, or none.
    """
    seed = b""
    for first, last, digest in _legible(sqlite, _BLOCKS):
        with contextlib.suppress(*UNREADABLE):
            found = _rows(sqlite, first, last)
            block = {table: _columns(table, rows) for table, rows in found.items()}
            if digest and _digest(seed, block) == digest:
                yield from _by_entry(found).items()
        seed = digest


def _by_entry(found: Mapping[str, Rows]) -> dict[int, dict[str, Rows]]:
    """Return the rows of each entry by its number and their table."""
    entries: dict[int, dict[str, Rows]] = {
        row[0]: {table: [] for table in found} for row in found["entry"]
    }
    for table, rows in found.items():
        for row in rows:
            entries[row[0]][table].append(row)
    return entries


def _legible(sqlite: sqlite3.Connection, query: str) -> Iterator[tuple[Any, ...]]:
    """Yield the rows that can be read, up to the first that cannot."""
    with contextlib.suppress(*UNREADABLE):
        for row in sqlite.execute(query):
            if all(isinstance(value, int) for value in row[:2]) and isinstance(row[2], bytes):
                yield row


# -- the head, outside the database file ---------------------------------------------------------


def head_path(book: Path) -> Path:
    """Return where the head of a logbook lies: beside the file itself, whatever link names it."""
    file = Path(os.path.realpath(book))
    return file.with_name(file.name + ".head")


def newest_head(sqlite: sqlite3.Connection) -> Head | None:
    """Return where the chain in the database ends."""
    row = sqlite.execute(_LAST).fetchone()
    if row is None:
        return None
    if not isinstance(row[0], int) or not isinstance(row[2], bytes):
        raise _damaged("the last digest cannot be read")
    return Head(row[0], row[2])


def write_head(book: Path, head: Head) -> None:
    """Note where the chain ends, after it was committed.

    It is not forced to the disk: after a power failure it may be older than the book, which is no
    harm, and where it cannot be written the book is no less saved.
    """
    text = f"{head.last_entry:020d} {head.digest.hex()}\n"
    with contextlib.suppress(OSError):
        descriptor = os.open(head_path(book), os.O_WRONLY | os.O_CREAT, 0o666)
        try:
            os.write(descriptor, text.encode())
        finally:
            os.close(descriptor)


def read_head(book: Path) -> Head | None:
    """Return the head that was noted; None where there is none that can be read."""
    try:
        number, digest = head_path(book).read_text("ascii").split()
        return Head(int(number), bytes.fromhex(digest))
    except (OSError, ValueError):
        return None
