"""The dialogue of tuning step by step."""

from dataclasses import replace

import pytest

from drift.instruments.catalogue import Catalogue
from drift.quantities import METRIC, Units
from drift.slides.pooled_tunings import PooledSlope
from drift.tonight.tuned import tuned_of
from drift.tonight.tuning import begin_tuning, heard, played, set_to, skip
from drift.tonight.tuning_belief import Habit
from drift.tonight.tuning_steps import Step
from drift.words.tuning import (
    closing,
    combinations,
    ended,
    next_step,
    pooled_in_words,
    side_done,
)

CATALOGUE = Catalogue.shipped()
HORN = CATALOGUE.find("double horn")
KNOWN = {("Bb", note): Habit(0.0, 1.5) for note in ("F4", "Bb3", "F3")}


def horn(**given):
    start = {"positions_mm": {"main": 0.0, "F": 0.0, "Bb": 0.0}, "minutes_played": 30.0}
    return begin_tuning(HORN, **(start | {"valves": False} | given))


def read_in_tune(tuning):
    """Play every note in tune, until the tuning is done."""
    while tuning.now.step is not Step.DONE:
        tuning = heard(tuning, 0.0)
    return tuning


def test_warm_up_first():
    cold = horn(minutes_played=10.0)
    assert next_step(cold) == (
        "Warm enough? Play 8 more minutes first; you would still rise about "
        f"{round(cold.now.cents)}."
    )
    assert next_step(played(cold, 8.0)).startswith("B♭ side: ")


def test_the_first_note_of_each_side():
    assert (
        next_step(horn())
        == "B♭ side: thumb down, no valves. Long F4 (sounding), eyes off the tuner."
    )
    trumpet = begin_tuning(
        CATALOGUE.find("Bb trumpet"), positions_mm={"main": 0.0}, minutes_played=30.0
    )
    assert next_step(trumpet) == "No valves. Long B♭4 (sounding), eyes off the tuner."
    flute = begin_tuning(CATALOGUE.find("flute"), positions_mm={"head": 5.0}, minutes_played=30.0)
    assert next_step(flute) == "Long A4, eyes off the tuner."


def test_a_move_says_how_far_and_where_to_and_the_next_note_follows():
    first = horn()
    moved = heard(first, 18.0)
    assert moved.now.step is Step.MOVE
    off = round(moved.now.cents)
    assert next_step(moved, first) == (
        f"B♭ side: {off} sharp. Pull the main slide out {moved.now.move_mm:g} mm, "
        f"to {moved.now.to_mm:g}."
    )
    after = set_to(moved, "main", moved.now.to_mm)
    assert next_step(after, moved) == "B♭ side: Play B♭3 (sounding)."


def test_what_is_off_only_once_it_is_warm_is_said_to_be_so():
    euphonium = CATALOGUE.find("euphonium")
    start = {"positions_mm": {"main": 19.0}, "valves": False}
    cold = skip(begin_tuning(euphonium, minutes_played=4.0, **start))
    tuning = heard(heard(cold, 1.0), 1.0)
    while tuning.now.step is not Step.MOVE:
        tuning = heard(tuning, 1.0)
    assert tuning.belief.rise_left() > 2.0
    off = round(tuning.now.cents)
    assert next_step(tuning).startswith(f"{off} sharp once it is warm. Pull the main slide out ")
    assert side_done(tuning, "").endswith(" once it is warm.")
    warm = heard(begin_tuning(euphonium, minutes_played=60.0, **start), 12.0)
    assert "once it is warm" not in next_step(warm)


@pytest.mark.parametrize("written", [False, True])
def test_each_step_of_an_instrument_with_two_sides_names_its_side(written):
    tuning, before = horn(habits=KNOWN, reading_sd_cents=2.0), None
    while tuning.now.step is not Step.DONE:
        side = "B♭" if tuning.now.side == "Bb" else "F"
        assert f"{side} side: " in next_step(tuning, before, written=written)
        before = tuning
        if tuning.now.step is Step.MOVE:
            tuning = set_to(tuning, tuning.now.slide, tuning.now.to_mm)
        else:
            tuning = heard(tuning, 12.0 if tuning.now.note == "F3" else 0.0)


def test_who_comes_back_to_a_side_is_told_how_it_is_played():
    first = horn(habits=KNOWN, reading_sd_cents=2.0)
    moved = heard(first, 18.0)
    after = set_to(moved, "main", moved.now.to_mm)
    assert next_step(after, moved, comes_back=True) == (
        "B♭ side: thumb down, no valves. Play B♭3 (sounding)."
    )
    trumpet = begin_tuning(
        CATALOGUE.find("Bb trumpet"), positions_mm={"main": 0.0}, minutes_played=30.0
    )
    again = heard(trumpet, 2.0)
    assert next_step(again, trumpet, comes_back=True).startswith("No valves. ")
    assert next_step(again, trumpet).startswith(("Now ", "B♭4 once more"))


