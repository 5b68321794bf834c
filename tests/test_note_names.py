"""Notes in the spelling of those who type them."""

import pytest

from drift.errors import InputError
from drift.note_names import typed_note


@pytest.mark.parametrize(
    ("typed", "note"),
    [
        ("F4", "F4"),
        ("bb3", "Bb3"),
        ("B♭3", "Bb3"),
        ("B4", "B4"),
        ("fis4", "F#4"),
        ("Es4", "Eb4"),
        ("as3", "Ab3"),
        ("h3", "B3"),
        ("H-1", "B-1"),
        ("ais2", "A#2"),
        ("a4", "A4"),
        ("e5", "E5"),
    ],
)
def test_one_note_one_name(typed, note):
    assert typed_note(typed) == note


@pytest.mark.parametrize("typed", ["b4", "b-1"])
def test_a_lower_case_b_is_asked_about(typed):
    with pytest.raises(InputError, match="could mean two notes"):
        typed_note(typed)


@pytest.mark.parametrize("typed", ["B4", "b4"])
def test_any_b_is_asked_about_where_german_names_are_typed(typed):
    with pytest.raises(InputError, match="could mean two notes") as refusal:
        typed_note(typed, german=True)
    assert refusal.value.remedy == "type H4 for the one, Bb4 for the other"
    assert [typed_note(name, german=True) for name in ("H4", "Bb4", "A4")] == ["B4", "Bb4", "A4"]


@pytest.mark.parametrize("typed", ["", "h", "is4", "xis4", "fis", "fis44", "la4"])
def test_what_is_not_a_note_is_refused(typed):
    with pytest.raises(InputError, match="is not a note"):
        typed_note(typed)
