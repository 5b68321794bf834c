"""A player who tunes: what is asked back, what is kept when it is broken off, what air holds."""

from datetime import UTC, datetime, timedelta

import pytest

from drift.errors import InputError
from drift.instruments import find
from drift.logbook.book import Logbook
from drift.logbook.records import Event, Temperature
from drift.notes import cents_between
from drift.slides.tuning_air import air_now
from drift.slides.tuning_log import Seat
from drift.slides.tuning_resumed import broken_off, followed
from drift.slides.tuning_sitting import Doubted, Sitting
from drift.tonight.tuning import begin_tuning
from drift.tonight.tuning_steps import Step

START = datetime(2026, 9, 1, 17, 0, tzinfo=UTC)
SEAT = Seat("hall", "Rowan")
AT = {"double horn": {"main": 12.0, "F": 8.0, "Bb": 2.0}, "flute": {"head": 5.0}}


@pytest.fixture
def book(tmp_path):
    with Logbook(tmp_path / "band.logbook", writer="test") as open_book:
        open_book.keep(Temperature(START, "hall", 21.0, source="typed"))
        yield open_book


def beginning(instrument="double horn", minutes=30.0):
    return begin_tuning(
        find(instrument), positions_mm=AT[instrument], minutes_played=minutes, valves=False,
        reading_sd_cents=2.0,
    )  # fmt: skip


def sitting(book, instrument="double horn", minutes=30.0):
    return Sitting(book, beginning(instrument, minutes), SEAT, START)


def until_a_move(sat, line="+20"):
    for _ in range(8):
        if sat.tuning.now.step is Step.MOVE:
            return sat.tuning.now
        sat.enter(line, START)
    raise AssertionError("no move was asked for")


@pytest.mark.parametrize(
    ("instrument", "away", "asked_back"),
    [("double horn", 2.5, False), ("flute", 1.25, False), ("flute", 6.0, True)],
)
def test_a_position_is_taken_within_what_an_eye_sets(book, instrument, away, asked_back):
    sat = sitting(book, instrument)
    now = until_a_move(sat)
    typed = now.to_mm + away
    taken = sat.enter(f"{typed:g}", START)
    assert taken.doubted == (
        Doubted(now.slide, typed, now.to_mm, instrument) if asked_back else None
    )


def test_a_slide_may_stop_short_by_a_third_of_its_move(book):
    sat = sitting(book)
    now = until_a_move(sat, "+45")
    assert now.move_mm > 12.0
    short, shorter = now.to_mm - now.move_mm * 0.3, now.to_mm - now.move_mm * 0.4
    assert sat.enter(f"{shorter:.1f}", START).doubted is not None
    assert sat.enter(f"{short:.1f}", START).doubted is None


def test_a_second_doubt_is_another_question(book):
    sat = sitting(book)
    until_a_move(sat)
    assert sat.enter("1", START).doubted.position_mm == 1.0
    assert sat.enter("2", START).doubted.position_mm == 2.0
    assert sat.enter("2", START).doubted is None


def test_another_slide_is_not_where_the_one_asked_is(book):
    sat = sitting(book)
    until_a_move(sat)
    with pytest.raises(InputError, match="F 8 is not where main is"):
        sat.enter("F 8", START)


def plays(book):
    """How long ago playing began, by all that was logged of it [min]."""
    rows = [row for row in book.rows("events") if row["event"] == "play"]
    return [round((START - row["time"]).total_seconds() / 60.0, 1) for row in rows]


@pytest.mark.parametrize(("said", "minutes"), [("played 20", 20.0), ("12", 12.0)])
def test_playing_that_is_said_to_have_begun_before_is_logged(book, said, minutes):
    """Else the first notes would count as those of a cold instrument, whatever was said."""
    book.keep(Event(START - timedelta(seconds=6), "hall", "", "play"))
    sat = sitting(book, minutes=0.1)
    assert sat.tuning.now.step is Step.WARM_UP
    sat.enter(said, START)
    assert plays(book) == [pytest.approx(minutes, abs=0.2), 0.1]
    sat.enter("undo", START)
    assert plays(book) == [0.1]


