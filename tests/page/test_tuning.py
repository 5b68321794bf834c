"""Tuning on the page: the steps of the terminal, each answered once."""

from __future__ import annotations

from pathlib import Path

import pytest

from drift.page import Room, State
from drift.page.stand import Stand
from drift.page.tuning import TuningDesk, TuningShown
from drift.page.typed import Typed
from drift.study import Study
from tests.page.visits import START, SetClock, Visitor, entry

TRUMPET = ("Rowan", "Bb trumpet")


@pytest.fixture
def room(book: Path, clock: SetClock):
    with Room(book, clock) as open_room:
        open_room.begin("hall", player="Rowan", instrument="Bb trumpet", a4_hz=442.0)
        assert open_room.desk is not None
        open_room.desk.enter("temp 20", START)
        yield open_room


def begun(room: Room, **options: object) -> TuningDesk:
    desk = TuningDesk(room)
    desk.begin(Study.open(room.path), *TRUMPET, START, **options)
    return desk


def only(desk: TuningDesk) -> TuningShown:
    (shown,) = desk.shown()
    return shown


def answer(desk: TuningDesk, line: str) -> str:
    return desk.answer(*TRUMPET, only(desk).number, line, START)


def until_a_move(desk: TuningDesk) -> str:
    """Play sharp until a slide is to be moved, and return how that is asked."""
    for _ in range(6):
        if "Pull the main slide out" in only(desk).asked:
            break
        answer(desk, "18")
    assert "Pull the main slide out" in only(desk).asked
    return only(desk).asked


def test_page_asks_what_the_terminal_asks(room: Room) -> None:
    desk = begun(room)
    assert only(desk).first == (
        "Main slide, then the valve slides: one long note or one move at a time, about 4 minutes. "
        "A4 = 442 Hz.",
    )
    assert only(desk).asked == "Where is the main slide? Millimetres from fully in."
    assert not only(desk).optional
    assert answer(desk, "10") == ""
    assert only(desk).asked.startswith("Warm enough? Play 14 more minutes first")
    assert only(desk).optional
    assert answer(desk, "") == ""
    assert only(desk).asked == "No valves. Long B♭4 (sounding), eyes off the tuner."
    assert answer(desk, "18 sharp") == ""
    assert [step.answer for step in only(desk).steps] == [
        "18 sharp", "14 minutes played in all", "main at 10",
    ]  # fmt: skip
    until_a_move(desk)
    assert only(desk).field == "Where it is now (empty: as asked)"


def test_steps_are_saved_and_the_tuned_state_at_the_end(room: Room) -> None:
    desk = begun(room, valves=False)
    assert answer(desk, "10") == ""
    for _ in range(12):
        if not only(desk).over:
            assert answer(desk, "" if only(desk).optional else "0") == ""
    assert only(desk).over
    assert only(desk).asked.splitlines()[-1].startswith("Mark main at 10")
    readings = list(room.book.rows("readings"))
    assert {(row["cents"], row["a4_hz"]) for row in readings} == {(0.0, 442.0)}
    events = [row["event"] for row in room.book.rows("events")]
    assert (events[:3], events[-1]) == (["play", "start", "slide"], "tuned")
    assert answer(desk, "5") == ""  # it is over: nothing more is saved
    assert len(list(room.book.rows("readings"))) == len(readings)
    assert "tuned" in Stand(room).changed()["entries"]


def test_an_answer_that_is_undone_leaves_what_is_shown_as_saved(room: Room) -> None:
    desk, stand = begun(room, valves=False), Stand(room)
    for said in ("10", "", "18 sharp"):
        assert answer(desk, said) == ""
    assert "B♭4 +18.0" in stand.changed()["entries"]
    assert answer(desk, "undo") == ""
    assert "B♭4 +18.0" not in stand.changed()["entries"]


def test_answer_that_comes_twice_counts_once(room: Room) -> None:
    desk = begun(room)
    assert desk.answer(*TRUMPET, 0, "10", START) == ""
    assert desk.answer(*TRUMPET, 0, "12", START) == ""  # a second finger on the same button
    assert [step.answer for step in only(desk).steps] == ["main at 10"]
    assert [row["position_mm"] for row in room.book.rows("events") if row["slide"]] == [10.0]
    assert desk.answer(*TRUMPET, 0, "end", START) == ""  # to stop, any step will do
    assert only(desk).over


