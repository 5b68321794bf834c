"""Whatever is skipped, stuck or undone, only what was said is saved, and called tuned."""

from datetime import UTC, datetime

import pytest

from drift.errors import InputError
from drift.instruments import find
from drift.logbook.book import Logbook
from drift.logbook.records import Temperature
from drift.slides.tuning_log import Seat
from drift.slides.tuning_resumed import broken_off, followed
from drift.slides.tuning_sitting import Sitting
from drift.tonight.tuning import begin_tuning
from drift.tonight.tuning_steps import Step

START = datetime(2026, 9, 1, 17, 0, tzinfo=UTC)
SEAT = Seat("hall", "Rowan")
READ = (Step.PLAY, Step.PLAY_AGAIN, Step.CHECK, Step.VALVE_PLAY)


@pytest.fixture
def book(tmp_path):
    with Logbook(tmp_path / "band.logbook", writer="test") as open_book:
        open_book.keep(Temperature(START, "hall", 21.0, source="typed"))
        yield open_book


def sitting(book, instrument="Bb trumpet", minutes=30.0, **given):
    tuning = begin_tuning(find(instrument), minutes_played=minutes, reading_sd_cents=2.0, **given)
    return Sitting(book, tuning, SEAT, START)


def sensible(sat, cents="+9"):
    """What a player answers to the step that is asked."""
    match sat.tuning.now.step:
        case Step.SAY_POSITION:
            return "12"
        case step if step in READ:
            return cents
    return ""


def saved(book):
    """Positions, readings and tuned states in the logbook."""
    events = [row for row in book.rows("events") if row["slide"] or row["event"] == "tuned"]
    slides = [(row["slide"], row["position_mm"]) for row in events if row["event"] == "slide"]
    read = [row["cents"] for row in book.rows("readings")]
    return slides, read, [row["slide"] for row in events if row["event"] == "tuned"]


def walk(sat, answer, most=80):
    """Answer every step; return the positions and the readings that were said."""
    slides, read = [], []
    for _ in range(most):
        if sat.over:
            sat.close(START)
            return slides, read
        now, line = sat.tuning.now, answer(sat)
        try:
            sat.enter(line, START)
        except InputError:
            line = sensible(sat)
            sat.enter(line, START)
        if line in ("skip", "stuck"):
            continue
        if now.step is Step.SAY_POSITION:
            slides.append((now.slide, 12.0))
        elif now.step is Step.MOVE:
            slides.append((now.slide, now.to_mm))
        elif now.step in READ and not now.valve:
            read.append(float(line))
    raise AssertionError("no end")


@pytest.mark.parametrize("instrument", ["Bb trumpet", "double horn", "flute"])
@pytest.mark.parametrize(
    ("word", "minutes"),
    [(word, minutes) for word in ("skip", "stuck", "") for minutes in (0.0, 30.0)],
)
def test_only_what_was_said_is_saved(book, instrument, word, minutes):
    sat = sitting(book, instrument, minutes)
    slides, read = walk(sat, lambda _: word)
    assert saved(book)[:2] == (slides, read)
    assert {mm for _, mm in slides if mm is not None} >= {12.0}
    if word == "skip":
        assert (read, saved(book)[2]) == ([], [])


@pytest.mark.parametrize("instrument", ["Bb trumpet", "double horn"])
@pytest.mark.parametrize("at", range(14))
@pytest.mark.parametrize("word", ["skip", "stuck"])
def test_one_step_left_out_saves_nothing_of_it_and_undo_brings_it_back(book, instrument, word, at):
    sat = sitting(book, instrument)
    for _ in range(at):
        if not sat.over:
            sat.enter(sensible(sat), START)
    before, held = sat.tuning, saved(book)
    try:
        sat.enter(word, START)
    except InputError:
        assert sat.tuning is before
    else:
        assert saved(book) == held
        assert sat.tuning.belief.positions_mm == before.belief.positions_mm
        sat.enter("undo", START)
        assert sat.tuning is before
    assert saved(book) == held


def test_where_a_slide_is_cannot_be_skipped(book):
    sat = sitting(book)
    with pytest.raises(InputError, match="cannot be left out") as refused:
        sat.enter("skip", START)
    assert refused.value.remedy == "measure it from fully in; a slide that is fully in is at 0"
    assert not sat.tuning.unmoved
    assert saved(book) == ([], [], [])


def test_a_slide_that_is_stuck_is_asked_for_where(book):
    sat = sitting(book)
    sat.enter("stuck", START)
    assert (sat.tuning.now.step, sat.tuning.stuck) == (Step.SAY_POSITION, {"main"})
    with pytest.raises(InputError, match="where it is stuck is not known yet"):
        sat.enter("stuck", START)
    sat.enter("7", START)
    assert saved(book)[0] == [("main", 7.0)]
    walk(sat, sensible)
    assert saved(book)[0] == [("main", 7.0)]


def test_a_skipped_note_is_passed_over_for_the_next(book):
    sat = sitting(book, positions_mm={"main": 12.0})
    asked = []
    while sat.tuning.now.note and not sat.over:
        asked.append(sat.tuning.now.note)
        sat.enter("skip", START)
    assert sorted(asked) == ["Bb3", "Bb4", "F4"]
    assert sat.over  # no valve is read against open notes that nobody knows


@pytest.mark.parametrize("lines", [["skip"] * 3, ["+9", "skip", "skip"], ["skip", "+9", "skip"]])
def test_of_too_little_nothing_is_called_tuned(book, lines):
    sat = sitting(book, positions_mm={"main": 12.0})
    walk(sat, lambda sat: lines.pop(0) if lines and sat.tuning.now.step in READ else "skip")
    assert not sat.tuning.reached
    assert saved(book)[2] == []


def test_a_note_that_was_skipped_does_not_stop_a_tuning(book):
    sat, lines = sitting(book, positions_mm={"main": 12.0}), ["0", "skip"]
    walk(sat, lambda sat: lines.pop(0) if lines else sensible(sat, "0"))
    assert sat.tuning.reached
    assert saved(book)[2] == ["main"]


def test_an_instrument_left_off_by_a_skipped_move_is_not_tuned(book):
    sat = sitting(book, positions_mm={"main": 12.0})
    walk(sat, lambda sat: "skip" if sat.tuning.now.step is Step.MOVE else sensible(sat, "+20"))
    assert (saved(book)[0], saved(book)[2]) == ([], [])
    assert sat.tuning.left == {"main"}
    assert not sat.tuning.stuck


def test_no_slide_is_stuck_where_a_note_is_asked_for(book):
    sat = sitting(book, positions_mm={"main": 12.0})
    with pytest.raises(InputError, match="no slide is to be moved now"):
        sat.enter("stuck", START)


def test_a_tuning_that_was_not_reached_goes_on_from_what_was_read(book):
    sat = sitting(book)
    for line in ("12", "+9", "skip", "skip"):
        sat.enter(line, START)
    broken = broken_off(book, "hall", "Rowan", "Bb trumpet", START)
    first = begin_tuning(find("Bb trumpet"), minutes_played=30.0, reading_sd_cents=2.0)
    again = followed(first, broken, START)
    assert again.readings == 1
    assert again.tuning.belief.positions_mm == {"main": 12.0}
    assert again.tuning.now.note