@pytest.mark.parametrize(
    "before",
    [
        (Event(START - timedelta(minutes=0.1), "hall", "", "play", already_warm=True),),
        (Event(START - timedelta(minutes=25), "hall", "", "play"),),
        (
            Event(START - timedelta(minutes=40), "hall", "", "play"),
            Event(START - timedelta(minutes=20), "hall", "", "rest"),
            Event(START - timedelta(minutes=1), "hall", "", "play"),
        ),
    ],
)
def test_what_was_logged_of_playing_stays_where_it_says_as_much(book, before):
    for event in before:
        book.keep(event)
    sat, logged = sitting(book, minutes=5.0), plays(book)
    sat.enter("played 20", START)
    assert plays(book) == logged


def test_minutes_are_not_counted_anew_after_a_note(book):
    sat = sitting(book)
    sat.enter("+2", START)
    with pytest.raises(InputError, match="a note has been read"):
        sat.enter("played 20", START)


def test_what_is_refused_changes_nothing(book):
    sat = sitting(book)
    with pytest.raises(InputError, match="999 cents is not a reading of F4"):
        sat.enter("999", START)
    with pytest.raises(InputError, match="nothing to undo"):
        sat.enter("undo", START)
    assert list(book.rows("readings")) == []


def test_a_tuning_is_followed_as_it_was_played(book):
    sat, time = sitting(book), START
    for line in ("+20", "+18", "-1", "+2", "undo", "+3"):
        time += timedelta(seconds=20)
        if sat.tuning.now.step is Step.MOVE:
            sat.enter("", time)
        sat.enter(line, time)
    broken = broken_off(book, "hall", "Rowan", "double horn", time)
    again = followed(beginning(), broken, time)
    assert again.tuning.now == sat.tuning.now
    assert again.tuning.sides == sat.tuning.sides
    assert again.tuning.belief.positions_mm == sat.tuning.belief.positions_mm
    for side in ("Bb", "F"):
        assert again.tuning.belief.estimate(side) == pytest.approx(sat.tuning.belief.estimate(side))
    rows = len(list(book.rows("readings")))
    assert again.readings == rows
    back = Sitting(book, again.tuning, SEAT, time, marks=broken.marks, steps=again.steps)
    assert back.enter("undo", time).records[0].cents == 3.0
    assert len(list(book.rows("readings"))) == rows - 1


def test_a_tuning_that_goes_on_at_another_a4_counts_its_notes_from_there(book):
    sat = sitting(book)
    for line in ("+20", "+18"):
        sat.enter("" if sat.tuning.now.step is Step.MOVE else line, START)
    broken = broken_off(book, "hall", "Rowan", "double horn", START)
    at_440 = followed(beginning(), broken, START).tuning.belief.estimate("Bb")
    at_442 = followed(beginning(), broken, START, a4_hz=442.0).tuning.belief.estimate("Bb")
    assert at_440[0] - at_442[0] == pytest.approx(cents_between(442.0, 440.0), abs=1.5)


def test_a_slide_that_was_stuck_is_left_out_again(book):
    sat = sitting(book)
    until_a_move(sat)
    sat.enter("stuck", START)
    until_a_move(sat)
    sat.enter("", START)
    again = followed(beginning(), broken_off(book, "hall", "Rowan", "double horn", START), START)
    assert again.tuning.belief.positions_mm == sat.tuning.belief.positions_mm


def test_a_slide_that_was_moved_in_the_log_is_where_it_was_moved_to(book):
    sat = sitting(book)
    sat.enter("+2", START)
    then = START + timedelta(minutes=1)
    book.keep(Event(then, "hall", "Rowan", "slide", "main", 15.0, instrument="double horn"))
    again = followed(beginning(), broken_off(book, "hall", "Rowan", "double horn", then), then)
    assert again.tuning.belief.positions_mm["main"] == 15.0


@pytest.mark.parametrize(
    ("player", "minutes"), [("Isolde", 1), ("Rowan", 46)], ids=["another player", "long ago"]
)
def test_there_is_nothing_to_go_on_with(book, player, minutes):
    sitting(book).enter("+2", START)
    later = START + timedelta(minutes=minutes)
    assert broken_off(book, "hall", player, "double horn", later) is None


def test_air_holds_as_long_as_where_readings_are_paired():
    def row(minutes, source):
        return {"celsius": 21.0, "source": source, "time": START - timedelta(minutes=minutes)}

    assert air_now([row(29, "typed")], START) == 21.0
    assert air_now([row(31, "typed")], START) is None
    assert air_now([row(9, "stage")], START) == 21.0
    assert air_now([row(11, "stage")], START) is None
    assert air_now([row(-1, "stage")], START) is None
