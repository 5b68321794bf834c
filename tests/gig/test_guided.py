"""Six answers, and the files they make."""

from datetime import UTC, datetime, timedelta

import pytest

from drift.errors import InputError
from drift.gig.answers import beside_times, day_in, sections_in, stretches_in, temperatures_in
from drift.gig.guided import Evening, check_order, files_of
from drift.gig.roster import read_roster
from drift.gig.templates import write_templates
from drift.gig.timetable import read_schedule
from drift.gig.weather import read_forecast

DAY = datetime(2026, 10, 9, tzinfo=UTC)


def test_the_files_are_those_that_a_plan_reads(tmp_path):
    evening = Evening(
        stretches_in("18:30-18:40", DAY),
        stretches_in("18:40 to 19:10, 23:30-00:10", DAY),
        temperatures_in("54F to 46F"),
        sections_in("6 trumpets, 4 double horns, bells").sections,
    )
    forecast, schedule, roster = write_templates(tmp_path / "tonight", files_of(evening))
    frame = read_forecast(forecast).to_frame()
    assert frame["celsius"].tolist() == [12.2, 7.8]
    entries = read_schedule(schedule).entries
    assert [entry.activity for entry in entries] == ["tune", "play", "rest", "play"]
    assert entries[-1].end == datetime(2026, 10, 10, 0, 10, tzinfo=UTC)
    trumpets, horns, bells = read_roster(roster)
    assert (trumpets.players, horns.players, bells.players) == (6, 4, 1)
    assert horns.slides == ("main", "F", "Bb")
    assert bells.instrument.fixed_pitch is not None


@pytest.mark.parametrize(
    ("read", "text", "problem"),
    [
        (lambda text: stretches_in(text, DAY), "in the evening", "is not from when to when"),
        (lambda text: stretches_in(text, DAY), "19:10-18:40", "18:40 is not after 19:10"),
        (lambda text: stretches_in(text, DAY), "18:40-25:10", "25:10 is not a time of day"),
        (temperatures_in, "12 to 8 to 4", "not one or two temperatures"),
        (temperatures_in, "mild", "is not a temperature"),
    ],
)
def test_answers_that_are_refused(read, text, problem):
    with pytest.raises(InputError, match=problem):
        read(text)


def test_plain_temperatures_are_in_the_units_chosen():
    assert temperatures_in("54 to 10C", fahrenheit=True) == pytest.approx((12.222, 10.0), abs=1e-3)
    assert temperatures_in("54F to 10") == pytest.approx((12.222, 10.0), abs=1e-3)


@pytest.mark.parametrize(
    ("text", "taken", "problems"),
    [
        ("3 tubas, 2 bones, 2 kazoos", {"bones": 2}, ["more than one instrument", "'kazoos'"]),
        ("3 bones, 2 bones", {"bones": 3}, ["bones: named twice"]),
        ("2 horns", {"horns": 2}, []),
        ("", {}, []),
    ],
)
def test_players_that_are_refused_leave_the_others(text, taken, problems):
    found = sections_in(text, before=sections_in("4 horns, 6 drums"))
    assert {name: count for name, _, count in found.sections} == {"horns": 4, **taken}
    assert found.not_planned == (("drums", 6),)
    assert len(found.problems) == len(problems)
    for problem, words in zip(found.problems, problems, strict=True):
        assert words in problem.told


def test_nobody_is_a_problem():
    (problem,) = sections_in(" ").problems
    assert "no section is named" in problem.told


@pytest.mark.parametrize("name", ["drums", "Snares", "drumline", "bass drums", "quints"])
def test_drums_are_counted_and_not_planned(name):
    found = sections_in(f"2 flutes, 6 {name}")
    assert [section for section, _, _ in found.sections] == ["flutes"]
    assert found.not_planned == ((name, 6),)
    assert not found.problems


