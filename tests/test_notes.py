"""Notes, hertz and cents, against definitions and an independent library."""

import math
import warnings

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drift import notes
from drift.errors import InputError

MIDI = st.integers(0, 127)


@pytest.fixture(scope="module")
def librosa():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return pytest.importorskip("librosa")


def test_every_note_agrees_with_an_independent_library(librosa):
    for midi in range(128):
        name = notes.note_of_midi(midi)
        assert librosa.note_to_midi(name) == midi
        assert notes.hertz_of(name) == pytest.approx(librosa.note_to_hz(name), rel=1e-12)


def test_cents_agree_with_an_independent_library(librosa):
    for hertz in (58.27, 116.9, 233.0, 351.2, 440.0, 1975.0):
        note, cents = notes.nearest_note(hertz)
        theirs = float(librosa.hz_to_midi(hertz))
        assert notes.midi_of(note) + cents / 100.0 == pytest.approx(theirs, abs=1e-9)


def test_tuning_a_is_440_hertz():
    # ISO 16:1975
    assert notes.hertz_of("A4") == 440.0
    assert notes.midi_of("A4") == 69


def test_middle_c_is_c4():
    # Equal temperament: nine semitones below A4.
    assert notes.hertz_of("C4") == pytest.approx(440.0 * 2.0 ** (-9 / 12), rel=1e-15)


@pytest.mark.parametrize(
    ("harmonic", "cents"),
    # Published table of harmonics against equal temperament (second-hand), two decimals.
    [(3, 1.96), (5, -13.69), (6, 1.96), (7, -31.17), (9, 3.91), (10, -13.69)],
)
def test_harmonics_against_equal_temperament(harmonic, cents):
    fundamental = notes.hertz_of("F1")
    assert notes.nearest_note(harmonic * fundamental)[1] == pytest.approx(cents, abs=0.005)


@given(MIDI)
def test_name_and_number_are_inverse(midi):
    assert notes.midi_of(notes.note_of_midi(midi)) == midi


@given(MIDI, st.floats(-49.9, 49.9), st.floats(400.0, 480.0))
def test_nearest_note_finds_the_note_and_the_cents(midi, cents, a4_hz):
    name = notes.note_of_midi(midi)
    hertz = notes.hertz_of(name, a4_hz) * 2.0 ** (cents / 1200.0)
    found, off = notes.nearest_note(hertz, a4_hz)
    assert (found, off) == (name, pytest.approx(cents, abs=1e-6))


@given(st.floats(20.0, 5000.0), st.floats(20.0, 5000.0))
def test_cents_are_antisymmetric_and_an_octave_is_1200(first, second):
    assert notes.cents_between(first, second) == pytest.approx(-notes.cents_between(second, first))
    assert notes.cents_between(2 * first, first) == pytest.approx(1200.0)


@pytest.mark.parametrize(
    ("typed", "canonical"),
    [("f4", "F4"), ("b♭3", "Bb3"), ("bb3", "Bb3"), ("b3", "B3"), (" C♯5 ", "C#5"), ("Db4", "Db4")],
)
def test_a_note_keeps_its_spelling(typed, canonical):
    assert notes.canonical_note(typed) == canonical


def test_enharmonic_names_are_one_note():
    assert notes.midi_of("C#4") == notes.midi_of("Db4")
    assert notes.midi_of("Cb4") == notes.midi_of("B3")
    assert notes.midi_of("B#3") == notes.midi_of("C4")


@pytest.mark.parametrize("text", ["H4", "", "A", "44", "F#b4", "A10", "Bb", "F 4"])
def test_what_is_no_note_is_refused(text):
    with pytest.raises(InputError, match="is not a note\nwrite a letter from A to G"):
        notes.midi_of(text)


@pytest.mark.parametrize("text", ["Cb-1", "A9"])
def test_a_note_beyond_the_numbers_is_refused(text):
    with pytest.raises(InputError, match="outside C-1 to G9"):
        notes.midi_of(text)


def test_a_number_beyond_the_notes_is_refused():
    with pytest.raises(InputError, match="note number 128"):
        notes.note_of_midi(128)


@pytest.mark.parametrize("hertz", [0.0, -1.0, math.nan])
def test_cents_need_positive_frequencies(hertz):
    with pytest.raises(InputError, match="no cents between"):
        notes.cents_between(hertz, 440.0)


def test_signs_are_shown_only_on_names_of_notes():
    assert notes.shown("Bb side of a double horn") == "B♭ side of a double horn"
    assert notes.shown("BBb tuba, F#4 and Eb3 ebb") == "BB♭ tuba, F♯4 and E♭3 ebb"
    assert notes.shown("Bob plays the tuba") == "Bob plays the tuba"


@pytest.mark.parametrize(
    ("instrument_semitones", "sounding", "written"),
    [(7, "F4", "C5"), (2, "Bb4", "C5"), (0, "Bb2", "Bb2"), (9, "Eb4", "C5"), (-12, "A5", "A4")],
)
def test_written_and_sounding_notes(instrument_semitones, sounding, written):
    # Common practice: horn in F, trumpet in B flat, tuba, alto saxophone in E flat, piccolo.
    assert notes.written_of(sounding, instrument_semitones) == written
    assert notes.sounding_of(written, instrument_semitones) == sounding