def test_a_note_is_asked_for_by_name_and_again():
    first = horn(habits=KNOWN, reading_sd_cents=2.0)
    second = heard(first, 0.0)
    assert next_step(second, first).startswith(("B♭ side: Now ", "B♭ side within"))


def test_a_lower_partial_that_repeats_is_named_as_a_habit():
    before, said = None, []
    tuning = horn(habits=KNOWN, reading_sd_cents=2.0)
    while tuning.now.side == "Bb":
        said.append(next_step(tuning, before))
        odd = tuning.now.step in (Step.CHECK, Step.PLAY_AGAIN)
        before, tuning = tuning, heard(tuning, 12.0 if odd else 0.0)
    said.append(next_step(tuning, before))
    assert said[-2] == "B♭ side: F3 is 12 sharp, the others are not. Once more."
    assert said[-1] == (
        "Same again: that is F3's habit. Lip it down; leave the slide. "
        "F side: thumb up, no valves. Long F4, eyes off the tuner."
    )
    assert "B♭ side within 3 cents. B♭ side: Now F3 (sounding), long." in said


def test_a_flat_side_whose_slide_is_in():
    tuning = horn(positions_mm={"main": 10.0, "F": 0.0, "Bb": 0.0})
    before = None
    while not tuning.now.swap:
        flat = -12.0 if tuning.now.side == "F" else 0.0
        before, tuning = tuning, heard(tuning, flat)
    text = next_step(tuning, before)
    assert "The F slide is in and you are flat. Push the main slide in " in text
    rest = set_to(tuning, "main", tuning.now.to_mm)
    order = next_step(rest, tuning)
    assert order.startswith("Pull the B♭ slide out ")
    assert order.endswith(": this makes up for the main slide going in.")


def test_no_slide_goes_further():
    trumpet = CATALOGUE.find("Bb trumpet")
    tuning = begin_tuning(
        trumpet, positions_mm={"main": 5.0}, minutes_played=30.0, travel_mm={"main": 5.0},
        valves=False,
    )  # fmt: skip
    said = []
    while tuning.now.step is not Step.DONE:
        before, tuning = tuning, heard(tuning, 30.0)
        said.append(next_step(tuning, before))
    assert any(
        text.startswith("The instrument stays ") and "sharp: no slide goes further." in text
        for text in said
    )
    assert said[-1].endswith("Mark main at 5.")


def test_the_slide_of_a_trombone_is_marked_by_the_name_it_was_moved_by():
    trombone = CATALOGUE.find("tenor trombone")
    begun = begin_tuning(trombone, positions_mm={"main": 23.0}, minutes_played=60.0)
    assert ended(read_in_tune(begun)) == "Mark tuning slide at 23."
    (taught,) = pooled_in_words([PooledSlope("main", "", 5, -1.2, 0.06)], instrument=trombone.name)
    assert "a millimetre of the tuning slide moved the pitch" in taught


def test_valves_and_what_they_leave():
    trumpet = CATALOGUE.find("Bb trumpet")
    tuning = begin_tuning(trumpet, positions_mm={"main": 10.0}, minutes_played=30.0)
    while tuning.now.step is not Step.VALVE_PLAY:
        tuning = heard(tuning, 0.0)
    assert next_step(tuning) == "Valve 2 alone: A4 (sounding), long."
    sharp = heard(tuning, 8.0)
    assert next_step(sharp, tuning) == (
        f"Valve 2 alone: 8 sharp. Pull its slide {sharp.now.move_mm:g} mm."
    )
    flat = heard(set_to(sharp, "2", 10.0), -8.0)
    assert "Valve 1 alone: 8 flat. Push in its slide" in next_step(flat)
    done = skip(flat)
    while done.now.step is not Step.DONE:
        done = heard(done, 0.0)
    left = tuned_of(done).combinations_cents[""]
    assert combinations(trumpet, "", left).startswith("Together, 1 and 2 stay about ")


def test_a_position_is_asked_for_and_the_marks_end_it():
    asked = begin_tuning(HORN, positions_mm={"main": 12.0}, minutes_played=30.0)
    assert next_step(asked) == "Where is the F slide? Millimetres from fully in."
    known = replace(asked, last_mm={"F": 8.0}).asks_where("F")
    said = "Where is the F slide? Millimetres from fully in. Enter: 8, as last time."
    assert next_step(known) == said
    done = read_in_tune(horn(positions_mm={"main": 15.0, "F": 8.0, "Bb": 0.0}))
    assert ended(done, tuned_of(done, 21.0)) == (
        "Mark main at 15, F at 8, B♭ at 0. Tuned at 21 °C, warm."
    )


