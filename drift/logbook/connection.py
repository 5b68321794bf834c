"""The open file of a logbook: one transaction at a time, found again after it was away."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import threading
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from itertools import chain, islice
from pathlib import Path
from typing import Any

from drift.errors import LogbookError
from drift.logbook import digests
from drift.logbook.blocks import Columns, Entries
from drift.logbook.file import check_kind, connect, identity, in_words, refuse_other_name
from drift.logbook.writer import WriterLock

__all__ = ["Connection"]

#: So few that their values stay below the number that any build of SQLite takes, 32 766.
_ROWS_AT_ONCE = 256
_READ_AT_ONCE = 1000
_NEWEST = "SELECT entry_id, kind, time_us FROM entry ORDER BY entry_id DESC LIMIT 1"
_HOLDS = "SELECT 1 FROM entry WHERE entry_id = ? AND kind = ? AND time_us = ?"


class Connection:
    """A logbook's file, open; threads take turns.

    Parameters
    ----------
    path : Path
        The file.
    writer : str or None
        Who writes; None for reading only.

    Raises
    ------
    LogbookError, LogbookBusy
        As `drift.logbook.book.Logbook` does.

    Notes
    -----
    A file on a stick that is pulled, or on a share that is cut off, can come back under its name
    although this connection to it is dead. Before each use the name is looked up; a
    file that is another one now, and that holds the entry kept last, is the book, and is opened
    anew. Any other file is not touched; least of all one that lies beside the journal of the book
    (``-wal``), for SQLite would take the journal for that file's own.
    """

    def __init__(self, path: Path, writer: str | None) -> None:
        check_kind(path)  # before a lock is left beside what is no file
        self.path = path
        self._lock = WriterLock(path, writer) if writer else None
        self._one_at_a_time = threading.RLock()
        if self._lock:
            self._lock.__enter__()
        try:
            refuse_other_name(path)
            if not path.exists():  # the head of an earlier book of this name is not its own
                digests.head_path(path).unlink(missing_ok=True)
            self._head = digests.read_head(path)  # before anything that is read of the book
            self._sqlite = connect(path, write=self._lock is not None)
            with in_words(path):
                if self._lock:
                    digests.check_head(self._sqlite, self._head)
                self._newest = self._sqlite.execute(_NEWEST).fetchone()
            self._identity, self._journal = identity(path), identity(_journal(path))
            self._written_journal: tuple[int, int] | None = None
            self._broken = self._settled = False
            self._refused = ""
        except BaseException:
            if self._lock:
                self._lock.__exit__(None, None, None)
            raise

    def close(self) -> None:
        """Close the file and let go of the right to write it."""
        if identity(self.path) != self._identity:
            self._settle()
        self._sqlite.close()
        if self._lock:
            self._lock.__exit__(None, None, None)

    @property
    def trouble(self) -> str:
        """Why nothing can be saved now, as far as it is known; empty where all is well."""
        with self._one_at_a_time:
            self._find_again()
            if identity(self.path) != self._identity:
                return _in_one_line(_gone(self.path))
            return self._refused

    @contextmanager
    def alone(self) -> Iterator[sqlite3.Connection]:
        """Give SQLite's own connection, no other thread using it, errors put in words."""
        with self._one_at_a_time:
            self._find_again()
            try:
                with in_words(self.path):
                    yield self._sqlite
            except LogbookError as refusal:
                self._broken |= "I/O error" in refusal.problem
                raise

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Keep all that is executed meanwhile, on the disk, or nothing of it."""
        if self._lock is None:
            raise LogbookError(f"{self.path} was opened for reading", "open it for writing")
        try:
            with self._whole_or_not():
                yield
        except LogbookError as refusal:
            self._refused = _in_one_line(refusal)
            raise
        self._refused = ""

    @contextmanager
    def _whole_or_not(self) -> Iterator[None]:
        with self.alone() as sqlite:
            self._check_in_place()
            sqlite.execute("BEGIN IMMEDIATE")
            try:
                yield
                digests.append(sqlite)
                newest = sqlite.execute(_NEWEST).fetchone()
                head = digests.newest_head(sqlite)
                sqlite.execute("COMMIT")
            except BaseException:
                if sqlite.in_transaction:
                    sqlite.execute("ROLLBACK")
                raise
            self._check_in_place()  # what went into a file that is gone was not kept
            self._newest = newest
            self._check_journal()
            if head:
                digests.write_head(self.path, head)

    def select(self, query: str, values: tuple[Any, ...] = ()) -> list[Any]:
        """Return rows that are kept, never those that another thread is still writing."""
        with self.alone() as sqlite:
            return sqlite.execute(query, values).fetchall()

    def each(self, query: str, values: tuple[Any, ...] = ()) -> Iterator[Any]:
        """Yield rows as they are read, so that they need not be held; for a connection of its own.

        What is written meanwhile through the same connection may be among them or not.
        """
        with self.alone() as sqlite:
            found = sqlite.execute(query, values)
        while rows := found.fetchmany(_READ_AT_ONCE):
            yield from rows

    def execute(self, statement: str, values: tuple[Any, ...] = ()) -> sqlite3.Cursor:
        """Carry out one statement of a transaction."""
        return self._sqlite.execute(statement, values)

    def insert_many(
        self, table: str, columns: Sequence[str], rows: Iterable[tuple[Any, ...]]
    ) -> None:
        """Insert rows, many with one statement, which takes half the time of one for each."""
        beginning = f"INSERT INTO {table} ({', '.join(columns)}) VALUES "
        places = f"({', '.join('?' * len(columns))})"
        waiting = iter(rows)
        while batch := list(islice(waiting, _ROWS_AT_ONCE)):
            statement = beginning + ", ".join([places] * len(batch))
            self._sqlite.execute(statement, list(chain.from_iterable(batch)))

    def add_digests(self, written: Entries) -> None:
        """Cover with digests what a transaction wrote so far, the newest of it in hand."""
        digests.append(self._sqlite, written)

    def sound_blocks(self) -> Iterator[dict[str, Columns]]:
        """Yield everything that is saved, each block checked (`digests.sound_blocks`)."""
        with self.alone() as sqlite:
            try:
                yield from digests.sound_blocks(sqlite, self._head)
            except digests.DamagedError as refusal:
                raise digests.DamagedError(
                    f"{self.path} is damaged: {refusal.problem}", refusal.remedy
                ) from None

    def _check_in_place(self) -> None:
        if identity(self.path) != self._identity:
            raise _gone(self.path)

    def _check_journal(self) -> None:
        """Bring what is in a journal that was deleted into the book, before it is acknowledged.

        A program that takes itself for the last user of a book deletes the journal by its name.
        SQLite goes on writing it, and all of that would be gone with the process.
        """
        here = identity(_journal(self.path))
        if self._written_journal is None or here == self._written_journal:
            self._written_journal = here
            return
        self._sqlite.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        self._sqlite.close()
        self._sqlite = connect(self.path, write=True)
        self._sqlite.execute("BEGIN IMMEDIATE")  # makes the journal that is written from now on
        self._sqlite.execute("COMMIT")
        self._identity, self._journal = identity(self.path), identity(_journal(self.path))
        self._written_journal = None
        if self._newest and not self._sqlite.execute(_HOLDS, self._newest).fetchone():
            raise LogbookError(
                f"the journal of {self.path} was deleted", "enter it again; nothing else is missing"
            )

    def _find_again(self) -> None:
        """Open the book anew where it is back in its place through another file."""
        here, journal = identity(self.path), identity(_journal(self.path))
        moved = here != self._identity
        if moved:
            self._settle()
        mixed = moved and journal is not None and self._journal in (None, journal)
        if here is None or mixed or not (moved or self._broken) or self._sqlite.in_transaction:
            return
        if not self._holds_newest():
            return
        if self._lock:
            self._lock.__exit__(None, None, None)
            self._lock.__enter__()  # on the folder as it is now
        again = connect(self.path, write=self._lock is not None)
        with contextlib.suppress(sqlite3.Error):
            self._sqlite.close()
        again.execute(_NEWEST)
        self._sqlite, self._broken, self._written_journal = again, False, None
        self._settled = False
        self._identity, self._journal = here, identity(_journal(self.path))

    def _settle(self) -> None:
        """Bring what the journal holds into the file, wherever it lies now, once.

        SQLite does not when it closes a file that is no longer in its place; under a new name it
        would be without its newest entries. The journal is left as it is, for a copy of the file
        that was made before.
        """
        if self._lock is None or self._settled or self._sqlite.in_transaction:
            return
        with contextlib.suppress(sqlite3.Error):  # a stick that was pulled takes nothing more
            self._sqlite.execute("PRAGMA wal_checkpoint(FULL)")
            self._settled = True

    def _holds_newest(self) -> bool:
        """Return whether the file at the path has the entry that was kept last."""
        if self._newest is None:
            return False
        try:
            other = connect(self.path, write=False)
        except LogbookError:
            return False
        with contextlib.closing(other), contextlib.suppress(sqlite3.Error):
            return other.execute(_HOLDS, self._newest).fetchone() is not None
        return False


def _gone(path: Path) -> LogbookError:
    return LogbookError(
        f"{path} is gone or was replaced", "put it back; nothing you enter now is saved"
    )


def _in_one_line(refusal: LogbookError) -> str:
    return f"{refusal.problem}; {refusal.remedy}"


def _journal(path: Path) -> Path:
    file = Path(os.path.realpath(path))  # SQLite follows a link before it names the journal
    return file.with_name(file.name + "-wal")
