"""Thermometers and what happened to them, in words."""

import pytest

from drift.words.thermometers import HAPPENED, called_apart, happened


def test_a_device_is_no_name_and_two_of_them_are_told_apart():
    assert called_apart(["/dev/ttyUSB0", "typed"]) == {
        "/dev/ttyUSB0": "thermometer", "typed": "typed",
    }  # fmt: skip
    names = called_apart(["/tmp/a", "stage", "COM3", "/tmp/a"])
    assert list(names.values()) == ["thermometer 1", "stage", "thermometer 2"]


@pytest.mark.parametrize(
    ("source", "kind", "count", "line"),
    [
        ("stage", "away", 1, "Stage did not answer, or was unplugged: once."),
        ("stage", "refused", 2, "Stage sent a line that is not a temperature: 2 times."),
        ("clock", "step", 1, "The computer's clock was changed, or was behind the last entry"),
        ("clock", "away", 7, "Changes of the computer's clock could not be watched for"),
        ("stage", "dialect", 4, ""),
        ("stage", "query", 4, ""),
    ],
)  # fmt: skip
def test_what_happened_is_plain_words(source, kind, count, line):
    text = happened(source, source, kind, count)
    assert text.startswith(line) if line else not text


def test_each_kind_names_no_code():
    for kind in HAPPENED:
        assert kind not in happened("COM3", "thermometer 1", kind, 1).split()
