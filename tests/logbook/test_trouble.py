"""A full disk, a folder that may not be written, a file that goes away: said, and nothing lost.

"Nothing lost" means nothing that was answered ``saved``; samples of a thermometer wait meanwhile.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import textwrap
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from drift.capture.desk import Desk
from drift.capture.listener import Listener
from drift.errors import LogbookBusy, LogbookError
from drift.logbook.book import Logbook
from drift.logbook.data_package import write_folder
from drift.logbook.exchange import export_folder
from drift.logbook.file import in_words
from drift.logbook.folders import read_folder
from drift.logbook.records import Temperature
from tests.capture.test_listener import FakeClock, Said, sample
from tests.running_log import PATIENCE_SECONDS, Numbered, numbers, rows, say, start_log, wait_for

START = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)
WHO = ("--player", "Rowan", "--instrument", "Bb trumpet")


def at(minute: float) -> datetime:
    return START + timedelta(minutes=minute)


@pytest.fixture
def book(tmp_path):
    with Logbook(tmp_path / "band.logbook", writer="the test") as opened:
        yield opened


@pytest.fixture
def desk(book):
    found = Desk(book, "hall")
    found.start(at(0), player="Rowan", instrument="Bb trumpet")
    return found


def remarks(book):
    return [row["remark"] for row in book.rows("events") if row["event"] == "remark"]


def fill(desk, answers):
    """Type remarks until the first is refused; return the refusal."""
    for number in range(100_000):
        answer = desk.enter(f"remark {number} {'x' * 400}", at(1))
        if not answer.saved:
            return answer.text
        answers.append(answer.text)
    raise AssertionError("the disk was never full")


# -- a full disk ---------------------------------------------------------------------------------


def test_when_the_book_cannot_grow_it_says_so_and_goes_on_when_it_can(book, desk):
    (pages,) = book._file.execute("PRAGMA page_count").fetchone()
    book._file.execute(f"PRAGMA max_page_count = {pages + 20}")
    said = Said(*(sample(n / 60, 20 + n / 1000) for n in range(4000)))
    answers, told = [], []
    refusal = fill(desk, answers)
    assert refusal == (
        f"not saved: {book.path} cannot grow: database or disk is full; "
        "make space; what was kept stays kept, what was not can be entered again then"
    )
    with Listener(said, book, "hall", FakeClock(), told.append):
        said.emptied.wait()
        wait_for(lambda: told, "the listener's word")
        assert "samples wait until it can be written" in told[0]
        assert len(remarks(book)) == len(answers)
        assert book.damage() == []
        book._file.execute("PRAGMA max_page_count = 1000000")
        assert desk.enter("remark there is space again", at(2)).saved
        wait_for(lambda: len(list(book.rows("temperatures"))) == 4000, "keeping what waited")
    celsius = [row["celsius"] for row in book.rows("temperatures")]
    assert celsius == [20 + n / 1000 for n in range(4000)]
    assert len(remarks(book)) == len(answers) + 1
    assert book.damage() == []


@contextmanager
def small_disk(folder: Path, kilobytes: int):
    """Mount a small file system of memory, where this process may."""
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "tmpfs", str(folder)]
    try:
        subprocess.run(mount, check=True, capture_output=True)
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("only root can mount a small disk, on Linux")
    try:
        yield
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)


def test_a_disk_that_is_really_full(tmp_path):
    pytest.importorskip("tty", reason="pseudo-terminals need a POSIX system")
    disk = tmp_path / "disk"
    with small_disk(disk, 2048), Numbered() as thermometer:
        book, ballast = disk / "band.logbook", disk / "ballast"
        with start_log(book, *WHO, "--thermometer", thermometer.address) as log:
            assert say(log, "remark before") == "saved remark before"
            wait_for(lambda: rows(book, "temperatures"), "the first sample")
            free = os.statvfs(disk)
            ballast.write_bytes(b"\0" * (free.f_bavail - 2) * free.f_frsize)
            answers = []
            for number in range(1000):
                answers.append(say(log, f"remark {number} {'x' * 400}"))
                if answers[-1].startswith("not saved: "):
                    break
            assert "cannot grow" in answers[-1] or "could not be" in answers[-1]
            assert log.poll() is None
            heard = thermometer.count
            wait_for(lambda: thermometer.count > heard + 200, "hearing on without space")
            ballast.unlink()
            assert say(log, "remark after") == "saved remark after"
            wait_for(lambda: len(rows(book, "temperatures")) > heard + 100, "keeping what waited")
            assert say(log, "end") == "saved end of tonight"
            _, err = log.communicate(timeout=PATIENCE_SECONDS)
        assert log.returncode == 0
        assert b"samples wait until it can be written" in err
        assert b"the samples that waited are kept" in err
        with Logbook(book) as opened:
            assert opened.damage() == []
            assert len(remarks(opened)) == sum(a.startswith("saved") for a in answers) + 2
            lines = numbers([row["celsius"] for row in opened.rows("temperatures")])
        assert lines == list(range(lines[0], lines[0] + len(lines)))


def test_a_backup_without_space_leaves_nothing_half_made(tmp_path, book):
    book.keep_all([Temperature(at(n / 60), "hall", 20.0, source="stage") for n in range(10_000)])
    disk = tmp_path / "disk"
    with small_disk(disk, 256):
        with pytest.raises(LogbookError, match="cannot grow: database or disk is full"):
            book.backup(disk / "copy")
        assert list(disk.iterdir()) == []
    assert book.damage() == []


# -- a folder that may not be written ------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="folders there have no such permission")
def test_in_a_read_only_folder_a_book_can_be_read_and_the_log_says_why_not():
    """As an ordinary user: root may write everywhere, so root becomes nobody first."""
    script = textwrap.dedent("""
        import os, sys
        from drift.cli import main
        folder, spare = sys.argv[1:]
        # What the commands import lies where nobody may read, perhaps: import it first.
        main(["log", f"{spare}/band.logbook", "--rehearsal", "hall"])
        main(["check", f"{spare}/band.logbook"])
        main(["export", f"{spare}/band.logbook", f"{spare}/out"])
        print("--", flush=True)
        print("--", file=sys.stderr, flush=True)
        if os.geteuid() == 0:
            os.setgid(65534)
            os.setuid(65534)
        print(main(["check", f"{folder}/band.logbook"]))
        print(main(["log", f"{folder}/band.logbook", "--rehearsal", "hall"]))
        print(main(["log", f"{folder}/new.logbook", "--rehearsal", "hall"]))
    """)
    with tempfile.TemporaryDirectory() as name:
        folder, spare = Path(name) / "folder", Path(name) / "spare"
        folder.mkdir()
        spare.mkdir()
        with Logbook(folder / "band.logbook", writer="the test") as book:
            book.keep(Temperature(at(0), "hall", 20.0))
        Path(name).chmod(0o755)
        folder.chmod(0o555)
        done = subprocess.run(
            [sys.executable, "-c", script, str(folder), str(spare)],
            capture_output=True, stdin=subprocess.DEVNULL, timeout=PATIENCE_SECONDS, check=False,
            encoding="utf-8", env={**os.environ, "PYTHONUTF8": "1"},
        )  # fmt: skip
        folder.chmod(0o755)
        left = sorted(path.name for path in folder.iterdir())
    out = done.stdout.split("--\n")[1].splitlines()
    err = done.stderr.split("--\n")[1].splitlines()
    assert out[:2] == [
        f"{folder}/band.logbook: 1 rehearsal, 1 entry",
        "file intact; no suspicious values",
    ]
    assert out[2:] == ["0", "1", "1"]
    assert len(err) == 4
    for problem, remedy in (err[:2], err[2:]):
        assert problem.startswith(f"drift log: {folder} cannot be written: ")
        assert "that you may write there" in remedy
    assert left == ["band.logbook", "band.logbook.head", "band.logbook.writer"]


# -- a book that goes away -----------------------------------------------------------------------


needs_posix = pytest.mark.skipif(
    sys.platform == "win32", reason="a file that is open cannot be moved there"
)


@needs_posix
@pytest.mark.parametrize("moved", ["file", "folder"])
def test_a_book_that_is_moved_away_and_put_back(tmp_path, moved):
    folder = tmp_path / "stick"
    folder.mkdir()
    place = folder if moved == "folder" else folder / "band.logbook"
    elsewhere = tmp_path / "elsewhere"
    told = []
    said = Said(*(sample(n / 60, 20 + n / 1000) for n in range(300)))
    with Logbook(folder / "band.logbook", writer="the test") as book:
        desk = Desk(book, "hall")
        desk.start(at(0))
        assert desk.enter("remark one", at(1)).saved
        place.rename(elsewhere)
        refused = desk.enter("remark two", at(2))
        assert not refused.saved
        assert (
            "is gone or was replaced; put it back; nothing you enter now is saved" in refused.text
        )
        with Listener(said, book, "hall", FakeClock(), told.append):
            said.emptied.wait()
            wait_for(lambda: told, "the listener's word")
            elsewhere.rename(place)
            assert desk.enter("remark three", at(3)).saved
            wait_for(lambda: len(list(book.rows("temperatures"))) == 300, "keeping what waited")
    with Logbook(folder / "band.logbook") as again:
        assert again.damage() == []
        assert remarks(again) == ["one", "three"]
        assert len(list(again.rows("temperatures"))) == 300


@needs_posix
def test_a_stick_that_is_plugged_in_again_is_another_file_with_the_same_book(tmp_path):
    """The connection to the file that went away is dead; what came back is opened anew."""
    folder, told = tmp_path / "stick", []
    folder.mkdir()
    said = Said(*(sample(n / 60, 20 + n / 1000) for n in range(300)))
    with Logbook(folder / "band.logbook", writer="the test") as book:
        desk = Desk(book, "hall")
        desk.start(at(0), player="Rowan", instrument="Bb trumpet")
        assert desk.enter("F4 +1", at(1)).saved
        reader = Logbook(folder / "band.logbook")
        folder.rename(tmp_path / "pulled")
        with Listener(said, book, "hall", FakeClock(), told.append):
            assert "is gone or was replaced" in desk.enter("F4 +2", at(2)).text
            wait_for(lambda: told, "the listener's word")
            shutil.copytree(tmp_path / "pulled", folder)
            assert desk.enter("F4 +3", at(3)).text == "saved F4 +3.0 cents"
            wait_for(lambda: len(list(book.rows("temperatures"))) == 300, "keeping what waited")
        with reader:
            assert [row["cents"] for row in reader.rows("readings")] == [1.0, 3.0]
        with pytest.raises(LogbookBusy, match="is being written by the test"):
            Logbook(folder / "band.logbook", writer="a second one")
    with Logbook(folder / "band.logbook") as again:
        assert again.damage() == []
        assert [row["cents"] for row in again.rows("readings")] == [1.0, 3.0]
    with Logbook(tmp_path / "pulled" / "band.logbook") as pulled:
        assert [row["cents"] for row in pulled.rows("readings")] == [1.0]


def test_a_connection_that_is_dead_is_replaced(book, desk):
    """What a share that was cut off and came back leaves: the same file, a dead connection."""

    class Dead:
        in_transaction = False

        def execute(self, *_):
            raise sqlite3.OperationalError("disk I/O error")

        close = execute

    assert desk.enter("remark one", at(1)).saved
    book._file._sqlite.close()
    book._file._sqlite = Dead()
    refused = desk.enter("remark two", at(2))
    assert "could not be read or written: disk I/O error" in refused.text
    assert desk.enter("remark three", at(3)).saved
    assert remarks(book) == ["one", "three"]


@needs_posix
@pytest.mark.parametrize("moved", ["file", "folder"])
def test_an_older_copy_put_in_its_place_is_not_written(tmp_path, moved):
    """Neither beside the newer book's journal, which SQLite would mix into it, nor alone."""
    folder = tmp_path / "stick"
    folder.mkdir()
    with Logbook(folder / "band.logbook", writer="the test") as book:
        desk = Desk(book, "hall")
        desk.start(at(0))
        assert desk.enter("remark one", at(1)).saved
        book.backup(tmp_path / "older")
        assert desk.enter("remark two", at(2)).saved
        if moved == "file":
            book.path.rename(tmp_path / "elsewhere")
        else:
            folder.rename(tmp_path / "pulled")
            folder.mkdir()
        shutil.copyfile(tmp_path / "older", book.path)
        before = book.path.read_bytes()
        assert "was replaced" in desk.enter("remark three", at(3)).text
        assert book.path.read_bytes() == before


