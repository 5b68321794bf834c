"""Tuning step by step: the order of work, and what it does where things go wrong."""

import numpy as np
import pytest

from drift.errors import InputError
from drift.instruments.catalogue import Catalogue
from drift.tonight.tuned import pooled_slope, tuned_of
from drift.tonight.tuning import begin_tuning, heard, played, set_to, skip
from drift.tonight.tuning_belief import Habit
from drift.tonight.tuning_steps import Step
from drift.tonight.valves import combination_cents
from tests.tonight.tuning_trials import by_formula, figures, follow, steps

CATALOGUE = Catalogue.shipped()
HORN = CATALOGUE.find("double horn")
IN = {"main": 0.0, "F": 0.0, "Bb": 0.0}


def begun(name="double horn", **given):
    instrument = CATALOGUE.find(name)
    start = {"positions_mm": {s.name: 0.0 for s in instrument.slides}, "minutes_played": 30.0}
    return begin_tuning(instrument, **(start | given))


def walk(tuning, shown):
    """Answer every step: a move as it is asked, a note as ``shown(now, tuning)``."""
    seen = []
    while tuning.now.step is not Step.DONE:
        seen.append(tuning.now)
        assert len(seen) < 100
        if tuning.now.step is Step.MOVE:
            tuning = set_to(tuning, tuning.now.slide, tuning.now.to_mm)
        elif tuning.now.step is Step.VALVE_MOVE:
            tuning = set_to(tuning, tuning.now.valve, 5.0)
        elif tuning.now.step is Step.WARM_UP:
            tuning = played(tuning, tuning.now.minutes)
        else:
            tuning = heard(tuning, shown(tuning.now, tuning))
    return tuning, seen


def exact(level):
    """What a horn would show that does what the catalogue expects, ``level`` sharp by side."""
    return lambda now, tuning: (
        level[now.side] + sum(
            tuning.belief.slope(slide, now.side) * mm
            for slide, mm in tuning.belief.positions_mm.items()
        )
    )  # fmt: skip


def test_a_cold_instrument_warms_up_first():
    cold = begun(minutes_played=5.0)
    assert cold.now.step is Step.WARM_UP
    assert cold.now.minutes == pytest.approx(13.0)  # three time constants of six minutes
    assert 4.0 < cold.now.cents < 10.0  # what is left of a rise of 14
    assert played(cold, 13.0).now.step is Step.PLAY
    assert skip(cold).now.step is Step.PLAY


def test_the_bflat_side_comes_first_with_the_main_slide_then_the_f_side_with_its_own():
    done, seen = walk(begun(valves=False), exact({"Bb": 18.0, "F": 25.0}))
    moves = [(now.side, now.slide) for now in seen if now.step is Step.MOVE]
    assert list(dict.fromkeys(moves)) == [("Bb", "main"), ("F", "F")]
    sides = [now.side for now in seen if now.step is Step.PLAY]
    assert sides == sorted(sides)  # Bb, then F
    assert all(abs(done.off_cents(side).estimate) < 1.5 for side in ("Bb", "F"))
    assert all(done.in_tune(side) > 0.85 for side in ("Bb", "F"))


def test_a_move_takes_off_what_was_read_at_what_a_real_slide_does():
    sharp = heard(begun(), 18.0).now
    slope = HORN.cents_per_mm("Bb", "main") * 1.10
    # Less than 18 cents: a first reading of one note is not all believed.
    assert 0.7 * 18.0 < -slope * sharp.move_mm < 18.0
    assert sharp.to_mm == sharp.move_mm
    assert (2 * sharp.to_mm).is_integer()


@pytest.mark.parametrize("position_mm", [12.0, 20.0, 28.0, 36.0])
@pytest.mark.parametrize("cents", [16.0, -16.0])
def test_no_slide_is_moved_against_one_reading_that_is_far_from_what_was_expected(
    position_mm, cents
):
    """A position that was mistyped: the reading was taken for a stray, and the slide moved back."""
    begun = begin_tuning(
        Catalogue.shipped().find("Bb trumpet"),
        positions_mm={"main": position_mm},
        minutes_played=30,
        valves=False,
    )
    tuning = heard(begun, cents)
    while tuning.now.step in (Step.PLAY, Step.PLAY_AGAIN, Step.CHECK):
        tuning = heard(tuning, cents)
    assert tuning.now.step is Step.MOVE
    assert tuning.now.move_mm * cents > 0.0


