"""What a player who tunes says of playing: saved at once, gone on with, counted once."""

from datetime import UTC, datetime, timedelta

import pytest

from drift.instruments import find
from drift.logbook.book import Logbook
from drift.logbook.records import Event, Temperature
from drift.logbook.rehearsals import of_logbook
from drift.pairing.playing import playing_at
from drift.regression.fits import physics
from drift.slides.tuning_begun import begin, sit_down
from drift.slides.tuning_log import Seat
from drift.tonight.tuning_steps import Step
from drift.words.tuning_taken import resumed_in_words

START = datetime(2026, 9, 1, 17, 0, tzinfo=UTC)
SEAT = Seat("hall", "Rowan")
HORN = find("double horn")
AT = {"main": 12.0, "F": 8.0, "Bb": 2.0}


def after(minutes):
    return START + timedelta(minutes=minutes)


@pytest.fixture
def book(tmp_path):
    with Logbook(tmp_path / "band.logbook", writer="test") as open_book:
        open_book.keep(Temperature(START, "hall", 21.0, source="typed"))
        yield open_book


def tune(book, minute, *lines, played=None):
    """Begin, or go on, at a minute and answer; return what was begun and who sits there."""
    begun = begin(
        book, of_logbook(book), physics(), "hall", "Rowan", HORN, after(minute), at=AT,
        minutes_played=played, valves=False,
    )  # fmt: skip
    sat = sit_down(book, begun, SEAT, after(minute))
    for line in lines:
        sat.enter(line, after(minute))
    return begun, sat


def logged(book, minute):
    """Return the minutes of playing by the logbook."""
    rehearsals = of_logbook(book)
    moment = after(minute).timestamp() / 60.0
    return playing_at(rehearsals.events, rehearsals.readings, "Rowan", moment)[0]


def spells(book, minute):
    rehearsals = of_logbook(book)
    moment = after(minute).timestamp() / 60.0
    found = playing_at(rehearsals.events, rehearsals.readings, "Rowan", moment)
    return [*found[1], found[2]]


def log(book, minute, event, player="", **more):
    book.keep(Event(after(minute), "hall", player, event, **more))


@pytest.mark.parametrize(("line", "minutes"), [("played 15", 15.0), ("8", 8.0), ("", 18.0)])
def test_minutes_are_saved_when_they_are_said(book, line, minutes):
    tune(book, 0, line)
    assert logged(book, 0) == pytest.approx(minutes)


def test_minutes_given_at_the_beginning_are_saved(book):
    tune(book, 0, played=15.0)
    assert logged(book, 0) == pytest.approx(15.0)


def test_it_goes_on_where_it_stopped_and_counts_nothing_twice(book):
    tune(book, 0, "played 15")
    begun, sat = tune(book, 2)
    assert sat.tuning.now.step is Step.WARM_UP
    assert (sat.tuning.belief.minutes, sat.tuning.now.minutes) == pytest.approx((17.0, 1.0))
    assert "goes on where it stopped, as warm as after 17 minutes of playing." in resumed_in_words(
        begun
    )
    sat.enter("", after(3))
    sat.enter("+2", after(3))
    assert logged(book, 3) == pytest.approx(18.0)
    _, again = tune(book, 5)
    assert again.tuning.belief.minutes == pytest.approx(20.0, abs=0.5)


def test_a_tuning_in_which_a_note_was_read_counts_what_was_logged_once(book):
    log(book, -20, "play")
    tune(book, 0, "+2")
    _, again = tune(book, 10)
    assert again.tuning.belief.minutes == pytest.approx(30.0, abs=0.5)


@pytest.mark.parametrize("given", [15.0, 5.0])
def test_the_same_command_again_says_no_news_of_playing(book, given):
    tune(book, 0, "played 15")
    _, sat = tune(book, 4, played=given)
    assert sat.tuning.belief.minutes == pytest.approx(19.0)
    assert logged(book, 4) == pytest.approx(19.0)


