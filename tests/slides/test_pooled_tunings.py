"""What tunings teach of a slide by the way, pooled over evenings."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from drift.instruments import find
from drift.logbook.book import Logbook
from drift.logbook.records import Event
from drift.logbook.rehearsals import of_logbook
from drift.slides.pooled_tunings import pooled_slopes
from drift.slides.tuning_log import Seat, answered, tuned_events
from drift.tonight.tuned import tuned_of
from drift.tonight.tuning import begin_tuning
from drift.tonight.tuning_steps import Step

START = datetime(2026, 9, 1, 17, 0, tzinfo=UTC)
TRUMPET = find("Bb trumpet")
TRUE_FACTOR = 1.25


def tune_once(book, evening, rng):
    """A player whose slide does a quarter more than the rule, 30 cents sharp with it in."""
    time = START + timedelta(days=7 * evening)
    seat = Seat(f"evening {evening}", "Rowan")
    at, slope = 0.0, TRUMPET.cents_per_mm("", "main") * TRUE_FACTOR
    book.keep(Event(time, seat.rehearsal, "", "play", already_warm=True))
    slide = {"instrument": TRUMPET.name, "position_mm": at}
    book.keep(Event(time, seat.rehearsal, "Rowan", "slide", "main", **slide))
    level = rng.normal(30.0, 3.0)
    tuning = begin_tuning(TRUMPET, positions_mm={"main": at}, minutes_played=40.0, valves=False)
    while tuning.now.step is not Step.DONE:
        time += timedelta(seconds=20)
        moving = tuning.now.step is Step.MOVE
        line = "" if moving else f"{level + slope * at + rng.normal(0.0, 1.0):+.1f}"
        tuning, records, _ = answered(tuning, line, seat, time)
        book.keep_all(records)
        at = tuning.belief.positions_mm["main"]
    book.keep_all(tuned_events(tuning, tuned_of(tuning), seat, time))


@pytest.fixture
def book(tmp_path):
    with Logbook(tmp_path / "band.logbook", writer="test") as open_book:
        yield open_book


def test_one_evening_is_no_calibration(book):
    tune_once(book, 0, np.random.default_rng(1))
    assert pooled_slopes(of_logbook(book), "Rowan", TRUMPET) == []


def test_many_evenings_find_what_the_slide_does(book):
    rng = np.random.default_rng(1)
    for evening in range(20):
        tune_once(book, evening, rng)
    (found,) = pooled_slopes(of_logbook(book), "Rowan", TRUMPET)
    assert (found.slide, found.side, found.tunings) == ("main", "", 20)
    assert found.relative_sd < 0.08
    true = TRUMPET.cents_per_mm("", "main") * TRUE_FACTOR
    assert abs(found.cents_per_mm / true - 1.0) < 2.5 * found.relative_sd
    assert pooled_slopes(of_logbook(book), "Kim", TRUMPET) == []