def test_a_position_that_is_not_known_is_asked_for():
    asked = begin_tuning(HORN, positions_mm={"main": 12.0}, minutes_played=30.0)
    assert (asked.now.step, asked.now.slide) == (Step.SAY_POSITION, "F")
    told = set_to(set_to(asked, "F", 8.0), "Bb", 0.0)
    assert told.now.step is Step.PLAY
    assert told.belief.positions_mm == {"main": 12.0, "F": 8.0, "Bb": 0.0}


def test_a_stuck_main_slide_leaves_the_work_to_the_bflat_slide():
    done, seen = walk(begun(stuck=["main"], valves=False), exact({"Bb": 15.0, "F": 15.0}))
    assert {now.slide for now in seen if now.step is Step.MOVE} == {"Bb", "F"}
    assert done.belief.positions_mm["main"] == 0.0
    assert abs(done.off_cents("Bb").estimate) < 1.5


def test_a_slide_found_stuck_in_the_middle_of_it_is_not_asked_for_again():
    tuning = heard(begun(valves=False), 20.0)
    assert tuning.now.slide == "main"
    found = skip(tuning)
    assert found.now.slide != "main"
    _, seen = walk(found, exact({"Bb": 20.0, "F": 20.0}))
    assert "main" not in {now.slide for now in seen}


def test_travel_is_not_exceeded_and_what_is_left_is_said():
    done, seen = walk(begun("Bb trumpet", travel_mm={"main": 5.0}, valves=False), exact({"": 40.0}))
    assert max(now.to_mm for now in seen if now.step is Step.MOVE) == 5.0
    assert done.sides[""].at_end
    assert done.off_cents("").estimate > 20.0


def test_a_side_that_is_flat_with_its_slide_in_gets_room_from_the_main_slide():
    start = begun(positions_mm={"main": 10.0, "F": 0.0, "Bb": 0.0}, valves=False)
    # With the main slide at ten the B flat side is right and the F side 12 flat.
    main = {side: start.belief.slope("main", side) * 10.0 for side in ("Bb", "F")}
    done, seen = walk(start, exact({"Bb": -main["Bb"], "F": -main["F"] - 12.0}))
    swaps = [now for now in seen if now.swap]
    assert [(now.slide, now.move_mm < 0) for now in swaps[:2]] == [("main", True), ("Bb", False)]
    assert all(abs(done.off_cents(side).estimate) < 2.5 for side in ("Bb", "F"))


def test_a_side_that_is_flat_with_everything_in_stays_flat_and_ends():
    done, _ = walk(begun("Bb trumpet", valves=False), exact({"": -15.0}))
    assert done.sides[""].at_end
    assert done.off_cents("").estimate < -8.0
    assert done.belief.positions_mm["main"] == 0.0


def known_horn(**given):
    habits = {("Bb", note): Habit(0.0, 1.5) for note in ("F4", "Bb3", "F3")}
    return begun(habits=habits, valves=False, reading_sd_cents=2.0, **given)


def test_a_lower_partial_that_repeats_is_that_notes_habit_and_no_slide_is_moved():
    tuning, seen = known_horn(), []
    while tuning.now.side == "Bb":
        seen.append(tuning.now)
        tuning = heard(tuning, 12.0 if tuning.now.step in (Step.CHECK, Step.PLAY_AGAIN) else 0.0)
    assert [now.step for now in seen][-2:] == [Step.CHECK, Step.PLAY_AGAIN]
    assert seen[-1].cents == pytest.approx(12.0, abs=2.0)
    assert tuning.sides["Bb"].habits == {seen[-1].note: pytest.approx(12.0, abs=2.0)}
    assert Step.MOVE not in [now.step for now in seen]


