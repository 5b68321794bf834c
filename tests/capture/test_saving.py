"""Readings of recordings in a logbook: each once, and anew where the first listening was wrong."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from drift.capture.saving import Marked, Misplaced, save_readings
from drift.logbook.book import Logbook
from drift.logbook.records import Event, Reading

BEGAN = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)
LATER = datetime(2026, 10, 4, 9, 0, tzinfo=UTC)


def marked(at_s: float = 10.0, **changes: object) -> Marked:
    time = BEGAN + timedelta(seconds=at_s + 1)
    reading = Reading(time, "hall", "Mia", "double horn", "Bb", "F4", 3.0)
    return Marked(replace(reading, **changes), "abc", at_s)


@pytest.fixture
def book(tmp_path):
    with Logbook(tmp_path / "band.logbook", writer="test") as opened:
        yield opened


def standing(book) -> list[tuple[str, float]]:
    return [(row["side"], row["cents"]) for row in book.rows("readings")]


def test_a_tone_is_saved_once(book):
    first = save_readings(book, [marked(), marked(20.0)], LATER)
    again = save_readings(book, [marked(), marked(20.1), marked(30.0)], LATER)
    assert (first.new, first.already) == (2, 0)
    assert (again.new, again.already, again.changed) == (1, 2, ())
    assert len(standing(book)) == 3


@pytest.mark.parametrize(
    "change",
    [{"side": "F"}, {"time": BEGAN + timedelta(hours=1)}, {"cents": -4.0, "a4_hz": 442.0}],
)
def test_what_was_saved_otherwise_is_shown_and_replaced_on_request(book, change):
    save_readings(book, [marked()], LATER)
    shown = save_readings(book, [marked(**change)], LATER)
    assert (shown.new, len(shown.changed), shown.replaced) == (0, 1, False)
    assert standing(book) == [("Bb", 3.0)]
    done = save_readings(book, [marked(**change)], LATER, replace=True)
    assert done.replaced
    (row,) = book.rows("readings")
    assert all(row[name] == value for name, value in change.items())
    (undone,) = book.rows("readings", undone=True)
    assert undone["undone_time"] == LATER


def test_replacing_there_and_back_leaves_one(book):
    for side in ("Bb", "F", "Bb", "F", "F"):
        save_readings(book, [marked(side=side)], LATER, replace=True)
    assert standing(book) == [("F", 3.0)]


def test_nothing_is_undone_where_the_new_one_cannot_be_saved(book):
    save_readings(book, [marked()], LATER)
    with pytest.raises(Exception, match="cents"):
        save_readings(book, [marked(cents=999.0)], LATER, replace=True)
    assert standing(book) == [("Bb", 3.0)]


def test_the_same_recording_for_a_second_player_is_noticed(book):
    save_readings(book, [marked()], LATER)
    second = save_readings(book, [marked(player="Rowan")], LATER)
    assert (second.new, second.others) == (1, ("Mia",))


def test_readings_in_a_rest_or_outside_the_rehearsal_are_counted(book):
    for minute, what in ((0, "start"), (1, "play"), (10, "rest"), (20, "play"), (30, "end")):
        book.keep(Event(BEGAN + timedelta(minutes=minute), "hall", "", what))
    minutes = [-5, 5, 12, 15, 25, 40]
    saved = save_readings(book, [marked(60.0 * minute) for minute in minutes], LATER)
    assert saved.new == 6
    assert saved.misplaced == {Misplaced.OUTSIDE: 2, Misplaced.REST: 2}
