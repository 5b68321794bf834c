"""A bare drift log asks at a terminal for what it needs; elsewhere it says what is missing."""

import subprocess
import sys
from datetime import UTC, datetime

import pytest

from drift.capture.desk import Desk
from drift.logbook.book import Logbook

pytest.importorskip("pty", reason="pseudo-terminals exist on POSIX systems only")
terminals = pytest.importorskip("tests.terminals")


def test_bare_log_asks_and_proposes_what_was_used_last(tmp_path):
    with begun(tmp_path) as log:
        log.type("units C mm")
        log.sees("saved units C mm")
        log.type("C5 +6")
        log.sees("saved C5, sounding B♭4 .6.0 cents")
        log.type("end")
        log.sees("saved end of hall")
    with terminals.Terminal(tmp_path, "log") as log:
        log.sees(r"Which logbook\? \[band.logbook\]")
        log.type("")
        log.sees(r"Name of the rehearsal\? \[20\d\d-\d\d-\d\d\]")
        log.type("")
        log.sees(r"Who plays\? \[Rowan\]")
        log.type("")
        log.sees(r"Which instrument\? \[Bb trumpet\]")
        log.type("")
        log.sees("typed by hand")
        log.type("typed")
        log.sees(r"A4 of the tuner in Hz\? \[442\]")
        log.type("")
        log.sees(r"as they sound\? \[read\]")
        log.type("")
        log.sees("begins: Rowan on B♭ trumpet|begins: Rowan on Bb trumpet")
        log.sees("A4 = 442 Hz")
        log.type("end")
        log.sees("saved end")
    with Logbook(tmp_path / "band.logbook") as book:
        assert book.rehearsals()[0] == "hall"
        assert book.choices("hall")["notes"] == "written"


def begun(folder):
    """A bare log whose questions are answered, some of them wrongly at first."""
    log = terminals.Terminal(folder, "log")
    log.sees(r"Which logbook\? \[rehearsals.logbook\]")
    log.type("band.logbook")
    log.sees("Name of the rehearsal")
    log.type("hall")
    log.sees("Who plays")
    log.type("Rowan")
    log.sees("Which instrument")
    log.type("trumpeet")
    log.sees("no instrument 'trumpeet'")
    log.sees("Which instrument")
    log.type("Bb trumpet")
    log.sees("Thermometer: a number or an address")
    log.type("nonsense")
    log.sees("nonsense")
    log.sees("Thermometer: a number or an address")
    log.type("simulated:?name=stage")
    log.sees("A4 of the tuner in Hz")
    log.type("44")
    log.sees("outside 380 to 500")
    log.sees("A4 of the tuner in Hz")
    log.type("442")
    log.sees("as they sound")
    log.type("read")
    log.sees("Units: C mm, or F inch")
    log.type("")
    log.sees("hall begins: Rowan on .*; A4 = 442 Hz")
    return log


@pytest.mark.parametrize(
    ("words", "missing"),
    [(["log"], "no logbook was named"), (["log", "b.logbook"], "asked for in a terminal alone"),
     (["page"], "no logbook was named"), (["tune"], "no logbook was named"),
     (["tune", "b.logbook", "--player", "Rowan"], "add --rehearsal, --instrument")],
)  # fmt: skip
@pytest.mark.slow
def test_where_nobody_can_be_asked_it_says_what_is_missing(tmp_path, words, missing):
    run = subprocess.run(
        [sys.executable, "-m", "drift", *words], cwd=tmp_path, input="", text=True,
        capture_output=True, encoding="utf-8",
        env=terminals.ENVIRONMENT,
    )  # fmt: skip
    assert run.returncode == 1
    assert missing in run.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.slow
def test_bare_tune_asks_who_tunes_and_proposes_what_was_used_last(tmp_path):
    with Logbook(tmp_path / "band.logbook", writer="the test") as book:
        desk = Desk(book, "last week")
        desk.start(datetime(2026, 10, 3, 19, 0, tzinfo=UTC), player="Rowan", instrument="flute")
        desk.enter("temp 21", datetime(2026, 10, 3, 21, 0, tzinfo=UTC))  # and it has no end
    with terminals.Terminal(tmp_path, "tune") as tune:
        tune.sees(r"Which logbook\? \[band.logbook\]")
        tune.type("")
        tune.sees(r"Name of the rehearsal\? \[20\d\d-\d\d-\d\d\]")
        tune.type("tonight")
        tune.sees(r"Who plays\? \[Rowan\]")
        tune.type("")
        tune.sees(r"Which instrument\? \[flute\]")
        tune.type("")
        tune.sees("Head joint: one long note or one move at a time")
        tune.type("end")
        tune.sees("Stopped")
