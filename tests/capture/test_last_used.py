"""What was used last is found again."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from drift.capture.desk import Desk
from drift.capture.last_used import LastUsed, last_used, units_last_used
from drift.logbook.book import Logbook
from drift.quantities import Units
from drift.words.entries import slides_text

START = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)


@pytest.fixture
def book(tmp_path: Path):
    with Logbook(tmp_path / "band.logbook", writer="test") as open_book:
        yield open_book


def test_nothing_was_used_in_a_new_book(book):
    assert last_used(book) == LastUsed()
    assert units_last_used(book) == Units()


def test_the_latest_rehearsal_counts(book):
    for day, (player, a4) in enumerate([("Kim", 440.0), ("Rowan", 442.0)]):
        desk = Desk(book, f"day {day}", a4_hz=a4, written=player == "Rowan")
        desk.start(START + timedelta(days=day), player=player, instrument="Bb trumpet")
        desk.enter("C5 +6", START + timedelta(days=day, minutes=5))
    assert last_used(book) == LastUsed("Rowan", "Bb trumpet", 442.0, True, "")


def test_slides_that_nobody_placed_are_where_they_were_last(book):
    for day, entries in enumerate([["slide main 12", "slide F 8"], ["slide main 35.5"], []]):
        desk = Desk(book, f"day {day}")
        desk.start(START + timedelta(days=day), player="Rowan", instrument="double horn")
        for entry in entries:
            assert desk.enter(entry, START + timedelta(days=day)).saved
    assert desk.slides_as_before() == {"main": (35.5, "day 1"), "F": (8.0, "day 0")}
    assert slides_text(desk.slides_as_before()) == (
        "slide main 35.5 mm as in day 1, F 8 mm as in day 0; slide main MM if it is elsewhere"
    )
    desk.enter("slide main 30", START + timedelta(days=2))
    assert desk.slides_as_before() == {"F": (8.0, "day 0")}
    desk.enter("player Kim", START + timedelta(days=2))
    assert desk.slides_as_before() == {}


def test_units_are_a_players_and_chosen_once_for_all_rehearsals(book):
    first = Desk(book, "hall")
    first.start(START, player="Rowan", instrument="Bb trumpet")
    assert first.enter("units F inch", START).text == (
        "saved units F inch, for what Rowan types and is shown from now on"
    )
    assert first.enter("temp 70", START).text == "saved temp 70.0 °F (21.1 °C)"
    assert first.enter("slide main 1/2", START).text == "saved slide main 1/2 inch (12.7 mm)"
    assert first.enter("slide main 14 mm", START).text == "saved slide main 9/16 inch (14 mm)"
    assert "name the unit (14 mm, 0.5 in)" in first.enter("slide main 12", START).text
    second = Desk(book, "church")
    second.start(START + timedelta(days=1))
    assert second.units == Units()  # of nobody in particular
    assert second.units_of("Rowan") == Units(fahrenheit=True, inches=True)
    assert second.units_of("Kim") == Units()
    assert units_last_used(book, "Rowan") == Units(fahrenheit=True, inches=True)
    assert [round(row["celsius"], 2) for row in book.rows("temperatures")] == [21.11]
    assert second.enter("undo", START + timedelta(days=1)).text.startswith("not saved")  # no entry


@pytest.mark.parametrize(
    ("line", "how"), [("units kelvin", "type units F inch"), ("notes loud", "type notes written")]
)
def test_what_cannot_be_chosen_is_refused(book, line, how):
    desk = Desk(book, "hall")
    desk.start(START)
    assert how in desk.enter(line, START).text


def test_notes_are_typed_as_chosen(book):
    desk = Desk(book, "hall")
    desk.start(START, player="Rowan", instrument="Bb trumpet")
    desk.enter("notes written", START)
    assert desk.enter("C5 +6", START).text == "saved C5, sounding B♭4 +6.0 cents"
    desk.enter("undo", START)
    desk.enter("notes sounding", START)
    assert desk.enter("Bb4 +6", START).text == "saved B♭4 +6.0 cents"


def test_each_types_notes_in_their_own_way(book):
    desk = Desk(book, "hall")
    desk.start(START)
    kim = {"player": "Kim", "instrument": "Bb trumpet"}
    rowan = {"player": "Rowan", "instrument": "double horn"}
    answer = desk.enter("notes written", START, **kim).text
    assert answer == "saved notes as the player reads them, for Kim"
    assert desk.enter("C5 +6", START, **kim).text == "saved C5, sounding B♭4 +6.0 cents"
    assert desk.enter("F4 +6 F", START, **rowan).text == "saved F4 +6.0 cents on the F side"
    assert [row["note"] for row in book.rows("readings")] == ["Bb4", "F4"]
    assert desk.own_notes() == {"": "sounding", "Kim": "written"}
    again = Desk(book, "hall")
    assert (again.written_by("Kim"), again.written_by("Rowan")) == (True, False)


def test_notes_of_everyone_hold_for_who_chose_none(book):
    desk = Desk(book, "hall", written=True)
    desk.start(START)
    desk.enter("notes sounding", START, player="Kim", instrument="Bb trumpet")
    assert (desk.written_by("Kim"), desk.written_by("Rowan")) == (False, True)


def test_each_types_in_units_of_their_own(book):
    desk = Desk(book, "hall")
    desk.start(START)
    assert desk.enter("units F inch", START).saved  # nobody named: for all who choose none
    kim, rowan = ({"player": who, "instrument": "Bb trumpet"} for who in ("Kim", "Rowan"))
    desk.enter("units C mm", START, **kim)
    desk.enter("slide main 12", START, **kim)
    desk.enter("slide main 1/2", START, **rowan)
    positions = [row["position_mm"] for row in book.rows("events") if row["slide"]]
    assert positions == [12.0, 12.7]
    assert desk.own_units() == {"": Units(True, True), "Kim": Units()}


def test_units_of_an_option_hold_for_the_player_who_is_named(book):
    Desk(book, "hall").start(START)
    Desk(book, "hall").enter("units C mm", START, player="Rowan")
    desk = Desk(book, "church", units=Units(fahrenheit=True))
    desk.start(START + timedelta(days=1), player="Rowan")
    assert desk.units == Units(fahrenheit=True)
    assert Desk(book, "square").units_of("Rowan") == Units(fahrenheit=True)