def test_more_minutes_given_again_are_news(book):
    tune(book, 0, played=15.0)
    _, sat = tune(book, 4, played=40.0)
    assert sat.tuning.belief.minutes == pytest.approx(40.0)
    assert logged(book, 4) == pytest.approx(40.0)


def test_the_minutes_said_last_are_those_saved(book):
    _, sat = tune(book, 0, "played 50", "played 5")
    assert logged(book, 0) == pytest.approx(5.0)
    sat.enter("8", START)
    assert logged(book, 0) == pytest.approx(13.0)
    for minutes in (5.0, 50.0, 0.0):
        sat.enter("undo", START)
        assert logged(book, 0) == pytest.approx(minutes)
    assert [row for row in book.rows("events") if row["event"] == "play"] == []


def test_undo_reaches_minutes_of_before_it_stopped(book):
    tune(book, 0, "played 5", "8")
    _, sat = tune(book, 1)
    assert sat.enter("undo", after(1)).minutes == pytest.approx(14.0)
    assert sat.tuning.belief.minutes == pytest.approx(6.0)
    assert logged(book, 1) == pytest.approx(6.0)
    sat.enter("undo", after(1))
    assert (sat.tuning.belief.minutes, logged(book, 1)) == (0.0, 0.0)


def test_what_is_said_after_a_rest_is_played_since(book):
    log(book, -60, "play")
    log(book, -20, "rest")
    tune(book, 0, "6")
    assert spells(book, 0) == pytest.approx([40.0, 14.0, 6.0])
    tune(book, 3, "8")  # 3 minutes of which the log knows
    assert spells(book, 3) == pytest.approx([40.0, 14.0, 9.0])


@pytest.mark.parametrize(("said", "since"), [(50, 10.0), (80, 20.0), (30, 0.0)])
def test_minutes_in_all_after_a_rest_are_those_logged_and_those_since(book, said, since):
    log(book, -60, "play")
    log(book, -20, "rest")
    tune(book, 0, f"played {said}")
    assert logged(book, 0) == pytest.approx(40.0 + since)


def test_minutes_in_all_after_a_rest_may_be_said_again(book):
    log(book, -60, "play")
    log(book, -20, "rest")
    _, sat = tune(book, 0, "played 60")
    for line, minutes in (("played 45", 45.0), ("played 30", 40.0), ("undo", 45.0), ("undo", 60.0)):
        sat.enter(line, START)
        assert logged(book, 0) == pytest.approx(minutes)


def test_where_only_a_stop_was_logged_minutes_are_saved_too(book):
    log(book, -5, "rest")
    tune(book, 0, "played 15")
    assert logged(book, 0) == pytest.approx(11.0)  # the rest is over a minute ago


@pytest.mark.parametrize("minute", [46, 24 * 60], ids=["a long rest", "the next day"])
def test_minutes_of_long_ago_are_not_those_of_now(book, minute):
    tune(book, 0, "played 15")
    begun, sat = tune(book, minute)
    assert "is not counted" in resumed_in_words(begun)
    assert (sat.tuning.belief.minutes, sat.tuning.now.minutes) == pytest.approx((0.0, 18.0))
    sat.enter("played 4", after(minute))
    assert logged(book, minute) == pytest.approx(4.0)
    sat.enter("undo", after(minute))
    assert (sat.tuning.belief.minutes, logged(book, minute)) == (0.0, 0.0)


def test_a_note_read_after_a_long_rest_is_one_of_a_cold_instrument(book):
    tune(book, 0, "played 15")
    _, sat = tune(book, 120, "temp 21", "skip", "-20")
    assert sat.tuning.sides["Bb"].readings == 1
    assert logged(book, 120) == pytest.approx(0.0)


def test_who_read_notes_since_has_played_on(book):
    tune(book, 0, "played 30", "+1")
    begun, sat = tune(book, 60, "temp 21")
    assert sat.tuning.now.step is Step.PLAY
    assert resumed_in_words(begun) == ""
    assert logged(book, 60) == pytest.approx(90.0)
