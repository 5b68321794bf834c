"""The slide-position table."""

import drift
from drift.slides.correction import correct
from drift.slides.positions import positions
from tests.nearly import nearly
from tests.slides.test_correction import Told

PHYSICS = drift.physics()
AT = {"main": 12.0, "F": 8.0}


def test_a_row_for_every_five_degrees_in_both_scales():
    frame = positions(PHYSICS, "Bb trumpet", at={"main": 12.0}).to_frame()
    assert list(frame["celsius"]) == [0, 5, 10, 15, 20, 25, 30, 35, 40]
    assert list(frame["fahrenheit"]) == [32, 41, 50, 59, 68, 77, 86, 95, 104]


def test_rows_are_the_corrections():
    frame = positions(PHYSICS, "double horn", at=AT, travel={"main": 35.0}).to_frame()
    correction = correct(PHYSICS, "double horn", 30.0, at=AT, travel={"main": 35.0})
    row = frame[frame["celsius"] == 30.0].iloc[0]
    expected = {
        "main_position_mm": correction.moves[0].to_mm,
        "F_move_mm": correction.moves[1].move_mm,
        "remaining_F_cents": correction.remaining_cents["F"],
        "expected_cents": correction.expected_cents["F"].estimate,
    }
    assert dict(row[list(expected)]) == nearly(expected)


def test_where_it_was_tuned_the_marks_stay():
    frame = positions(PHYSICS, "double horn", at=AT).to_frame().set_index("celsius")
    assert frame.loc[20, ["main_position_mm", "F_position_mm"]].tolist() == [12.0, 8.0]


def test_hotter_is_further_out():
    frame = positions(PHYSICS, "Bb trumpet", at={"main": 20.0}).to_frame()
    assert frame["main_position_mm"].is_monotonic_increasing
    assert frame["main_position_mm"].iloc[0] < 20.0 < frame["main_position_mm"].iloc[-1]


def test_marks_beyond_the_temperatures_seen_and_the_travel():
    told = Told(22.1, 19.8, 24.3, seen=(12.0, 31.0))
    table = positions(told, "Bb trumpet", at={"main": 12.0}, travel={"main": 15.0})
    assert table.extrapolated == (True, True, True, False, False, False, False, True, True)
    assert table.to_frame()["main_at_end_of_travel"].all()
