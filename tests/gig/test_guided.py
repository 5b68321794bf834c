"""Six answers, and the files they make."""

from datetime import UTC, datetime, timedelta

import pytest

from drift.errors import InputError
from drift.gig.guided import Evening, files_of, sections_in, stretches_in, temperatures_in
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
        sections_in("6 trumpets, 4 double horns, bells")[0],
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
        ("3 tubas, 2 bones, 2 kazoos", ["bones"], ["more than one instrument", "'kazoos'"]),
        ("3 bones, 2 bones", ["bones"], ["bones: named twice"]),
        ("2 horns", [], ["horns: named twice"]),
        (" ", [], ["no section is named"]),
    ],
)
def test_players_that_are_refused_leave_the_others(text, taken, problems):
    before = sections_in("4 horns")[0]
    found, wrong = sections_in(text, before=before)
    assert [name for name, _, _ in found] == taken
    assert len(wrong) == len(problems)
    for problem, words in zip(wrong, problems, strict=True):
        assert words in problem.told


def test_times_that_overlap_are_refused():
    evening = Evening(
        stretches_in("18:30-18:50", DAY), stretches_in("18:40-19:10", DAY), (5.0, 5.0),
        sections_in("flutes")[0],
    )  # fmt: skip
    with pytest.raises(InputError, match="play from 18:40 begins before tune ends at 18:50"):
        files_of(evening)


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
