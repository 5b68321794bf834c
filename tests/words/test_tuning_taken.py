"""What was typed while tuning, in words."""

from datetime import UTC, datetime

import pytest

from drift.instruments import find
from drift.logbook.records import Event, Reading, Temperature
from drift.quantities import Units
from drift.slides.tuning_begun import Begun
from drift.slides.tuning_resumed import Resumed
from drift.slides.tuning_sitting import Doubted, Taken
from drift.tonight.tuning import begin_tuning
from drift.words.tuning_taken import (
    doubted_in_words,
    introduction,
    resumed_in_words,
    taken_in_words,
)

NOW = datetime(2026, 9, 1, 17, 0, tzinfo=UTC)
AMERICAN = Units(fahrenheit=True, inches=True)
READ = Reading(NOW, "hall", "Rowan", "double horn", "Bb", "F4", -7.0, 440.0)
SET = Event(NOW, "hall", "Rowan", "slide", "Bb", 12.7, instrument="double horn")
AIR = Temperature(NOW, "hall", 20.0, source="typed")


@pytest.mark.parametrize(
    ("taken", "units", "text"),
    [
        (Taken((SET,)), Units(), "B♭ at 12.7"),
        (Taken((SET,)), AMERICAN, "B♭ at 1/2"),
        (Taken((AIR,)), AMERICAN, "air 68.0 °F"),
        (Taken((READ,)), Units(), ""),  # the next step says what it came to
        (Taken((READ,), undone=True), Units(), "undone: F4 7 flat"),
        (Taken(undone=True), Units(), "undone: the last answer"),
    ],
)
def test_what_was_saved_is_repeated(taken, units, text):
    assert taken_in_words(taken, units) == text


def test_a_reading_that_is_undone_is_named_as_it_is_read():
    assert taken_in_words(Taken((READ,), undone=True), semitones=7) == "undone: C5 7 flat"


def test_a_position_is_asked_back_in_the_units_of_the_player():
    assert doubted_in_words(Doubted("main", 25.4, 6.35), AMERICAN).startswith(
        "main at 1 inch? Asked was 1/4. "
    )
    assert doubted_in_words(Doubted("F", 150.0, None)) == (
        "F at 150 mm? That is far out. Type it again to keep it, or where the slide is."
    )


@pytest.mark.parametrize(
    ("readings", "moves", "kept"),
    [
        (3, 1, "and goes on where it stopped: 3 notes and 1 move are kept"),
        (1, 0, "and goes on where it stopped: 1 note is kept"),
        (0, 0, "before a note was read; begin as before"),
    ],
)
def test_what_is_kept_of_a_tuning_that_goes_on(readings, moves, kept):
    tuning = begin_tuning(find("flute"), positions_mm={"head": 5.0})
    begun = Begun(tuning, {}, None, None, Resumed(tuning, (), readings, moves))
    assert resumed_in_words(begun) == (f"This tuning was broken off {kept}. Slides: head at 5.")
    assert resumed_in_words(Begun(tuning, {}, None)) == ""


@pytest.mark.parametrize(
    ("kept", "given", "minutes"),
    [(15.0, None, "15 minutes"), (None, 15.0, "15 minutes"), (1.2, None, "1 minute")],
)
def test_what_was_played_before_a_note_was_read_is_kept(kept, given, minutes):
    tuning = begin_tuning(find("flute"), positions_mm={"head": 5.0}, minutes_played=kept or given)
    begun = Begun(tuning, {}, None, None, Resumed(tuning, (), 0, 0, kept), given)
    assert resumed_in_words(begun) == (
        "This tuning was broken off and goes on where it stopped, "
        f"as warm as after {minutes} of playing. Slides: head at 5."
    )


def test_the_slide_of_a_trombone_has_one_name_in_every_line():
    trombone = begin_tuning(find("tenor trombone"), positions_mm={"main": 22.0})
    begun = Begun(trombone, {}, None, None, Resumed(trombone, (), 1, 0))
    assert resumed_in_words(begun).endswith("Slides: tuning slide at 22.")
    moved = Event(NOW, "hall", "Anselm", "slide", "main", 22.0, instrument="tenor trombone")
    assert taken_in_words(Taken((moved,))) == "tuning slide at 22"
    doubted = Doubted("main", 1.0, 22.0, "tenor trombone")
    assert doubted_in_words(doubted).startswith("tuning slide at 1 mm? Asked was 22. ")


@pytest.mark.parametrize(
    ("name", "part", "habit"),
    [
        ("tenor trombone", "Tuning slide", " Keep the hand slide fully in while tuning."),
        ("flute", "Head joint", ""),
    ],
)
def test_it_begins_with_what_will_happen(name, part, habit):
    assert introduction(begin_tuning(find(name))) == (
        f"{part}: one long note or one move at a time, about 3 minutes. A4 = 440 Hz.{habit}"
    )


def test_the_a4_that_is_tuned_to_is_said():
    tuning = begin_tuning(find("flute"))
    assert introduction(tuning, 442.0).endswith("about 3 minutes. A4 = 442 Hz.")
    assert introduction(tuning, 441.5).endswith("A4 = 441.5 Hz.")


def test_what_cannot_be_tuned_needs_no_introduction():
    assert introduction(begin_tuning(find("oboe"))) == ""
