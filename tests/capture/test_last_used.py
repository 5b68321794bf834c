"""What was used last is found again."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from drift.capture.desk import Desk
from drift.capture.last_used import LastUsed, last_used, units_last_used
from drift.logbook.book import Logbook
from drift.quantities import Units

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


def test_units_are_chosen_once_for_all_rehearsals(book):
    first = Desk(book, "hall")
    first.start(START, player="Rowan", instrument="Bb trumpet")
    assert first.enter("units F inch", START).text == (
        "saved units F inch, for what is typed and shown from now on"
    )
    assert first.enter("temp 70", START).text == "saved temp 70.0 °F (21.1 °C)"
    assert first.enter("slide main 1/2", START).text == "saved slide main 1/2 inch (12.7 mm)"
    assert first.enter("slide main 14 mm", START).text == "saved slide main 9/16 inch (14 mm)"
    assert "undo if it was typed in another unit" in first.enter("slide main 12", START).text
    second = Desk(book, "church")
    second.start(START + timedelta(days=1))
    assert second.units == Units(fahrenheit=True, inches=True)
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
