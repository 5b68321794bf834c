"""One book and two programs: what was acknowledged stays, whoever else opens the book.

SQLite's locks are those of POSIX: they belong to the process, and closing *any* descriptor of a
file drops all of them. A program that opens a book beside SQLite while it holds a connection lets
the next command take itself for the last user and delete the journal that goes on being written.
"""

from __future__ import annotations

import contextlib
import random
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import httpx
import pytest

from drift.logbook.book import Logbook
from drift.logbook.records import Event
from drift.shipped import folder
from tests.page.visits import Program, entry
from tests.running_log import say, start_log

ENTRIES = 30
SEASON = str(folder("datasets/cold-hall-season"))
COMMANDS = {
    "fit": ["fit", "BOOK"],
    "check": ["check", "BOOK"],
    "backup": ["check", "BOOK", "--backup", "NEW.logbook"],
    "export": ["export", "BOOK", "NEW"],
    "report": ["report", "BOOK", "--out", "NEW.html"],
    "slides": ["slides", "BOOK", "--instrument", "double horn", "--celsius", "30"],
    "calibrate": ["calibrate", "BOOK", "--player", "Rowan", "--slide", "main"],
    "gig": ["gig", "BOOK", "--celsius", "4", "--from", "18:30", "--to", "21:00",
            "--instrument", "double horn"],
    "salvage": ["check", "BOOK", "--salvage", "NEW"],
    "summary": ["summary", "BOOK", "--out", "NEW.json"],
    "spreadsheets": ["export", "BOOK", "NEW", "--for-spreadsheets"],
    "import": ["import", "BOOK", "SEASON"],
    "log": ["log", "BOOK", "--rehearsal", "x"],
    "page": ["page", "BOOK", "--rehearsal", "x"],
}  # fmt: skip
#: What those say that refuse: two for want of readings, after they read it all, three because they
#: would be a second writer.
REFUSALS = {
    "calibrate": b"no note of Rowan was read at two positions",
    "summary": b"no section of 2026 has 3 players",
    **dict.fromkeys(("import", "log", "page"), b"is being written by drift"),
}


class Live:
    """A program that saves entries: a line in, whether it was acknowledged out."""

    def __init__(self, save: Callable[[str], bool], process: subprocess.Popen[bytes]) -> None:
        self.save, self.process = save, process


@contextlib.contextmanager
def live_log(book: Path) -> Iterator[Live]:
    log = start_log(book, "--player", "Rowan", "--instrument", "double horn")
    try:
        assert say(log, "remark begun").startswith("saved")  # it has the book before another comes
        yield Live(lambda line: not say(log, line).startswith("not"), log)
    finally:
        log.kill()
        log.communicate()


@contextlib.contextmanager
def live_page(book: Path) -> Iterator[Live]:
    page = Program(book, "--rehearsal", "tonight", "--player", "Rowan")
    page.start()

    def save(line: str) -> bool:
        answer = httpx.post(
            f"{page.address}/entries",
            json=entry(line, rehearsal="tonight"),
            headers={"Origin": page.address},
            timeout=20,
        ).json()
        return bool(answer.get("saved", answer.get("kept")))

    try:
        yield Live(save, page.process)
    finally:
        page.kill()


LIVE = {"log": live_log, "page": live_page}


def other(command: list[str], book: Path, place: Path, number: int) -> subprocess.Popen[bytes]:
    """Start another command on a book."""
    words = [
        word.replace("BOOK", str(book))
        .replace("NEW", str(place / f"new{number}"))
        .replace("SEASON", SEASON)
        for word in command
    ]
    return subprocess.Popen(
        [sys.executable, "-m", "drift", *words],
        stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
    )  # fmt: skip


def ended(command: str, process: subprocess.Popen[bytes]) -> None:
    """Wait for another command, and see that it did what it is there for."""
    said, _ = process.communicate(timeout=300)
    assert REFUSALS.get(command, b"") in said
    assert process.returncode == (command in REFUSALS), said.decode()


