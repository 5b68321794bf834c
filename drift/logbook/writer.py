"""One writer at a time for a logbook, on every system, let go when the process ends."""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path
from typing import Self

from drift.errors import LogbookBusy, LogbookError

__all__ = ["WriterLock", "writer_of"]


class WriterLock:
    """The right to write one logbook, held from ``__enter__`` to ``__exit__``.

    The lock is a SQLite file beside the logbook, held in a transaction that is never committed:
    the operating system lets it go when the process ends, however it ends, and readers of the
    logbook itself are never kept out.

    Parameters
    ----------
    book : Path
        The logbook.
    who : str
        What the second writer is told, such as ``drift log, process 4711``.
    """

    def __init__(self, book: Path, who: str) -> None:
        self._book = book
        self._path = lock_path(book)
        self._who = who
        self._connection: sqlite3.Connection | None = None

    def __enter__(self) -> Self:
        try:
            connection = sqlite3.connect(
                self._path, isolation_level=None, timeout=0.2, check_same_thread=False
            )
        except sqlite3.OperationalError as error:
            raise _not_writable(self._book, error) from None
        try:
            connection.execute("BEGIN IMMEDIATE")
            connection.execute("CREATE TABLE IF NOT EXISTS writer (who TEXT) STRICT")
            connection.execute("DELETE FROM writer")
            connection.execute("INSERT INTO writer VALUES (?)", (self._who,))
            connection.execute("COMMIT")
            connection.execute("BEGIN IMMEDIATE")
        except sqlite3.OperationalError as error:
            connection.close()
            if "locked" in str(error):
                who = writer_of(self._book) or "another program"
                raise LogbookBusy(
                    f"{self._book} is being written by {who}",
                    "end that one first, or use another logbook",
                ) from None
            raise _not_writable(self._book, error) from None
        except sqlite3.DatabaseError:
            connection.close()
            raise LogbookError(
                f"{self._path} is not a lock file of this program",
                "move it away; the program makes a new one",
            ) from None
        self._connection = connection
        return self

    def __exit__(self, *error: object) -> None:
        if self._connection is not None:
            self._connection.close()
            self._connection = None


def lock_path(book: Path) -> Path:
    """Return where the lock of a logbook lies: beside the file itself, whatever link names it."""
    file = Path(os.path.realpath(book))
    return file.with_name(file.name + ".writer")


def writer_of(book: Path) -> str | None:
    """Return who is writing a logbook now, or None when nobody is."""
    path = lock_path(book)
    if not path.exists():
        return None
    connection = sqlite3.connect(f"{path.absolute().as_uri()}?mode=rw", uri=True, timeout=0.0)
    try:
        connection.execute("BEGIN IMMEDIATE")
        return None
    except sqlite3.OperationalError as error:
        if "locked" not in str(error):
            return None
        row = connection.execute("SELECT who FROM writer").fetchone()
        return str(row[0]) if row else "another program"
    except sqlite3.DatabaseError:
        return None
    finally:
        connection.close()


def _not_writable(book: Path, error: Exception) -> LogbookError:
    return LogbookError(
        f"{book.parent or os.curdir} cannot be written: {error}",
        "check that the folder exists, that you may write there and that the disk has space",
    )
