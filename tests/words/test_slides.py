"""The order of work in words, and lengths as people read them."""

import re
from dataclasses import replace
from datetime import UTC, datetime
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drift.instruments import find
from drift.quantities import in_inches
from drift.regression.fits import physics
from drift.slides.correction import correct
from drift.slides.reference import Reference
from drift.words.slides import answer, notices, orders, steps
from drift.words.tuning_notes import tuning_notes
from tests.nearly import nearly
from tests.slides.test_correction import HOT, Told

START = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)
COLD = Told(-20.0, -24.0, -17.0)


def test_order_in_which_players_work():
    correction = correct(HOT, "double horn", 33, at={"main": 12, "F": 8})
    text = steps(correction)
    where = [next(n for n, line in enumerate(text) if words in line) for words in (
        "Warm up first", "right hand", "B♭ side, open notes: F4 (written C5)",
        "F side, open notes", "Valve slides, pressing the valve", "Never force a slide",
    )]  # fmt: skip
    assert where == sorted(where)
    assert "Pull the main slide out 17 mm, to 29 mm" in text[where[2]]
    assert "Pull the F slide out 6 mm, to 14 mm" in text[where[3]]
    assert "Leave the B♭ slide where it is." in text


def test_only_horns_are_told_of_the_right_hand():
    assert not any("right hand" in line for line in steps(correct(HOT, "Bb trumpet", 33)))


def test_cold_is_pushed_in():
    text = steps(correct(COLD, "Bb trumpet", 5, at={"main": 15.0}))
    assert any("Push the main slide in 7.5 mm, to 7.5 mm" in line for line in text)


def test_a_reach_is_told_in_the_direction_of_the_move():
    def told(estimate, low, high):
        text = " ".join(steps(correct(Told(estimate, low, high), "Bb trumpet", 5)))
        return re.search(r"(Pull|Push) [^(]*\(([^)]*)\)", text).groups()

    assert told(-20.0, -24.0, -17.0) == ("Push", "6 to 10 mm in")
    assert told(20.0, 17.0, 24.0) == ("Pull", "6 to 10 mm out")
    assert told(5.5, 0.2, 10.8) == ("Pull", "0 to 4 mm out")


def test_what_is_too_little_or_too_uncertain_is_left():
    few = steps(correct(Told(3.0, 2.0, 4.0), "Bb trumpet", 22))
    assert few[-1] == "Leave the slides where they are: 3 cents are hardly noticed."
    unsure = correct(Told(8.0, -6.0, 22.0), "Bb trumpet", 25)
    assert orders(unsure) == [
        "Leave the slides where they are and tune by ear: the move is too uncertain."
    ]
    assert "Pull" not in unsure.summary()


def test_notices_in_words():
    told = Told(-22.1, -24.3, -19.8, seen=(12.0, 30.0))
    found = correct(told, "double horn", 5, at={"main": 12, "F": 1}, stuck=["F"])
    assert notices(found) == [
        "5 °C is outside the temperatures measured so far: the answer there is extrapolated",
        "the position of the B♭ slide is not known: before pushing it in, check that it is pulled "
        "out at least that far",
    ]


def test_an_end_and_a_remaining_error_are_said_once_each():
    text = answer(correct(COLD, "double horn", 5, at={"main": 5, "F": 2, "Bb": 1}))
    assert text.count("fully in") == 3
    assert "end of its travel" not in text
    assert text.count("Remaining error on the open notes: F side ") == 1
    assert "remains" not in text
    assert text.count("note: ") == 0


TUNED = Reference("home", START, 20.0, 30.0, True, {"main": 20.0, "F": 13.5}, {"F": 8.0})
AT = {"main": 20.0, "F": 13.5}


def cold(**moved):
    return correct(COLD, "double horn", 5, at=AT, reference=replace(TUNED, moved_to_mm=moved))


def test_a_move_is_counted_from_where_the_slide_is_logged_now():
    tuned = correct(COLD, "double horn", 5, at=AT)
    assert orders(tuned)[1] == "Push the F slide in 5 mm, to 8.5 mm (4 to 6.5 mm in)."
    in_since = cold(F=3.0)
    assert orders(in_since)[1] == "Pull the F slide out 5.5 mm, to 8.5 mm (4 to 6.5 mm out)."
    assert orders(in_since)[1] in " ".join(steps(in_since))
    assert orders(in_since)[0] == orders(tuned)[0]
    assert notices(in_since)[-1] == (
        "the F slide was at 13.5 mm when tuned and is logged at 3 mm now: its move is counted "
        "from where it is now"
    )
    moves = nearly(tuned.to_json()["moves"])  # they name what they start from
    assert in_since.to_json()["moves"] == moves


def test_a_slide_that_is_where_it_has_to_go_is_left_there():
    to = {move.slide: move.to_mm for move in cold().moves}
    found = cold(F=to["F"])
    assert not any("F slide" in order for order in orders(found))
    assert any("Leave the F slide where it is." in step for step in steps(found))
    assert notices(found)[-1].endswith("now: leave it there, it is where it has to go")
    assert orders(cold(main=to["main"], F=to["F"])) == [
        "Leave the slides where they are: they are where they have to go."
    ]


def test_slides_that_can_go_no_further_are_left():
    assert orders(correct(HOT, "Bb trumpet", 33, stuck=["main"])) == [
        "Leave the slides where they are: they can go no further."
    ]