def test_a_lower_partial_that_fits_the_second_time_is_no_habit():
    tuning = known_horn()
    while tuning.now.side == "Bb":
        tuning = heard(tuning, 12.0 if tuning.now.step is Step.CHECK else 0.0)
    assert tuning.sides["Bb"].habits == {}


def test_a_class_note_is_read_first_where_it_is_open_and_counts_as_a_reading():
    first = begun(class_note="Bb4")
    assert (first.now.side, first.now.note) == ("Bb", "Bb4")
    assert heard(first, 0.0).now.note in ("F4", "Bb3", "F3")
    concert_a = begun(class_note="A4").class_note
    assert (concert_a.side, concert_a.open) == ("F", True)
    assert concert_a.cents == pytest.approx(-13.7, abs=0.1)  # the tenth harmonic
    valved = begun("Bb trumpet", class_note="A4").class_note
    assert not valved.open
    assert valved.sd_cents == pytest.approx(np.hypot(5.0, 3.0))


@pytest.mark.parametrize("flat", [-3.0, -4.0, -5.0, -6.0, -8.0, -10.0])
@pytest.mark.parametrize("room_mm", [0.0, 1.0, 2.0, 4.0])
def test_a_side_whose_slide_goes_no_further_is_not_read_for_nothing(flat, room_mm):
    at = {"main": 12.0, "F": room_mm, "Bb": 0.0}
    scatter = np.random.default_rng(1)

    def shown(now, tuning):
        moved = {slide: mm - at[slide] for slide, mm in tuning.belief.positions_mm.items()}
        level = flat if now.side == "F" else 0.0
        return level + 1.1 * HORN.cents_of_moves(now.side, moved) + scatter.normal(0.0, 2.0)

    done, seen = walk(begun(positions_mm=at, valves=False), shown)
    assert sum(now.side == "F" and bool(now.note) for now in seen) <= 8
    off = done.off_cents("F").estimate
    assert abs(off) < 3.0
    if done.sides["F"].at_end:
        assert done.belief.positions_mm["F"] <= 1.0  # less than can be heard
    else:
        assert done.in_tune("F") >= 0.85


def test_valves_are_tuned_alone_second_first_third_against_the_open_note():
    done, seen = walk(begun("Bb trumpet"), lambda now, _: 6.0 if now.valve == "1" else 0.0)
    assert [now.valve for now in seen if now.step is Step.VALVE_PLAY] == ["2", "1", "3"]
    assert [now.note for now in seen if now.step is Step.VALVE_PLAY] == ["A4", "Ab4", "G4"]
    moved = [now for now in seen if now.step is Step.VALVE_MOVE]
    assert [now.valve for now in moved] == ["1"]
    length = 1000.0 * CATALOGUE.find("Bb trumpet").side().length_m * 2 ** (2 / 12)
    rule = 1731.234 * 2.0 / length * 1.10
    assert moved[0].move_mm == pytest.approx(moved[0].cents / rule, abs=0.25)
    left = tuned_of(done).combinations_cents[""]
    assert left["1+2"] == pytest.approx(10.6, abs=0.5)


def test_a_third_valve_pulled_long_makes_2_and_3_flat():
    done, _ = walk(begun("Bb trumpet"), lambda now, _: -2.0 if now.valve == "3" else 0.0)
    assert tuned_of(done).combinations_cents[""]["2+3"] == pytest.approx(13.5, abs=0.4)


def test_a_valve_slide_that_is_left_alone_is_not_asked_for_again():
    tuning = begun("Bb trumpet")
    while tuning.now.step is not Step.VALVE_PLAY:
        tuning = heard(tuning, 0.0)
    assert skip(tuning).now.valve == "1"


