"""The table of slide positions in words."""

import drift
from drift.slides.positions import positions
from drift.words.slide_table import cell, head, legend, remaining, started
from tests.slides.test_correction import HOT, Told

PHYSICS = drift.physics()


def test_marks_outside_the_temperatures_measured_and_the_travel():
    told = Told(22.1, 19.8, 24.3, seen=(12.0, 31.0))
    text = positions(told, "Bb trumpet", at={"main": 12.0}, travel={"main": 15.0}).summary()
    assert "15.0 end" in text
    assert " 0*  " in text
    assert "* outside the temperatures measured so far: extrapolated" in text
    assert "“end”: the end of its travel." in text


def test_what_is_special_about_a_position_is_a_word():
    cold = Told(-40.0, -45.0, -35.0)
    table = positions(cold, "double horn", at={"main": 12.0, "F": 3.0}, stuck=["F"])
    assert cell(table, 0, "main") == "0 fully in"
    assert cell(table, 0, "F") == "3.0 stuck"
    assert not any("end" in line for line in legend(table)[1:-1])


def test_a_slide_that_just_reaches_the_end_is_fully_in_too():
    """The move ends a hair before the end: nobody sets a tenth of a millimetre."""
    table = positions(Told(-40.0, -45.0, -35.0), "Bb trumpet", at={"main": 100.0})
    needed = -table.move(0, "main").move_mm
    just = positions(Told(-40.0, -45.0, -35.0), "Bb trumpet", at={"main": needed + 0.01})
    assert not just.move(0, "main").at_end_of_travel
    assert cell(just, 0, "main") == "0 fully in"


def test_unknown_travel_is_said_once_and_what_lies_beyond_the_usual_is_marked():
    hot = Told(40.0, 35.0, 45.0)
    table = positions(hot, "double horn", at={"main": 20.0, "F": 8.0, "Bb": 2.0})
    assert cell(table, 0, "main") == "51.5 too far?"
    said = legend(table)
    unknown = "How far the main slide and the F slide can come out is not known"
    assert said.count(f"{unknown}: give it with --travel main=MM,F=MM.") == 1
    assert "“too far?”: further out than most models go (main about 45 mm)." in said
    field = legend(table, give_travel="“Can go out to” above")
    assert "is not known: give it with “Can go out to” above." in " ".join(field)
    given = positions(hot, "double horn", at={"main": 20.0}, travel={"main": 60.0, "F": 50.0})
    assert "too far" not in given.summary()
    assert "is not known" not in given.summary()


def test_where_it_starts_names_the_slides_in_the_order_of_work():
    table = positions(HOT, "double horn", at={"F": 14.5, "Bb": 2.0, "main": 14.0})
    assert legend(table)[0].endswith("with main 14 mm, F 14.5 mm, B♭ 2 mm.")


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


def test_positions_of_a_flute_are_given_to_a_quarter_of_a_millimetre():
    table = positions(HOT, "flute", at={"head": 6.25})
    assert round(table.move(0, "head").to_mm * 4) / 4 % 0.5 == 0.25
    assert cell(table, 0, "head").endswith(("25", "75"))
    assert "with head 6.25 mm" in started(table)


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
        "Nothing on it can be moved; cents against where it was tuned at 20 °C (68 °F) after 30 "
        "minutes of playing (assumed)."
    ]
    assert remaining(table, 0) == "+13"


def test_the_slide_of_a_trombone_is_named_as_its_players_name_it():
    table = positions(Told(5.0, 10.0, 15.0), "tenor trombone", at={"main": 12.0})
    assert head(table, "main") == "tuning slide"
    said = " ".join(legend(table))
    assert "with tuning slide 12 mm" in said
    assert "How far the tuning slide can come out is not known" in said
