"""What was acknowledged is in the book, once, however the server ends."""

from __future__ import annotations

import html
import itertools
import os
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import httpx
import pytest

from drift.logbook.book import Logbook
from drift.page import Room
from tests.logbook.test_trouble import small_disk
from tests.page.visits import Program, Visitor, entry, served
from tests.running_log import PATIENCE_SECONDS


class Player(threading.Thread):
    """Types one reading after another, and sends each again until it is acknowledged."""

    def __init__(self, name: str, address: str, stop: threading.Event) -> None:
        super().__init__(name=name)
        self.address, self.stop = address, stop
        self.acknowledged: list[float] = []
        self.sent_again = 0

    def run(self) -> None:
        headers = {"Origin": self.address}
        for number in itertools.count():
            cents = round(-150 + number / 10, 1)
            typed = entry(f"F4 {cents} F", player=self.name)
            while not self._send(typed, headers):
                self.sent_again += 1
                time.sleep(0.05)
            self.acknowledged.append(cents)
            if self.stop.is_set():
                return

    def _send(self, typed: dict[str, object], headers: dict[str, str]) -> bool:
        try:
            answer = httpx.post(
                f"{self.address}/entries", json=typed, headers=headers, timeout=PATIENCE_SECONDS
            )
            return bool(answer.json()["saved"])
        except (httpx.HTTPError, ValueError):
            return False


@pytest.mark.slow
def test_killed_server_loses_nothing_and_doubles_nothing(
    program: Callable[..., Program], book: Path
) -> None:
    page = program("--rehearsal", "hall")
    stop = threading.Event()
    players = [Player(name, page.address, stop) for name in ("Ann", "Ben", "Cyd")]
    for player in players:
        player.start()
    for wait in (0.7, 0.4, 0.9):
        time.sleep(wait)
        page.kill()  # SIGKILL: nothing is flushed, nobody is told
        page.start()
    time.sleep(0.5)
    stop.set()
    for player in players:
        player.join(30)
        assert not player.is_alive()
    assert sum(player.sent_again for player in players) > 0, "no entry met a dead server"
    page.kill()
    with Logbook(book) as kept:
        assert kept.damage() == []
        rows = list(kept.rows("readings"))
        assert kept.interrupted() == ["hall"]
    for player in players:
        mine = Counter(row["cents"] for row in rows if row["player"] == player.name)
        assert mine == Counter(player.acknowledged)
        assert player.acknowledged, f"nothing of {player.name} was acknowledged"


def test_interrupted_rehearsal_goes_on_by_itself(
    program: Callable[..., Program], book: Path
) -> None:
    page = program("--rehearsal", "hall", "--player", "Rowan", "--instrument", "double horn")
    page.kill()
    page.options = ()  # started again in a hurry, without saying which rehearsal
    page.start()
    headers = {"Origin": page.address}
    answer = httpx.post(f"{page.address}/entries", json=entry("F4 +6 F"), headers=headers)
    assert answer.json()["saved"]
    assert "hall resumed where it was interrupted" in page.stop()


@pytest.mark.slow
def test_a_book_that_is_moved_or_replaced_is_told_and_nothing_is_saved(
    program: Callable[..., Program], book: Path
) -> None:
    page = program("--rehearsal", "hall", "--player", "Rowan", "--instrument", "double horn")
    headers = {"Origin": page.address}

    def send(cents: int) -> dict[str, object]:
        typed = entry(f"F4 +{cents} F")
        answer = httpx.post(
            f"{page.address}/entries", json=typed, headers=headers, timeout=PATIENCE_SECONDS
        )
        return dict(answer.json())

    def saved(answer: dict[str, object]) -> bool:
        return bool(answer["saved"])

    assert saved(send(1))
    book.rename(book.with_name("elsewhere"))
    refused = send(2)
    assert not saved(refused)
    assert "is gone or was replaced" in str(refused)
    book.write_text("somebody's words")
    refused = send(3)
    assert not saved(refused)
    assert "is gone or was replaced" in str(refused)
    book.unlink()
    book.with_name("elsewhere").rename(book)
    assert saved(send(4))
    page.kill()
    with Logbook(book) as kept:
        assert [row["cents"] for row in kept.rows("readings")] == [1.0, 4.0]


def shown(page: Program) -> str:
    """Return the page as a browser gets it, in words."""
    return html.unescape(httpx.get(page.address, timeout=PATIENCE_SECONDS).text)