@needs_posix
def test_another_file_put_in_its_place_is_not_touched(tmp_path, book, desk):
    assert desk.enter("remark one", at(1)).saved
    book.path.rename(tmp_path / "elsewhere")
    book.path.write_text("somebody's words")
    assert "was replaced" in desk.enter("remark two", at(2)).text
    assert book.path.read_text() == "somebody's words"


@needs_posix
def test_an_entry_written_while_the_book_goes_away_is_not_answered_kept(tmp_path, book):
    """The file goes between the beginning and the end of the transaction."""

    def keep():
        with book._file.transaction():
            book._insert(Temperature(at(0), "hall", 20.0), None)
            book.path.rename(tmp_path / "elsewhere")

    with pytest.raises(LogbookError, match="is gone or was replaced"):
        keep()


# -- others at the same book ---------------------------------------------------------------------


@pytest.mark.slow
def test_export_check_and_backup_while_logging_goes_on(tmp_path):
    """Readers in processes of their own, all through a log of two thermometers and entries."""
    book = tmp_path / "band.logbook"
    fast = ("--thermometer", "simulated:?every=0.01&name=stage")
    also = ("--thermometer", "simulated:?every=0.01&name=case&seed=2")

    def drift(*words):
        return subprocess.run(
            [sys.executable, "-m", "drift", *map(str, words)],
            capture_output=True, timeout=PATIENCE_SECONDS, check=False, encoding="utf-8",
            env={**os.environ, "PYTHONUTF8": "1"},
        )  # fmt: skip

    with start_log(book, *WHO, *fast, *also) as log:
        answered = 0
        for number in range(3):
            for _ in range(10):
                assert say(log, f"F4 {answered / 10:+.1f}").startswith("saved")
                answered += 1
            for words in (
                ("export", book, tmp_path / f"out{number}"),
                ("check", book, "--backup", tmp_path / f"copy{number}"),
            ):
                done = drift(*words)
                assert done.returncode == 0, done.stderr
            assert "drift log, process" in done.stdout  # who writes now
            readings = read_folder(tmp_path / f"out{number}").of("readings")
            assert [reading.cents for reading in readings] == [n / 10 for n in range(answered)]
            with Logbook(tmp_path / f"copy{number}") as copy:
                assert copy.damage() == []
                assert len(list(copy.rows("readings"))) == answered
        busy = drift("check", book, "--repair")
        assert busy.returncode == 1
        assert f"is being written by drift log, process {log.pid}" in busy.stderr
        assert say(log, "end") == "saved end of tonight"
    sources = {row["source"] for row in rows(book, "temperatures")}
    assert sources == {"stage", "case"}
    with Logbook(book) as opened:
        write_folder(tmp_path / "all", export_folder(opened), title="all")
    assert len(read_folder(tmp_path / "all").of("temperatures")) == len(rows(book, "temperatures"))


@pytest.mark.parametrize(
    "error",
    [
        sqlite3.DatabaseError("malformed database schema (event) - near:\n    side TEXT"),
        UnicodeDecodeError("utf-8", b"\xff", 0, 1, "invalid start byte"),
        MemoryError(),
    ],
)
def test_what_sqlite_says_of_a_damaged_book_takes_one_line(error):
    with pytest.raises(LogbookError, match="is damaged: ") as refusal, in_words(Path("b")):
        raise error
    assert "\n" not in refusal.value.problem
