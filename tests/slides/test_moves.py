"""The solver against brute force, exact settings, and facts of the trade."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.linalg import null_space

from drift.errors import InstrumentError, ReachError
from drift.instruments import find
from drift.instruments.anatomy import Instrument, Side, Slide
from drift.slides.moves import room_to_move, solve

HORN, TRUMPET = find("double horn"), find("Bb trumpet")


def cost(instrument, sharp, moves, calibration=None):
    return sum(
        (cents + instrument.cents_of_moves(side, moves, calibration)) ** 2
        for side, cents in sharp.items()
    )


def costs_on_a_grid(instrument, sharp, room, steps):
    """Sum of squares at every point of a grid over the room, computed apart from the solver."""
    axes = [np.linspace(low, high, steps) for low, high in room.values()]
    grid = np.meshgrid(*axes, indexing="ij")
    total = np.zeros(grid[0].shape)
    for side, cents in sharp.items():
        length = 1000.0 * instrument.side(side).length_m
        added = sum(
            slide.path_factor * moved
            for slide, moved in zip(instrument.slides, grid, strict=True)
            if side in slide.sides
        )
        total += (cents - 1200.0 * np.log2(1.0 + added / length)) ** 2
    return total


@st.composite
def instruments(draw):
    """Return an instrument with one or two sides and one to three slides that serve any of them."""
    names = draw(st.sampled_from([("",), ("F", "Bb")]))
    sides = tuple(Side(name, draw(st.floats(25.0, 250.0))) for name in names)
    served = st.lists(st.sampled_from(names), min_size=1, unique=True).map(tuple)
    slides = tuple(
        Slide(name, draw(served), draw(st.sampled_from([1.0, 2.0])))
        for name in ("main", "second", "third")[: draw(st.integers(1, 3))]
    )
    return Instrument("random", "brass", sides, slides)


@st.composite
def questions(draw):
    instrument = draw(instruments())
    travel = {slide.name: draw(st.floats(1.0, 60.0)) for slide in instrument.slides}
    at = {name: draw(st.floats(0.0, 1.0)) * reach for name, reach in travel.items()}
    stuck = draw(st.lists(st.sampled_from(sorted(travel)), max_size=1))
    sharp = {side.name: draw(st.floats(-80.0, 80.0)) for side in instrument.sides}
    return instrument, sharp, {"at": at, "travel": travel, "stuck": stuck}


@settings(max_examples=150)
@given(questions())
def test_a_fine_grid_of_positions_finds_nothing_better(question):
    instrument, sharp, limits = question
    solution = solve(instrument, sharp, **limits)
    room = room_to_move(instrument, **limits)
    best = costs_on_a_grid(instrument, sharp, room, 41 if len(room) > 2 else 201).min()
    ours = cost(instrument, sharp, solution.moves_mm)
    # Ends are taken within 1e-7 mm, which is 1e-6 of the cost where much is left over.
    assert ours <= best + 1e-6 + 1e-6 * best
    for slide, (low, high) in room.items():
        assert low <= solution.moves_mm[slide] <= high
    left = sum(cents**2 for cents in solution.remaining_cents.values())
    assert left == pytest.approx(ours, abs=1e-5)


@settings(max_examples=150)
@given(questions(), st.integers(0, 2**32 - 1))
def test_among_equal_settings_the_last_slides_move_least(question, seed):
    instrument, sharp, limits = question
    solution = solve(instrument, sharp, **limits)
    path = np.array(
        [[s.path_factor * (side in s.sides) for s in instrument.slides] for side in sharp]
    )
    low, high = np.array(list(room_to_move(instrument, **limits).values())).T
    ours = np.array(list(solution.moves_mm.values()))
    random = np.random.default_rng(seed)
    for last in range(len(ours)):
        # Other settings with the same paths and the same later slides: steps of every size along
        # the directions that change no path, kept where they stay within travel.
        ways = null_space(path[:, : last + 1])
        for size in 10.0 ** np.arange(-3, 2):
            for step in random.normal(size=(20, ways.shape[1])) * size:
                other = ours.copy()
                other[: last + 1] += ways @ step
                if np.all((other >= low) & (other <= high)):
                    assert abs(ours[last]) <= abs(other[last]) + 1e-6


@given(st.floats(-60.0, 60.0), st.floats(-60.0, 60.0))
def test_a_double_horn_without_limits_comes_out_exactly(f_cents, bb_cents):
    solution = solve(HORN, {"F": f_cents, "Bb": bb_cents})
    # The order players use: the main slide sets the B flat side, the F slide the rest.
    assert solution.moves_mm["Bb"] == 0.0
    assert HORN.cents_of_moves("Bb", {"main": solution.moves_mm["main"]}) == pytest.approx(
        -bb_cents, abs=1e-6
    )
    assert all(abs(left) < 1e-6 for left in solution.remaining_cents.values())
    assert solution.at_end_of_travel == frozenset()


def test_one_slide_solves_the_formula_of_the_tube():
    pulled = solve(TRUMPET, {"": 25.0}).moves_mm["main"]
    # x = L (2^(cents/1200) - 1) / 2, by hand.
    length_mm = 1000.0 * 343.98688734488263 / (2 * 116.5409403795225)
    assert pulled == pytest.approx(length_mm * (2 ** (25 / 1200) - 1) / 2, rel=1e-12)


def test_nothing_to_correct_moves_nothing():
    solution = solve(HORN, {"F": 0.0, "Bb": 0.0}, at={"main": 0.0}, travel={"main": 0.0})
    assert set(solution.moves_mm.values()) == {0.0}
    assert solution.at_end_of_travel == frozenset()


def test_sharp_is_pulled_out_and_flat_is_pushed_in():
    assert solve(TRUMPET, {"": 10.0}).moves_mm["main"] > 0
    assert solve(TRUMPET, {"": -10.0}).moves_mm["main"] < 0


def test_travel_stops_a_slide_and_the_rest_is_left_over():
    solution = solve(TRUMPET, {"": 60.0}, at={"main": 12.0}, travel={"main": 20.0})
    assert solution.moves_mm == {"main": 8.0}
    assert solution.at_end_of_travel == {"main"}
    left = 60.0 + TRUMPET.cents_of_moves("", {"main": 8.0})
    assert solution.remaining_cents[""] == pytest.approx(left)


def test_a_slide_cannot_go_further_in_than_fully_in():
    solution = solve(TRUMPET, {"": -60.0}, at={"main": 5.0})
    assert solution.moves_mm == {"main": -5.0}
    assert solution.remaining_cents[""] < 0


def test_other_slides_help_when_the_main_one_is_at_its_end():
    limits = {"at": {"main": 12.0, "F": 8.0}, "travel": {"main": 25.0, "F": 40.0}}
    solution = solve(HORN, {"F": 22.1, "Bb": 22.1}, **limits)
    assert solution.moves_mm["main"] == 13.0
    assert solution.moves_mm["Bb"] > 0
    assert solution.at_end_of_travel == {"main"}
    assert all(left == 0.0 for left in solution.remaining_cents.values())


def test_a_stuck_slide_stays_and_is_named():
    limits = {"at": {"main": 12.0, "F": 8.0, "Bb": 0.0}, "travel": {"main": 45.0, "F": 30.0}}
    solution = solve(HORN, {"F": 22.1, "Bb": 22.1}, stuck=["F"], **limits)
    assert solution.moves_mm["F"] == 0.0
    assert "F" in solution.at_end_of_travel
    # Both sides cannot be right: the F side stays sharp, the B flat side is let go flat.
    assert solution.remaining_cents["F"] > 0 > solution.remaining_cents["Bb"]


def test_everything_stuck_leaves_everything():
    solution = solve(HORN, {"F": 9.0, "Bb": 7.0}, stuck=["main", "F", "Bb"])
    assert solution.remaining_cents == {"F": 9.0, "Bb": 7.0}
    assert solution.at_end_of_travel == {"main", "F", "Bb"}


def test_a_measured_slide_is_moved_by_its_own_measure():
    measured = {("main", ""): -3.0}
    solution = solve(TRUMPET, {"": 12.0}, calibration=measured)
    assert TRUMPET.cents_of_moves("", solution.moves_mm, measured) == pytest.approx(-12.0)
    assert solution.moves_mm["main"] == pytest.approx(12.0 / 3.0, rel=0.01)


def test_a_side_that_was_not_asked_for_goes_where_it_goes():
    solution = solve(HORN, {"F": 15.0}, stuck=["Bb"])
    assert solution.remaining_cents == {"F": 0.0}


def test_bars_have_nothing_to_move():
    solution = solve(find("vibraphone"), {"": -8.0})
    assert (solution.moves_mm, solution.remaining_cents) == ({}, {"": -8.0})


@pytest.mark.parametrize("order", list(itertools.permutations(range(3))))
def test_the_order_of_the_list_decides_which_slide_works(order):
    slides = tuple(Slide(f"s{n}", ("",)) for n in order)
    instrument = Instrument("three alike", "brass", (Side("", 100.0),), slides)
    travel = dict.fromkeys(("s0", "s1", "s2"), 8.0)
    solution = solve(instrument, {"": 20.0}, at=dict.fromkeys(travel, 0.0), travel=travel)
    moves = [solution.moves_mm[slide.name] for slide in slides]
    needed = 1000 * instrument.side().length_m * (2 ** (20 / 1200) - 1) / 2
    assert moves == pytest.approx([8.0, needed - 8.0, 0.0], abs=1e-6)


def test_room_without_a_position_or_without_a_travel():
    assert room_to_move(TRUMPET) == {"main": (-math.inf, math.inf)}
    assert room_to_move(TRUMPET, travel={"main": 30.0}) == {"main": (-30.0, 30.0)}
    assert room_to_move(TRUMPET, at={"main": 12.0}) == {"main": (-12.0, math.inf)}
    assert room_to_move(TRUMPET, stuck=["main"]) == {"main": (0.0, 0.0)}


@pytest.mark.parametrize(
    ("limits", "words"),
    [
        ({"at": {"main": -1.0}}, "position of slide main is -1 mm"),
        ({"travel": {"main": math.nan}}, "travel of slide main is nan mm"),
        ({"at": {"main": 31.0}, "travel": {"main": 30.0}}, "at 31 mm, beyond its travel of 30 mm"),
    ],
)
def test_impossible_positions_are_refused(limits, words):
    with pytest.raises(ReachError, match=words):
        solve(TRUMPET, {"": 5.0}, **limits)


@pytest.mark.parametrize("cents", [math.nan, math.inf, 5000.0])
def test_cents_that_are_no_drift_are_refused(cents):
    with pytest.raises(ReachError, match="is out of range"):
        solve(TRUMPET, {"": cents})


def test_cents_out_of_range_are_refused_by_the_name_of_their_side():
    with pytest.raises(ReachError, match="cents on side Bb is out of range"):
        solve(HORN, {"F": 5.0, "Bb": 5000.0})


@pytest.mark.parametrize("limits", [{"at": {"third": 1.0}}, {"stuck": ["third"]}])
def test_a_slide_that_does_not_exist_is_refused(limits):
    with pytest.raises(InstrumentError, match="has no slide 'third'"):
        solve(TRUMPET, {"": 5.0}, **limits)


def test_summary_names_moves_and_leftovers():
    text = solve(TRUMPET, {"": 60.0}, at={"main": 12.0}, travel={"main": 20.0}).summary()
    assert "main +8.0 mm (at its end)" in text
    assert "cents remain" in text