def test_what_is_no_answer_is_asked_again(room: Room) -> None:
    desk = begun(room)
    assert answer(desk, "").startswith("not saved: nothing was typed")
    assert answer(desk, "deep").startswith("not saved: 'deep' is not a length")
    assert only(desk).steps == ()
    assert answer(desk, "end") == ""
    assert only(desk).asked == "Stopped: what was read and set so far is saved."


def test_another_a4_stops_a_tuning_which_goes_on_from_there(room: Room) -> None:
    assert room.desk is not None
    desk = begun(room)
    for line in ("10", "", "18 sharp"):
        assert answer(desk, line) == ""
    room.desk.enter("A4 440", START)
    assert answer(desk, "17 sharp") == ""
    assert only(desk).over
    assert only(desk).asked.startswith("Stopped: A4 is 440 Hz now, it was 442 Hz. Begin again")
    assert len(list(room.book.rows("readings"))) == 1
    assert only(begun(room)).asked.startswith("20 sharp.")  # 26, as far as one note is believed


def test_the_end_of_the_rehearsal_stops_a_tuning(room: Room) -> None:
    desk = begun(room)
    room.enter(Typed.of(entry("end")))
    assert only(desk).over
    assert only(desk).asked == "Stopped: what was read and set so far is saved."


def test_lengths_follow_the_player(room: Room) -> None:
    assert room.desk is not None
    room.desk.enter("units F inch", START)
    desk = begun(room)
    assert only(desk).asked == "Where is the main slide? Inches from fully in."
    answer(desk, "1/2")
    assert [row["position_mm"] for row in room.book.rows("events") if row["slide"]] == [12.7]
    answer(desk, "")
    assert " inch" in until_a_move(desk)


def test_page_begins_and_goes_on(room: Room) -> None:
    visitor = Visitor.of(room)
    begin = {"player": "Rowan", "instrument": "Bb trumpet"}
    assert visitor.post("/tune", json=begin).json() == {"told": ""}
    sent = begin | {"step": 0, "line": "deep"}
    assert "is not a length" in visitor.post("/tune", json=sent).json()["told"]
    assert visitor.post("/tune", json=sent | {"line": "10"}).json() == {"told": ""}
    assert "Warm enough?" in visitor.get("/").text


@pytest.mark.parametrize(
    ("sent", "status"), [({"player": "Rowan"}, 400), ([], 400), ({"player": 1, "step": "x"}, 400)]
)
def test_nonsense_is_no_step(room: Room, sent: object, status: int) -> None:
    assert Visitor.of(room).post("/tune", json=sent).status_code == status


@pytest.mark.parametrize(
    ("begin", "told"),
    [({"player": "", "instrument": "Bb trumpet"}, "nobody is here to tune"),
     ({"player": "Rowan", "instrument": "kazoo"}, "no instrument 'kazoo'"),
     ({"player": "Rowan", "instrument": "Bb trumpet", "class_note": "X9"}, "X9")],
)  # fmt: skip
def test_tuning_that_cannot_begin_says_why(room: Room, begin: dict[str, str], told: str) -> None:
    assert told in Visitor.of(room).post("/tune", json=begin).json()["told"]


def test_state_offers_it_to_everybody(room: Room) -> None:
    state = State(room)
    state.stand.tuning.begin(Study.open(room.path), *TRUMPET, START)
    assert 'data-player="Rowan"' in state.stand.changed()["tuning"]


def test_notes_follow_the_player(room: Room) -> None:
    assert room.desk is not None
    room.desk.enter("notes written", START)
    desk = begun(room)
    answer(desk, "10")
    while not only(desk).field.startswith("What the tuner"):
        answer(desk, "")
    assert "Long C5, sounding B♭4" in only(desk).asked


