"""The file of a logbook: opened, recognised, and brought to the newest schema."""

from __future__ import annotations

import contextlib
import os
import random
import sqlite3
import stat
import time
from collections.abc import Iterator
from pathlib import Path

from drift.errors import LogbookBusy, LogbookError
from drift.logbook.digests import UNREADABLE, newest_head, write_head
from drift.logbook.schema import APPLICATION_ID, MIGRATIONS, Step

__all__ = [
    "check_kind",
    "connect",
    "copy_to",
    "damage_of",
    "identity",
    "in_words",
    "is_logbook",
    "migrate",
    "refuse_other_name",
]

#: So often a logbook is asked for alone before it counts as open elsewhere, with a pause of up to
#: so long between: four seconds in all.
LOOKS = 200
PAUSE_SECONDS = 0.04


def connect(path: Path, *, write: bool, cut: bool = False) -> sqlite3.Connection:
    """Open a logbook, make it where it is to be written and is not there, and check it.

    With ``cut`` one is opened of which the end is missing; SQLite refuses that otherwise.

    Raises
    ------
    LogbookError
        When the file is no logbook, is damaged, was made by a newer version or cannot be written;
        when it is not a file, or has several names on the disk.
    """
    check_kind(path)
    with in_words(path):
        connection = sqlite3.connect(
            f"{path.absolute().as_uri()}?{_mode(path, write)}",
            uri=True,
            isolation_level=None,
            timeout=5.0,
            check_same_thread=False,
        )
        try:
            if cut:
                connection.execute("PRAGMA writable_schema = ON")
            prepare(connection, path, write=write)
        except BaseException:
            connection.close()
            raise
    return connection


def check_kind(path: Path) -> None:
    """Refuse what is not a file, and one that SQLite would give two journals.

    Raises
    ------
    LogbookError
        When it is a folder or a pipe, or has several names on the disk (hard links).
    """
    try:
        status = path.stat()
    except OSError:
        return  # SQLite says why
    if not stat.S_ISREG(status.st_mode):
        raise LogbookError(f"{path} is not a file", "give the name of a logbook")
    if status.st_nlink > 1:
        raise LogbookError(
            f"{path} has {status.st_nlink} names on the disk (hard links)",
            "copy it to a file of its own; two names of one logbook would have two journals",
        )


def refuse_other_name(path: Path) -> None:
    """Refuse a logbook that a program has open although no journal lies beside it.

    That is a file that was renamed or moved while it was open: its journal, with the newest
    entries, still has the old name, and when the program ends it is written over what was saved
    under the new one. SQLite's own lock shows it, which belongs to the file whatever its name:
    whoever has a logbook open shares it, so nobody else can have it alone.

    Raises
    ------
    LogbookBusy
        When it is open under another name.
    LogbookError
        When it is not a file, or has several names on the disk.
    """
    check_kind(path)
    mode = _mode(path, False)
    if not path.exists() or "immutable" in mode or _journal_beside(path):
        return
    with contextlib.suppress(*UNREADABLE):  # what is wrong else is said on opening
        for _ in range(LOOKS):  # others may open it and close it again all the while
            if not _held_elsewhere(f"{path.absolute().as_uri()}?{mode}") or _journal_beside(path):
                return  # where there is a journal now, another opened it by this name
            time.sleep(random.SystemRandom().uniform(0.0, PAUSE_SECONDS))
        raise LogbookBusy(
            f"{path} is open in another program under another name",
            "end that program, or give the logbook its old name and place back",
        )


def _held_elsewhere(address: str) -> bool:
    """Return whether a file cannot be had alone at this moment.

    It lets go at once: two who held on while they wait to be alone would wait for each other.
    """
    with contextlib.closing(sqlite3.connect(address, uri=True, timeout=0.0)) as probe:
        probe.execute("PRAGMA locking_mode = EXCLUSIVE")
        try:
            probe.execute("SELECT 1 FROM sqlite_schema").fetchone()
        except sqlite3.OperationalError as error:
            return "locked" in str(error)
    return False


def _journal_beside(path: Path) -> bool:
    file = Path(os.path.realpath(path))  # SQLite follows a link before it names the journal
    return file.with_name(file.name + "-wal").exists()


def _mode(path: Path, write: bool) -> str:
    if write:
        return "mode=rwc"
    # A book in a folder where nothing can be written has no room for the files that SQLite
    # shares between readers; without a writer's journal beside it, it can be read as it stands.
    journal = path.with_name(path.name + "-wal")
    if not os.access(path.absolute().parent, os.W_OK) and not journal.exists():
        return "mode=ro&immutable=1"
    return "mode=rw"


def is_logbook(path: Path | str) -> bool:
    """Return whether a file is a SQLite database.

    SQLite itself is asked. Its locks are those of POSIX, which belong to the process: opening the
    file beside it and closing it again would drop the locks of every connection of this process,
    and the next command would take itself for the last user of the book.
    """
    place = Path(path)
    if not place.is_file():  # a pipe would keep whoever opens it waiting
        return False
    try:
        connection = sqlite3.connect(f"{place.absolute().as_uri()}?{_mode(place, False)}", uri=True)
        try:
            connection.execute("PRAGMA schema_version").fetchone()
            return place.stat().st_size > 0
        finally:
            connection.close()
    except UNREADABLE as error:
        return "not a database" not in str(error)


