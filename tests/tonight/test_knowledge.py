"""What earlier rehearsals teach: notes, the slide's slope, and how sure each is."""

import numpy as np
import pandas as pd
import pytest

import drift
from drift.instruments.catalogue import Catalogue
from drift.tonight import know

HORN = Catalogue.shipped().find("double horn")
ALTO = Catalogue.shipped().find("alto saxophone")
DRAWS = drift.physics().draws("double horn", 200, 1)
K = HORN.cents_per_mm("Bb", "main")


def rows(cents, slide_cents=None, rehearsals=("a",), side="Bb", note="F4"):
    """Warm readings at 20 °C, where every draw has no drift."""
    listed = [(name, value) for name in rehearsals for value in cents]
    moved = 0.0 if slide_cents is None else np.tile(slide_cents, len(rehearsals))
    table = pd.DataFrame(listed, columns=["rehearsal", "cents"])
    return table.assign(
        side=side, note=note, a4_hz=440.0, celsius=20.0, minutes_into_spell=1e4,
        playing_minutes=0.0,
        initial_warmth=1.0, spells=[()] * len(table),
        reference_cents=table["cents"] - moved,
    )  # fmt: skip


def of(knowledge, **what):
    row = knowledge.row(**what)
    return float((knowledge.mean @ row).mean()), float(np.sqrt(row @ knowledge.covariance @ row))


def test_before_any_reading_a_note_can_be_anywhere():
    fresh = know(HORN, DRAWS)
    mean, sd = of(fresh, side="Bb")
    assert mean == 0.0
    assert 20.0 < sd < 22.0
    assert fresh.gains == {1.0: 1.0}


def test_readings_fix_a_note_and_leave_the_others_their_spread():
    known = know(HORN, DRAWS, rows([8.0] * 40, rehearsals="abcdefgh"), reading_sd_cents=3.0)
    mean, sd = of(known, note=("Bb", "F4"))
    assert mean == pytest.approx(8.0, abs=0.3)
    assert sd < 2.5
    other, other_sd = of(known, note=("F", "C4"))
    assert other == pytest.approx(8.0, abs=1.5)
    assert 9.0 < other_sd < 11.0  # two sides and two notes away: sqrt(2 * 25 + 2 * 25)


def test_tendencies_are_against_the_mean_of_the_tuning_notes():
    table = pd.concat(
        [rows([cents] * 30, rehearsals="abc", note=note)
         for note, cents in (("F4", 3.0), ("Bb3", 0.0), ("F3", 9.0), ("D4", -8.0))]
    )  # fmt: skip
    found = know(HORN, DRAWS, table, reading_sd_cents=3.0).tendencies("Bb")
    assert set(found) == {"F4", "Bb3", "F3", "D4"}
    assert found["D4"].estimate == pytest.approx(-12.0, abs=0.5)
    assert found["F3"].low < 5.0 < found["F3"].high


def test_the_slope_of_the_slide_begins_at_the_catalogue_and_follows_the_readings():
    fresh = know(HORN, DRAWS)
    assert fresh.moved_cents(-10.0, side="Bb") == pytest.approx(-11.0)
    # Ten millimetres out read as if they did 30 % more than the rule; pairing takes off what the
    # catalogue expects, 1.10 times the rule.
    moved = np.tile([0.0, 10.0 * K], 40)
    known = know(HORN, DRAWS, rows(1.3 * moved, 1.1 * moved, "abcd"), reading_sd_cents=2.0)
    slope = known.moved_cents(1.0, side="Bb") * (1.0 + known.mean[:, len(known.notes)].mean())
    assert slope == pytest.approx(1.3, abs=0.1)


def test_a_measured_slope_is_taken_as_it_is_and_known_better():
    measured = know(HORN, DRAWS, calibration={("main", "Bb"): 1.2 * K})
    place = len(measured.notes)
    assert measured.moved_cents(-10.0, side="Bb") == -10.0
    assert measured.covariance[place, place] == pytest.approx(0.03**2)


def test_a_saxophones_octave_moves_twice_as_far():
    known = know(ALTO, drift.physics().draws("alto saxophone", 50, 1))
    low, high = (known.moved_cents(-10.0, note=("", note)) for note in ("Bb3", "Bb4"))
    assert high == pytest.approx(2.0 * low)


def test_the_spread_of_days_and_watching_wait_for_enough_rehearsals():
    one, two, three = (
        know(HORN, DRAWS, rows([0.0, 1.0], rehearsals=names), day_sd_cents=0.2)
        for names in ("a", "ab", "abc")
    )
    level = one.level_place
    assert one.covariance[level, level] == 4.0
    assert two.covariance[level, level] == 1.0  # the fit's own, at least one cent
    assert (len(two.gains), len(three.gains)) == (1, 2)


def test_own_tuning_notes_take_the_place_of_the_catalogues():
    own = know(HORN, DRAWS, tuning_notes={"Bb": ("Bb4",), "F": ("C4",)})
    assert own.notes == (("Bb", "Bb4"), ("F", "C4"))
