"""The next playing of a plan, for a target at the tuner."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from drift.capture.entries import Target
from drift.errors import InputError
from drift.gig.next_playing import read_next_playing
from drift.playing_ahead import when_and_where

SCHEDULE = """\
start,end,activity,offset_celsius,celsius
2026-11-07T18:00+01:00,18:20,play,,21
18:20,18:30,tune,,21
18:30,18:40,rest,,
18:40,19:10,play,-1,
19:10,20:00,rest,,
20:00,20:10,tune,,
20:10,20:30,play,,
"""
FORECAST = """\
time,celsius
2026-11-07T18:00+01:00,6
2026-11-07T20:00+01:00,4
2026-11-07T21:00+01:00,3
"""


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    (tmp_path / "schedule.csv").write_text(SCHEDULE, encoding="utf-8")
    (tmp_path / "forecast.csv").write_text(FORECAST, encoding="utf-8")
    return tmp_path


def at(hour: int, minute: int) -> datetime:
    return datetime(2026, 11, 7, hour - 1, minute, tzinfo=UTC)


@pytest.mark.parametrize(
    ("now", "begins", "celsius"),
    [
        # At 18:40 the line from 6 to 4 is at 5.33, at 19:10 at 4.83; it is a degree colder there.
        (at(18, 25), at(18, 40), (5.33 + 4.83) / 2 - 1),
        (at(18, 41), at(20, 10), 3.67),
        (at(20, 5), at(20, 10), 3.67),
    ],
)
def test_it_is_the_playing_after_the_next_tune(plan, now, begins, celsius):
    found = read_next_playing(plan, now)
    assert found.at == begins
    assert found.celsius == pytest.approx(celsius, abs=0.02)


def test_when_all_is_played_it_says_so(plan):
    with pytest.raises(InputError, match=r"nothing is played any more after 19:50"):
        read_next_playing(plan, at(20, 50))


def test_what_is_typed_needs_no_plan(plan):
    now = at(18, 25)
    assert when_and_where(Target(19, 0, 4.0), now, None)[1] == 4.0
    assert when_and_where(Target(planned=True), now, plan)[0] == at(18, 40)
    with pytest.raises(InputError, match="no plan was given"):
        when_and_where(Target(planned=True), now, None)
