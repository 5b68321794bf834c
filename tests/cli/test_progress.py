"""Progress: on a terminal, and only of what takes a while."""

import io
import re
from pathlib import Path
from types import SimpleNamespace

import pytest

from drift import shipped
from drift.cli import main, progress
from drift.cli.progress import shown_progress
from drift.errors import InputError
from drift.logbook import rehearsals
from drift.logbook.rehearsals import nothing_logged
from drift.study import Study

SEASON = shipped.folder("datasets/cold-hall-season")
DEMO = Path(__file__).parents[2] / "demo"


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


LINE = "band.logbook: importing: 50 % of 100 rows"


def seen(written):
    """Return what stands on a terminal that a text was written to."""
    rows = [[]]
    place = 0
    for letter in written:
        if letter == "\n":
            rows.append([])
        place = 0 if letter in "\r\n" else place
        if letter not in "\r\n":
            rows[-1][place : place + 1] = [letter]
            place += 1
    return ["".join(row).rstrip() for row in rows]


def test_a_line_is_written_after_two_seconds_and_erased_when_it_is_done(clock, monkeypatch):
    said = after(clock, monkeypatch, Terminal(), 2.5)
    assert said.startswith(f"\r{LINE}\r")
    assert seen(said) == [""]
    assert seen(f"{said}saved\n") == ["saved", ""]


def test_what_was_not_done_is_erased_too(clock, monkeypatch):
    stream = Terminal()
    monkeypatch.setattr(progress.sys, "stderr", stream)
    show = shown_progress("band.logbook: importing")
    show(10, 100)
    clock[0] += 2.5
    with progress.wiped():
        show(50, 100)
        assert seen(stream.getvalue()) == [LINE]
    assert seen(stream.getvalue()) == [""]


def test_a_line_is_no_longer_than_a_narrow_terminal(clock, monkeypatch):
    monkeypatch.setenv("COLUMNS", "20")
    said = after(clock, monkeypatch, Terminal(), 2.5)
    assert said.split("\r")[1] == LINE[-19:]
    assert seen(said) == [""]


def test_nothing_is_said_of_what_is_quick(clock, monkeypatch):
    assert after(clock, monkeypatch, Terminal(), 1.5) == ""


def test_nothing_is_said_where_nobody_looks(clock, monkeypatch):
    assert after(clock, monkeypatch, io.StringIO(), 60.0) == ""


def test_a_count_that_begins_again_is_a_task_of_its_own(clock, monkeypatch):
    """A page fits anew after every entry: what is quick stays quiet."""
    stream = Terminal()
    monkeypatch.setattr(progress.sys, "stderr", stream)
    show = shown_progress("band.logbook: fitting", "steps")
    for begins in (100.0, 200.0):
        clock[0] = begins
        show(1, 4)
        clock[0] += 1.0
        show(4, 4)
    assert stream.getvalue() == ""
    clock[0] = 300.0
    show(1, 4)
    clock[0] += 2.5
    show(2, 4)
    assert seen(stream.getvalue()) == ["band.logbook: fitting: 2 of 4 steps"]


COMMANDS = {
    "fit": ["fit", SEASON],
    "slides": ["slides", SEASON, "--celsius", "30"],
    "report": ["report", SEASON, "--out", "report.html"],
    "gig": ["gig", SEASON, "--forecast", DEMO / "forecast.csv"],
    "summary": ["summary", SEASON, "--out", "band.json"],
    "calibrate": ["calibrate", SEASON, "--player", "Rowan", "--slide", "main"],
}


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_that_fits_a_source_shows_how_far_it_is(
    command, clock, monkeypatch, tmp_path
):
    def read(source, catalogue=None, *, progress, **given):
        clock[0] += 60.0
        progress(1, 2)
        return nothing_logged()

    def opened(source, *, progress, **given):
        clock[0] += 60.0
        progress(1, 2)
        raise InputError("as far as this", "no further")

    stream = Terminal()
    monkeypatch.setattr(rehearsals, "load", read)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(progress.sys, "stderr", stream)
    monkeypatch.setattr(Study, "open", opened)
    assert main([str(word) for word in COMMANDS[command]]) == 1
    assert f"{SEASON}: reading: 1 of 2 rows" in stream.getvalue()
    assert f"{SEASON}: fitting: 1 of 2 steps" in stream.getvalue()
    assert seen(stream.getvalue())[0] == f"drift {command}: as far as this"


PLAYING = ["--rehearsal", "tonight", "--player", "Rowan", "--instrument", "flute"]
TYPED = {
    "log": (["log", "band.logbook", *PLAYING], "play\nF4 +6\nnow\nend\n"),
    "tune": (["tune", "band.logbook", *PLAYING], ""),
    "demo": (["demo", "--out", "band"], ""),
}


@pytest.mark.parametrize("command", TYPED)
def test_what_is_typed_or_shown_is_fitted_where_one_can_see_how_far(
    command, clock, monkeypatch, tmp_path
):
    words, typed = TYPED[command]

    def opened(source, **given):
        clock[0] += 60.0
        given["progress"](1, 2)
        raise InputError("as far as this", "no further")

    stream = Terminal()
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("sys.stdin", io.StringIO(typed))
    monkeypatch.setattr(progress.sys, "stderr", stream)
    monkeypatch.setattr(Study, "open", opened)
    main(words)
    assert re.search(r"band\S*logbook: fitting: 1 of 2 steps", stream.getvalue())


def test_a_report_shows_how_far_it_is_drawn(clock, monkeypatch, tmp_path):
    def slow(answer):
        clock[0] += 60.0
        return answer

    study = SimpleNamespace(
        rehearsals=SimpleNamespace(understood=(), zone=None), report=lambda **asked: slow(None)
    )
    document = SimpleNamespace(title="all rehearsals")
    stream = Terminal()
    monkeypatch.setattr(progress.sys, "stderr", stream)
    monkeypatch.setattr(Study, "open", lambda *given, **asked: study)
    monkeypatch.setattr("drift.report.compose", lambda *given, **asked: slow(document))
    monkeypatch.setattr("drift.report.to_html", lambda given: slow(given.title))
    assert main(["report", str(SEASON), "--out", str(tmp_path / "report.html")]) == 0
    parts = ("1", "2")
    assert [f": drawing: {part} of 3 parts" in stream.getvalue() for part in parts] == [True] * 2


def test_a_study_says_how_far_it_is_read_and_fitted():
    read, fitted = [], []
    study = Study.open(
        SEASON,
        reading=lambda done, of: read.append((done, of)),
        progress=lambda done, of: fitted.append((done, of)),
    )
    assert read[-1][0] == read[-1][1] > len(study.rehearsals.readings)
    assert study.fit.method == "bayesian"
    assert [done for done, _ in fitted] == sorted(done for done, _ in fitted)
    assert fitted[-1][0] == fitted[-1][1]


def test_a_line_is_erased_where_it_stands_and_nowhere_else(clock, monkeypatch):
    stream, elsewhere = Terminal(), io.StringIO()
    monkeypatch.setattr(progress.sys, "stderr", stream)
    show = shown_progress("band.logbook: importing")
    clock[0] += 2.5
    show(50, 100)
    monkeypatch.setattr(progress.sys, "stderr", elsewhere)
    with progress.wiped():
        pass
    assert elsewhere.getvalue() == ""
    assert seen(stream.getvalue()) == [LINE]