def identity(path: Path) -> tuple[int, int] | None:
    """Return what tells this file from another put in its place; None when there is none."""
    try:
        status = os.stat(path)
    except OSError:
        return None
    return status.st_dev, status.st_ino


@contextlib.contextmanager
def in_words(path: Path) -> Iterator[None]:
    """Turn what SQLite raises into words for a person."""
    try:
        yield
    except UNREADABLE as error:
        words = " ".join(str(error).split()) or "malformed (a value takes more than all memory)"
        raise _explained(path, words) from None


def _explained(path: Path, words: str) -> LogbookError:
    if "locked" in words:
        return LogbookBusy(f"{path} is locked by another program", "try again")
    if "not a database" in words:
        return LogbookError(f"{path} is not a logbook", "check the name")
    if any(word in words for word in ("malformed", "no such", "decode", "out of range")):
        return LogbookError(
            f"{path} is damaged: {words}",
            f"see which entries hold: drift check {path} --salvage FOLDER",
        )
    if "full" in words:
        return LogbookError(
            f"{path} cannot grow: {words}",
            "make space; what was kept stays kept, what was not can be entered again then",
        )
    return LogbookError(
        f"{path} could not be read or written: {words}",
        "check the disk and your right to write there, then enter it again",
    )


def prepare(connection: sqlite3.Connection, path: Path, *, write: bool) -> None:
    """Check that an open database is a logbook, and make or update it where it is written."""
    connection.execute("PRAGMA foreign_keys = ON")
    version = int(connection.execute("PRAGMA user_version").fetchone()[0])
    mark = int(connection.execute("PRAGMA application_id").fetchone()[0])
    tables = int(connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0])
    if mark != APPLICATION_ID and (tables or not write):
        raise LogbookError(f"{path} is a database, but not a logbook", "check the name")
    if version > len(MIGRATIONS):
        raise LogbookError(
            f"{path} was written by a newer version (schema {version}, this one knows "
            f"{len(MIGRATIONS)})",
            "update the program",
        )
    if not write:
        if version < len(MIGRATIONS):
            raise LogbookError(
                f"{path} has the older schema {version}",
                f"run: drift check {path} --repair (it brings the book up to date)",
            )
        return
    if 0 < version < len(MIGRATIONS) and (found := damage_of(connection)):
        raise LogbookError(
            f"{path} is damaged: {found[0]}", "keep it as it is, and go on from the newest backup"
        )
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    migrate(connection, MIGRATIONS)


def migrate(connection: sqlite3.Connection, migrations: tuple[Step, ...]) -> None:
    """Bring a logbook to the newest schema, step by step, each step whole or not at all."""
    version = int(connection.execute("PRAGMA user_version").fetchone()[0])
    for step in range(version, len(migrations)):
        with _references_aside(connection):
            _migrate_once(connection, migrations[step], step + 1)


def _migrate_once(connection: sqlite3.Connection, step: Step, version: int) -> None:
    connection.execute("BEGIN IMMEDIATE")
    try:
        for statement in step:
            if isinstance(statement, str):
                connection.execute(statement)
            else:
                statement(connection)
        if loose := connection.execute("PRAGMA foreign_key_check").fetchone():
            raise sqlite3.IntegrityError(f"row {loose[1]} of {loose[0]} refers to nothing")
        connection.execute(f"PRAGMA user_version = {version}")
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


@contextlib.contextmanager
def _references_aside(connection: sqlite3.Connection) -> Iterator[None]:
    """Let a table to which others refer be made anew; SQLite drops none otherwise."""
    (wanted,) = connection.execute("PRAGMA foreign_keys").fetchone()
    connection.execute("PRAGMA foreign_keys = OFF")
    try:
        yield
    finally:
        connection.execute(f"PRAGMA foreign_keys = {wanted}")


def damage_of(connection: sqlite3.Connection) -> list[str]:
    """Return what SQLite finds wrong with a file, a line each."""
    try:
        found = [str(line) for (line,) in connection.execute("PRAGMA integrity_check")]
        loose = [
            f"{table}: row {row} refers to nothing"
            for table, row, *_ in connection.execute("PRAGMA foreign_key_check")
        ]
    except UNREADABLE as error:  # too damaged even to be looked through
        return [str(error)]
    return [line for line in found if line != "ok"] + loose


def copy_to(connection: sqlite3.Connection, target: Path) -> None:
    """Copy an open logbook to a file that appears only when it is complete.

    Raises
    ------
    LogbookError
        When the file is there already, or cannot be written.
    """
    if target.exists():
        raise LogbookError(f"{target} is already there", "choose a name that is free")
    part = target.with_name(target.name + ".part")
    with in_words(target):
        try:
            copy = sqlite3.connect(part)
            try:
                connection.backup(copy)
            finally:
                copy.close()
            part.replace(target)
            if head := newest_head(connection):
                write_head(target, head)
        finally:
            part.unlink(missing_ok=True)
