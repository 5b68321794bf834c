"""When the next reading is due, and how well the answer is known."""

from datetime import datetime, timedelta
from pathlib import Path

import pytest

from drift.reminders import due_minutes, next_reading, progress_of, usual_minutes
from drift.study import Study

SEASON = Path(__file__).parent.parent / "datasets/cold-hall-season"
THIRD = "2026-03-10 spring"
ROWAN = ("Rowan", "double horn")
WANTED = (2.0, 10.0, 20.0, 40.0, 60.0)


@pytest.fixture(scope="module")
def study() -> Study:
    return Study.open(SEASON)


@pytest.fixture(scope="module")
def began(study: Study) -> datetime:
    events = study.rehearsals.events
    plays = events[(events["rehearsal"] == THIRD) & (events["event"] == "play")]
    return plays["time"].min().to_pydatetime()


def test_first_evening_asks_from_the_cold_start_to_the_end(study: Study) -> None:
    minutes = due_minutes(study.acoustics, *ROWAN, 20.0)
    assert (minutes[0], minutes[-1], len(minutes)) == (2.0, 60.0, 8)


@pytest.mark.slow
def test_later_the_fit_says_when(study: Study) -> None:
    minutes = due_minutes(study.before(THIRD), *ROWAN, 20.0)
    assert minutes == tuple(sorted(minutes))
    assert (minutes[0], minutes[-1]) in {(2.0, 20.0), (30.0, 60.0), (2.0, 60.0)}


def test_what_was_taken_or_missed_is_not_asked_for(study: Study, began: datetime) -> None:
    def due(minutes: float):
        return next_reading(study, THIRD, *ROWAN, began + timedelta(minutes=minutes), wanted=WANTED)

    early = due(6.0)
    assert early.at_minutes == 10.0
    assert early.in_minutes == pytest.approx(4.0, abs=0.5)
    later = due(33.0)
    assert later.at_minutes in (20.0, 40.0)
    assert later.taken >= early.taken
    assert later.wanted == WANTED


def test_more_readings_narrow_the_answer(study: Study, began: datetime) -> None:
    known = progress_of(study, THIRD, *ROWAN, began + timedelta(minutes=30))
    assert known is not None
    assert known.half_cents > 0.0
    if known.more:
        assert known.then_cents <= known.half_cents - 1.0


def test_before_the_first_reading_there_is_no_progress(study: Study) -> None:
    readings = study.rehearsals.readings
    first = readings[readings["rehearsal"] == THIRD]["time"].min().to_pydatetime()
    assert progress_of(study, THIRD, *ROWAN, first - timedelta(seconds=30)) is None


def test_the_end_is_expected_when_earlier_rehearsals_ended(study: Study, began: datetime) -> None:
    names = study.rehearsals.names
    assert usual_minutes(study, names[0], "Rowan") == 60.0  # nothing came before
    assert usual_minutes(study, THIRD, "nobody") == 60.0
    usual = usual_minutes(study, THIRD, "Rowan")
    assert 30.0 < usual < 180.0
    known = progress_of(study, THIRD, *ROWAN, began + timedelta(minutes=30))
    assert known is not None
    assert known.end is not None
    assert known.end.in_minutes == pytest.approx(usual - 30.0, abs=10.0)
