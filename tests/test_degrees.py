"""Degrees as numbers and as typed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drift.degrees import (
    celsius_of_fahrenheit,
    fahrenheit_of_celsius,
    shown_degrees,
    shown_range,
)


@pytest.mark.parametrize(("celsius", "fahrenheit"), [(0, 32), (100, 212), (-40, -40), (37, 98.6)])
def test_fixed_points(celsius, fahrenheit):
    # By definition of the two scales.
    assert float(fahrenheit_of_celsius(celsius)) == pytest.approx(fahrenheit, abs=1e-12)
    assert float(celsius_of_fahrenheit(fahrenheit)) == pytest.approx(celsius, abs=1e-12)


@given(st.floats(-60, 60))
def test_there_and_back(celsius):
    assert float(celsius_of_fahrenheit(fahrenheit_of_celsius(celsius))) == pytest.approx(celsius)


def test_shown():
    assert shown_degrees(20.4) == "20 °C"
    assert shown_degrees(20, fahrenheit=True) == "68 °F"
    assert shown_range(-3.6, 4.4) == "−4 to 4 °C"
    assert shown_range(4.1, 4.4, fahrenheit=True) == "39 to 40 °F"
    assert shown_range(4.1, 4.2) == "4 °C"
