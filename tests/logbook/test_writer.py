"""One writer at a time, whoever it is and however it ends."""

from __future__ import annotations

import subprocess
import sys
import textwrap

import pytest

from drift.errors import LogbookBusy, LogbookError
from drift.logbook.writer import WriterLock, lock_path, writer_of
from tests.running_log import PATIENCE_SECONDS


@pytest.fixture
def book(tmp_path):
    return tmp_path / "band.logbook"


def hold_elsewhere(book):
    """Hold the lock in another process until it is killed."""
    code = textwrap.dedent("""
        import sys, time
        from pathlib import Path
        from drift.logbook.writer import WriterLock
        with WriterLock(Path(sys.argv[1]), "somebody else"):
            print("held", flush=True)
            sys.stdin.read()
    """)
    process = subprocess.Popen(
        [sys.executable, "-c", code, str(book)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    assert process.stdout.readline().strip() == b"held"
    return process


def test_nobody_writes_a_book_that_nobody_opened(book):
    assert writer_of(book) is None
    with WriterLock(book, "drift log, process 1"):
        assert writer_of(book) == "drift log, process 1"
    assert writer_of(book) is None


def test_the_second_writer_is_told_who_writes(book):
    with (
        WriterLock(book, "drift page, process 7"),
        pytest.raises(LogbookBusy, match="is being written by drift page, process 7"),
        WriterLock(book, "drift log, process 8"),
    ):
        pass
    with WriterLock(book, "drift log, process 8"):
        assert writer_of(book) == "drift log, process 8"


def test_a_writer_in_another_process_that_is_killed_lets_go(book):
    process = hold_elsewhere(book)
    try:
        assert writer_of(book) == "somebody else"
        with pytest.raises(LogbookBusy, match="by somebody else"), WriterLock(book, "me"):
            pass
    finally:
        process.kill()
        process.communicate(timeout=PATIENCE_SECONDS)
    with WriterLock(book, "me"):
        assert writer_of(book) == "me"


def test_two_books_in_one_folder_have_two_writers(tmp_path):
    with WriterLock(tmp_path / "a", "one"), WriterLock(tmp_path / "b", "two"):
        assert (writer_of(tmp_path / "a"), writer_of(tmp_path / "b")) == ("one", "two")


def test_a_folder_that_is_not_there(tmp_path):
    with (
        pytest.raises(LogbookError, match="cannot be written: unable to open"),
        WriterLock(tmp_path / "no" / "band.logbook", "me"),
    ):
        pass


def test_a_file_in_the_place_of_the_lock(book):
    lock_path(book).write_text("something else, long enough to be no database\n" * 100)
    with pytest.raises(LogbookError, match="is not a lock file"), WriterLock(book, "me"):
        pass
    assert writer_of(book) is None
