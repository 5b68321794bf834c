"""The state of a played instrument, against a fine integration and in its limits."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from drift.regression.state import drift_columns_of_state, states
from drift.regression.warmup import drift_columns, warmth


def integrated(steps, before, after, duty, warm, cool, air, excess):
    """Return A and E at the end of each step, by a general solver of differential equations."""
    found, now = [], np.array([air, excess])
    for minutes, begin, end, share in zip(steps, before, after, duty, strict=True):

        def change(t, y, minutes=minutes, begin=begin, end=end, share=share):
            celsius = begin + (end - begin) * t / minutes
            up, down = share / warm, (1.0 - share) / cool
            return [(up + down) * (celsius - y[0]), up * (34.0 - celsius) - (up + down) * y[1]]

        now = solve_ivp(change, (0.0, minutes), now, rtol=1e-10, atol=1e-10).y[:, -1]
        found.append(now)
    return np.array(found).T


def test_agrees_with_a_fine_numerical_integration():
    random = np.random.default_rng(5)
    steps, duty = random.uniform(0.5, 20.0, 12), random.choice([0.0, 0.1, 0.6, 1.0], 12)
    course = random.uniform(-5.0, 38.0, 13)
    expected = integrated(steps, course[:-1], course[1:], duty, 7.0, 11.0, 22.0, 4.0)
    found = states(steps, course[1:], duty, 7.0, 11.0, 22.0, 4.0, celsius_before=course[:-1])
    assert np.allclose(found, expected, atol=1e-7)


def test_air_that_jumps_between_steps_is_integrated_too():
    steps, celsius, duty = [10.0, 5.0, 30.0], [21.0, 4.0, 4.0], [1.0, 0.0, 1.0]
    expected = integrated(steps, celsius, celsius, duty, 6.0, 12.0, 21.0, 0.0)
    assert np.allclose(states(steps, celsius, duty, 6.0, 12.0), expected, atol=1e-7)


def test_constant_air_is_the_warm_up_of_before():
    spells, warm, cool = (20.0, 9.0, 14.0, 6.0), np.array([4.0, 9.0]), np.array([8.0, 30.0])
    air, excess = states([*spells, 3.0], 12.0, [1.0, 0.0, 1.0, 0.0, 1.0], warm, cool)
    w = warmth(spells, 3.0, warm, cool)
    assert np.allclose(air, 12.0)
    assert np.allclose(excess[:, -1], w * 22.0)
    cold, rise = drift_columns_of_state(air[:, -1], excess[:, -1])
    assert np.allclose(cold, drift_columns(12.0, w)[0])
    assert np.allclose(rise, drift_columns(12.0, w)[1])


def test_draws_lead_and_steps_follow():
    warm = np.linspace(3.0, 10.0, 5)
    together = states([3.0, 4.0], [10.0, 12.0], [1.0, 0.0], warm, 2.0 * warm, air=20.0)
    for number, minutes in enumerate(warm):
        alone = states([3.0, 4.0], [10.0, 12.0], [1.0, 0.0], minutes, 2.0 * minutes, air=20.0)
        assert np.allclose([part[number] for part in together], alone)
    a_weather_each = states(2.0, np.array([[5.0], [25.0]]), 1.0, 6.0, 12.0, air=[15.0, 15.0])
    assert a_weather_each[0].shape == (2, 1)
    assert a_weather_each[0][0, 0] < 15.0 < a_weather_each[0][1, 0]


@pytest.mark.parametrize("duty", [0.0, 0.1, 1.0])
def test_a_long_step_ends_in_equilibrium(duty):
    air, excess = states([2000.0], [5.0], [duty], 6.0, 12.0, air=25.0, excess=3.0)
    share = (duty / 6.0) / (duty / 6.0 + (1.0 - duty) / 12.0)
    assert air[0] == pytest.approx(5.0)
    assert excess[0] == pytest.approx(share * 29.0)


def test_a_step_of_no_length_changes_nothing():
    air, excess = states([0.0], [5.0], [1.0], 6.0, 12.0, air=25.0, excess=3.0)
    assert (air[0], excess[0]) == (25.0, 3.0)


def test_cutting_a_step_in_two_changes_nothing():
    whole = states([10.0], [8.0], [0.3], 6.0, 12.0, air=20.0, celsius_before=[16.0])
    cut = states(
        [4.0, 6.0], [12.8, 8.0], [0.3, 0.3], 6.0, 12.0, air=20.0, celsius_before=[16.0, 12.8]
    )
    assert np.allclose([part[-1] for part in whole], [part[-1] for part in cut])
