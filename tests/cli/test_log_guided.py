"""A bare drift log asks at a terminal for what it needs; elsewhere it says what is missing."""

import subprocess
import sys

import pytest

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
    [(["log"], "no logbook was named"), (["log", "b.logbook"], "no rehearsal was named"),
     (["page"], "no logbook was named")],
)  # fmt: skip
def test_where_nobody_can_be_asked_it_says_what_is_missing(tmp_path, words, missing):
    run = subprocess.run(
        [sys.executable, "-m", "drift", *words], cwd=tmp_path, input="", text=True,
        capture_output=True, encoding="utf-8",
        env=terminals.ENVIRONMENT,
    )  # fmt: skip
    assert run.returncode == 1
    assert missing in run.stderr
    assert list(tmp_path.iterdir()) == []
