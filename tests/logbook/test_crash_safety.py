"""The program is killed at random moments, 200 times, and nothing that it answered is missing.

SIGKILL leaves a process no time to tidy up, as a dead battery does; what the disk itself loses
when power fails is beyond a test of this kind (the book is written through, `synchronous = FULL`).
"""

from __future__ import annotations

import os
import random
import select
import shutil
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from drift.logbook.book import Logbook
from tests.running_log import PATIENCE_SECONDS, Numbered, numbers, say, start_log

pytest.importorskip("pty", reason="pseudo-terminals and SIGKILL exist on POSIX systems only")

KILLS = 200
BOOKS = 4  # so that one program starts while another runs
KILLS_WHILE_MAKING_A_BOOK = 10
SEED = 20261003
WHO = ("--player", "Rowan", "--instrument", "Bb trumpet")
ENTRIES = 1500  # more than are answered before the kill


@dataclass
class Toll:
    """What became of one book over many kills."""

    book: Path
    kills: int = 0
    answered: list[str] = field(default_factory=list)
    samples: int = 0


@pytest.mark.slow
@pytest.mark.timeout(600)
def test_what_was_answered_kept_survives_200_kills(tmp_path: Path) -> None:
    with ThreadPoolExecutor(BOOKS) as pool:
        tolls = list(pool.map(_kill_over_and_over, [tmp_path] * BOOKS, range(BOOKS)))
    assert sum(toll.kills for toll in tolls) == KILLS
    # The kills fell into the middle of logging, not all before it began.
    assert sum(len(toll.answered) for toll in tolls) > KILLS
    assert sum(toll.samples for toll in tolls) > KILLS
    print(
        f"{KILLS} kills: {sum(len(toll.answered) for toll in tolls)} entries answered kept, "
        f"{sum(toll.samples for toll in tolls)} samples; none of the entries missing"
    )


def _kill_over_and_over(folder: Path, number: int) -> Toll:
    chance = random.Random(SEED + number)
    toll = Toll(folder / f"band{number}.logbook")
    with Logbook(toll.book, writer="test"):
        pass
    with Numbered() as thermometer:
        for session in range(KILLS // BOOKS):
            before = _last_entry(toll.book)
            answered = _log_and_kill(toll.book, thermometer, session, chance)
            toll.kills += 1
            toll.answered += answered
            _check(toll, folder / f"copy{number}.logbook", session, before, len(answered))
    _goes_on_and_ends(toll.book)
    return toll


def _last_entry(book: Path) -> int:
    with Logbook(book) as opened:
        return opened.last_entry


def _entry(session: int, number: int) -> tuple[str, str]:
    """Return what is typed, and the text by which it is found again in the book."""
    text = f"s{session}e{number}"
    return (f"F4 +6 ! {text}", text) if number % 2 else (f"remark {text}", text)


def _log_and_kill(
    book: Path, thermometer: Numbered, session: int, chance: random.Random
) -> list[str]:
    """Log as fast as it goes, kill at a random moment, return the texts answered ``saved``."""
    typed = [_entry(session, number) for number in range(ENTRIES)]
    log = start_log(book, *WHO, "--thermometer", thermometer.address)
    assert log.stdin is not None
    assert log.stdout is not None
    log.stdin.write("".join(f"{line}\n" for line, _ in typed).encode())
    log.stdin.flush()
    if chance.random() < 0.1:  # while it starts
        time.sleep(chance.uniform(0.0, 0.3))
        heard = b""
    else:
        select.select([log.stdout], [], [], PATIENCE_SECONDS)
        heard = _read_for(log.stdout.fileno(), chance.uniform(0.0, 0.3))
    log.kill()
    heard += log.stdout.read()
    _, said = log.communicate()
    whole_lines = heard.decode().split("\n")[:-1]
    assert all(line.startswith("saved ") for line in whole_lines), (whole_lines[-1:], said)
    return [text for _, text in typed[: len(whole_lines)]]


def _read_for(descriptor: int, seconds: float) -> bytes:
    heard, until = b"", time.monotonic() + seconds
    while (left := until - time.monotonic()) > 0:
        ready, _, _ = select.select([descriptor], [], [], left)
        if ready:
            heard += os.read(descriptor, 65536)
    return heard


def _check(toll: Toll, copy: Path, session: int, before: int, answered: int) -> None:
    """Look through a copy, so that the book itself is first opened by the program that goes on."""
    for suffix in ("", "-wal", "-shm"):
        Path(f"{copy}{suffix}").unlink(missing_ok=True)
    for suffix in ("", "-wal"):
        if Path(f"{toll.book}{suffix}").exists():
            shutil.copyfile(f"{toll.book}{suffix}", f"{copy}{suffix}")
    with Logbook(copy) as book:
        assert book.damage() == []
        assert book.interrupted() == ["tonight"] or not toll.answered
        kept = [row["remark"] for row in book.rows("readings")]
        kept += [row["remark"] for row in book.rows("events") if row["event"] == "remark"]
        samples = [row["celsius"] for row in book.rows("temperatures", after=before)]
    assert set(toll.answered) <= set(kept)
    assert len(kept) == len(set(kept)), "something was kept twice"
    # Killed between keeping and answering: at most the one entry under way.
    of_session = [text for text in kept if text.startswith(f"s{session}e")]
    assert answered <= len(of_session) <= answered + 1
    lines = numbers(samples)
    first = lines[0] if lines else 0
    assert lines == list(range(first, first + len(lines))), "a sample is missing or came twice"
    toll.samples += len(lines)


def _goes_on_and_ends(book: Path) -> None:
    checked = _drift_check(book)
    assert "interrupted: tonight has no end" in checked
    log = start_log(book)  # neither player nor instrument: both are known from before
    assert say(log, "F4 +6") == "saved F4 +6.0 cents"
    out, said = log.communicate(b"end\n", timeout=PATIENCE_SECONDS)
    assert out.decode() == "saved end of tonight\n"
    assert "tonight resumed: Rowan on" in said.decode()
    assert "interrupted" not in _drift_check(book)


def _drift_check(book: Path) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "drift", "check", str(book)],
        capture_output=True, timeout=PATIENCE_SECONDS, check=False,
        env={**os.environ, "PYTHONUTF8": "1"},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr.decode()
    assert "file intact" in done.stdout.decode()
    return done.stdout.decode()


def test_a_book_whose_making_was_interrupted_is_made_again(tmp_path: Path) -> None:
    chance = random.Random(SEED)
    for number in range(KILLS_WHILE_MAKING_A_BOOK):
        book = tmp_path / f"new{number}.logbook"
        log = start_log(book, *WHO)
        deadline = time.monotonic() + PATIENCE_SECONDS
        while not book.exists() and time.monotonic() < deadline:
            time.sleep(0.0005)
        time.sleep(chance.uniform(0.0, 0.02))
        log.kill()
        log.communicate()
        with Logbook(book, writer="test") as opened:
            assert opened.damage() == []
            assert opened.interrupted() in ([], ["tonight"])
