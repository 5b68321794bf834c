"""Numbers with units as people write them."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drift.errors import InputError
from drift.quantities import (
    CENTS,
    HERTZ,
    LENGTH,
    MINUTES,
    NUMBER,
    PERCENT,
    TEMPERATURE,
    parse_degrees,
    parse_quantity,
    read_quantity,
)

QUANTITIES = [CENTS, HERTZ, LENGTH, MINUTES, NUMBER, PERCENT, TEMPERATURE]


@pytest.mark.parametrize(
    ("text", "quantity", "value"),
    [
        ("21,5", NUMBER, 21.5),
        ("−4", NUMBER, -4.0),  # a minus of typography
        ("+6", CENTS, 6.0),
        ("  +6c ", CENTS, 6.0),
        ("-12.5 cents", CENTS, -12.5),
        ("351,2hz", HERTZ, 351.2),
        ("12%", PERCENT, 12.0),
        ("12 %", PERCENT, 12.0),
        ("15 mm", LENGTH, 15.0),
        ("1.5cm", LENGTH, 15.0),
        ("0.5 in", LENGTH, 12.7),  # 25.4 mm by definition
        ('0.5"', LENGTH, 12.7),
        ("2 Inches", LENGTH, 50.8),
        ("21.5\u00a0°C", TEMPERATURE, 21.5),  # a space that does not break
        ("1e-05", NUMBER, 1e-5),  # as files hold small numbers
        ("30 min", MINUTES, 30.0),
        ("1,5 h", MINUTES, 90.0),
    ],
)
def test_what_is_read(text, quantity, value):
    assert read_quantity(text, quantity) == pytest.approx(value, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "celsius"),
    # 0 °C is 32 °F and 100 °C is 212 °F, by definition of the two scales.
    [("4", 4), (" -4.5 ", -4.5), ("50F", 10), ("50 °f", 10), ("4°C", 4), ("212 ℉", 100),
     ("21 ° C", 21)],
)  # fmt: skip
def test_degrees(text, celsius):
    assert parse_degrees(text) == pytest.approx(celsius)


def test_a_difference_has_no_offset():
    assert parse_degrees("18F", difference=True) == pytest.approx(10)
    assert parse_degrees("-3", difference=True) == -3


@pytest.mark.parametrize(
    "text", ["", "warm", "4K", "4 4", "nan", "inf", "1_0", "٤", "4..5", "70FF"]
)
def test_what_is_not_a_temperature(text):
    with pytest.raises(InputError, match="is not a temperature"):
        parse_degrees(text)


@pytest.mark.parametrize("text", ["1,013.25", "1.013,25", "1 013", "1'013", "--4", "−-4", "4-"])
def test_numbers_that_could_mean_two_things_are_refused(text):
    assert read_quantity(text, NUMBER) is None


@pytest.mark.parametrize("text", ["9" * 400, "1e999", "9" * 5000])
def test_a_number_too_large_is_refused_and_not_repeated_in_full(text):
    with pytest.raises(InputError, match="is not a number") as refusal:
        parse_quantity(text, NUMBER)
    assert len(refusal.value.problem) < 100


def test_limits_are_in_the_base_unit():
    assert parse_quantity("100F", TEMPERATURE, lowest=-40, highest=60) == pytest.approx(
        37.78, abs=0.01
    )
    with pytest.raises(InputError, match=r"^temperature there '200F' is outside -40 to 60 °C\n"):
        parse_quantity("200F", TEMPERATURE, what="temperature there", lowest=-40, highest=60)


@given(st.text(max_size=30), st.sampled_from(QUANTITIES))
def test_any_text_is_a_finite_number_or_none(text, quantity):
    value = read_quantity(text, quantity)
    assert value is None or math.isfinite(value)


@given(st.floats(-1e6, 1e6))
def test_what_python_writes_is_read_back_exactly(value):
    assert read_quantity(repr(value), NUMBER) == value
    assert read_quantity(repr(value).replace(".", ",").replace("-", "−"), NUMBER) == value
