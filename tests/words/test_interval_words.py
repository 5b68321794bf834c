"""What the interval of a slide is of, in words: the way from the tuning, not the tuning."""

import re

import pytest

from drift.instruments import find
from drift.slides.correction import correct
from drift.slides.moving import mm_of_cents
from drift.slides.positions import positions
from drift.words.intervals import in_brackets, most_likely, small_figures, what_tuning_left
from drift.words.room_card import to_know
from drift.words.slides import answer
from tests.slides.test_correction import HOT, Told

FEW = Told(3.0, 2.0, 4.0)
ON_TOP = "What that tuning left comes on top: 3 cents are"


def test_millimetres_of_cents_are_those_that_the_slide_takes():
    trombone = find("tenor trombone")
    found = correct(Told(3.0, 2.0, 4.0), trombone, 33, at={"main": 23.0})
    assert mm_of_cents(trombone, "main", 3.0) == pytest.approx(found.moves[0].move_mm, rel=0.01)
    measured = {("main", ""): -1.5}
    assert mm_of_cents(trombone, "main", 3.0, measured) == pytest.approx(2.0)


def test_what_a_tuning_leaves_is_said_in_millimetres_of_each_slide_that_moves():
    horn = correct(HOT, "double horn", 33, at={"main": 12.0, "F": 8.0})
    said = what_tuning_left(horn)
    assert re.fullmatch(rf"{ON_TOP} \S+ mm of the main slide, \S+ mm of the F slide\.", said)
    measured = correct(HOT, "Bb trumpet", 33, calibration={("main", ""): -1.5})
    assert what_tuning_left(measured) == f"{ON_TOP} 2 mm of the main slide."


def test_an_answer_says_what_its_brackets_hold_where_it_has_any():
    trumpet = correct(HOT, "Bb trumpet", 33, at={"main": 12.0})
    assert in_brackets(trumpet).startswith(
        "In brackets: 95 % likely, if it was in tune where it was tuned. What that tuning left"
    )
    assert in_brackets(trumpet) in " ".join(answer(trumpet).split())
    assert "In brackets" not in answer(trumpet, inches=True)
    for without in (correct(FEW, "Bb trumpet", 22), correct(HOT, "vibraphone", 33)):
        assert "In brackets" not in answer(without)


def test_the_cards_say_what_their_intervals_hold():
    table = positions(HOT, "Bb trumpet", celsius=[33.0], at={"main": 12.0})
    assert most_likely(table.corrections[0]) in to_know(table)
    assert most_likely(table.corrections[0]).startswith("Most likely: 95 %, if it was in tune")
    assert "Most likely" not in " ".join(to_know(table, inches=True))
    few = positions(FEW, "Bb trumpet", celsius=[22.0], at={"main": 12.0})
    assert "Most likely" not in " ".join(to_know(few))
    # A table has rows in which nothing is moved, and intervals in all of them.
    assert ON_TOP in small_figures(few)
    assert small_figures(table).startswith("Small figures: the right position lies between them")
