"""A rehearsal's name that is typed again on another day."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from drift.capture.another_day import check_same_evening, last_of_evening
from drift.capture.desk import Desk
from drift.errors import InputError
from drift.logbook.book import Logbook
from drift.logbook.records import Temperature

MONDAY = datetime(2026, 10, 5, 17, 0, tzinfo=UTC)
WEEK = timedelta(days=7)


@pytest.fixture
def book(tmp_path):
    with Logbook(tmp_path / "band.logbook", writer="the test") as opened:
        yield opened


def desk_on(book, time):
    found = Desk(book, "hall")
    found.start(time, player="Rowan", instrument="Bb trumpet")
    return found


@pytest.fixture
def old(book):
    """The desk a week after a rehearsal of the same name that nobody ended."""
    monday = desk_on(book, MONDAY)
    for minute, line in enumerate(("temp 21", "play", "Bb4 -12")):
        assert monday.enter(line, MONDAY + timedelta(minutes=minute)).saved
    return desk_on(book, MONDAY + WEEK)


@pytest.mark.parametrize(
    "line", ["temp 20", "play", "Bb4 -3", "slide main 12", "now", "target 18:30 4"]
)
def test_what_happens_now_is_refused_with_a_name_and_a_way_to_add_what_was_forgotten(old, line):
    answer = old.enter(line, MONDAY + WEEK)
    assert not answer.saved
    assert not answer.asks
    day = f"{MONDAY.astimezone():%Y-%m-%d}"
    assert f"hall is a rehearsal of {day}" in answer.text
    assert f"such as hall {(MONDAY + WEEK).astimezone():%Y-%m-%d}" in answer.text
    assert f"(at {day} 20:10 play)" in answer.text


def test_what_was_forgotten_then_is_saved_and_the_rehearsal_can_be_ended(old, book):
    then = (MONDAY + timedelta(minutes=2)).astimezone()
    assert old.enter(f"at {then:%Y-%m-%d %H:%M} slide main 12", MONDAY + WEEK).saved
    assert not old.enter("Bb4 -3", MONDAY + WEEK).saved  # that was no entry of today
    assert old.enter("end", MONDAY + WEEK).saved
    assert [row["event"] for row in book.rows("events")].count("slide") == 1


def test_a_page_left_open_overnight_asks_for_another_rehearsal(book):
    desk = desk_on(book, MONDAY)
    assert desk.enter("Bb4 -12", MONDAY).saved
    assert desk.enter("Bb4 -3", MONDAY + timedelta(hours=11)).saved
    assert not desk.enter("Bb4 -3", MONDAY + timedelta(hours=36)).saved


def test_a_thermometer_that_was_logged_on_or_an_end_is_no_rehearsing(book, old):
    book.keep(Temperature(MONDAY + WEEK, "hall", 20.0))
    book.end("hall", MONDAY + WEEK)
    assert last_of_evening(book, "hall") == MONDAY + timedelta(minutes=2)
    assert last_of_evening(book, "another") is None


def test_the_day_in_a_name_is_not_said_twice():
    last = MONDAY.astimezone()
    with pytest.raises(InputError) as refusal:
        check_same_evening(f"hall {last:%Y-%m-%d}", MONDAY, MONDAY + WEEK)
    assert f"such as hall {(last + WEEK):%Y-%m-%d};" in refusal.value.remedy
