"""The state of warming up, against its differential equation and against hand-made cases."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from drift.regression.warmup import drift_columns, warmth


def test_one_time_constant_of_playing_is_63_percent():
    assert warmth((), 6.0, 6.0, 12.0) == pytest.approx(1 - np.exp(-1))


def test_three_time_constants_are_95_percent():
    assert warmth((), 18.0, 6.0, 12.0) == pytest.approx(0.95, abs=0.003)


def test_the_closed_form_solves_the_differential_equation():
    """An independent integrator, stopped and restarted at each change of playing and resting."""
    spells, into, warm, cool = (25.0, 15.0, 7.5, 40.0), 3.0, 8.0, 14.0
    state = np.array([0.3])
    for number, minutes in enumerate([*spells, into]):
        playing = number % 2 == 0
        state = solve_ivp(
            lambda _, w, playing=playing: (1 - w) / warm if playing else -w / cool,
            (0.0, minutes),
            state,
            rtol=1e-10,
            atol=1e-12,
        ).y[:, -1]
    assert warmth(spells, into, warm, cool, initial=0.3) == pytest.approx(state[0], abs=1e-8)


def test_an_even_number_of_stretches_means_playing():
    assert warmth((10.0,), 5.0, 6.0, 12.0) < warmth((10.0,), 0.0, 6.0, 12.0)
    assert warmth((10.0, 5.0), 5.0, 6.0, 12.0) > warmth((10.0, 5.0), 0.0, 6.0, 12.0)


def test_many_readings_and_a_grid_agree_with_one_at_a_time():
    spells = [(), (20.0,), (20.0, 10.0), (20.0,)]
    into = np.array([3.0, 4.0, 5.0, 9.0])
    warm, cool = np.meshgrid([3.0, 6.0, 9.0], [5.0, 20.0], indexing="ij")
    table = warmth(spells, into, warm, cool, initial=[0.0, 0.1, 1.0, 0.1])
    assert table.shape == (4, 3, 2)
    for row, initial in enumerate([0.0, 0.1, 1.0, 0.1]):
        single = warmth(spells[row], into[row], warm[1, 0], cool[1, 0], initial)
        assert table[row, 1, 0] == pytest.approx(single)


def test_an_instrument_already_warm_stays_warm_while_playing():
    assert warmth((), 4.0, 6.0, 12.0, initial=1.0) == 1.0


@given(
    st.lists(st.floats(0, 200), max_size=6),
    st.floats(0, 200),
    st.floats(0.5, 60),
    st.floats(0.5, 60),
    st.floats(0, 1),
)
def test_the_state_stays_between_cold_and_warm(spells, into, warm, cool, initial):
    assert 0.0 <= warmth(spells, into, warm, cool, initial) <= 1.0


def test_cutting_a_stretch_in_two_changes_nothing():
    whole = warmth((20.0, 10.0), 5.0, 6.0, 12.0)
    cut = warmth((12.0, 0.0, 8.0, 4.0, 0.0, 6.0), 5.0, 6.0, 12.0)
    assert whole == pytest.approx(cut)


def test_a_warm_instrument_at_the_reference_has_no_drift():
    assert [float(column) for column in drift_columns(20.0, 1.0)] == [0.0, 0.0]


def test_a_cold_one_is_flat_by_the_rise():
    assert float(drift_columns(20.0, 0.0)[1]) == -1.0


def test_at_breath_temperature_playing_changes_nothing():
    """Air at 34 °C can not be warmed by breath of 34 °C."""
    assert drift_columns(34.0, 0.0)[1] == drift_columns(34.0, 1.0)[1]


def test_the_warm_slope_is_the_cold_slope_less_the_rise_over_fourteen():
    cold, rise = drift_columns(np.array([10.0, 30.0]), 1.0)
    slopes = np.diff(2.95 * cold + 14.0 * rise) / 20.0
    assert slopes[0] == pytest.approx(2.95 - 1.0)