def test_times_that_overlap_are_refused():
    tune, play = stretches_in("18:30-18:50", DAY), stretches_in("18:40-19:10", DAY)
    with pytest.raises(InputError, match="play from 18:40 begins before tune ends at 18:50"):
        check_order(tune, play)
    with pytest.raises(InputError, match="play from 18:40 begins before play ends at 19:10"):
        check_order([], [*play, *play])


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("", "2026-11-26"),
        ("tomorrow", "2026-11-27"),
        ("Sat", "2026-11-28"),
        ("Thursday", "2026-11-26"),
        ("11/28", "2026-11-28"),
        ("11/28/2026", "2026-11-28"),
        ("28 November", "2026-11-28"),
        ("Nov. 28, 2025", "2025-11-28"),
        ("Sept 5th", "2026-09-05"),
        ("2.1.", "2027-01-02"),
        ("2026-12-03", "2026-12-03"),
    ],
)
def test_days_as_people_say_them(text, day):
    assert f"{day_in(text, datetime(2026, 11, 26, tzinfo=UTC)):%Y-%m-%d}" == day


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("11/10", "'11/10' could be two days"),
        ("10/11/2026", "could be two days"),
        ("13/13", "is not a day"),
        ("soon", "is not a day"),
        ("Nov 31", "is not a day"),
        ("28", "is not a day"),
    ],
)
def test_days_that_are_refused(text, problem):
    with pytest.raises(InputError, match=problem):
        day_in(text, datetime(2026, 11, 26, tzinfo=UTC))


@pytest.mark.parametrize(("text", "fahrenheit"), [("39", False), ("54 to 46", False), ("12", True)])
def test_a_number_that_may_be_in_the_other_unit_is_asked_about(text, fahrenheit):
    with pytest.raises(InputError, match="may be in °F or in °C"):
        temperatures_in(text, fahrenheit=fahrenheit)
    assert temperatures_in("39C")[0] == 39.0


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("6:10-6:55 PM, 8:20 - 8:30", (18 + 1 / 6, 18 + 55 / 60, 20 + 1 / 3, 20.5)),
        ("10:30-11:15 PM, 12:10-12:20", (22.5, 23.25, 24 + 1 / 6, 24 + 1 / 3)),
        ("22:30-0:30, 1:00-1:30", (22.5, 24.5, 25.0, 25.5)),
        ("6:10 PM - 6:55", (18 + 1 / 6, 18 + 55 / 60)),
        ("11:30-12:10, 1:00-2:00", (11.5, 12 + 1 / 6, 13.0, 14.0)),
        ("8:20-8:30 PM, 18:10-18:55", (20 + 1 / 3, 20.5, 18 + 1 / 6, 18 + 55 / 60)),
    ],
)
def test_times_without_am_or_pm_run_on(text, hours):
    found = [time for stretch in stretches_in(text, DAY) for time in stretch]
    assert [(time - DAY) / timedelta(hours=1) for time in found] == pytest.approx(list(hours))


def test_times_of_tuning_are_before_the_playing_ends():
    until = datetime(2026, 10, 9, 20, 30, tzinfo=UTC)
    found = stretches_in("5:30-5:40, 8:10-8:20", DAY, until)
    assert [f"{start:%H:%M}" for start, _ in found] == ["17:30", "20:10"]


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("6:10-6:55", "6:10 may be in the morning or in the evening"),
        ("8:20-8:30 PM, 6:10-6:55", "6:10 is before 20:30"),
    ],
)
def test_times_that_could_be_either_are_asked_about(text, problem):
    with pytest.raises(InputError, match=problem):
        stretches_in(text, DAY)


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("6:30 PM-7:10 PM", (18.5, 19 + 1 / 6)),
        ("6:30-7:10 pm", (18.5, 19 + 1 / 6)),
        ("11:30-1 PM", (11.5, 13.0)),
        ("9 to 10 a.m.", (9.0, 10.0)),
        ("22:30-0:30", (22.5, 24.5)),
    ],
)
def test_times_as_people_say_them(text, hours):
    (found,) = stretches_in(text, DAY)
    assert tuple((time - DAY) / timedelta(hours=1) for time in found) == pytest.approx(hours)


@pytest.mark.parametrize(
    ("text", "beside"),
    [
        ("18:40-19:10", [""]),
        ("6:15-6:40 PM band room, 8:18-8:22", ["band room", ""]),
        ("band room 6:15 pm - 6:40; field 8:18-8:22", ["band room", "field"]),
        ("stands 7:00-8:10 and 8:22-8:32", ["stands", ""]),
    ],
)
def test_what_is_written_beside_each_stretch_of_time(text, beside):
    assert beside_times(text) == beside
