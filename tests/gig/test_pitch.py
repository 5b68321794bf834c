"""The common pitch, against brute force over every pitch and every position of the slides."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from drift.gig.parts import AdjustablePart, FixedPart
from drift.gig.pitch import a4_after, common_pitch, compare_pitches, telling_note
from drift.gig.reach import real_slopes
from drift.notes import hertz_of, midi_of
from drift.words.gig_pitch import choice_cells, reason_words
from tests.gigs import bells, horns, trumpets, tuba

REACHES = st.lists(
    st.tuples(st.sampled_from("abcd"), st.floats(-40, 40), st.floats(0, 40)).map(
        lambda reach: (reach[0], reach[1], reach[1] + reach[2])
    ),
    min_size=1,
    max_size=6,
)


def steady(section, *expected):
    """Return a section whose pitch stands still after each tune."""
    return AdjustablePart(section, expected, tuple(np.zeros(2) for _ in expected))


def worst(cents, reaches):
    return max(max(low - cents, cents - high, 0.0) for _, low, high in reaches)


@given(REACHES)
def test_no_pitch_does_better(reaches):
    found, limited_by = common_pitch(reaches)
    grid = np.linspace(-90, 90, 1801)
    best = min(worst(cents, reaches) for cents in grid)
    assert worst(found, reaches) <= best + 1e-9
    if worst(found, reaches) < 1e-9:  # reached by all: none nearer the nominal is
        reached = [abs(cents) for cents in grid if worst(cents, reaches) < 1e-9]
        assert abs(found) <= min(reached, default=np.inf) + 1e-9
    assert bool(limited_by) == (abs(found) > 1e-12 or worst(0.0, reaches) > 0)


@given(REACHES)
def test_those_who_limit_it_do(reaches):
    found, limited_by = common_pitch(reaches)
    without = [reach for reach in reaches if reach[0] not in limited_by]
    other, _ = common_pitch(without)
    assert worst(found, reaches) == 0 or len(limited_by) in (1, 2)
    assert abs(other) <= abs(found) + 1e-9 or worst(found, reaches) > 0


def test_against_every_position_of_every_slide():
    # A trumpet, a tuba that is too short, and a tuba that is stuck, each flat from the cold.
    expected = {"trumpets": (-20.0, -26.0), "tuba": (-24.0, -30.0), "old": (-6.0,)}
    sections = (
        trumpets(at_mm={"main": 10.0}, travel_mm={"main": 30.0}),
        tuba(at_mm={"main": 20.0}),
        tuba(name="old", stuck=("main",)),
    )
    found = compare_pitches([steady(s, *expected[s.name]) for s in sections])
    grid_hz = np.arange(425.0, 445.0, 0.05)
    left = np.zeros(len(grid_hz))
    for section in sections:
        at, travel = section.at_mm["main"], section.travel_mm["main"]
        moves = np.arange(-at, travel - at + 0.05, 0.1) if section.movable else np.zeros(1)
        real = real_slopes(section.instrument)
        moved = np.array([section.instrument.cents_of_moves("", {"main": m}, real) for m in moves])
        for cents in expected[section.name]:
            reached = 440 * 2 ** ((cents + moved) / 1200)
            off = 1200 * np.abs(np.log2(grid_hz[:, None] / reached)).min(axis=1)
            left = np.maximum(left, off)
    # A step of 0.05 Hz is 0.2 cents, a step of 0.1 mm at most 0.24 cents; a tuner is set to half
    # a hertz, which is off by at most a quarter of one: 1 cent.
    assert left.min() == pytest.approx(found.choices[1].worst_cents, abs=1.3)
    assert found.recommended_a4_hz == pytest.approx(grid_hz[left.argmin()], abs=0.35)
    assert (2 * found.recommended_a4_hz).is_integer()
    assert set(found.limited_by) == {"tuba", "old"}
    assert "not every section can reach one pitch" in reason_words(found)


def test_horns_against_every_position_of_both_slides():
    section = horns(at_mm={"main": 9.0, "F": 4.0}, travel_mm={"main": 45.0, "F": 30.0})
    found = compare_pitches([steady(section, -30.0)])
    best = np.inf, 0.0
    for main, f in itertools.product(np.arange(-9, 3, 0.25), np.arange(-4, 10, 0.25)):
        sides = [
            -30.0
            + section.instrument.cents_of_moves(
                side, {"main": main, "F": f}, real_slopes(section.instrument)
            )
            for side in ("F", "Bb")
        ]
        if abs(sides[0] - sides[1]) < 0.2:
            best = min(best, (abs(np.mean(sides)), np.mean(sides)))
    # Both sides within 0.2 cents of each other on a grid of 0.25 mm, at most 0.3 cents; and the
    # band stays as near to 440 Hz as leaves the horns 5 cents off, to half a hertz.
    assert found.recommended_a4_hz == pytest.approx(a4_after(best[1] + 5, 440.0), abs=0.37)
    assert found.limited_by == ("horns",)
    assert "cannot come as high as 440.0 Hz" in reason_words(found)


def test_nothing_limits_a_band_that_reaches_the_nominal_pitch():
    found = compare_pitches([steady(trumpets(), -10.0, -14.0)])
    assert (found.recommended_a4_hz, found.limited_by) == (440.0, ())
    assert [choice.name for choice in found.choices] == ["stay", "recommended", "follow the band"]
    # Slides left alone: the middle of -10 and -14 leaves 2 cents; 436.96 Hz is set as 437.
    follow = found.choices[-1]
    assert follow.a4_hz == 437.0
    assert follow.worst_cents == pytest.approx(2.0, abs=0.2)


@pytest.mark.parametrize(
    ("out_mm", "a4", "limited"), [(7.0, 440.0, ()), (2.0, 436.5, ("trumpets",))]
)
def test_a_pitch_that_nobody_can_set_is_the_nominal_one(out_mm, a4, limited):
    # 7 mm in give 18 cents of the 24 to reach within 5: 0.3 Hz short, less than half a hertz.
    found = compare_pitches([steady(trumpets(at_mm={"main": out_mm}), -24.0)])
    assert (found.recommended_a4_hz, found.limited_by) == (a4, limited)
    assert found.choices[1].worst_cents <= 7.0


def test_a_hot_day_is_limited_from_below():
    found = compare_pitches([steady(tuba(at_mm={"main": 85.0}), 20.0)])
    assert "cannot come as low as 440.0 Hz" in reason_words(found)
    assert found.recommended_a4_hz > 440


def test_fixed_pitch_is_a_cost_and_no_constraint():
    part = steady(trumpets(), -10.0)
    alone, with_bells = (
        compare_pitches([part], fixed) for fixed in ([], [FixedPart(bells(), 7.0, 9.0)])
    )
    assert alone.recommended_a4_hz == with_bells.recommended_a4_hz
    stay, _, follow = with_bells.choices
    assert (stay.fixed_cents, stay.fixed_section) == (9.0, "bells")
    assert follow.fixed_cents == pytest.approx(19.0, abs=0.2)
    assert alone.choices[0].fixed_section == ""


def test_the_telling_note_is_the_highest_they_share():
    glockenspiel = bells()
    # It sounds G5 to C8, the trumpet up to D6, the tuba nowhere near.
    assert telling_note(glockenspiel, [trumpets(), tuba()]) == "D6"
    assert telling_note(glockenspiel, [tuba()]) == "C8"
    assert telling_note(glockenspiel, []) == "C8"
    found = compare_pitches([steady(trumpets(), 0.0)], [FixedPart(glockenspiel, 9.0, 9.0)])
    # Two notes 9 cents apart beat at their difference in hertz.
    beats = hertz_of("D6") * (2 ** (9 / 1200) - 1)
    assert found.choices[0].beats_per_second == pytest.approx(beats)
    assert found.choices[0].fixed_note == "D6"
    assert midi_of("D6") == 86


def test_bands_without_adjustable_sections():
    found = compare_pitches([], [FixedPart(bells(), 5.0, 8.0)])
    assert reason_words(found) == "no section can adjust its pitch"
    assert found.recommended_a4_hz == 440.0


def test_json_has_null_where_travel_is_not_known():
    found = compare_pitches([steady(trumpets(travel_mm={}), -10.0)]).to_json()
    (reach,) = found["reach"]
    assert reach["lowest_a4_hz"] is None
    assert reach["highest_a4_hz"] > 440
    assert (found["a4_hz"], found["recommended_a4_hz"]) == (440.0, 440.0)


def test_a_choice_without_a_section_says_where_that_would_be():
    stuck = steady(tuba(stuck=("main",)), -30.0, -26.0)
    found = compare_pitches([steady(trumpets(), -10.0), stuck])
    without = next(one for one in found.choices if one.name == "without tuba")
    assert without.left_out_cents == {"tuba": pytest.approx(-30.0)}
    assert choice_cells(without)[2].endswith("; tuba 30 flat")
    assert not any(one.left_out_cents for one in found.choices if one is not without)


@pytest.mark.parametrize("a4_hz", [440.0, 439.0])
def test_flat_and_sharp_playing_after_one_tune_cannot_cancel(a4_hz):
    # One tune for a show in the cold and a song in a warm room: a mean of zero, right in neither.
    show_then_song = np.repeat([-20.0, 20.0], 15)
    found = compare_pitches([AdjustablePart(trumpets(), (-10.0,), (show_then_song,))], (), a4_hz)
    stay, _, follow = found.choices
    assert stay.average_cents == pytest.approx(20.0)
    assert choice_cells(stay)[2] == choice_cells(follow)[2] == "20 cents (trumpets)"


def test_the_average_is_over_all_playing_of_a_section():
    # A stuck tuba 8 flat for ten minutes and 2 sharp for thirty.
    part = AdjustablePart(tuba(stuck=("main",)), (-8.0, 2.0), (np.zeros(10), np.zeros(30)))
    stay = compare_pitches([steady(trumpets(), -10.0), part]).choices[0]
    assert (stay.average_section, stay.average_cents) == ("tuba", pytest.approx(3.5))
    assert stay.worst_cents == pytest.approx(8.0)
