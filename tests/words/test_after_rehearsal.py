"""What is said after a rehearsal, from the logbook to the words."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from drift.capture.desk import Desk
from drift.evidence import evenings_of
from drift.logbook.book import Logbook
from drift.study import Study
from drift.words.after_rehearsal import summary

START = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)


def said(tmp_path, *typed):
    with Logbook(tmp_path / "b.logbook", writer="the test") as book:
        desk = Desk(book, "hall")
        desk.start(START, player="Kim", instrument="Bb trumpet")
        for minute, line in typed:
            assert desk.enter(line, START + timedelta(minutes=minute)).saved, line
    study = Study.open(tmp_path / "b.logbook")
    return summary(evenings_of(study.rehearsals, study.paired, "hall"))


def test_without_readings_nothing_is_said(tmp_path):
    assert said(tmp_path, (0, "play")) == []


def test_without_a_temperature_one_is_asked_for(tmp_path):
    first, then = said(tmp_path, (0, "play"), (1, "Bb4 -6"), (2, "Bb4 +2"))
    assert first == "Kim, B♭ trumpet: 2 readings, 6 flat to 2 sharp."
    assert then.startswith("Next time: type the room temperature")


def test_a_temperature_that_was_logged_is_not_asked_for(tmp_path):
    air = (0, "temp 21")
    slides = [(1, "slide F 8"), (2, "slide F 12")]
    unnamed = [(1, "instrument double horn"), *slides, (1, "play"), (3, "F4 -6"), (4, "F4 +2")]
    assert said(tmp_path, air, *unnamed)[1].startswith("Next time: name the side with each reading")
    (tmp_path / "two").mkdir()
    soon = said(tmp_path / "two", air, (1, "play"), (1.2, "Bb4 -6"), (1.3, "Bb4 -5"))
    assert soon[1] == "Next time: log play when you begin, and read after half a minute of it."


def test_what_is_missing_comes_in_order(tmp_path):
    early = [(0, "play"), (1, "temp 21"), *((m, f"Bb4 -{9 - m}") for m in (2, 3, 4, 5))]
    assert said(tmp_path, *early[:3])[1].startswith("Next time: take four readings in the first")
    (tmp_path / "two").mkdir()
    assert said(tmp_path / "two", *early)[1].startswith("Next time: take four readings after half")
    late = [(40, "temp 21"), *((m, "Bb4 +1") for m in (41, 42, 43, 44))]
    (tmp_path / "three").mkdir()
    then = said(tmp_path / "three", *early, *late)[1]
    assert "from 21 to 21 °C, and that says too little about temperature" in then
    assert "nan" not in then


def test_flagged_readings_do_not_widen_the_span(tmp_path):
    first, _ = said(tmp_path, (0, "play"), (1, "Bb4 -6"), (2, "Bb4 +2"), (3, "Bb4 +21 ! mute in"))
    assert first == "Kim, B♭ trumpet: 3 readings, 6 flat to 2 sharp without the 1 flagged."
    (tmp_path / "two").mkdir()
    first, _ = said(tmp_path / "two", (0, "play"), (1, "Bb4 +21 ! mute in"))
    assert first == "Kim, B♭ trumpet: 1 reading, 21 sharp."
