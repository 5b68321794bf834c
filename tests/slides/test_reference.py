"""The last tuning that was logged is where later answers start from."""

import json
import math
from datetime import UTC, datetime, timedelta

import pytest

from drift.instruments import find
from drift.logbook.book import Logbook
from drift.logbook.records import Event, Reading, Temperature
from drift.logbook.rehearsals import of_logbook
from drift.regression.fits import physics
from drift.slides.reference import Reference, TunedFrom, last_tuning, where_tuned
from drift.study import Study
from drift.words.slides import answer
from tests.cli.test_schemas import check as check_answer

TRUMPET = find("Bb trumpet")
START = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)


def minute(minutes):
    return START + timedelta(minutes=minutes)


@pytest.fixture
def book(tmp_path):
    with Logbook(tmp_path / "band.logbook", writer="test") as book:
        book.start("tonight", START)
        yield book


def tunes(book, *, celsius=24.0, at=27.0, state="warm"):
    if celsius is not None:
        book.keep_all([Temperature(minute(m), "tonight", celsius, source="typed") for m in (0, 10)])
    book.keep_all(
        [
            Event(minute(0), "tonight", "Ada", "play"),
            Reading(minute(11), "tonight", "Ada", "Bb trumpet", "", "Bb4", 1.0, 440.0),
            Event(minute(12), "tonight", "Ada", "slide", "main", at, instrument="Bb trumpet"),
            Event(
                minute(12), "tonight", "Ada", "tuned", "main", at,
                instrument="Bb trumpet", state=state,
            ),
        ]
    )  # fmt: skip


def corrected(book, **given):
    return Study(of_logbook(book)).correction(TRUMPET, 10.0, player="Ada", known=physics(), **given)


def told(found):
    return " ".join(answer(found).split())


def test_the_pitch_of_the_readings_is_the_pitch_it_was_tuned_to(book):
    book.keep(Reading(minute(1), "tonight", "Ada", "Bb trumpet", "", "Bb4", 1.0, 442.0))
    same, lower = corrected(book), corrected(book, a4_hz=437.5)
    assert (same.a4_hz, same.tuned_a4_hz, lower.tuned_a4_hz) == (442.0, 442.0, 442.0)
    above = lower.expected_cents[""].estimate - same.expected_cents[""].estimate
    assert above == pytest.approx(1200 * math.log2(442 / 437.5))
    assert "B♭ trumpet: tuned to A4 = 442 Hz at 20 °C" in told(lower)
    assert "Expected, for A4 = 437.5 Hz: " in told(lower)
    assert corrected(book, tuned_a4_hz=440.0).a4_hz == 440.0


def test_a_tuning_is_at_the_pitch_of_the_readings_before_it(book):
    tunes(book)
    book.keep(Reading(minute(30), "tonight", "Ada", "Bb trumpet", "", "Bb4", 1.0, 443.0))
    assert corrected(book).tuned_a4_hz == 440.0


def test_without_a_tuning_where_it_was_tuned_is_assumed_and_said_to_be(book):
    book.keep(Reading(minute(1), "tonight", "Ada", "Bb trumpet", "", "Bb4", 1.0, 440.0))
    assert last_tuning(of_logbook(book), "Ada", TRUMPET) is None
    found = corrected(book)
    assert (found.tuned_from, found.tuned_celsius) == (TunedFrom.ASSUMED, 20.0)
    assert "tuned at 20 °C after 30 minutes of playing (assumed), going" in answer(found)


def test_the_last_tuning_gives_air_warmth_and_positions(book):
    tunes(book)
    found = corrected(book)
    assert found.tuned_from is TunedFrom.TUNING
    assert found.tuned_celsius == pytest.approx(24.0)
    assert found.at == {"main": 27.0}
    # It was tuned for the warm instrument, though only twelve minutes had been played.
    assert found.tuned_minutes >= found.warm_after.estimate > 12.0
    assert "tuned at 24 °C for when it is warm (as it was tuned in tonight), going" in told(found)
    tuned = found.to_json()["tuned"]
    assert (tuned["from"], tuned["warm"]) == ("tuning", True)


