"""Readings as people type them."""

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drift.capture.typed_reading import Note, parse_reading
from drift.errors import InputError


@pytest.mark.parametrize(
    ("line", "reading"),
    [
        ("F4 +6", Note("F4", 6.0)),
        ("F4 6", Note("F4", 6.0)),
        ("F4-12", Note("F4", -12.0)),
        ("F4+12", Note("F4", 12.0)),
        ("F4 - 8", Note("F4", -8.0)),
        ("F4 –8", Note("F4", -8.0)),
        ("F4 −3,5", Note("F4", -3.5)),
        ("F4 +6ct", Note("F4", 6.0)),
        ("F4 +6 cents", Note("F4", 6.0)),
        ("F4 +6c F", Note("F4", 6.0, side="F")),
        ("F4 12 flat", Note("F4", -12.0)),
        ("F4 -12 flat", Note("F4", -12.0)),
        ("F4 12 cents sharp B♭", Note("F4", 12.0, side="Bb")),
        ("21c", Note("", 21.0)),
        ("fis4 +2", Note("F#4", 2.0, called="fis4")),
        ("h3 -2", Note("B3", -2.0, called="h3")),
        ("Bb3-6 Bb", Note("Bb3", -6.0, side="Bb")),
        ("F4 351.2Hz", Note("F4", hertz=351.2)),
        ("F4 351,2 hz F", Note("F4", hertz=351.2, side="F")),
        ("+6", Note("", 6.0)),
        ("-3", Note("", -3.0)),
        ("6 flat F", Note("", -6.0, side="F")),
        ("F4 +6 ! mute in", Note("F4", 6.0, remark="mute in", flagged=True)),
        ("F4 +6 Bb!", Note("F4", 6.0, side="Bb", remark="", flagged=True)),
        ("C-1 +3", Note("C-1", 3.0)),
    ],
)
def test_a_reading_is_understood(line, reading):
    assert parse_reading(line) == reading


@pytest.mark.parametrize(
    ("line", "problem"),
    [
        ("b4 +6", "could mean two notes"),
        ("F4", "has a note and no cents"),
        ("F44 +6", "is not a note"),
        ("F4 +6 Bb more", "is neither cents nor hertz"),
        ("F4 sharp", "is neither cents nor hertz"),
        ("F4 nan", "is neither cents nor hertz"),
        ("F4 1e9", "is neither cents nor hertz"),
        ("F4 -12 sharp", "says two things"),
        ("F4 +12 flat", "says two things"),
        ("F4 0Hz", "is not a pitch"),
        ("351Hz", "is not a pitch"),
        ("hello", "is not an entry"),
        ("68F", "reads as a temperature"),
        ("21.5C", "reads as a temperature"),
        ("21 °C", "reads as a temperature"),
        (f"F4 {'9' * 400}", "is not a number"),
    ],
)
def test_what_is_not_a_reading_is_explained(line, problem):
    with pytest.raises(InputError, match=problem) as refusal:
        parse_reading(line)
    assert refusal.value.remedy


def test_a_bare_temperature_is_told_how_it_is_typed():
    with pytest.raises(InputError) as refusal:
        parse_reading("68F")
    assert refusal.value.remedy == "type temp 68F; cents with their sign: +6, 6 flat"


@given(st.integers(-200, 200), st.sampled_from(["{n} {c:+d}", "{n}{c:+d}", "{n} {c:+d} cents"]))
def test_every_spelling_of_a_number_gives_that_number(cents, spelling):
    assert parse_reading(spelling.format(n="F4", c=cents)).cents == cents


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused(line):
    with contextlib.suppress(InputError):
        assert isinstance(parse_reading(line), Note)
