"""The next playing of a plan, for a target at the tuner."""

import re
from datetime import UTC, datetime
from pathlib import Path

import pytest

from drift.capture.entries import Target, parse_entry
from drift.errors import InputError
from drift.gig.evening import plan_evening
from drift.gig.next_playing import read_next_playing
from drift.gig.plan import Assumptions
from drift.gig.timetable import read_schedule
from drift.gig.weather import read_forecast
from drift.playing_ahead import when_and_where
from drift.quantities import Units
from drift.sheets.plan_files import write_plans
from tests.gigs import trumpets

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


def test_tables_are_known_by_their_headings_whatever_they_are_called(plan):
    (plan / "schedule.csv").rename(plan / "timetable.csv")
    (plan / "forecast.csv").rename(plan / "weather.txt")
    assert read_next_playing(plan, at(18, 25)).at == at(18, 40)


@pytest.mark.parametrize("fahrenheit", [False, True])
def test_a_plan_that_was_written_says_what_it_understood(plan, tmp_path, fahrenheit):
    schedule = read_schedule(plan / "schedule.csv")
    made = plan_evening(read_forecast(plan / "forecast.csv"), [trumpets()], schedule,
                        assumptions=Assumptions(draws=100), as_scheduled=True)  # fmt: skip
    write_plans(made, tmp_path / "sheets", fahrenheit=fahrenheit)
    for time in (at(18, 25), at(18, 41)):
        found = read_next_playing(tmp_path / "sheets", time)
        tables = read_next_playing(plan, time)
        assert found.at == tables.at
        assert found.celsius == pytest.approx(tables.celsius, abs=0.05)


@pytest.mark.parametrize(
    ("schedule", "says"),
    [
        (SCHEDULE.replace("start,end,activity", "start,end,activity,Place"), "column 'Place'"),
        (SCHEDULE.replace("rest", "procession"), "activity 'procession' is not known"),
        ("", "has no plan and no schedule"),
    ],
)
def test_what_needs_more_to_be_understood_is_to_be_planned_first(plan, schedule, says):
    (plan / "schedule.csv").unlink()
    if schedule:
        (plan / "timetable.csv").write_text(schedule, encoding="utf-8")
    with pytest.raises(InputError, match=says) as refusal:
        read_next_playing(plan, at(18, 25))
    assert refusal.value.remedy.startswith("plan that evening with drift gig --out")
    assert "--columns" not in str(refusal.value)


def test_when_all_is_played_it_says_so(plan):
    with pytest.raises(InputError, match="the plan is of 2026-11-07: nothing of it") as refusal:
        read_next_playing(plan, at(20, 50))
    assert refusal.value.remedy.endswith("you play next: target 18:30 4")


def test_a_target_is_suggested_in_the_unit_of_who_asks(plan):
    for folder in (plan, None):
        with pytest.raises(InputError) as refusal:
            when_and_where(Target(planned=True), at(20, 50), folder, fahrenheit=True)
        (typed,) = re.findall(r"target \d\d:\d\d \d+", refusal.value.remedy)
        asked = parse_entry(typed, Units(fahrenheit=True))
        assert isinstance(asked, Target)
        assert -10 < asked.celsius < 30
        assert typed.endswith(" 40")


def test_the_day_of_a_plan_that_was_written_is_that_of_its_place(plan, tmp_path):
    made = plan_evening(read_forecast(plan / "forecast.csv"), [trumpets()],
                        read_schedule(plan / "schedule.csv"), assumptions=Assumptions(draws=100),
                        as_scheduled=True)  # fmt: skip
    write_plans(made, tmp_path / "sheets")
    timeline = tmp_path / "sheets/timeline.csv"
    there = timeline.read_text("utf-8").replace("+01:00", "+23:00")  # the day after, at 17:00
    timeline.write_text(there.replace("2026-11-07", "2026-11-08"), encoding="utf-8")
    with pytest.raises(InputError, match="the plan is of 2026-11-08: "):
        read_next_playing(tmp_path / "sheets", at(23, 50))


def test_what_is_typed_needs_no_plan(plan):
    now = at(18, 25)
    assert when_and_where(Target(19, 0, 4.0), now, None)[1] == 4.0
    assert when_and_where(Target(planned=True), now, plan)[0] == at(18, 40)
    with pytest.raises(InputError, match="no plan was given"):
        when_and_where(Target(planned=True), now, None)
