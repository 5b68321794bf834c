"""Several scenarios side by side."""

import re
from dataclasses import replace
from datetime import timedelta

import pytest

from drift.charts.style import png
from drift.errors import InputError
from drift.gig.evening import plan_evening
from drift.gig.plan import Assumptions
from drift.gig.planning import plan
from drift.gig.scenarios import Scenarios
from drift.gig.timetable import Entry, arrange
from tests.gigs import bells, horns, minute, schedule, steady, trumpets, tuba

EVENING = schedule(("tune", 0, 10), ("play", 10, 40), ("tune", 80, 90), ("play", 90, 120))
BAND = [trumpets(), horns(), tuba(stuck=("main",)), bells()]
TAKE = Assumptions(draws=300)


@pytest.fixture(scope="module")
def found():
    weathers = {"evening": 8.0, "hot noon": 30.0, "nearly the same": 8.05}
    return Scenarios(
        {name: plan(steady(t), BAND, EVENING, assumptions=TAKE) for name, t in weathers.items()}
    )


def test_one_table(found):
    text = found.summary()
    header = next(line for line in text.splitlines() if "hot noon" in line)
    assert "evening" in header
    for words in ("trumpets main", "tune 1", "tune 2", "recommended A4", "8 °C", "30 °C", "stuck"):
        assert words in text
    assert "86 °F" in found.summary(fahrenheit=True)


def test_many_scenarios_take_several_tables(found):
    plans = {f"a name that is long {n}": plan for n, plan in enumerate(found.plans.values())}
    more = {f"{name}, again": plan for name, plan in plans.items()}
    text = Scenarios({**plans, **more}).summary()
    assert max(map(len, text.splitlines())) <= 100
    assert text.count("at the instruments") > 1
    for name in {**plans, **more}:
        assert name in text


def test_the_table_says_what_the_tuner_should_show():
    rows = [
        Entry(minute(0), minute(10), "tune", celsius=21.0),
        Entry(minute(10), minute(30), "rest"),
        Entry(minute(30), minute(60), "play"),
    ]
    weathers = {"mild": 18.0, "cold": 3.0}
    found = Scenarios(
        {n: plan(steady(t), BAND, arrange(rows), assumptions=TAKE) for n, t in weathers.items()}
    )
    cells = next(line for line in found.summary().splitlines() if "trumpets" in line).split("  ")
    cold = found.plans["cold"].settings[0].show_cents
    assert cold.estimate > 10
    half = (cold.high - cold.low) / 2
    assert any(cell.strip().startswith(f"{cold.estimate:.0f} sharp ±{half:.0f}") for cell in cells)
    assert not cells[-1].strip().startswith("by the tuner")


def test_warm_air_that_a_timetable_of_its_own_was_given_is_said():
    """A section that warms up late looks alike where the plan lets it blow warm air before."""
    then = [Entry(minute(30), minute(36), "tune"), Entry(minute(36), minute(60), "play")]
    first = arrange([Entry(minute(0), minute(30), "play", celsius=21.0, warm_up=True), *then])
    late = arrange([Entry(minute(0), minute(30), "rest", celsius=21.0), *then])
    found = Scenarios(
        {
            name: plan_evening(steady(6), BAND, timetable, assumptions=TAKE)[0]
            for name, timetable in {"planned": first, "colder": first, "late": late}.items()
        }
    )
    (told,) = [line for line in found.summary().splitlines() if line.startswith("  added")]
    assert told == "  added, late: warm air 18:24–18:30"


def test_one_frame(found):
    table = found.to_frame()
    assert table["scenario"].unique().tolist() == list(found.plans)
    assert len(table) == 3 * 2 * 5
    noon = table[(table["scenario"] == "hot noon") & (table["section"] == "trumpets")]
    assert noon["move_mm"].iloc[0] > 0