@pytest.mark.parametrize("gone", ["moved", "replaced"])
def test_the_screen_says_that_the_book_is_gone_before_anybody_enters_anything(
    room: Room, visitor: Visitor, book: Path, gone: str
) -> None:
    told = "is gone or was replaced; put it back; nothing you enter now is saved"
    with (
        served(room) as address,
        httpx.stream("GET", f"{address}/events", timeout=PATIENCE_SECONDS) as stream,
    ):
        news = (line for line in stream.iter_lines() if '"notices":' in line)
        assert told not in next(news)
        book.rename(book.with_name("elsewhere"))
        if gone == "replaced":
            book.write_text("somebody's words")
        assert any(told in line for line in news)  # or the stream falls silent and times out
        assert told in html.unescape(visitor.get("/").text)
        book.unlink(missing_ok=True)
        book.with_name("elsewhere").rename(book)
        assert any(told not in line for line in news)
        assert told not in html.unescape(visitor.get("/").text)


def test_a_full_disk_is_told_on_the_screen_until_something_is_saved_again(
    room: Room, visitor: Visitor
) -> None:
    """SQLite's own refusal: its file may grow no further."""
    execute = room.book._file.execute
    (pages,) = execute("PRAGMA page_count").fetchone()
    execute(f"PRAGMA max_page_count = {pages}")
    told = "cannot grow: database or disk is full; make space"
    saved = list(
        itertools.takewhile(bool, (visitor_saved(visitor, number) for number in range(10_000)))
    )
    before = room.book.last_entry
    answer = visitor.post("/entries", json=entry("remark once more " + "x" * 400)).json()
    assert not answer["saved"]
    assert told in answer["text"]
    assert room.book.last_entry == before
    assert told in html.unescape(visitor.get("/").text)
    execute("PRAGMA max_page_count = 1000000")
    assert visitor.post("/entries", json=entry("F4 +1 F")).json()["saved"]
    assert "cannot grow" not in visitor.get("/").text
    rows = [row for row in room.book.rows("events") if row["event"] == "remark"]
    assert len(rows) == len(saved)
    assert room.book.damage() == []


def visitor_saved(visitor: Visitor, number: int) -> bool:
    typed = entry(f"remark {number} {'x' * 400}")
    return bool(visitor.post("/entries", json=typed).json()["saved"])


@pytest.mark.slow
def test_a_page_on_a_disk_that_is_really_full_saves_what_it_says(tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    with small_disk(disk, 2048):
        book, ballast = disk / "band.logbook", disk / "ballast"
        page = Program(book, "--rehearsal", "hall")
        page.start()
        headers = {"Origin": page.address}

        def send(line: str) -> dict[str, object]:
            typed = entry(line)
            answer = httpx.post(
                f"{page.address}/entries", json=typed, headers=headers, timeout=PATIENCE_SECONDS
            )
            return dict(answer.json())

        try:
            assert send("remark before")["saved"]
            free = os.statvfs(disk)
            ballast.write_bytes(b"\0" * (free.f_bavail - 2) * free.f_frsize)
            answers = []
            while not answers or answers[-1]["saved"]:
                answers.append(send(f"remark {len(answers)} {'x' * 400}"))
            assert "cannot grow: database or disk is full" in str(answers[-1]["text"])
            assert "cannot grow: database or disk is full" in shown(page)
            ballast.unlink()
            assert send("remark after")["saved"]
            assert "cannot grow" not in shown(page)
        finally:
            page.kill()
        with Logbook(book) as kept:
            assert kept.damage() == []
            remarks = [row["remark"] for row in kept.rows("events") if row["event"] == "remark"]
        answered = [str(number) for number, answer in enumerate(answers) if answer["saved"]]
        assert [text.split()[0] for text in remarks] == ["before", *answered, "after"]


@pytest.mark.slow
def test_a_damaged_book_is_not_shown(program: Callable[..., Program], book: Path) -> None:
    page = program("--rehearsal", "hall", "--player", "Rowan", "--instrument", "double horn")
    headers = {"Origin": page.address}
    httpx.post(f"{page.address}/entries", json=entry("F4 +6 F"), headers=headers)
    page.kill()
    with Logbook(book, writer="the test"):
        pass  # what was in the journal is in the file
    content = book.read_bytes()
    assert b"double horn" in content
    book.write_bytes(content.replace(b"double horn", b"double hern"))
    done = subprocess.run(
        [sys.executable, "-m", "drift", "page", str(book)],
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode == 1
    assert "are not as they were saved" in done.stderr
