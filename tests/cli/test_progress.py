"""Progress: on a terminal, and only of what takes a while."""

import io

import pytest

from drift.cli import progress
from drift.cli.progress import shown_progress


class Terminal(io.StringIO):
    """Standard error as a person looks at it."""

    def isatty(self):
        return True


@pytest.fixture
def clock(monkeypatch):
    """A clock that stands still until it is set."""
    now = [100.0]
    monkeypatch.setattr(progress.time, "monotonic", lambda: now[0])
    return now


def after(clock, monkeypatch, stream, seconds):
    monkeypatch.setattr(progress.sys, "stderr", stream)
    show = shown_progress("band.logbook: importing")
    show(10, 100)
    clock[0] += seconds
    show(50, 100)
    show(100, 100)
    return stream.getvalue()


def test_a_line_is_written_anew_after_two_seconds(clock, monkeypatch):
    said = after(clock, monkeypatch, Terminal(), 2.5)
    assert said == (
        "\rband.logbook: importing: 50 % of 100 rows\rband.logbook: importing: 100 % of 100 rows\n"
    )


def test_nothing_is_said_of_what_is_quick(clock, monkeypatch):
    assert after(clock, monkeypatch, Terminal(), 1.5) == ""


def test_nothing_is_said_where_nobody_looks(clock, monkeypatch):
    assert after(clock, monkeypatch, io.StringIO(), 60.0) == ""