def test_a_cold_tuning_counts_with_the_minutes_that_were_played(book):
    tunes(book, state="cold")
    assert corrected(book).tuned_minutes == 12.0


def test_what_is_given_goes_before_the_tuning_and_the_rest_stays_as_it_was_tuned(book):
    tunes(book)
    book.keep(Event(minute(20), "tonight", "Ada", "slide", "main", 31.0, instrument="Bb trumpet"))
    found = corrected(book, tuned_celsius=18.0)
    assert (found.tuned_from, found.tuned_celsius, found.tuned_warm) == ("given", 18.0, True)
    assert found.at == {"main": 27.0}  # where the tuning left it
    assert "was at 27 mm when tuned and is logged at 31 mm now" in told(found)
    assert corrected(book, at={"main": 5.0}).at == {"main": 5.0}


def test_the_temperature_of_the_tuning_itself_changes_nothing(book):
    tunes(book)
    book.keep(Event(minute(20), "tonight", "Ada", "slide", "main", 31.0, instrument="Bb trumpet"))
    assert corrected(book, tuned_celsius=24.0).moves == corrected(book).moves


def test_only_what_was_logged_is_ascribed_to_the_tuning(book):
    tunes(book)
    logged, given = " (as it was tuned in tonight)", " (as given)"
    minutes = told(corrected(book, tuned_minutes=28.0))
    assert f"tuned at 24 °C{logged} after 28 minutes of playing{given}, going" in minutes
    degrees = told(corrected(book, tuned_celsius=18.0))
    assert f"tuned at 18 °C{given} for when it is warm{logged}, going" in degrees
    both = told(corrected(book, tuned_celsius=18.0, tuned_minutes=28.0))
    assert f"tuned at 18 °C{given} after 28 minutes of playing{given}, going" in both
    tunes(book, celsius=None, state="cold")
    assert f"tuned at 24 °C after 12 minutes of playing{logged}" in told(corrected(book))


def test_moves_count_from_the_tuning_and_a_slide_moved_since_is_named(book):
    tunes(book)
    assert "when tuned" not in answer(corrected(book))
    book.keep(Event(minute(20), "tonight", "Ada", "slide", "main", 31.0, instrument="Bb trumpet"))
    found = corrected(book)
    assert found.at == {"main": 27.0}
    said = " ".join(answer(found).split())
    assert "was at 27 mm when tuned and is logged at 31 mm now: its move is counted" in said
    notice = found.to_json()["warnings"][-1]
    assert notice == {"kind": "moved_since", "slide": "main", "side": "", "value": 31.0}
    check_answer("slides", json.loads(json.dumps(found.to_json())))


def test_a_tuning_without_a_thermometer_says_that_its_air_is_assumed(book):
    tunes(book, celsius=None)
    found = corrected(book)
    assert found.tuned_celsius == 20.0
    assert "as it was tuned in tonight; the temperature is assumed" in told(found)


def test_somebody_elses_tuning_is_not_used(book):
    tunes(book)
    book.keep(Reading(minute(13), "tonight", "Bo", "Bb trumpet", "", "Bb4", 1.0, 440.0))
    assert last_tuning(of_logbook(book), "Bo", TRUMPET) is None


@pytest.mark.parametrize(
    ("played", "warm", "said"), [(20.2, True, 20.0), (12.6, False, 13.0), (12.6, True, 19.0)]
)
def test_minutes_played_are_to_the_nearest_and_those_until_warm_at_least(played, warm, said):
    tuned = Reference("tonight", START, 20.0, played, warm, {}, {})
    found = where_tuned(None, None, tuned, 18.4)
    assert (found.minutes, found.warm) == (said, said == 19.0)


def test_minutes_alone_are_given_too():
    assert where_tuned(None, 12.0, None, 18.0)[:3] == ("given", 20.0, 12.0)
