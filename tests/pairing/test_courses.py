"""The course of the air before a reading: where an instrument was carried, and only there."""

import numpy as np
import pandas as pd
import pytest

from drift.charts.fitted import drift_against_playing_time
from drift.logbook.rehearsals import load
from drift.pairing import pair
from drift.pairing.courses import ALIKE_CELSIUS, _course, _even, thinned
from drift.regression.fits import fit, physics
from tests.folders import write
from tests.pairing.test_readings import EVENTS, READINGS, TEMPERATURES, reading, sample


def paired(tmp_path, readings, temperatures, events=""):
    tables = {"readings": READINGS + "".join(readings)}
    tables["temperatures"] = TEMPERATURES + "".join(temperatures)
    tables["events"] = EVENTS + "".join(
        f"2026-10-03T18:{minute:02}:00Z,hall,{who},{what},,,\n" for minute, who, what in events
    )
    return pair(load(write(tmp_path / "f", **tables))).frame


def carried_out(noise=0.0):
    """A hall of 20 °C for half an hour, a field of 4 °C five minutes later."""
    random = np.random.default_rng(1)
    for minute in range(60):
        celsius = np.interp(minute, [0, 30, 35], [20.0, 20.0, 4.0])
        yield sample(minute, round(float(celsius + random.normal(0.0, noise)), 2))


def test_an_instrument_carried_out_has_its_course_from_when_it_was_first_played(tmp_path):
    events = [(0, "", "play"), (20, "Ada", "play")]
    readings = [reading(10), reading(50), reading(50, player="Ada"), reading(52)]
    table = paired(tmp_path, readings, carried_out(), events)
    rowan, ada = table["course"][1], table[table["player"] == "Ada"]["course"].iloc[0]
    assert rowan == ((0.0, 20.0), (30.0, 20.0), (35.0, pytest.approx(4.0)), (52.0, 4.0))
    assert table["course"][0] is rowan
    assert ada[1:3] == ((10.0, 20.0), (15.0, pytest.approx(4.0)))


def test_a_room_that_warms_slowly_has_none(tmp_path):
    room = [sample(minute, 18.0 + minute / 20.0) for minute in range(0, 60, 2)]
    table = paired(tmp_path, [reading(10), reading(50)], room, [(0, "", "play")])
    assert table["course"].tolist() == [(), ()]


def test_air_is_even_only_where_no_part_of_the_evening_has_a_course():
    """Around the threshold, whoever begins whenever."""
    random, minutes = np.random.default_rng(1), np.arange(90.0)
    evenings = 20.0 + np.cumsum(random.normal(0.0, 0.15, (40, 90)), axis=1)
    even = [celsius for celsius in evenings if _even(celsius)]
    assert 5 < len(even) < 35
    for celsius in even:
        assert not any(_course(minutes[begin:] - begin, celsius[begin:]) for begin in range(90))


def test_what_people_typed_fills_in_where_the_thermometer_stayed_behind(tmp_path):
    hall = [sample(minute, 20.0) for minute in range(0, 30, 2)]
    typed = [sample(minute, 4.0, "typed") for minute in (29, 45, 55)]
    table = paired(tmp_path, [reading(10), reading(56)], [*hall, *typed], [(0, "", "play")])
    course = np.array(table["course"][1])
    assert np.interp([27.0, 50.0], *course.T) == pytest.approx([20.0, 4.0])


def test_a_noisy_thermometer_makes_few_knots_and_stays_close(tmp_path):
    table = paired(tmp_path, [reading(56)], carried_out(noise=0.1), [(0, "", "play")])
    assert len(table["course"][0]) <= 6
    minutes = np.arange(121.0)
    celsius = 15.0 + 5.0 * np.cos(minutes / 20.0)
    some = thinned(minutes, celsius)
    line = np.interp(minutes, minutes[some], celsius[some])
    assert np.abs(line - celsius).max() <= ALIKE_CELSIUS
    assert len(some) < 30


def test_a_reading_in_a_carried_instrument_is_expected_where_its_air_is(tmp_path):
    """Just after the walk the horn is still warm: without its course it would be 20 cents off."""
    events = [(0, "", "play")]
    readings = [reading(minute) for minute in (5, 10, 15, 20, 25, 36, 40, 45, 50, 56)]
    table = paired(tmp_path, readings, carried_out(), events)
    curve = physics().curve("double horn")
    with_it, without = curve.expected(table), curve.expected(table.drop(columns="course"))
    assert np.abs(with_it - without)[:5].max() < 0.1
    assert with_it[5] - without[5] > 10.0
    assert abs(with_it[9] - without[9]) < 5.0
    drift_against_playing_time(fit(table))


def test_a_course_is_the_same_after_a_table_was_copied(tmp_path):
    table = paired(tmp_path, [reading(10), reading(50)], carried_out(), [(0, "", "play")])
    again = pd.DataFrame(table.to_dict("list"))
    assert again["course"].tolist() == table["course"].tolist()