def test_a_slide_moved_since_goes_back_where_nothing_else_is_worth_moving():
    few = correct(Told(3.0, 2.0, 4.0), "double horn", 22, at={"F": 13.5}, reference=TUNED)
    assert orders(few) == [
        "Set the slides as they were tuned: 3 cents are hardly noticed.",
        "Pull the F slide out 5.5 mm, to 13.5 mm.",
    ]
    assert steps(few)[-2:] == orders(few)
    unsure = correct(Told(8.0, -6.0, 22.0), "double horn", 25, at={"F": 13.5}, reference=TUNED)
    assert orders(unsure)[0] == (
        "Set the slides as they were tuned and tune by ear: the move is too uncertain."
    )


def test_a_stuck_slide_is_never_ordered_from_where_it_is_now():
    found = correct(COLD, "double horn", 5, at=AT, reference=TUNED, stuck=["F"])
    assert any("Leave the F slide where it is: it is stuck" in step for step in steps(found))
    assert notices(found)[-1].endswith("now: the answer takes it to be where it was tuned")


def test_what_untouched_valve_slides_do_is_said():
    text = " ".join(correct(HOT, "Bb trumpet", 33).summary().split())
    assert "If you leave the valve slides alone, these combinations are off by (cents)" in text


def test_the_end_of_the_travel_is_said():
    text = steps(correct(HOT, "Bb trumpet", 33, at={"main": 12.0}, travel={"main": 15.0}))
    assert any("the end of its travel" in line for line in text)


def test_a_stuck_slide_is_left_and_never_forced():
    text = steps(correct(HOT, "Bb trumpet", 33, stuck=["main"]))
    assert any("Leave the main slide where it is: it is stuck." in line for line in text)
    assert text[-1].startswith("Never force")


def test_a_joint_is_called_by_its_name():
    text = steps(correct(HOT, "flute", 33))
    assert any("Tuning note: A4, then B♭4. Pull the head joint out" in line for line in text)


def test_a_joint_is_where_it_was_tuned_and_where_it_was_logged():
    """A millimetre of a flute is five cents: its joint is set and shown to a quarter."""
    there = replace(TUNED, positions_mm={"head": 6.25}, moved_to_mm={"head": 6.75})
    found = correct(COLD, "flute", 5, at={"head": 6.25}, reference=there)
    text = " ".join(answer(found).split())
    assert "the head joint was at 6.25 mm when tuned and is logged at 6.75 mm now" in text
    (order,) = orders(found)
    far, to = map(float, re.search(r"in ([\d.]+) mm, to ([\d.]+) mm", order).groups())
    assert far + to == 6.75


def test_bars_have_no_work():
    assert steps(correct(HOT, "vibraphone", 33)) == [
        "This instrument cannot be tuned: the others tune to it."
    ]


def test_no_word_says_that_anything_is_safe():
    for name in ("double horn", "Bb trumpet", "flute", "vibraphone"):
        assert not re.search(r"\bsafe\b", correct(HOT, name, 33).summary(), re.IGNORECASE)


def test_summary_says_what_remains():
    text = correct(HOT, "Bb trumpet", 33, stuck=["main"]).summary()
    assert "Remaining error on the open notes: 22 cents sharp." in text
    assert "Remaining error on the open notes: none." in correct(HOT, "Bb trumpet", 33).summary()


def test_written_notes_stand_beside_sounding_ones():
    horn, tuba = find("double horn"), find("BBb tuba")
    assert tuning_notes(horn, horn.side("F")).startswith("F4 (written C5), then C4 (written G4)")
    assert tuning_notes(tuba, tuba.side()) == (
        "B♭2, then F2 and B♭1 (C5, G4 and C4 in treble clef)"
    )


@pytest.mark.parametrize(
    ("mm", "text"),
    [(0.0, "0"), (0.7, "0"), (0.9, "1/16"), (12.7, "1/2"), (25.4, "1"), (-6.35, "-1/4"),
     (30.2, "1 3/16")],
)  # fmt: skip
def test_inches_to_a_sixteenth(mm, text):
    assert in_inches(mm) == text


@given(st.floats(-500.0, 500.0))
def test_inches_are_the_nearest_sixteenth(mm):
    text = in_inches(mm)
    sign = -1 if text.startswith("-") else 1
    inches = sign * sum(Fraction(part) for part in text.lstrip("-").split())
    assert abs(float(inches) * 25.4 - mm) <= 25.4 / 32 + 1e-9
    assert (inches * 16).denominator == 1


def test_inches_on_request():
    text = correct(HOT, "Bb trumpet", 33, at={"main": 12.7}).summary(inches=True)
    assert "going to 33 °C (91 °F)" in " ".join(text.split())
    assert "out 5/16 inch, to 13/16 inch" in text
    assert "mm" not in text


def test_moves_that_no_rule_shows_are_left_out_in_inches():
    moved = correct(HOT, "Bb trumpet", 24)
    assert 0.0 < moved.valve_slides[0].move_mm < 25.4 / 32 < moved.valve_slides[-1].move_mm
    valves = next(step for step in steps(moved, inches=True) if step.startswith("Valve slides"))
    assert valves.endswith(": pull 1 by 1/16 inch, 3 by 1/16 inch.")
    hardly = steps(correct(Told(1.0, 0.8, 1.2), "Bb trumpet", 21), inches=True)
    assert hardly[-1] == "Leave the slides where they are: 1 cent is hardly noticed."


def test_what_tunes_on_a_trombone_is_the_tuning_slide():
    text = answer(correct(physics(), "tenor trombone", 30.0))
    assert "Keep the hand slide fully in while tuning" in text
    assert "Pull the tuning slide out" in " ".join(text.split())
    assert "main slide" not in text