def test_tunes_stand_side_by_side_by_time_and_not_by_number():
    room = Entry(minute(0), minute(6), "tune", celsius=21.0)
    rest, tune, play = (Entry(minute(6), minute(60), "rest"), Entry(minute(60), minute(66), "tune"),
                        Entry(minute(66), minute(90), "play"))  # fmt: skip
    late = replace(room, activity="rest")
    timetables = {"planned": (room, rest, tune, play), "late": (late, rest, tune, play)}
    found = Scenarios(
        {n: plan(steady(6), BAND, arrange(one), assumptions=TAKE) for n, one in timetables.items()}
    )
    first, second = (
        re.split(r"\s{2,}", line.strip())
        for line in found.summary().splitlines()
        if line.startswith("  tune ")
    )
    assert (first, second) == (["tune 1", "18:00"], ["tune 2", "19:00", "19:00"])


def an_evening(later, *, room=True, celsius=None):
    """A tune in a room, one that a plan adds on the field, and one for the second show."""
    first = Entry(minute(later), minute(later + 6), "tune" if room else "rest", celsius=21.0)
    rows = ((6, 36, "rest"), (36, 40, "tune"), (40, 60, "play"), (60, 120, "stands"),
            (120, 124, "tune"), (124, 140, "play"))  # fmt: skip
    rest = [
        Entry(minute(later + start), minute(later + end), what, celsius=celsius, added=start == 36)
        for start, end, what in rows
    ]
    return arrange([first, *rest])


@pytest.mark.parametrize("later", [10, 20, 36, 45, 84])
def test_tunes_of_an_evening_that_begins_later_are_those_of_the_evening_planned(later):
    """Also where one of them falls on the time of another: the field at 36, the next show."""
    shift = timedelta(minutes=later)
    found = Scenarios({
        "planned": plan(steady(6), BAND, an_evening(0), assumptions=TAKE),
        "late": plan(steady(6), BAND, an_evening(later), assumptions=TAKE),
    })  # fmt: skip
    pairs = found.same_tunes("late")
    assert [block.tune_at for block in pairs] == [minute(0), minute(36), minute(120)]
    assert all(then.tune_at == mine.tune_at + shift for mine, then in pairs.items())
    rows = [line.split() for line in found.summary().splitlines() if line.startswith("  tune ")]
    assert len(rows) == 3
    assert all(len(row) == 4 for row in rows)


def test_a_tune_that_a_later_evening_has_not_is_left_out():
    found = Scenarios({
        "planned": plan(steady(6), BAND, an_evening(0), assumptions=TAKE),
        "late, no room": plan(steady(6), BAND, an_evening(30, room=False), assumptions=TAKE),
        "late, inside": plan(steady(6), BAND, an_evening(30, celsius=21.0), assumptions=TAKE),
    })  # fmt: skip
    at = {
        name: {mine.tune_at: then.tune_at for mine, then in found.same_tunes(name).items()}
        for name in found.plans
    }
    assert at["late, no room"] == {minute(36): minute(66), minute(120): minute(150)}
    assert at["late, inside"] == {minute(0): minute(30), minute(36): minute(66),
                                  minute(120): minute(150)}  # fmt: skip


def test_one_figure(found):
    figure = found.figure()
    assert len(figure.axes) == 5
    names = [text.get_text() for text in figure.axes[-1].get_legend().get_texts()]
    assert names == list(found.plans)
    assert png(figure)  # draws it
    ticks = [label.get_text() for label in figure.axes[-1].get_xticklabels()]
    assert {"18:00", "19:00", "20:00"} <= set(ticks)


def test_json(found):
    answer = found.to_json()
    assert list(answer) == list(found.plans)
    assert "timeline" not in answer["evening"]
    assert answer["evening"]["settings"][0]["section"] == "trumpets"


def test_other_bands_are_refused(found):
    other = plan(steady(8.0), [trumpets()], EVENING, assumptions=TAKE)
    with pytest.raises(InputError, match="not of one band"):
        Scenarios({"a": found.first, "b": other})
