"""Which of several named values is the temperature."""

import pytest

from sensors.errors import LineRefused
from sensors.fields import called, company, from_names, number, words


@pytest.mark.parametrize(
    ("name", "plain"),
    [("Temp (°C)", "temp_c"), ("T", "t"), ("room-temp", "room_temp"), ("a.T1", "a.t1")],
)
def test_names_are_compared_without_their_signs(name, plain):
    assert words(name) == plain


@pytest.mark.parametrize(
    ("text", "value"),
    [("48", 48.0), ("48 %", 48.0), ("48%RH", 48.0), ("1013.2 hPa", 1013.2), ("wet", None)],
)
def test_numbers_that_go_along(text, value):
    assert number(text) == value


def test_celsius_goes_before_fahrenheit():
    assert from_names([("temp_f", "70.0"), ("temp_c", "21.5")], "", "", "C").celsius == 21.5


def test_two_of_the_same_name_are_not_chosen_between():
    with pytest.raises(LineRefused, match="more than one temperature: T, T"):
        from_names([("T", "21.5"), ("T", "22.5")], "", "", "C")


def test_two_humidities_are_none():
    assert company([("rh", "48"), ("hum", "50"), ("p", "1013")]) == (None, 1013.0)


def test_nested_names_are_found_by_their_last_word():
    assert called([("bench.Temp", "1")], frozenset({"temp"})) == [("bench.Temp", "1")]