def test_the_room_is_asked_for_where_nobody_knows_how_warm_it_is(
    book: Path, clock: SetClock
) -> None:
    with Room(book, clock) as room:
        room.begin("hall", player="Rowan", instrument="Bb trumpet")
        desk = begun(room)
        assert only(desk).asked.startswith("How warm is the room?")
        assert (only(desk).field, only(desk).optional) == (
            "How warm the room is (empty: not known)",
            True,
        )
        assert answer(desk, "21") == ""
        assert [row["celsius"] for row in room.book.rows("temperatures")] == [21.0]
        assert only(desk).steps[0].answer == "air 21.0 °C"


def test_undo_takes_back_a_step(room: Room) -> None:
    desk = begun(room)
    answer(desk, "10")
    assert answer(desk, "undo") == ""
    assert only(desk).asked == "Where is the main slide? Millimetres from fully in."
    assert only(desk).steps[0].answer == "undone: main at 10"
    assert [row for row in room.book.rows("events") if row["slide"]] == []
    assert "Undo the last answer" in Visitor.of(room).get("/").text


def test_a_position_far_from_the_one_asked_is_asked_back(room: Room) -> None:
    desk = begun(room)
    answer(desk, "10")
    answer(desk, "")
    until_a_move(desk)
    count = len(only(desk).steps)
    assert answer(desk, "1").startswith("main at 1 mm? Asked was ")
    assert len(only(desk).steps) == count
    assert answer(desk, "1") == ""
    assert only(desk).steps[0].answer == "main at 1"


def test_a_tuning_that_was_stopped_goes_on(room: Room) -> None:
    desk = begun(room)
    for line in ("10", "", "18", "end"):
        answer(desk, line)
    assert only(desk).over
    (said,) = only(begun(room)).first[1:]
    assert said.startswith(
        "This tuning was broken off and goes on where it stopped: 1 note is kept."
    )


def test_minutes_that_were_said_before_it_stopped_are_kept(room: Room) -> None:
    desk = begun(room)
    for line in ("10", "played 5", "end"):
        assert answer(desk, line) == ""
    (play,) = (row for row in room.book.rows("events") if row["event"] == "play")
    assert (play["player"], (START - play["time"]).total_seconds()) == ("Rowan", 300.0)
    again = only(begun(room))
    assert "goes on where it stopped, as warm as after 5 minutes of playing." in again.first[1]
    assert again.asked.startswith("Warm enough? Play 9 more minutes first")


def test_each_step_on_the_page_shows_its_side_and_how_it_is_played_again(book: Path) -> None:
    horn = "Nell", "double horn"
    at = {"main": 12.0, "F": 8.0, "Bb": 4.0}
    with Room(book, SetClock(START)) as room:
        room.begin("hall", player="Nell", instrument="double horn")
        assert room.desk is not None
        room.desk.enter("temp 20", START)
        for slide, mm in at.items():
            room.desk.enter(f"slide {slide} {mm:g}", START, player="Nell")
        desk = TuningDesk(room)
        desk.begin(Study.open(room.path), *horn, START, valves=False)
        desk.answer(*horn, 0, "skip", START)
        for line in ("-9", "-10"):
            assert only(desk).asked.startswith("B♭ side: ")
            desk.answer(*horn, only(desk).number, line, START)
        desk = TuningDesk(room)
        desk.begin(Study.open(room.path), *horn, START, valves=False)
        assert only(desk).asked.startswith("B♭ side: thumb down, no valves. Now ")


def test_what_is_skipped_is_neither_saved_nor_called_tuned(room: Room) -> None:
    desk = begun(room, valves=False)
    assert answer(desk, "skip").startswith("not saved: where a slide is cannot be left out")
    assert answer(desk, "stuck") == ""
    assert only(desk).asked == "Where is the main slide stuck? Millimetres from fully in."
    for line in ("undo", "12", *["skip"] * 4):
        assert answer(desk, line) == ""
    assert only(desk).over
    assert "Not tuned: nothing is marked, and no tuned state is saved." in only(desk).asked
    events = [row for row in room.book.rows("events") if row["slide"]]
    assert [(row["event"], row["position_mm"]) for row in events] == [("slide", 12.0)]