def saved_beside(
    live: Live, rng: random.Random, command: str, book: Path, rounds: int
) -> list[float]:
    """Return what was acknowledged while another command ran at random moments."""
    acknowledged: list[float] = []
    for number in range(rounds):
        meanwhile = other(COMMANDS[command], book, book.parent, number)
        wait = rng.randrange(ENTRIES)
        for place in range(ENTRIES):
            cents = len(acknowledged) / 10.0
            assert live.save(f"F4 {cents:.1f} F")
            acknowledged.append(cents)
            if place == wait:
                ended(command, meanwhile)
    return acknowledged


def found(book: Path) -> list[float]:
    with Logbook(book) as opened:
        assert opened.damage() == []
        entries = sorted(opened.rows("readings", rehearsal="tonight"), key=lambda r: r["entry_id"])
        return [row["cents"] for row in entries]


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """A book with a season in it, so that every command has something to answer."""
    path = tmp_path / "band.logbook"
    subprocess.run(
        [sys.executable, "-m", "drift", "import", str(path), SEASON],
        check=True, stdout=subprocess.DEVNULL,
    )  # fmt: skip
    return path


QUICK = [("page", "fit"), ("log", "fit")]
MATRIX = [
    pytest.param(kind, command, rounds, marks=() if quick else pytest.mark.slow)
    for kind in LIVE
    for command in COMMANDS
    for rounds, quick in ((1, (kind, command) in QUICK), (10, False))
    if quick or rounds > 1
]


@pytest.mark.parametrize(("kind", "command", "rounds"), MATRIX)
def test_what_was_acknowledged_is_found(kind, command, rounds, book):
    rng = random.Random(f"{kind} {command} {rounds}")
    with LIVE[kind](book) as live:
        kept = saved_beside(live, rng, command, book, rounds)
        live.process.kill()
    here = found(book)
    print(f"\n| {command} | {kind} | {rounds} | {len(kept)} | {len(here)} |")  # shown with -s
    assert here == kept


@pytest.mark.slow
def test_a_foreign_reader_and_a_copy_take_nothing_away(book, tmp_path):
    with live_page(book) as live:
        kept = []
        for number in range(40):
            assert live.save(f"F4 {number / 10:.1f} F")
            kept.append(number / 10)
            if number % 10 == 3:
                foreign = "import sqlite3, sys; c = sqlite3.connect(sys.argv[1]);"
                foreign += "c.execute('SELECT count(*) FROM entry').fetchone(); c.close()"
                subprocess.run([sys.executable, "-c", foreign, str(book)], check=True)
            if number % 10 == 7:
                shutil.copyfile(book, tmp_path / f"copy{number}")
        live.process.kill()
    assert found(book) == kept


@pytest.mark.slow
def test_a_second_page_is_refused_also_through_a_link(book, tmp_path):
    link = tmp_path / "elsewhere" / "link.logbook"
    link.parent.mkdir()
    link.symlink_to(book)
    with live_page(book) as live:
        assert live.save("F4 +1 F")
        for name in (book, link):
            second = subprocess.run(
                [sys.executable, "-m", "drift", "log", str(name), "--rehearsal", "x"],
                input=b"", capture_output=True,
            )  # fmt: skip
            assert second.returncode == 1
            assert b"is being written by drift page" in second.stderr


def test_a_book_with_two_names_on_the_disk_is_refused(book, tmp_path):
    (tmp_path / "twin.logbook").hardlink_to(book)
    done = subprocess.run(
        [sys.executable, "-m", "drift", "log", str(book), "--rehearsal", "x"],
        input=b"", capture_output=True,
    )  # fmt: skip
    assert done.returncode == 1
    assert b"has 2 names on the disk" in done.stderr


def test_a_journal_that_was_deleted_is_noticed_and_written_again(tmp_path):
    """What another program took for its own to delete is written anew before it is acknowledged."""
    path = tmp_path / "b.logbook"
    with Logbook(path, writer="test") as book:

        def remark(text: str) -> None:
            book.keep(Event(datetime(2026, 10, 3, tzinfo=UTC), "hall", "", "remark", remark=text))

        remark("one")
        with sqlite3.connect(f"file:{path}?mode=ro", uri=True) as reader:
            reader.execute("SELECT 1 FROM entry").fetchone()
        reader.close()
        path.with_name(path.name + "-wal").unlink()
        remark("two")
        remark("three")
    with Logbook(path) as again:
        assert again.damage() == []
        assert [row["remark"] for row in again.rows("events")] == ["one", "two", "three"]
