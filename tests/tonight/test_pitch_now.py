"""Pitch now: what one evening says at each moment."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

import drift
from drift.instruments.catalogue import Catalogue
from drift.tonight import (
    Action,
    Course,
    Decision,
    Evening,
    NotUsed,
    Reading,
    Reason,
    SlideSetting,
    Surprise,
    know,
    pitch_now,
)
from drift.tonight.assumptions import SIDE_TONIGHT_SD_CENTS
from drift.tonight.decision import decide_playing
from drift.tonight.evening import usable
from drift.tonight.following import follow, off_samples
from drift.tonight.pitch_now import _decide, _foremost
from drift.tonight.stories import INLIER, OUTLIER
from drift.tonight.surprises import Jump, surprises_of

HORN = Catalogue.shipped().find("double horn")
KNOWN = know(HORN, drift.physics().draws("double horn", 400, 1))
ROOM = Course(np.arange(0.0, 91.0), np.full(91, 22.0), (0.0,))


def evening(*readings, settings=(), course=ROOM):
    return Evening(
        course,
        tuple(Reading(minutes, note, cents, "Bb") for minutes, note, cents in readings),
        tuple(settings),
        {"main": 12.0},
    )


FITTING = [(20.0 + 6.0 * i, note, 0.0) for i, note in enumerate(["F4", "Bb3", "F3"] * 2)]


def test_no_move_before_the_first_reading():
    found = pitch_now(KNOWN, evening(), 30.0)
    assert (found.decision.action, found.decision.reason) == (Action.READ, Reason.NO_READING)
    assert found.wished_cents == {}
    assert found.last is None


def test_readings_that_are_in_tune_leave_the_slides():
    found = pitch_now(KNOWN, evening(*FITTING), 51.0)
    assert (found.decision.action, found.decision.reason) == (Action.LEAVE, Reason.IN_TUNE)
    assert abs(found.off_cents.estimate) < 2.0
    assert found.off_cents.low < 0.0 < found.off_cents.high
    assert (found.readings, found.surprises, found.read_sides) == (6, (), ("Bb",))


def test_readings_that_are_sharp_ask_for_a_move_of_as_much():
    sharp = [(minutes, note, 12.0) for minutes, note, _ in FITTING]
    found = pitch_now(KNOWN, evening(*sharp), 51.0)
    assert found.decision.action is Action.MOVE
    assert found.off_cents.estimate == pytest.approx(12.0, abs=2.0)
    # What a real slide does beyond the rule is taken off: 12 cents of pitch are 11 nominal ones.
    assert found.wished_cents["Bb"] == pytest.approx(found.decision.cents / 1.1, rel=0.02)


def test_a_logged_move_is_taken_out_of_the_readings_before_it():
    sharp = [(minutes, note, 12.0) for minutes, note, _ in FITTING]
    out = SlideSetting(52.0, "main", 12.0 + 12.0 / 1.1 / -HORN.cents_per_mm("Bb", "main"))
    found = pitch_now(KNOWN, evening(*sharp, settings=[out]), 53.0)
    assert abs(found.off_cents.estimate) < 2.0
    assert found.decision.action is Action.LEAVE


def test_one_reading_that_does_not_fit_asks_for_another_and_a_second_says_a_slide_moved():
    once = evening(*FITTING, (56.0, "F4", -25.0))
    found = pitch_now(KNOWN, once, 56.5)
    assert found.surprises == (Surprise.UNEXPECTED,)
    assert (found.decision.action, found.decision.reason) == (Action.READ, Reason.SURPRISE)
    assert found.last.reading.cents == -25.0
    assert found.last.cents == pytest.approx(0.0, abs=3.0)
    twice = evening(*FITTING, (56.0, "F4", -25.0), (57.0, "Bb3", -24.0))
    found = pitch_now(KNOWN, twice, 57.5)
    assert found.surprises == (Surprise.JUMPED,)
    assert found.decision.action is Action.MOVE
    assert found.off_cents.estimate < -18.0


def test_readings_that_lie_a_little_lower_ask_for_a_look_at_the_slide():
    lower = [(56.0 + i, note, -9.0) for i, note in enumerate(["F4", "Bb3"])]
    found = [
        pitch_now(KNOWN, evening(*FITTING, *lower[: count + 1]), 57.5 + count).surprises
        for count in range(2)
    ]
    assert Surprise.SHIFTED in found[1] or Surprise.JUMPED in found[1]


JUMPED = [*FITTING, (56.0, "F4", -25.0), (57.0, "Bb3", -24.0), (58.0, "F3", -25.0)]


def test_a_jump_is_told_with_its_slide_and_the_first_reading_behind_it():
    found = pitch_now(KNOWN, evening(*JUMPED), 61.0)
    before = pytest.approx(61.0 - FITTING[-1][0])
    assert found.jump == Jump("main", pytest.approx(5.0), before_minutes_ago=before)
    assert found.misplaced == "main"
    assert found.to_json()["jump"]["slide"] == "main"
    assert pitch_now(KNOWN, evening(*FITTING), 51.0).jump is None


def test_a_slide_set_and_logged_after_a_jump_is_known_again():
    late = SlideSetting(60.0, "main", 25.0)
    found = pitch_now(KNOWN, evening(*JUMPED, settings=[late]), 61.0)
    pulled = 13.0 * 1.1 * HORN.cents_per_mm("Bb", "main")
    assert found.off_cents.estimate == pytest.approx(pulled, abs=3.0)
    assert found.surprises == (Surprise.LOGGED_LATE,)
    assert found.jump == Jump(
        "main", pytest.approx(5.0), 25.0, pytest.approx(61.0 - FITTING[-1][0])
    )
    assert found.misplaced is None
    fitting = [(62.0 + i, note, pulled) for i, note in enumerate(["F4", "Bb3"])]
    after = pitch_now(KNOWN, evening(*JUMPED, *fitting, settings=[late]), 64.0)
    assert (after.surprises, after.jump) == ((), None)


def test_where_a_slide_is_logged_as_it_was_another_one_is_asked_for():
    still = SlideSetting(60.0, "main", 12.0)
    further = [(62.0 + i, note, -24.0) for i, note in enumerate(["F4", "Bb3", "F3"])]
    found = pitch_now(KNOWN, evening(*JUMPED, *further, settings=[still]), 65.0)
    assert found.surprises == (Surprise.JUMPED,)
    assert found.jump == Jump("Bb", pytest.approx(9.0), None, pytest.approx(65.0 - FITTING[-1][0]))


def test_a_slide_logged_when_it_moved_leaves_nothing_to_tell():
    mm = 12.0 + 25.0 / 1.1 / -HORN.cents_per_mm("Bb", "main")
    in_time = SlideSetting(55.0, "main", mm)
    found = pitch_now(KNOWN, evening(*JUMPED, settings=[in_time]), 61.0)
    assert (found.surprises, found.jump) == ((), None)


def test_an_outlier_amid_good_readings_changes_little():
    stray = [*FITTING[:3], (39.0, "F4", -40.0), *((m + 6, n, c) for m, n, c in FITTING[3:])]
    assert abs(pitch_now(KNOWN, evening(*stray), 58.0).off_cents.estimate) < 2.0


def test_a_cold_instrument_that_comes_right_by_itself_is_left():
    draws = drift.physics().draws("double horn", 400, 1)
    course = Course(np.arange(0.0, 40.0), np.full(40, 20.0), (0.0,))
    long_ago = know(HORN, draws)
    # Flat by what is still missing of the warm-up.
    early = [(m, n, -14.0 * np.exp(-m / 6.0)) for m, n in ((2.0, "F4"), (2.5, "Bb3"), (3.0, "F3"))]
    found = pitch_now(long_ago, evening(*early, course=course), 3.5)
    assert found.decision.action is not Action.MOVE
    assert found.off_cents.estimate < -4.0
    assert found.ahead[0].off_cents.estimate > found.off_cents.estimate + 2.0


def test_another_a4_shifts_what_is_in_tune():
    plain, sharp = (pitch_now(KNOWN, evening(*FITTING), 51.0, a4_hz=hz) for hz in (440.0, 442.0))
    shift = plain.off_cents.estimate - sharp.off_cents.estimate
    assert shift == pytest.approx(7.85, abs=0.01)  # 1200 log2(442/440)
    at_442 = tuple(Reading(m, n, c, "Bb", a4_hz=442.0) for m, n, c in FITTING)
    found = pitch_now(KNOWN, Evening(ROOM, at_442, (), {"main": 12.0}), 51.0, a4_hz=442.0)
    assert found.off_cents.estimate == pytest.approx(plain.off_cents.estimate, abs=0.5)


def test_readings_that_say_nothing_are_counted_by_reason():
    course = Course(np.arange(0.0, 31.0), np.full(31, 22.0), (5.0, 20.0, 50.0))
    readings = (
        Reading(2.0, "F4", 0.0, "Bb"),  # not playing yet
        Reading(5.2, "F4", 0.0, "Bb"),  # the first 30 s
        Reading(10.0, "F4", 0.0, ""),
        Reading(10.0, "F4", 0.0, "Eb"),
        Reading(25.0, "F4", 0.0, "Bb"),  # resting: it counts
        Reading(55.0, "F4", 0.0, "Bb"),  # the thermometer stopped at 30
        Reading(12.0, "F4", 0.0, "Bb"),
        Reading(70.0, "F4", 0.0, "Bb"),  # not yet
    )
    found = pitch_now(KNOWN, Evening(course, readings), 60.0)
    assert found.readings == 2
    assert found.not_used == {
        NotUsed.NOT_PLAYING: 1,
        NotUsed.SETTLING: 1,
        NotUsed.NO_SIDE: 1,
        NotUsed.UNKNOWN_SIDE: 1,
        NotUsed.NO_TEMPERATURE: 1,
    }


def test_a_reading_in_a_rest_is_of_an_instrument_that_cools():
    """It was promised to count, and does, whether or not playing is logged after it."""
    air = np.arange(0.0, 61.0), np.full(61, 22.0)
    reading = Reading(35.0, "F4", -3.0, "Bb")
    played, rested, again = (
        pitch_now(KNOWN, Evening(Course(*air, switches), (reading,)), 37.0)
        for switches in ((0.0,), (0.0, 20.0), (0.0, 20.0, 36.0))
    )
    for found in (rested, again):
        assert (found.readings, found.not_used) == (1, {})
        assert found.last.cents == pytest.approx(rested.last.cents)
        assert found.last.cents < played.last.cents - 3.0


def test_an_instrument_that_is_warm_already_is_read_from_its_first_instant():
    for warmth, used in ((0.0, 1), (1.0, 2)):
        course = Course(np.arange(61.0), np.full(61, 22.0), (5.0,), initial_warmth=warmth)
        readings = (Reading(5.1, "F4", 0.0, "Bb"), Reading(12.0, "F4", 0.0, "Bb"))
        assert pitch_now(KNOWN, Evening(course, readings), 20.0).readings == used


def test_a_side_that_was_not_read_follows_with_more_doubt_and_orders_nothing():
    sharp = [(minutes, note, 12.0) for minutes, note, _ in FITTING]
    found = pitch_now(KNOWN, evening(*sharp), 51.0)
    other, read = found.sides["F"].off_cents, found.sides["Bb"].off_cents
    assert other.estimate == pytest.approx(12.0, abs=4.0)
    assert other.high - other.low > 2.0 * (read.high - read.low)
    assert set(found.wished_cents) == {"Bb"}


def test_an_instrument_without_a_slide_is_never_told_to_move():
    oboe = Catalogue.shipped().find("oboe")
    known = know(oboe, drift.physics().draws("oboe", 300, 1))
    readings = tuple(Reading(20.0 + 5 * i, "A4", 20.0) for i in range(6))
    found = pitch_now(known, Evening(ROOM, readings), 51.0)
    assert (found.decision.action, found.decision.reason) == (Action.LEAVE, Reason.FIXED_PITCH)
    assert found.off_cents.estimate > 12.0


def test_json_has_the_numbers_unrounded_and_the_codes():
    found = pitch_now(KNOWN, evening(*FITTING), 51.0)
    answer = found.to_json()
    assert set(answer["off_cents"]) == {"estimate", "low", "high"}
    assert [item["minutes"] for item in answer["ahead"]] == [10.0, 30.0]
    assert (answer["decision"], answer["reason"], answer["moves"]) == ("leave", "in_tune", [])
    assert answer["off_cents"]["estimate"] == found.off_cents.estimate
    last = answer["last_reading"]
    assert (last["note"], last["cents"]) == ("F3", 0.0)
    assert last["expected_cents"] == found.last.cents
    assert pitch_now(KNOWN, evening(), 30.0).to_json()["last_reading"] is None


def test_the_same_question_has_the_same_answer():
    one, other = (pitch_now(KNOWN, evening(*FITTING), 51.0).to_json() for _ in range(2))
    assert one == other


def test_the_decision_weighs_the_next_twenty_minutes_and_ten_and_thirty_are_reported():
    """A cold instrument rises by some cents in each of them."""
    early = [(2.0, "F4", -12.0), (2.5, "Bb3", -12.0), (3.0, "F3", -11.0)]
    tonight = evening(*early)
    found = pitch_now(KNOWN, tonight, 3.5)
    belief = follow(KNOWN, tonight, usable(HORN, tonight, 3.5)[0], 3.5)
    weighed = off_samples(belief, tonight, 3.5, (0.0, 5.0, 10.0, 15.0, 20.0, 30.0))["Bb"]
    asked = decide_playing(weighed[:, :5].mean(axis=1))
    assert found.decision.cents == asked.cents
    assert found.off_cents.estimate == pytest.approx(weighed[:, 0].mean())
    assert [item.minutes for item in found.ahead] == [10.0, 30.0]
    means = [item.off_cents.estimate for item in found.ahead]
    assert means == pytest.approx([weighed[:, 2].mean(), weighed[:, 5].mean()])
    ends = np.quantile(weighed[:, 5], [0.025, 0.975])
    assert [found.ahead[1].off_cents.low, found.ahead[1].off_cents.high] == pytest.approx(ends)


def decided(now, mean, *, warmth, surprises=(), read=True, instrument=HORN):
    """Return the decision where every draw is off by so much now, and on average."""
    off = np.full((100, 6), (5.0 * mean - now) / 4.0)
    off[:, 0] = now
    known, belief = SimpleNamespace(instrument=instrument), SimpleNamespace(warmth=warmth)
    found = _decide(known, belief, off, surprises, read)
    return found.action, found.reason


@pytest.mark.parametrize(
    ("now", "mean", "warmth", "reason"),
    [
        (-5.0, -1.0, 0.79, Reason.WARMING_UP),
        (-4.9, -1.0, 0.79, Reason.IN_TUNE),
        (-5.0, -1.0, 0.8, Reason.IN_TUNE),
        (-5.0, -5.0, 0.5, Reason.OFF),
    ],
)
def test_an_instrument_is_warming_up_below_the_limit_of_warmth_and_from_five_cents_on(
    now, mean, warmth, reason
):
    assert decided(now, mean, warmth=warmth)[1] is reason


def test_a_surprise_asks_for_a_reading_unless_a_move_is_sure():
    unexpected = (Surprise.UNEXPECTED,)
    assert decided(0.0, 0.0, warmth=1.0, surprises=unexpected) == (Action.READ, Reason.SURPRISE)
    assert decided(9.0, 9.0, warmth=1.0, surprises=unexpected) == (Action.MOVE, Reason.OFF)
    assert decided(9.0, 9.0, warmth=1.0, read=False) == (Action.READ, Reason.NO_READING)


class Told:
    """The stories of an evening with so much weight on each pair of verdicts."""

    def __init__(self, weights):
        self.weights = weights

    def chance(self, holds):
        return sum(weight for verdicts, weight in self.weights.items() if holds(verdicts, 1.0))


@pytest.mark.parametrize(
    ("moved_before", "last_odd", "watching", "surprises"),
    [
        (0.5, 0.5, 0.0, (Surprise.JUMPED,)),
        (0.49, 0.5, 0.0, (Surprise.UNEXPECTED,)),
        (0.49, 0.49, 0.0, (Surprise.SHIFTED,)),
        (0.2, 0.1, 0.0, (Surprise.SHIFTED,)),
        (0.19, 0.1, 0.0, ()),
        (0.0, 0.5, 0.51, (Surprise.UNEXPECTED, Surprise.WATCHING)),
        (0.0, 0.0, 0.5, ()),
    ],
)
def test_from_which_probability_on_a_surprise_is_told(moved_before, last_odd, watching, surprises):
    weights = {
        ("main", INLIER): moved_before,
        (OUTLIER, OUTLIER): last_odd,
        (INLIER, INLIER): 1.0 - moved_before - last_odd,
    }
    belief = SimpleNamespace(expected=(1,), stories=Told(weights), watching=watching, logged_mm={})
    assert surprises_of(belief) == surprises


def test_a_move_comes_before_a_reading_and_the_side_read_last_before_others():
    move, read, leave = (Decision(one, Reason.OFF, 1.0, 1.0) for one in
                         (Action.MOVE, Action.READ, Action.LEAVE))  # fmt: skip
    assert _foremost({"F": leave, "Bb": read, "Eb": move}, "F") is move
    other = Decision(Action.MOVE, Reason.OFF, 2.0, 1.0)
    assert _foremost({"F": move, "Bb": other}, "Bb") is other


@pytest.mark.parametrize(("share", "smaller"), [(1.3, True), (0.75, False)])
def test_a_slide_that_did_more_tonight_is_moved_less(share, smaller):
    """Ten millimetres further out take so much of what a real slide is expected to."""
    fallen = share * 1.1 * 10.0 * HORN.cents_per_mm("Bb", "main")
    out = [(54.0 + 4.0 * i, note, fallen) for i, note in enumerate(["F4", "Bb3", "F3"] * 3)]
    found = pitch_now(KNOWN, evening(*FITTING, *out, settings=[SlideSetting(52, "main", 22.0)]), 88)
    assert found.decision.action is Action.MOVE
    asked = found.wished_cents["Bb"] / found.decision.cents
    assert (asked < 0.99 / 1.1) == smaller
    assert (asked > 1.01 / 1.1) != smaller


def learnt_of_both_sides():
    """Know a player of both sides, all of whose notes were in tune in three rehearsals."""
    return know(HORN, drift.physics().draws("double horn", 200, 1), in_tune(3), day_sd_cents=2.0)


def in_tune(rehearsals):
    """Paired rows of both sides, in tune and warm."""
    return pd.DataFrame([
        {
            "rehearsal": f"{number}", "side": side, "note": note, "cents": 0.0, "a4_hz": 440.0,
            "reference_cents": 0.0, "celsius": 20.0, "spells": (), "minutes_into_spell": 60.0,
            "playing_minutes": 60.0, "initial_warmth": 1.0, "weight": 1.0, "cents_sd": 0.0,
        }
        for number in range(rehearsals)
        for side, notes in KNOWN.tuning_notes.items()
        for note in notes * 2
    ])  # fmt: skip


@pytest.mark.parametrize("rehearsals", [0, 3])
def test_the_sides_of_an_evening_may_lie_apart_and_each_has_its_own_move(rehearsals):
    known = learnt_of_both_sides() if rehearsals else KNOWN
    flat = [(60.0, "F4", -7.0, "Bb"), (60.3, "Bb3", -5.0, "Bb"), (60.6, "F3", -8.0, "Bb")]
    sharp = [(61.0, "C4", 5.0, "F"), (61.3, "F4", 5.0, "F"), (61.6, "F3", 6.0, "F")]
    course = Course(np.arange(0.0, 91.0), np.full(91, 20.0), (0.0,))
    readings = tuple(Reading(*one) for one in [*flat, *sharp])
    found = pitch_now(known, Evening(course, readings, (), {"main": 12.0}), 62.0)
    bb, f = (found.sides[side].off_cents for side in ("Bb", "F"))
    assert found.apart
    assert found.read_sides == ("Bb", "F")  # the first slide is set first
    assert bb.low <= -6.7 <= bb.high
    assert f.low <= 5.3 <= f.high
    assert f.estimate - bb.estimate > 7.0  # half of the twelve cents and more, after six readings
    assert found.sides["Bb"].slides == ("main", "Bb")
    assert found.sides["F"].slides == ("F",)


def test_what_a_side_adds_tonight_is_no_part_of_what_the_first_side_is_known_by():
    known = learnt_of_both_sides()
    sides = np.array([side for side, _ in known.notes])
    spread = np.sqrt(np.diag(known.covariance)[: len(sides)])
    assert (spread[sides == "Bb"] < 2.0).all()
    assert (spread[sides == "F"] > SIDE_TONIGHT_SD_CENTS).all()
    assert all(t.high - t.low < 8.0 for t in known.tendencies("F").values())


def test_one_more_reading_is_asked_for_only_where_it_will_most_likely_decide():
    found = pitch_now(KNOWN, evening((20.0, "F4", -4.0)), 20.5)
    wanted = found.sides["Bb"].wanted
    assert found.decision.reason is Reason.UNSURE
    assert found.asks
    assert (wanted.count, wanted.note) == (2, "Bb3")
    cool = Course(np.arange(0.0, 91.0), np.full(91, 18.0), (0.0,))
    three = evening((2.0, "F4", -7.0), (2.2, "Bb3", -5.0), (2.4, "F3", -8.0), course=cool)
    early = pitch_now(KNOWN, three, 2.7)
    assert early.sides["Bb"].wanted.count == 0  # the coming rise decides, not a reading
    assert pitch_now(KNOWN, evening(*FITTING), 51.0).sides["Bb"].wanted is None
