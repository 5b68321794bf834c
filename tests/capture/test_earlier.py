"""Entries that are made later than they happened: which moment a time of day is."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from drift.capture.desk import Desk
from drift.capture.earlier import ClockTime, split_time
from drift.errors import InputError
from drift.logbook.book import Logbook
from drift.logbook.records import Event, Reading
from drift.logbook.rehearsals import load
from drift.pairing.readings import pair


def utc(text: str) -> datetime:
    return datetime.fromisoformat(f"{text}:00+00:00").astimezone(UTC)


BEGUN = utc("2026-10-03T17:30")  # 19:30 in Berlin, in summer time


def test_a_time_of_day_is_one_of_the_zone_of_the_computer(in_berlin):
    now = utc("2026-10-03T18:40")
    assert ClockTime(20, 9).between(BEGUN, now) == utc("2026-10-03T18:09")
    assert ClockTime(20, 40).between(BEGUN, now) == now
    # the minute in which it began counts from its beginning
    late = BEGUN + timedelta(seconds=40)
    assert ClockTime(19, 30).between(late, now) == late


def test_a_second_is_that_second_and_no_other(in_berlin):
    now = utc("2026-10-03T18:40")
    clock = ClockTime(20, 9, second=40)
    then = clock.between(BEGUN, now)
    assert then == utc("2026-10-03T18:09") + timedelta(seconds=40)
    assert (str(clock), clock.in_words()) == ("20:09:40", "20:09:40")
    shown = [clock.shows(then, then + timedelta(seconds=s)) for s in (-0.1, 0.0, 0.9, 1.0)]
    assert shown == [False, True, True, False]
    with pytest.raises(InputError, match="20:40:01 is not between"):
        ClockTime(20, 40, second=1).between(BEGUN, now)


@pytest.mark.parametrize("clock", [(20, 41), (19, 29), (8, 9)])
def test_what_is_yet_to_come_or_was_before_the_rehearsal_is_refused(in_berlin, clock):
    problem = "is not between the beginning of the rehearsal, 19:30, and now, 20:40"
    with pytest.raises(InputError, match=problem):
        ClockTime(*clock).between(BEGUN, utc("2026-10-03T18:40"))


def test_a_rehearsal_over_midnight(in_berlin):
    now = utc("2026-10-03T23:10")
    assert ClockTime(0, 30).between(BEGUN, now) == utc("2026-10-03T22:30")
    assert ClockTime(23, 30).between(BEGUN, now) == utc("2026-10-03T21:30")
    with pytest.raises(InputError, match="the rehearsal, 2026-10-03 19:30, and now, 01:10"):
        ClockTime(2, 0).between(BEGUN, now)


def test_a_time_that_came_on_two_days_needs_the_day(in_berlin):
    now = utc("2026-10-04T18:40")
    with pytest.raises(InputError, match="shown 20:09 more than once") as refusal:
        ClockTime(20, 9).between(BEGUN, now)
    assert "at 2026-10-04 20:09" in refusal.value.remedy
    named = ClockTime(20, 9, date(2026, 10, 3))
    assert named.between(BEGUN, now) == utc("2026-10-03T18:09")


def test_an_hour_that_came_twice_or_never(in_berlin):
    begun, now = utc("2026-10-24T23:00"), utc("2026-10-25T03:00")  # summer time ends at 01:00
    with pytest.raises(InputError, match="more than once") as refusal:
        ClockTime(2, 30).between(begun, now)
    assert refusal.value.remedy == "type a time that it showed once"
    assert ClockTime(1, 30).between(begun, now) == utc("2026-10-24T23:30")
    begun, now = utc("2026-03-28T23:00"), utc("2026-03-29T03:00")  # and begins at 01:00
    with pytest.raises(InputError, match="02:30 is not between"):
        ClockTime(2, 30).between(begun, now)


def test_a_slide_of_a_rehearsal_that_came_from_tables_is_entered_later(in_berlin, tmp_path):
    with Logbook(tmp_path / "band.logbook", writer="the test") as book:
        book.keep(Event(BEGUN, "hall", "", "play"))
        book.keep(
            Reading(BEGUN + timedelta(minutes=30), "hall", "Cleo", "Bb trumpet", "", "F4", 3.0)
        )
        desk = Desk(book, "hall")
        late = BEGUN + timedelta(days=3)
        desk.start(late, player="Cleo", instrument="Bb trumpet")
        assert "more than once" in desk.enter("at 19:58 slide main 12", late).text
        answer = desk.enter("at 2026-10-03 19:58 slide main 12", late)
        assert answer.text == (
            "saved slide main 12 mm at 19:58 on 2026-10-03 (where the main slide was before is "
            "not known: enter that too, with its time)"
        )
        (slide,) = [row for row in book.rows("events") if row["slide"]]
        assert slide["time"] == utc("2026-10-03T17:58")
        desk.enter("at 2026-10-03 19:31 slide main 8", late)
        again = desk.enter("at 2026-10-03 19:59 slide main 13", late)
        assert again.text == "saved slide main 13 mm at 19:59 on 2026-10-03"


def test_a_forgotten_slide_counts_from_when_it_moved(in_berlin, tmp_path):
    def at(minute: float) -> datetime:
        return BEGUN + timedelta(minutes=minute)

    with Logbook(tmp_path / "band.logbook", writer="the test") as book:
        desk = Desk(book, "hall")
        desk.start(at(0), player="Rowan", instrument="double horn")
        for minute, line in [
            (0.5, "temp 21"), (1, "play"), (2, "slide main 10"), (20, "F4 +6 F"), (30, "Bb3 -8 F"),
        ]:  # fmt: skip
            assert desk.enter(line, at(minute)).saved
        answer = desk.enter("at 19:55 slide main 14", at(40))
        assert answer.text == "saved slide main 14 mm at 19:55"
        assert desk.enter("+5 at 19:52", at(41)).text == (
            "saved F4 +5.0 cents on the F side at 19:52"
        )
        assert desk.enter("slide main 12 at 19:29", at(42)).text == (
            "not saved: 19:29 is not between the beginning of the rehearsal, 19:30, and now, "
            "20:12; type a time between the two: at 20:10 slide main 14"
        )
        rows = list(book.rows("events"))
        assert [r["position_mm"] for r in rows if r["slide"]] == [10.0, 14.0]
        # undo means what was typed last, whenever it happened
        assert desk.enter("undo", at(43)).text == "saved undo of F4 +5.0 cents on the F side"
        frame = pair(load(book.path)).frame
    assert list(frame["note"]) == ["F4", "Bb3"]
    shift = frame["reference_cents"] - frame["cents"]
    assert shift.iloc[0] == 0.0  # before 19:55 the slide was at its reference
    assert shift.iloc[1] > 3.0  # after it 4 mm further out: brought back, the note is sharper


@pytest.mark.parametrize(
    ("typed", "entry"),
    [
        ("Bb4 +3 at 08:20 ! mute", "Bb4 +3 ! mute"),
        ("Bb4 +3 at 08:20 !", "Bb4 +3 !"),
        ("at 08:20 Bb4 +3 ! mute in", "Bb4 +3 ! mute in"),
    ],
)
def test_a_time_goes_before_what_was_unusual(typed, entry):
    assert split_time(typed) == (entry, ClockTime(8, 20))


def test_a_time_in_a_remark_is_none():
    assert split_time("Bb4 +3 ! mute at 08:20") == ("Bb4 +3 ! mute at 08:20", None)
