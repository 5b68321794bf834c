"""The page is told when the next reading is due, and says how well the answer is known."""

from __future__ import annotations

import pytest

from drift.page import Room, State
from drift.page.outlook import standings
from drift.page.stand import to_tell
from drift.study import Study
from tests.page.visits import SetClock, Visitor, entry

ASKED = "/parts/due?player=Rowan&instrument=double+horn"


def test_due_follows_from_the_playing_and_the_air(room: Room, clock: SetClock) -> None:
    visitor = Visitor.of(room)
    nothing = visitor.get(ASKED).json()
    assert nothing["seconds"] is None
    assert "Log the playing and a temperature first" in nothing["text"]
    for line in ("temp 20", "play"):
        assert visitor.post("/entries", json=entry(line)).json()["saved"]
    clock.pass_by(minutes=3)
    due = visitor.get(ASKED).json()
    assert due == {"seconds": -60.0, "text": "A reading is due now (0 of 8 taken)."}
    assert visitor.post("/entries", json=entry("F4 -6 F")).json()["saved"]
    due = visitor.get(ASKED).json()
    assert due["seconds"] == 60.0 * (10.0 - 3.0)
    assert due["text"] == "Next reading in 7 minutes (1 of 8 taken)."


def test_reminder_is_off_until_it_is_switched_on(room: Room) -> None:
    assert '<input type="checkbox" id="remind">' in Visitor.of(room).get("/").text


def test_page_says_how_well_the_answer_is_known(room: Room, clock: SetClock) -> None:
    visitor = Visitor.of(room)
    for line in ("temp 20", "slide main 12", "slide F 8", "slide Bb 0", "play warm", "F4 -6 F"):
        clock.pass_by(minutes=2)
        assert visitor.post("/entries", json=entry(line)).json()["saved"]
    good = "good to ±"
    (known,) = standings(Study.open(room.path), "hall", clock.now())
    unsure = to_tell(known)
    assert "will most likely decide" in unsure.do
    assert not any(good in note.casefold() for note in unsure.notes)  # it would speak against it
    for line in ("F4 -2 F", "C4 0 F", "F3 1 F", "F4 0 F"):
        clock.pass_by(minutes=0.5)
        assert visitor.post("/entries", json=entry(line)).json()["saved"]
    (known,) = standings(Study.open(room.path), "hall", clock.now())
    assert any(good in note.casefold() for note in to_tell(known).notes)


def test_pitch_is_weighed_against_the_a4_that_was_typed_last(room: Room, clock: SetClock) -> None:
    visitor = Visitor.of(room)
    for line in ("temp 20", "slide main 12", "slide F 8", "slide Bb 0", "play warm", "F4 0 F"):
        clock.pass_by(minutes=2)
        assert visitor.post("/entries", json=entry(line)).json()["saved"]
    study = Study.open(room.path)
    asked = "hall", "Rowan", "double horn", clock.now()
    at_440, at_442 = (study.now(*asked, a4).pitch.off_cents.estimate for a4 in (440.0, 442.0))
    # Not the whole 7.9: a player of whom nothing is known is expected at the A4 that is set.
    assert 7.0 < at_440 - at_442 < 7.9
    visitor.post("/entries", json=entry("A4 442"))
    state = State(room)
    state._work_out(clock.now())
    (known,) = state.stand.standings or ()
    assert known.now.pitch.off_cents.estimate == pytest.approx(at_442, abs=0.05)
