"""States at readings: in constant air the warm-up of before, else one step after another."""

import numpy as np
import pandas as pd

from drift.regression.histories import histories_of
from drift.regression.state import drift_columns_of_state, states
from drift.regression.warmup import drift_columns, warmth

WARM, COOL = np.array([4.0, 8.0, 8.0]), np.array([9.0, 9.0, 20.0])


def table(**columns):
    spells = pd.Series([(), (), (20.0,), (20.0, 7.0), (20.0, 7.0)], dtype=object)
    default = {
        "celsius": [20.0, 21.0, 22.0, 23.0, 23.5],
        "spells": spells,
        "minutes_into_spell": [5.0, 15.0, 3.0, 2.0, 30.0],
        "initial_warmth": [0.0, 0.0, 0.5, 1.0, 1.0],
    }
    return pd.DataFrame(default | columns)


def test_without_a_course_the_air_is_that_of_each_reading():
    rows = table()
    cold, rise, begun = histories_of(rows).columns(WARM, COOL)
    w = warmth(
        rows["spells"].tolist(), rows["minutes_into_spell"], WARM, COOL, rows["initial_warmth"]
    )
    expected = drift_columns(rows["celsius"].to_numpy()[:, None], w)
    assert begun is None
    assert np.allclose(cold, expected[0])
    assert np.allclose(rise, expected[1])


def test_a_constant_course_is_constant_air():
    course = pd.Series([((0.0, 18.0), (90.0, 18.0))] * 5, dtype=object)
    rows = table(celsius=18.0)
    for plain, carried in zip(
        histories_of(rows).columns(WARM, COOL, True),
        histories_of(rows.assign(course=course)).columns(WARM, COOL, True),
        strict=True,
    ):
        assert np.allclose(plain, carried)


def test_a_changing_course_is_followed_step_by_step():
    """Twenty minutes of playing in a room, seven of rest, carried out, then played there."""
    course = ((0.0, 20.0), (22.0, 20.0), (24.0, 4.0), (60.0, 6.0))
    there = np.interp([5.0, 15.0, 23.0, 29.0, 57.0], *np.array(course).T)
    rows = table(course=pd.Series([course] * 5, dtype=object), initial_warmth=0.0, celsius=there)
    cold, rise, _ = histories_of(rows).columns(WARM, COOL)
    air, excess = states(
        [20.0, 2.0, 2.0, 3.0, 2.0],
        [20.0, 20.0, 4.0, 4.0 + 2.0 * 3.0 / 36.0, 4.0 + 2.0 * 5.0 / 36.0],
        [1.0, 0.0, 0.0, 0.0, 1.0], WARM, COOL,
        celsius_before=[20.0, 20.0, 20.0, 4.0, 4.0 + 2.0 * 3.0 / 36.0],
    )  # fmt: skip
    expected = drift_columns_of_state(air[:, -1], excess[:, -1])
    assert np.allclose(cold[3], expected[0])
    assert np.allclose(rise[3], expected[1])


def test_a_reading_without_a_course_among_others_is_in_constant_air():
    course = ((0.0, 20.0), (22.0, 20.0), (24.0, 4.0), (60.0, 6.0))
    mixed = pd.Series([(), course, (), course, ()], dtype=object)
    rows = table(initial_warmth=0.0)
    both = histories_of(rows.assign(course=mixed)).columns(WARM, COOL, True)
    plain = histories_of(rows).columns(WARM, COOL, True)
    carried = histories_of(rows.assign(course=pd.Series([course] * 5, dtype=object)))
    for one, without, with_it in zip(both, plain, carried.columns(WARM, COOL, True), strict=True):
        assert np.allclose(one[::2], without[::2])
        assert np.allclose(one[1::2], with_it[1::2])


def test_a_rest_in_changing_air_is_followed_too():
    """Against small steps: a reading at rest, of an instrument that lies in cooling air."""
    course = ((0.0, 20.0), (60.0, 5.0))
    rows = table(celsius=20.0 - np.array([5.0, 15.0, 23.0, 29.0, 57.0]) / 4.0)
    rows = rows.assign(course=pd.Series([course] * 5, dtype=object), initial_warmth=0.0)
    rows.loc[2, "spells"] = (20.0,)
    cold, rise, _ = histories_of(rows).columns(WARM, COOL)
    minute = 23.0 / 2300.0 * np.arange(1, 2301)
    air, excess = states(
        0.01, 20.0 - minute / 4.0, np.where(minute <= 20.0, 1.0, 0.0), WARM, COOL,
        air=20.0, celsius_before=20.0 - (minute - 0.01) / 4.0,
    )  # fmt: skip
    assert np.allclose(cold[2], air[:, -1] - 20.0)
    assert np.allclose(rise[2], excess[:, -1] / 14.0 - 1.0)


def test_warmth_at_the_start_adds_what_the_column_says():
    rows = table(initial_warmth=0.0)
    _, rise, begun = histories_of(rows).columns(WARM, COOL, True)
    _, warmer, _ = histories_of(rows.assign(initial_warmth=0.4)).columns(WARM, COOL)
    assert np.allclose(rise + 0.4 * begun, warmer)
    stated = histories_of(rows.assign(initial_warmth=1.0)).columns(WARM, COOL, True)[2]
    assert not stated.any()


def test_some_readings_have_the_columns_they_had_among_all():
    rows = table()
    some = np.array([3, 0, 4])
    for all_of_them, few in zip(
        histories_of(rows).columns(WARM, COOL),
        histories_of(rows).take(some).columns(WARM, COOL),
        strict=True,
    ):
        if few is not None:
            assert np.allclose(all_of_them[some], few)
