"""A logbook that is open under one name and found under another: by a link, moved, renamed.

SQLite names the journal after the path. Under another name the newest entries are missing, and who
wrote there would have them written over when the first program ends.
"""

from __future__ import annotations

import os
import subprocess
import sys
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest

from drift.errors import LogbookBusy, LogbookError
from drift.logbook.book import Logbook
from drift.logbook.records import Event
from drift.logbook.salvage import salvage
from tests.running_log import PATIENCE_SECONDS, say, start_log

pytestmark = pytest.mark.skipif(
    sys.platform == "win32", reason="a file that is open cannot be moved there"
)
ELSEWHERE = "is open in another program under another name"


def remark(book: Logbook, text: str) -> None:
    book.keep(Event(datetime(2026, 10, 3, tzinfo=UTC), "hall", "", "remark", remark=text))


def remarks(path: Path) -> list[str]:
    with Logbook(path) as book:
        assert book.damage() == []
        return [row["remark"] for row in book.rows("events") if row["event"] == "remark"]


@contextmanager
def open_log(path: Path):
    """A ``drift log`` in another process, with one remark saved."""
    with start_log(path, "--player", "Rowan", "--instrument", "Bb trumpet") as log:
        try:
            assert say(log, "remark one") == "saved remark one"
            yield log
        finally:
            if log.poll() is None:
                log.kill()
                log.communicate()


@pytest.fixture
def path(tmp_path: Path) -> Path:
    folder = tmp_path / "stick"
    folder.mkdir()
    return folder / "band.logbook"


@pytest.mark.parametrize(
    "there", [pytest.param("stick/season.logbook", marks=pytest.mark.slow), "season.logbook"]
)
def test_a_book_that_was_renamed_while_open_is_not_opened_under_its_new_name(
    path, tmp_path, there, monkeypatch
):
    monkeypatch.setattr("drift.logbook.file.LOOKS", 10)
    with open_log(path):
        new = path.rename(tmp_path / there)
        before = new.read_bytes()
        with pytest.raises(LogbookBusy, match=ELSEWHERE):
            Logbook(new, writer="a second one")
        with pytest.raises(LogbookBusy, match=ELSEWHERE):
            Logbook(new)
        with pytest.raises(LogbookBusy, match=ELSEWHERE):
            salvage(new)
        assert new.read_bytes() == before


def test_a_renamed_book_that_this_process_has_open_is_not_opened_again(path, monkeypatch):
    monkeypatch.setattr("drift.logbook.file.LOOKS", 10)
    with Logbook(path, writer="the test") as book:
        remark(book, "one")
        new = path.rename(path.with_name("season.logbook"))
        with pytest.raises(LogbookBusy, match=ELSEWHERE):
            Logbook(new)


def test_what_was_saved_before_a_rename_is_found_under_the_new_name_afterwards(path):
    with open_log(path) as log:
        new = path.rename(path.with_name("season.logbook"))
        assert "is gone or was replaced" in say(log, "remark two")
        log.communicate(timeout=PATIENCE_SECONDS)  # the end of what is typed
    assert remarks(new) == ["one"]


def test_what_was_saved_is_in_the_renamed_file_as_soon_as_the_rename_is_noticed(path):
    """Also where the program is killed afterwards, which leaves a journal of the old name."""
    with open_log(path) as log:
        new = path.rename(path.with_name("season.logbook"))
        assert "is gone or was replaced" in say(log, "remark two")
        log.kill()
        log.wait(timeout=PATIENCE_SECONDS)
        assert remarks(new) == ["one"]


@pytest.mark.parametrize("kind", ["link to the book", "link to its folder", "moved folder"])
def test_one_file_by_another_path_has_one_writer(path, tmp_path, kind):
    with open_log(path) as log:
        other = tmp_path / "other"
        if kind == "moved folder":
            path.parent.rename(other)
        elif kind == "link to its folder":
            other.symlink_to(path.parent)
        else:
            other.mkdir()
            (other / path.name).symlink_to(path)
        with pytest.raises(LogbookBusy, match=f"is being written by drift log, process {log.pid}"):
            Logbook(other / path.name, writer="a second one")
        assert remarks(other / path.name) == ["one"]  # reading it is nobody's harm


def test_a_second_name_made_while_the_book_is_open_is_refused_by_either_name(path):
    with open_log(path):
        twin = path.with_name("twin.logbook")
        twin.hardlink_to(path)
        for name in (path, twin):
            with pytest.raises(LogbookError, match="has 2 names on the disk"):
                Logbook(name)


def test_a_pipe_that_is_refused_has_no_lock_beside_it(path):
    os.mkfifo(path)
    with pytest.raises(LogbookError, match="is not a file"):
        Logbook(path, writer="the test")
    assert list(path.parent.iterdir()) == [path]


def test_many_readers_that_open_a_book_at_once_do_not_keep_each_other_out(path):
    with Logbook(path, writer="the test") as book:
        remark(book, "one")
    code = """if True:
        import sys
        from pathlib import Path
        from drift.logbook.book import Logbook
        for _ in range(1000):
            with Logbook(Path(sys.argv[1])) as book:
                assert len(list(book.rows("events"))) == 1
    """
    command = [sys.executable, "-c", code, str(path)]
    readers = [subprocess.Popen(command, stderr=subprocess.PIPE) for _ in range(4)]
    said = [reader.communicate(timeout=PATIENCE_SECONDS)[1].decode() for reader in readers]
    assert said == [""] * 4


@pytest.mark.skipif(os.name != "posix" or os.geteuid() != 0, reason="root alone may mount")
def test_a_book_in_a_folder_with_two_paths_has_one_writer(path, tmp_path):
    other = tmp_path / "mounted"
    other.mkdir()
    mount = ["mount", "--bind", str(path.parent), str(other)]
    if subprocess.run(mount, capture_output=True).returncode:
        pytest.skip("this system lets nobody mount")
    try:
        with open_log(path), pytest.raises(LogbookBusy, match="is being written by drift log"):
            Logbook(other / path.name, writer="a second one")
    finally:
        subprocess.run(["umount", "-l", str(other)], check=True)
