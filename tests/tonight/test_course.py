"""The air and the playing of an evening, and what they do to the pitch."""

import numpy as np
import pytest

import drift
from drift.errors import InputError
from drift.regression.warmup import warmth
from drift.tonight import Course
from drift.tonight.course import air_ahead, drift_along

DRAWS = drift.physics().draws("double horn", 400, 1)


def steady(celsius=23.0, switches=(0.0,), until=120.0):
    minutes = np.arange(0.0, until)
    return Course(minutes, np.full(len(minutes), celsius), switches)


def test_in_steady_air_the_drift_is_that_of_the_warm_up():
    course = steady(switches=(0.0, 30.0, 40.0))
    found = drift_along(DRAWS, course, [12.0, 35.0, 50.0])
    for place, (periods, into) in enumerate([((), 12.0), ((30.0,), 5.0), ((30.0, 10.0), 10.0)]):
        warm = warmth(periods, into, DRAWS.warm_minutes, DRAWS.cool_minutes)
        hours = (into + sum(periods[::2])) / 60.0 if len(periods) % 2 == 0 else periods[0] / 60.0
        expected = DRAWS.drift(23.0, warm, hours)
        np.testing.assert_allclose(found.cents[:, place], expected, atol=1e-9)


def test_the_order_of_the_times_asked_for_does_not_matter():
    one = drift_along(DRAWS, steady(), [50.0, 12.0]).cents
    other = drift_along(DRAWS, steady(), [12.0, 50.0]).cents
    np.testing.assert_allclose(one, other[:, ::-1])


def test_a_warm_start_is_warm():
    course = Course([0.0, 60.0], [20.0, 20.0], (0.0,), initial_warmth=1.0)
    begin, later = drift_along(DRAWS, course, [0.0, 30.0]).cents.T
    assert begin == pytest.approx(0.0, abs=1e-9)
    np.testing.assert_allclose(later, 0.5 * DRAWS.slow, atol=1e-9)  # only the slow drift is left


def test_after_carrying_a_share_of_the_draws_has_the_new_air_at_once(monkeypatch):
    out = Course([0.0, 30.0, 31.0, 120.0], [21.0, 21.0, 3.0, 3.0], (0.0, 30.0))
    soon, late = drift_along(DRAWS, out, [34.0, 75.0]).cents.T
    monkeypatch.setattr("drift.tonight.course.AT_ONCE_PROBABILITY", 0.0)
    one_state, one_state_late = drift_along(DRAWS, out, [34.0, 75.0]).cents.T
    flatter = one_state - soon
    # Four minutes after the walk the air inside has come a part of the way from 21 to 3 °C.
    at_once = flatter > 0.0
    assert at_once.mean() == pytest.approx(0.15, abs=0.005)
    assert (flatter[at_once] > 8.0).mean() > 0.95
    # Half an hour later every draw follows the one state again.
    np.testing.assert_allclose(late, one_state_late)


def test_a_room_that_warms_slowly_is_not_carrying():
    assert not len(Course([0.0, 60.0], [18.0, 24.0]).carried_minutes)


def test_the_air_ahead_goes_on_as_before_and_less_and_less():
    minutes = np.arange(0.0, 41.0)
    warming = Course(minutes, 18.0 + 0.05 * minutes)
    ahead = air_ahead(warming, 40.0, [0.0, 10.0, 600.0])
    assert ahead[0] == pytest.approx(20.0)
    assert 20.3 < ahead[1] < 20.5
    assert ahead[2] == pytest.approx(21.0, abs=0.01)
    # What comes after now is not known.
    later = Course(np.append(minutes, 41.0), np.append(18.0 + 0.05 * minutes, 40.0))
    assert air_ahead(later, 40.0, [30.0]) == air_ahead(warming, 40.0, [30.0])


def test_two_samples_make_no_trend():
    assert air_ahead(Course([0.0, 1.0], [18.0, 19.0]), 1.0, [30.0]).tolist() == [19.0]


def test_played_minutes_leave_rests_out():
    course = steady(switches=(5.0, 30.0, 40.0))
    assert course.played_minutes_at([0.0, 10.0, 35.0, 50.0]).tolist() == [0.0, 5.0, 25.0, 35.0]


@pytest.mark.parametrize(
    ("minutes", "celsius", "switches", "problem"),
    [
        ([], [], (), "0 times and 0 temperatures"),
        ([0.0, 1.0], [20.0], (), "2 times and 1 temperatures"),
        ([0.0], [float("nan")], (), "1 times and 1 temperatures"),
        ([1.0, 0.0], [20.0, 20.0], (), "not in order"),
        ([0.0], [20.0], (5.0, 3.0), "not in order"),
    ],
)
def test_a_course_that_cannot_be_is_refused(minutes, celsius, switches, problem):
    with pytest.raises(InputError, match=problem):
        Course(minutes, celsius, switches)
