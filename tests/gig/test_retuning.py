"""What a section does at each tune: least worst, within travel, carried from tune to tune."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drift.gig.basis import Basis, BasisKind
from drift.gig.course import Course, Served
from drift.gig.reach import real_slopes
from drift.gig.retuning import retune
from drift.regression.results import Estimate
from drift.slides.moves import solve
from tests.gigs import bells, horns, minute, schedule, trumpets, tuba

BAND = schedule(
    ("tune", 0, 5), ("play", 5, 30), ("rest", 30, 60), ("tune", 60, 65), ("play", 65, 90)
)
TIMES = BAND.instants()
BLOCKS = BAND.blocks()
MINUTES = np.arange(91)
WINDOWS = [(MINUTES >= 5) & (MINUTES < 30), (MINUTES >= 65) & (MINUTES <= 90)]
SERVED = [Served(window, read) for window, read in zip(WINDOWS, (3.75, 63.75), strict=True)]

ACOUSTICS = Basis(BasisKind.ACOUSTICS)


def course(cents, spread=4.0, draws=400):
    """A course with draws that shift it as a whole by up to ± spread."""
    cents = np.asarray(cents, dtype=float)
    shifts = np.linspace(-spread, spread, draws)
    means = np.array([cents[w].mean() for w in WINDOWS])
    low, high = cents - 0.95 * spread, cents + 0.95 * spread
    ends = means - 0.95 * spread, means + 0.95 * spread
    show = tuple(Estimate(float(cents[0] - m), -9.0, 9.0) for m in means)
    return Course(cents, low, high, means, *ends, means[:, None] + shifts, show, ACOUSTICS)


FALLING = course(np.linspace(-5, -35, 91))


def run(section, pitch=FALLING, **how):
    take = {"shift_cents": 0.0, "limit_cents": 8.0} | how
    return retune(section, pitch, BLOCKS, SERVED, TIMES, **take)


def test_no_position_brings_the_mean_of_the_playing_nearer():
    (first, second), _ = run(trumpets())
    instrument = trumpets().instrument
    for setting, window in zip((first, second), WINDOWS, strict=True):
        cents = FALLING.cents[window]
        to = setting.moves[0].to_mm - 15.0
        grid = np.arange(-15.0, 25.0, 0.05)
        real = real_slopes(instrument)
        by_grid = [
            abs((cents + instrument.cents_of_moves("", {"main": m}, real)).mean()) for m in grid
        ]
        assert grid[int(np.argmin(by_grid))] == pytest.approx(to, abs=0.05)


def test_moves_follow_each_other_and_do_not_add_up_errors():
    (first, second), pitch = run(trumpets())
    move, again = first.moves[0], second.moves[0]
    assert move.from_mm == 15.0
    assert again.from_mm == move.to_mm
    assert again.to_mm == pytest.approx(again.from_mm + again.move_mm)
    # From fifteen millimetres straight to the second position.
    straight = solve(
        trumpets().instrument,
        {"": FALLING.mean[1]},
        calibration=real_slopes(trumpets().instrument),
    ).moves_mm["main"]
    assert again.to_mm - 15.0 == pytest.approx(straight)
    assert first.remaining_cents == {"": 0.0}
    np.testing.assert_allclose(pitch[""][:5], FALLING.cents[:5])  # not yet tuned
    assert abs(pitch[""][WINDOWS[1]]).max() == pytest.approx(second.highest_cents)


def test_expected_is_against_the_slides_as_they_stand():
    (first, second), _ = run(trumpets())
    assert first.expected_cents[""].estimate == pytest.approx(FALLING.mean[0])
    assert second.expected_cents[""].estimate == pytest.approx(
        FALLING.mean[1] - FALLING.mean[0], abs=1e-6
    )
    effect, real = trumpets().instrument.cents_of_moves, real_slopes(trumpets().instrument)
    stands = second.moves[0].to_mm - 15, second.moves[0].from_mm - 15
    moved = effect("", {"main": stands[0]}, real) - effect("", {"main": stands[1]}, real)
    assert second.remaining_cents[""] == pytest.approx(
        second.expected_cents[""].estimate + moved, abs=1e-6
    )


def test_uncertainty_in_millimetres_is_that_of_the_cents():
    (first, _), _ = run(trumpets())
    expected, move = first.expected_cents[""], first.moves[0]
    assert expected.low == pytest.approx(expected.estimate - 3.8, abs=0.02)
    trumpet = trumpets().instrument
    effect = trumpet.slide("main").effect
    own = 1.96 * effect.sd / effect.mean * move.move_mm  # no two bores are alike
    for end, limit in ((expected.low, move.low_mm), (expected.high, move.high_mm)):
        ends = solve(trumpet, {"": end}, at={"main": 15}, calibration=real_slopes(trumpet))
        by_solving = np.hypot(ends.moves_mm["main"] - move.move_mm, own)
        assert abs(limit - move.move_mm) == pytest.approx(by_solving)


def test_travel_limits_and_what_is_left_is_said():
    short = trumpets(at_mm={"main": 4.0})
    (first, second), _ = run(short)
    assert first.moves[0].at_end_of_travel
    assert first.moves[0].to_mm == 0.0
    assert second.moves[0].move_mm == 0.0
    left = first.remaining_cents[""]
    assert left == pytest.approx(
        FALLING.mean[0]
        + short.instrument.cents_of_moves("", {"main": -4.0}, real_slopes(short.instrument))
    )
    assert (first.lowest_cents + first.highest_cents) / 2 == pytest.approx(left)


def test_stuck_slides_and_bars_do_not_move():
    (first, _), pitch = run(tuba(stuck=("main",)))
    assert (first.moves[0].move_mm, first.moves[0].at_end_of_travel) == (0, True)
    assert first.to_json()["stuck"] == ["main"]
    assert first.remaining_cents[""] == pytest.approx(FALLING.mean[0])
    np.testing.assert_allclose(pitch[""], FALLING.cents)
    (first, _), _ = run(bells(), shift_cents=8.0)
    assert first.moves == ()
    assert first.remaining_cents[""] == pytest.approx(FALLING.mean[0] + 8.0)


def test_both_sides_of_a_horn_come_back():
    (first, second), pitch = run(horns(at_mm={"main": 34.0, "F": 18.0}))
    assert set(first.remaining_cents) == {"F", "Bb"} == set(pitch)
    assert [move.slide for move in first.moves] == ["main", "F"]
    for setting in (first, second):
        assert setting.remaining_cents == {"F": 0.0, "Bb": 0.0}
    low_f, low_bb = (pitch[side][WINDOWS[1]].min() for side in ("F", "Bb"))
    assert low_f == pytest.approx(low_bb, abs=1e-5)


def test_aiming_at_another_pitch_shifts_everything():
    (first, _), pitch = run(trumpets(), shift_cents=10.0)
    assert first.expected_cents[""].estimate == pytest.approx(FALLING.mean[0] + 10)
    assert pitch[""][0] == pytest.approx(FALLING.cents[0] + 10)


def test_a_change_within_its_own_uncertainty_is_said():
    # Ten cents, give or take four; then three more, give or take four.
    (first, second), _ = run(trumpets(), course(np.where(MINUTES < 60, -10.0, -13.0)))
    assert not first.moves[0].interval_includes_zero
    assert second.moves[0].move_mm < 0
    assert second.moves[0].interval_includes_zero
    assert second.change_cents.estimate == pytest.approx(-3.0)


def test_a_range_of_a_move_ends_where_the_slide_does():
    (first, _), _ = run(trumpets(at_mm={"main": 5.0}), course(np.full(91, -10.0)))
    assert first.moves[0].low_mm >= -5.0


def test_when_to_tune_again():
    # 25 minutes from -5 falling by a third of a cent a minute: 4.2 cents each way.
    (first, second), _ = run(trumpets(), limit_cents=3.0)
    assert first.retune_at == minute(5)  # already at the first note: 4 cents sharp
    (first, second), _ = run(trumpets(), limit_cents=8.0)
    assert (first.retune_at, second.retune_at) == (None, None)
    slope = 30 / 90
    (first, _), _ = run(tuba(stuck=("main",)), limit_cents=8.0)
    passes = int(np.floor((8 - 5) / slope)) + 1
    assert first.retune_at == minute(passes)
    (first, _), _ = run(tuba(stuck=("main",)), limit_cents=float("inf"))
    assert first.retune_at is None


@given(st.lists(st.floats(-60, 60), min_size=91, max_size=91))
@settings(max_examples=25)
def test_with_enough_travel_the_mean_is_right(cents):
    free = trumpets(at_mm={}, travel_mm={})
    _, pitch = run(free, course(cents))
    for window in WINDOWS:
        assert pitch[""][window].mean() == pytest.approx(0.0, abs=1e-6)


def test_json_names_everything():
    (first, _), _ = run(horns())
    found = first.to_json()
    assert found["section"] == "horns"
    assert found["tune_at"] == "2026-10-09T18:00:00+00:00"
    assert set(found["expected_cents"]) == {"F", "Bb"}
    assert set(found["expected_cents"]["F"]) == {"estimate", "low", "high"}
    assert {"slide", "move_mm", "to_mm", "at_end_of_travel"} <= set(found["moves"][0])
    assert found["drift_during_play"] == [first.lowest_cents, first.highest_cents]


@pytest.mark.parametrize(
    ("estimate", "half", "again"),
    [(10.5, 10.9, True), (10.0, 10.9, False), (10.5, 10.0, False), (-30.0, 9.9, False),
     (-10.5, 10.9, True)],
)  # fmt: skip
def test_a_large_target_that_is_not_known_well_asks_for_another_look(estimate, half, again):
    (setting, _), _ = run(trumpets())
    show = Estimate(estimate, estimate - half, estimate + half)
    assert replace(setting, show_cents=show).check_again is again


def test_a_section_tuned_to_another_pitch_is_corrected_for_that_once():
    shifted, pitch = run(trumpets(), shift_cents=6.0)
    moved = course(FALLING.cents + 6.0)
    plain, other = run(trumpets(), moved)
    for one, two in zip(shifted, plain, strict=True):
        assert one.moves[0].move_mm == pytest.approx(two.moves[0].move_mm)
        assert one.lowest_cents == pytest.approx(two.lowest_cents)
        assert one.highest_cents == pytest.approx(two.highest_cents)
    np.testing.assert_allclose(pitch[""], other[""], atol=1e-9)
    unshifted, _ = run(trumpets())
    first, second = (
        one.change_cents.estimate - two.change_cents.estimate
        for one, two in zip(shifted, unshifted, strict=True)
    )
    assert first == pytest.approx(6.0)
    assert second == pytest.approx(0.0)


def test_what_to_show_is_of_what_can_be_tuned():
    (first, second), _ = run(trumpets())
    assert [first.show_cents, second.show_cents] == list(FALLING.show)
    assert all(setting.show_cents is None for setting in run(bells())[0])


def test_the_range_of_every_move_holds_it_and_stays_within_the_slide():
    settings, _ = run(trumpets(), course(np.linspace(-5, -35, 91), spread=60.0))
    for move in (setting.moves[0] for setting in settings):
        assert move.low_mm < move.move_mm < move.high_mm
        assert move.from_mm + move.low_mm >= -1e-9
    narrow, _ = run(trumpets())
    first, second = (setting.moves[0] for setting in narrow)
    assert second.high_mm - second.low_mm == pytest.approx(first.high_mm - first.low_mm, rel=0.3)


def on_the_way(cents, *entries):
    """Return the settings of tunes on the way to playing so many cents off."""
    band = schedule(*entries)
    blocks, times = band.blocks(), band.instants()
    window = np.ones(len(times), dtype=bool)
    flat = np.full(len(times), float(cents))
    means = np.full(len(blocks), float(cents))
    draws = means[:, None] + np.linspace(-1.0, 1.0, 100)
    show = tuple(Estimate(-cents, -cents - 1.0, 1.0 - cents) for _ in blocks)
    pitch = Course(flat, flat, flat, means, means - 1.0, means + 1.0, draws, show, ACOUSTICS)
    served = [Served(window, 1.0) for _ in blocks]
    return retune(trumpets(), pitch, blocks, served, times, 0.0, 8.0)[0]


def moved(found):
    """Return of each tune whether it waits, and whether a slide is moved."""
    return [(setting.waits, bool(setting.moves[0].move_mm)) for setting in found]


def test_a_tune_before_another_one_waits_unless_a_move_is_sure():
    twice = (("tune", 0, 5), ("rest", 5, 30), ("tune", 30, 35), ("play", 35, 60))
    assert moved(on_the_way(-2.0, *twice)) == [(True, False), (False, True)]
    assert moved(on_the_way(-30.0, *twice)) == [(False, True), (False, False)]


def test_the_last_tune_of_an_evening_waits_for_nothing():
    last = (("tune", 0, 5), ("play", 5, 30), ("tune", 30, 35), ("rest", 35, 60))
    assert [setting.waits for setting in on_the_way(-2.0, *last)] == [False, False]


def test_a_tune_that_waits_leaves_what_the_slides_leave():
    thrice = (("tune", 0, 5), ("play", 5, 20), ("tune", 20, 25), ("rest", 25, 40), ("tune", 40, 45))
    first, second, _ = on_the_way(-12.0, *thrice, ("play", 45, 60))
    assert (first.waits, second.waits) == (False, True)
    left = first.remaining_cents[""]
    assert abs(left) < 2.0
    assert second.remaining_cents[""] == pytest.approx(left)
    assert second.expected_cents[""].estimate == pytest.approx(left)
    ends = second.expected_cents[""].low, second.expected_cents[""].high
    assert ends == pytest.approx((left - 1.0, left + 1.0))


def test_a_later_move_may_go_as_far_as_is_left_of_the_slide():
    rising = np.where(MINUTES < 45, 10.0, 40.0)
    (first, second), _ = run(trumpets(), course(rising, spread=30.0))
    assert first.moves[0].move_mm > 3.0
    later = second.moves[0]
    assert later.from_mm > 18.0
    assert later.to_mm < trumpets().travel_mm["main"]
    assert later.from_mm + later.high_mm == pytest.approx(trumpets().travel_mm["main"])
    assert later.from_mm + later.low_mm > 15.0
