"""The command ``drift page``: what it says, and what it refuses in two lines."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import httpx
import pytest

from drift.logbook.book import Logbook
from tests.page.visits import Program
from tests.running_log import PATIENCE_SECONDS


def refused(*arguments: str) -> list[str]:
    done = subprocess.run(
        [sys.executable, "-m", "drift", "page", *arguments],
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode == 1
    lines = done.stderr.splitlines()
    assert len(lines) == 2
    assert lines[0].startswith("drift page: ")
    return lines


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (("--thermometer", "replay:nothing.csv"), "nothing.csv"),
        pytest.param(("--thermometer", "telepathy:"), "telepathy", marks=pytest.mark.slow),
        pytest.param(("--instrument", "kazoo"), "kazoo", marks=pytest.mark.slow),
        pytest.param(
            ("--port", "99999999"), "port 99999999 is not available", marks=pytest.mark.slow
        ),
    ],
)
def test_refusals_leave_no_rehearsal_begun(book: Path, options: tuple[str, ...], told: str) -> None:
    problem, remedy = refused(str(book), "--port", "0", "--rehearsal", "hall", *options)
    assert told in problem
    assert remedy
    if book.exists():
        with Logbook(book) as kept:
            assert kept.rehearsals() == []


@pytest.mark.slow
def test_folder_is_no_logbook(tmp_path: Path) -> None:
    refused(str(tmp_path), "--port", "0")


@pytest.mark.slow
def test_second_program_is_told_who_writes(program: Callable[..., Program], book: Path) -> None:
    page = program("--rehearsal", "hall")
    assert page.process is not None
    problem, _ = refused(str(book), "--port", "0", "--rehearsal", "hall")
    assert f"is being written by drift page, process {page.process.pid}" in problem


@pytest.mark.slow
def test_port_of_a_running_page_is_taken(program: Callable[..., Program], book: Path) -> None:
    page = program("--rehearsal", "hall")
    other = book.with_name("other.logbook")
    problem, _ = refused(str(other), "--port", str(page.port))
    assert f"port {page.port} is not available" in problem


@pytest.mark.slow
def test_stopping_says_that_the_rehearsal_can_go_on(program: Callable[..., Program]) -> None:
    page = program("--rehearsal", "hall")
    with httpx.stream("GET", f"{page.address}/events", timeout=PATIENCE_SECONDS) as stream:
        lines = stream.iter_lines()
        next(lines)  # a browser that listens must not hold the program up
        said = page.stop()
    assert "hall begins" in said
    assert f"open {page.address}/ in a browser on this machine" in said
    assert "hall has no end yet; start again to go on with it" in said
    assert "Traceback" not in said