def test_a_valve_slide_that_was_read_and_not_moved_leaves_the_combinations_as_it_reads():
    left, moved = begun("Bb trumpet"), begun("Bb trumpet")
    shown = {"3": -12.0}
    while left.now.step is not Step.VALVE_MOVE:
        left = heard(left, shown.get(left.now.valve, 0.0))
        moved = heard(moved, shown.get(moved.now.valve, 0.0))
    left, moved = skip(left), set_to(moved, "3", 0.0)
    assert left.now.step is moved.now.step is Step.DONE
    trumpet = CATALOGUE.find("Bb trumpet")
    (third,) = [v.cents for v in left.valves if v.valve == "3"]
    assert third == pytest.approx(-12.0, abs=1.5)
    as_read = tuned_of(left).combinations_cents[""]
    assert as_read == pytest.approx(combination_cents(trumpet, {"3": third}), abs=0.5)
    assert tuned_of(moved).combinations_cents[""] == pytest.approx(
        combination_cents(trumpet), abs=0.5
    )


@pytest.mark.parametrize("name", list(CATALOGUE))
@pytest.mark.parametrize("level", [-20.0, 0.0, 30.0])
def test_every_instrument_of_the_catalogue_comes_to_its_end(name, level):
    instrument = CATALOGUE.find(name)
    sides = {side.name: level for side in instrument.sides}
    done, seen = walk(begun(name), exact(sides))
    assert done.now.step is Step.DONE
    if instrument.slides:
        assert seen
        assert (abs(done.off_cents(instrument.slides[0].sides[0]).estimate) < 4.0) == (level >= 0)


def test_answers_that_do_not_fit_the_question_are_refused():
    with pytest.raises(InputError, match="200 cents is not a reading of F4"):
        heard(begun(), 200.0)
    with pytest.raises(InputError, match="came in answer to warm_up"):
        heard(begun(minutes_played=0.0), 3.0)
    with pytest.raises(InputError, match="-3 mm is not a position"):
        set_to(heard(begun(), 18.0), "main", -3.0)


def test_a_slide_set_elsewhere_than_asked_is_looked_at_again():
    tuning = begun("Bb trumpet", valves=False, reading_sd_cents=1.0)
    while tuning.now.step is not Step.MOVE:
        tuning = heard(tuning, 20.0)
    short = set_to(tuning, "main", tuning.now.to_mm / 2.0)
    assert not short.sides[""].finished
    assert short.now.step in (Step.PLAY, Step.MOVE)


def test_what_tunings_teach_of_a_slide_is_pooled_and_shown_when_it_is_good_enough():
    one, many = (pooled_slope((1.10, 0.11), [(1.0, 0.095)] * n) for n in (1, 8))
    assert one[:2] == pytest.approx((1.0, 0.095))
    assert not one[2]
    assert many[1] < 0.06
    assert many[2]


def test_the_tuned_state_is_the_reference_of_later_answers():
    done, _ = walk(begun(valves=False), exact({"Bb": 18.0, "F": 18.0}))
    state = tuned_of(done, 21.0)
    assert state.celsius == 21.0
    assert state.positions_mm == done.belief.positions_mm
    assert state.to_json()["off_cents"]["Bb"]["estimate"] == done.off_cents("Bb").estimate
    factor = state.slope_factors["main", "Bb"]
    assert factor.low < 1.1 < factor.high


@pytest.mark.slow
@pytest.mark.parametrize("name", ["double horn", "Bb trumpet", "Bb clarinet"])
def test_simulated_players_are_left_in_tune_with_few_readings_and_moves(name):
    rows = [row for seed in range(60000, 60080) for row in steps(name, seed)]
    found, plain = (
        figures(rows),
        figures([r for s in range(60000, 60080) for r in by_formula(name, s)]),
    )
    assert found["within 3"] > 80.0
    assert found["within 3"] > plain["within 3"] + 20.0
    assert found["readings"] < 6.5
    assert found["moves"] < 2.5
    assert found["90 % holds"] > 82.0


def test_a_simulated_player_with_a_stuck_slide_comes_to_the_end():
    done, player, said = follow("double horn", 60001, stuck=("main",))
    assert done.now.step is Step.DONE
    assert player.at["main"] == 0.0
    assert "main" in {now.slide for now in said}
