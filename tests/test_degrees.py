"""Degrees as numbers and as typed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drift.degrees import (
    celsius_of_fahrenheit,
    fahrenheit_of_celsius,
    parse_degrees,
    shown_degrees,
    shown_range,
)
from drift.errors import InputError


@pytest.mark.parametrize(("celsius", "fahrenheit"), [(0, 32), (100, 212), (-40, -40), (37, 98.6)])
def test_fixed_points(celsius, fahrenheit):
    # By definition of the two scales.
    assert float(fahrenheit_of_celsius(celsius)) == pytest.approx(fahrenheit, abs=1e-12)
    assert float(celsius_of_fahrenheit(fahrenheit)) == pytest.approx(celsius, abs=1e-12)


@given(st.floats(-60, 60))
def test_there_and_back(celsius):
    assert float(celsius_of_fahrenheit(fahrenheit_of_celsius(celsius))) == pytest.approx(celsius)


@pytest.mark.parametrize(
    ("text", "celsius"), [("4", 4), (" -4.5 ", -4.5), ("50F", 10), ("50 °f", 10), ("4°C", 4)]
)
def test_typed(text, celsius):
    assert parse_degrees(text) == pytest.approx(celsius)


def test_a_difference_has_no_offset():
    assert parse_degrees("18F", difference=True) == pytest.approx(10)
    assert parse_degrees("-3", difference=True) == -3


@pytest.mark.parametrize("text", ["", "warm", "4K", "4 4", "nan", "1e3", "٤"])
def test_what_is_no_temperature(text):
    with pytest.raises(InputError, match="is no temperature"):
        parse_degrees(text)


def test_shown():
    assert shown_degrees(20.4) == "20 °C"
    assert shown_degrees(20, fahrenheit=True) == "68 °F"
    assert shown_range(-3.6, 4.4) == "−4 to 4 °C"
    assert shown_range(4.1, 4.4, fahrenheit=True) == "39 to 40 °F"
    assert shown_range(4.1, 4.2) == "4 °C"