@pytest.mark.parametrize("name", ["oboe", "rosewood marimba"])
def test_what_cannot_be_moved(name):
    tuning = begin_tuning(CATALOGUE.find(name), minutes_played=60.0)
    assert ended(tuning) == "This instrument cannot be tuned: the others tune to it."


def test_written_notes_name_the_sounding_one_until_it_was_read():
    first = horn(habits=KNOWN, reading_sd_cents=2.0)
    assert next_step(first, written=True) == (
        "B♭ side: thumb down, no valves. Long C5, sounding F4, eyes off the tuner."
    )
    moved = heard(first, 18.0)
    after = set_to(moved, "main", moved.now.to_mm)
    assert next_step(after, moved, written=True) == "B♭ side: Play F4, sounding B♭3."
    again = heard(after, 0.0)
    while again.now.note != "F4":  # until it is asked for again
        again = heard(again, 0.0) if again.now.note else set_to(again, "main", again.now.to_mm)
        if again.now.side != "Bb":
            break
    else:
        assert "sounding" not in next_step(again, written=True)


def test_an_instrument_written_as_it_sounds_has_one_name():
    flute = begin_tuning(CATALOGUE.find("flute"), positions_mm={"head": 5.0}, minutes_played=30.0)
    assert next_step(flute, written=True) == next_step(flute)


def test_a_habit_is_named_as_it_is_read():
    before, said = None, []
    tuning = horn(habits=KNOWN, reading_sd_cents=2.0)
    for _ in range(40):
        said.append(next_step(tuning, before, written=True))
        if tuning.now.step is Step.DONE:
            break
        before = tuning
        if tuning.now.step is Step.MOVE:
            tuning = set_to(tuning, tuning.now.slide, tuning.now.to_mm)
        else:
            tuning = heard(tuning, 12.0 if tuning.now.note == "F3" else 0.0)
    assert any("that is C4's habit" in line for line in said)


@pytest.mark.parametrize(
    ("stuck", "why"),
    [((), "no slide goes further"), (("F",), "the F slide is stuck")],
)
def test_why_no_slide_of_the_other_side_goes_further(stuck, why):
    given = {"travel_mm": {"F": 0.0, "main": 0.0, "Bb": 0.0}}
    tuning, before, said = horn(stuck=stuck, **given), None, []
    while tuning.now.step is not Step.DONE:
        before, tuning = tuning, heard(tuning, 25.0 if tuning.now.side == "F" else 0.0)
        said.append(next_step(tuning, before))
    assert any(f"F side stays 25 sharp: {why}." in line for line in said)


def test_a_slide_is_pulled_while_playing_only_where_a_hand_is_free_and_the_note_is_sharp():
    trumpet = CATALOGUE.find("Bb trumpet")
    assert "Pull the third slide while you play" in combinations(trumpet, "", {"1+2+3": 53.6})
    for instrument, cents in ((HORN, 53.6), (trumpet, -53.6)):
        assert combinations(instrument, "", {"1+2+3": cents}).endswith(
            ": too far for the lips. Take other valves."
        )


@pytest.mark.parametrize(
    ("celsius", "units", "told"),
    [
        (20.5, METRIC, "20.5 °C"),
        (21.0, METRIC, "21 °C"),
        (20.0, Units(fahrenheit=True), "68 °F"),
        (20.5, Units(fahrenheit=True), "68.9 °F"),
    ],
)
def test_the_air_is_told_as_it_was_typed(celsius, units, told):
    done = read_in_tune(horn())
    assert ended(done, tuned_of(done, celsius), units).endswith(f"Tuned at {told}, warm.")


def test_nothing_is_marked_where_too_little_was_read():
    silent = horn()
    while silent.now.step is not Step.DONE:
        before, silent = silent, skip(silent)
    assert closing(silent, before, tuned_of(silent)) == [
        "F side: no note was read.",
        "Not tuned: nothing is marked, and no tuned state is saved.",
    ]
    once = skip(heard(horn(), 2.0))
    while once.now.step is not Step.DONE:
        once = skip(once)
    assert ended(once).endswith("Tune again within 45 minutes, and it goes on from what was read.")


def test_why_a_slide_was_not_moved():
    tuning, said = horn(), []
    while tuning.now.step is not Step.DONE:
        left = tuning.now.step is Step.MOVE
        before, tuning = tuning, skip(tuning) if left else heard(tuning, 25.0)
        said.append(next_step(tuning, before))
    assert any("B♭ side stays 2" in one for one in said)
    assert any("sharp: the F slide is left where it is." in one for one in said)
    asked = replace(begin_tuning(HORN), stuck=frozenset({"main"})).asks_where("main")
    assert next_step(asked) == "Where is the main slide stuck? Millimetres from fully in."
