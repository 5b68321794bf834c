"""One move of one slide."""

import pytest

from drift.instruments import find
from drift.regression.results import Estimate
from drift.slides.moves import solve
from drift.slides.moving import Move, moves_for

HORN, TRUMPET = find("double horn"), find("Bb trumpet")


def test_each_side_has_its_own_cents():
    sharp = {"F": Estimate(9.0, 7.0, 11.0), "Bb": Estimate(6.0, 5.0, 7.0)}
    solution, moves = moves_for(HORN, sharp)
    assert solution.remaining_cents == pytest.approx({"F": 0.0, "Bb": 0.0})
    expected = solve(HORN, {"F": 9.0, "Bb": 6.0}).moves_mm
    assert {m.slide: m.move_mm for m in moves} == pytest.approx(expected)
    assert all(m.from_mm is None and m.to_mm is None for m in moves)


def test_the_ends_of_the_interval_are_moves_of_their_own():
    sharp = {"": Estimate(10.0, -4.0, 24.0)}
    (move,) = moves_for(TRUMPET, sharp, at={"main": 12.0}, travel={"main": 20.0})[1]
    low = solve(TRUMPET, {"": -4.0}, at={"main": 12.0}).moves_mm["main"]
    assert move.low_mm == pytest.approx(low)
    assert move.high_mm == 8.0  # the travel ends there
    assert move.interval_includes_zero
    assert not move.at_end_of_travel


def test_the_end_of_travel_is_told():
    sharp = {"": Estimate(30.0, 28.0, 32.0)}
    (move,) = moves_for(TRUMPET, sharp, at={"main": 12.0}, travel={"main": 20.0})[1]
    assert (move.move_mm, move.to_mm, move.at_end_of_travel) == (8.0, 20.0, True)


@pytest.mark.parametrize(
    ("low", "high", "includes"),
    [
        (-1.0, 1.0, True),
        (0.0, 2.0, True),
        (-2.0, 0.0, True),
        (0.1, 2.0, False),
        (-2.0, -0.1, False),
    ],
)
def test_whether_the_interval_includes_zero(low, high, includes):
    move = Move("main", (low + high) / 2, low, high)
    assert move.interval_includes_zero is includes
    assert move.to_json()["interval_includes_zero"] is includes


def test_an_answer_has_the_interval_nested_and_null_for_what_is_not_known():
    assert Move("main", 4.0, 3.0, 5.0).to_json() == {
        "slide": "main",
        "move_mm": {"estimate": 4.0, "low": 3.0, "high": 5.0},
        "from_mm": None,
        "to_mm": None,
        "at_end_of_travel": False,
        "interval_includes_zero": False,
        "makes_up_for": None,
    }


@pytest.mark.parametrize(
    ("f_cents", "made_up"),
    [
        (0.0, "main"),  # all of it
        (-4.0, "main"),  # flat as well, but less than the main slide raises it
        (5.0, "main"),  # most of it
        (14.0, None),  # it is sharp by itself
        (-20.0, None),  # both go in
    ],
)
def test_a_slide_that_is_pulled_since_the_main_slide_goes_in_says_for_which(f_cents, made_up):
    sharp = {"Bb": Estimate(-12.0, -14.0, -10.0), "F": Estimate(f_cents, f_cents, f_cents)}
    at = {"main": 15.0, "F": 12.0, "Bb": 2.0}
    found = {move.slide: move for move in moves_for(HORN, sharp, at=at)[1]}
    assert found["main"].move_mm < 0.0
    assert found["main"].makes_up_for is None
    assert found["F"].makes_up_for == made_up
    assert found["F"].to_json()["makes_up_for"] == made_up


def test_nothing_makes_up_for_a_slide_that_is_seen_not_to_move():
    sharp = {"Bb": Estimate(-0.2, -1.0, 1.0), "F": Estimate(0.0, 0.0, 0.0)}
    assert all(move.makes_up_for is None for move in moves_for(HORN, sharp)[1])
