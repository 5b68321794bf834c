"""The table of slide positions in words."""

import drift
from drift.slides.positions import positions
from drift.words.slide_table import cell, head, legend, remaining
from tests.slides.test_correction import HOT, Told

PHYSICS = drift.physics()


def test_marks_outside_the_temperatures_measured_and_the_travel():
    told = Told(22.1, 19.8, 24.3, seen=(12.0, 31.0))
    text = positions(told, "Bb trumpet", at={"main": 12.0}, travel={"main": 15.0}).summary()
    assert "15.0 end" in text
    assert " 0*  " in text
    assert "* outside the temperatures measured so far: extrapolated" in text
    assert "end: at the end of its travel, or stuck" in text


def test_without_positions_the_table_gives_signed_moves():
    table = positions(HOT, "double horn")
    assert cell(table, 0, "main") == "+17.0"
    assert cell(table, 0, "Bb") == "stay"
    assert "\nMoves, millimetres; tuned at" in table.summary()
    assert "(move): how far from where it was tuned" in table.summary()
    assert "(move)" not in positions(HOT, "Bb trumpet", at={"main": 5.0}).summary()


def test_positions_are_given_to_half_a_millimetre():
    table = positions(HOT, "Bb trumpet", at={"main": 12.2})
    assert table.move(0, "main").to_mm % 0.5 > 0.01
    assert cell(table, 0, "main") == "21.0"


def test_the_head_tells_positions_from_moves():
    table = positions(PHYSICS, "double horn", at={"main": 12.0})
    assert "main  F (move)  B♭ (move)" in " ".join(table.summary().splitlines()[1].split("°F")[1:])
    assert head(table, "F", "mm") == "F (move, mm)"
    assert {"main_position_mm", "main_move_mm", "F_move_mm"} <= set(table.to_frame())
    assert "F_position_mm" not in table.to_frame()


def test_inches():
    table = positions(HOT, "Bb trumpet", at={"main": 12.7})
    assert cell(table, 0, "main", inches=True) == "13/16"
    assert "inches" in table.summary(inches=True)


def test_bars_show_the_remaining_error():
    table = positions(PHYSICS, "vibraphone")
    assert legend(table) == [
        "Nothing on it can be moved; cents against where it was tuned at 20 °C, after 30 minutes "
        "of playing (assumed)."
    ]
    assert remaining(table, 0) == "+13"
