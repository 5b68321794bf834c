"""Units, fault values and what air cannot have."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensors.errors import LineRefused
from sensors.quantities import (
    celsius_of,
    humidity_of,
    measured,
    pressure_of,
    quantity,
    unit_of,
)


@pytest.mark.parametrize(
    ("word", "unit"),
    [
        ("C", "C"), ("°C", "C"), ("ºC", "C"), ("℃", "C"), ("deg C", "C"), ("degC", "C"),
        ("Celsius", "C"), ("degrees Celsius", "C"), ("F", "F"), ("°F", "F"), ("℉", "F"),
        ("degF", "F"), ("Fahrenheit", "F"), ("K", "K"), ("kelvin", "K"), ("° c", "C"),
    ],
)  # fmt: skip
def test_units_in_their_usual_spellings(word, unit):
    assert unit_of(word) == unit


def test_other_words_are_no_unit():
    with pytest.raises(ValueError, match="no unit of temperature: 'hPa'"):
        unit_of("hPa")


# Fixed points of the scales, exact by their definitions: water freezes at 32 °F, the two scales
# meet at -40, 0 °C is 273.15 K.
@pytest.mark.parametrize(
    ("value", "unit", "celsius"),
    [(32.0, "F", 0.0), (-40.0, "F", -40.0), (212.0, "F", 100.0), (273.15, "K", 0.0)],
)
def test_scales_at_their_fixed_points(value, unit, celsius):
    assert celsius_of(value, unit) == celsius


@pytest.mark.parametrize(
    "text",
    ["21.5", "+21.5", " 21.5 ", "21.5C", "21.5 °C", "70.7F", "70.7 °F", "294.65 K", "21,5",
     "21,5 °C", "2.15e1", "021.50"],
)  # fmt: skip
def test_one_temperature_written_in_many_ways(text):
    # 1e-12: conversion from °F and K rounds in the last bits
    assert quantity(text, text) == pytest.approx(21.5, abs=1e-12)


def test_a_number_without_unit_has_the_unit_of_the_address():
    assert quantity("70.7", "70.7", "F") == pytest.approx(21.5, abs=1e-12)
    assert quantity("21.5C", "21.5C", "F") == 21.5


@pytest.mark.parametrize("text", ["", "---", "nan", "NaN", "null", "N/A", "error", "-inf"])
def test_a_missing_number_is_told_from_a_strange_line(text):
    with pytest.raises(LineRefused, match="gives no number"):
        quantity(text, text)


@pytest.mark.parametrize(
    "text", ["21.5.6", "21.5 V", "2 1.5", "0x15", "1_0", "٢١", "21.5C C", "21,5,6", "--5", "1" * 12]
)
def test_what_is_no_single_number_is_refused(text):
    with pytest.raises(LineRefused, match="not one number"):
        quantity(text, text)


# The values with which thermometers say that they have none; the same list as in the fault
# tables of makers (common practice; 9.91E37 is "not a number" of IEEE 488.2 instruments, SCPI-99
# volume 1 chapter 7.2, from memory).
@pytest.mark.parametrize(
    ("celsius", "meaning"),
    [
        (85.0, "before its first measurement"),
        (127.94, "not connected"),
        (-127.0, "does not answer"),
        (9.91e37, "has no number"),
        (9.9e37, "out of range"),
        (math.nan, "no number"),
    ],
)
def test_fault_values_are_refused_with_their_meaning(celsius, meaning):
    with pytest.raises(LineRefused, match=meaning) as refused:
        measured(celsius, "the raw line")
    assert refused.value.line == "the raw line"


@pytest.mark.parametrize("celsius", [-40.01, 60.01, 1e9, -math.inf, math.inf])
def test_beyond_what_air_has_is_refused(celsius):
    with pytest.raises(LineRefused, match="outside -40 to 60 °C"):
        measured(celsius, "")


@pytest.mark.parametrize("celsius", [-40.0, 0.0, 60.0])
def test_the_limits_themselves_are_taken(celsius):
    assert measured(celsius, "").celsius == celsius


@given(st.floats())
def test_whatever_is_taken_is_plausible(celsius):
    try:
        taken = measured(celsius, "")
    except LineRefused:
        assert not -40 <= celsius <= 60
    else:
        assert -40 <= taken.celsius <= 60


def test_company_that_cannot_be_is_left_out():
    assert [humidity_of(value) for value in (0.0, 100.0, 100.1, -1.0, None)] == [
        0.0, 100.0, None, None, None,
    ]  # fmt: skip
    assert [pressure_of(value) for value in (1013.25, 101325.0, 1.01325, None)] == [
        1013.25, 1013.25, None, None,
    ]  # fmt: skip
