"""Digests of what a logbook holds, so that a damaged one does not answer.

SQLite keeps no checksums of its own: a flipped bit in a page is a reading that nobody made. The
history is therefore cut into blocks of `BLOCK` entry numbers, and each block has a SHA-256 digest
over its rows and over the digest of the block before. The last block grows with every
transaction; its digest is made anew each time. A check number of each entry tells, in a block
that does not hold, which entries still do.

Whoever writes many entries need do nothing: `append` is called before each transaction is
committed, reads back what was written, block by block, and adds the digests; whoever still has
the rows in hand can give them, which saves reading them. Whoever reads
everything takes `sound_blocks`: each block's rows, column by column, after they were checked.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from drift.errors import LogbookError
from drift.logbook.blocks import (
    BLOCK,
    CHECK_BYTES,
    COLUMNS,
    Columns,
    Entries,
    Rows,
    checks_of,
    columns_of,
    digest_of,
    entries_of,
    part_of,
    rows_of,
)

__all__ = [
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
#: Blocks that are read with one query a table; more take no less time.
_AT_ONCE = 4


class Head(NamedTuple):
    """Where the chain ends: the newest entry and the digest of all up to it."""

    last_entry: int
    digest: bytes


class DamagedError(LogbookError):
    """The rows of a logbook are not those that were saved."""


_LAST = "SELECT last_id, first_id, digest FROM digest ORDER BY last_id DESC LIMIT 1"
_BEFORE = "SELECT digest FROM digest WHERE last_id < ? ORDER BY last_id DESC LIMIT 1"
_BLOCKS = "SELECT first_id, max(last_id), digest FROM digest GROUP BY first_id ORDER BY first_id"


def append(sqlite: sqlite3.Connection, written: Entries | None = None) -> None:
    """Add the digests of all entries that have none yet, within a transaction.

    Parameters
    ----------
    sqlite : sqlite3.Connection
        In a transaction that wrote entries.
    written : Entries, optional
        The newest of them, as far as they are in hand; without, all are read back.

    Raises
    ------
    DamagedError
        When the block to which they would be added does not hold.

    Notes
    -----
    About 4 µs an entry that is read back, where thousands are written at once; 1.5 µs in hand.
    """
    (newest,) = sqlite.execute("SELECT coalesce(max(entry_id), 0) FROM entry").fetchone()
    last, _, known = sqlite.execute(_LAST).fetchone() or (0, 0, b"")
    while last < newest:
        first = last - last % BLOCK + 1
        end = min(newest, first + _AT_ONCE * BLOCK - 1)
        (seed,) = sqlite.execute(_BEFORE, (first,)).fetchone() or (b"",)
        found = _in_hand(written, first) or entries_of(rows_of(sqlite, first, end), last + 1)
        if not isinstance(seed, bytes):
            raise _damaged(f"the digest before entry {first} cannot be read")
        if last >= first and digest_of(seed, part_of(found.columns, first, last)) != known:
            raise DamagedError(
                f"entries {first} to {last} are not as they were saved",
                "keep the logbook as it is, and go on in a new one; see drift check",
            )
        for begin in range(first, end + 1, BLOCK):
            stop = min(end, begin + BLOCK - 1)
            known = seed = digest_of(seed, part_of(found.columns, begin, stop))
            checks = found.checks_between(max(begin, last + 1), stop)
            values = (stop, begin, checks, known)
            sqlite.execute("INSERT INTO digest VALUES (?, ?, ?, ?)", values)
        last = end


def _in_hand(written: Entries | None, first: int) -> Entries | None:
    """Return what was written, where the first entry of a block is among it, else None."""
    return written if written and written.columns["entry"]["entry_id"][0] <= first else None


def sound_blocks(
    sqlite: sqlite3.Connection, head: Head | None = None
) -> Iterator[dict[str, Columns]]:
    """Yield everything that is saved, some blocks at a time, after they were checked.

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
    for run in _runs(sqlite.execute(_BLOCKS).fetchall()):
        columns: dict[str, Columns] = {}
        for first, last, digest in run:
            follows = first == end - end % BLOCK + 1
            if follows and not columns:
                columns = columns_of(rows_of(sqlite, first, run[-1][1]))
            if not follows or digest_of(seed, part_of(columns, first, last)) != digest:
                raise _damaged(f"entries {first} to {last} are not as they were saved")
            seed, end = digest, last
        yield columns
    _check_end(sqlite, end, head)


def _runs(blocks: Rows) -> Iterator[Rows]:
    """Yield blocks that follow each other, some at a time."""
    run: Rows = []
    for block in blocks:
        if run and (len(run) == _AT_ONCE or block[0] != run[-1][1] + 1):
            yield run
            run = []
        run.append(block)
    if run:
        yield run


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
        count = len(checks) // CHECK_BYTES
        for place in range(count):
            known[end - count + 1 + place] = checks[CHECK_BYTES * place :][:CHECK_BYTES]
    for number in range(1, max([0, *known, *sound, head.last_entry if head else 0]) + 1):
        rows: dict[str, Rows] | None = sound.get(number)
        if rows is None:
            with contextlib.suppress(*UNREADABLE):
                rows = rows_of(sqlite, number, number)
            if rows and checks_of(rows) != known.get(number):
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
            found = rows_of(sqlite, first, last)
            if digest and digest_of(seed, columns_of(found)) == digest:
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
