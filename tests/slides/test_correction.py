"""Corrections: the worked example of the format, facts of the trade, and what is warned of."""

import json
import math
from dataclasses import dataclass

import pytest

import drift
from drift.errors import InstrumentError, ReachError
from drift.findings import Finding
from drift.instruments import find
from drift.instruments.slopes import expected_slopes
from drift.regression.results import Estimate
from drift.slides.correction import About, Caveat, correct
from drift.tonight.decision import Action, Reason


@dataclass
class Told:
    """A fit that was told its answer."""

    estimate: float
    low: float
    high: float
    seen: tuple[float, float] | None = None

    def change(self, *_, **__):
        return Estimate(self.estimate, self.low, self.high)

    def curve(self, _):
        return self

    def entries(self):
        return {}

    def extrapolation(self, celsius):
        if self.seen is None or self.seen[0] <= celsius <= self.seen[1]:
            return None
        return Finding("extrapolated", {"celsius": celsius})


HOT = Told(22.1, 19.8, 24.3)
PHYSICS = drift.physics()


def test_worked_example_of_the_format():
    answer = correct(HOT, "double horn", 33, at={"main": 12, "F": 8}).to_json()
    main, f_slide, _ = answer["moves"]
    # 22.1 cents on a B flat side of 2.9516 m: 18.96 mm of a slide with two legs by length alone,
    # of which a real bore needs 1/1.10 (the catalogue's effect of brass).
    assert main["slide"] == "main"
    assert main["move_mm"]["estimate"] == pytest.approx(17.24, abs=0.005)
    assert main["to_mm"] == pytest.approx(29.24, abs=0.005)
    assert main["at_end_of_travel"] is False
    # The F side is 2^(5/12) as long: it lacks (25.31 - 18.96) / 1.10 mm.
    assert f_slide["move_mm"]["estimate"] == pytest.approx(5.77, abs=0.005)
    move = main["move_mm"]
    assert move["low"] < move["estimate"] < move["high"]
    assert (answer["decision"], answer["reason"]) == ("move", "off")
    assert answer["remaining_cents"] == {"F": 0.0, "Bb": 0.0}
    assert answer["expected_cents"]["F"] == {"estimate": 22.1, "low": 19.8, "high": 24.3}
    assert answer["tuned"] == {
        "celsius": 20.0,
        "minutes": 30.0,
        "warm": False,
        "a4_hz": 440.0,
        "positions_mm": {"main": 12.0, "F": 8.0},
        "from": "assumed",
        "rehearsal": None,
    }
    assert answer["there"] == {"celsius": 33.0, "minutes": 30.0, "a4_hz": 440.0}
    assert {"side": "Bb", "valve": "1", "move_mm": pytest.approx(2.32, abs=0.005)} in answer[
        "valve_slides"
    ]
    json.dumps(answer, allow_nan=False)


def test_without_a_position_there_is_no_mark_to_go_to():
    answer = correct(HOT, "double horn", 33).to_json()
    assert all(move["to_mm"] is None for move in answer["moves"])


def test_the_interval_of_the_move_is_that_of_the_drift_and_of_the_slide():
    low, middle, high = (
        correct(Told(c, c, c), "Bb trumpet", 33).moves[0].move_mm for c in (19.8, 22.1, 24.3)
    )
    move = correct(HOT, "Bb trumpet", 33).moves[0]
    effect = find("Bb trumpet").slides[0].effect
    own = 1.96 * effect.on(["Bb4", "F4", "Bb3"])[1] / effect.mean * middle
    assert move.move_mm == pytest.approx(middle)
    assert middle - move.low_mm == pytest.approx(math.hypot(middle - low, own))
    assert move.high_mm - middle == pytest.approx(math.hypot(high - middle, own))


def test_a_measured_slide_leaves_the_interval_nearly_to_the_drift():
    measured = {("main", ""): find("Bb trumpet").cents_per_mm("", "main")}
    move = correct(HOT, "Bb trumpet", 33, calibration=measured).moves[0]
    drift = move.move_mm * (24.3 - 22.1) / 22.1
    assert move.high_mm - move.move_mm == pytest.approx(
        math.hypot(drift, 1.96 * 0.03 * move.move_mm), rel=0.02
    )


@pytest.mark.parametrize("name", ["oboe", "bassoon"])
def test_no_millimetres_are_given_where_no_rule_holds(name):
    correction = correct(PHYSICS, name, 4.0)
    assert correction.moves == ()
    assert correction.remaining_cents[""] == pytest.approx(correction.expected_cents[""].estimate)


def test_a_hot_room_is_sharp_and_pulled_and_a_cold_field_flat_and_pushed():
    # Common practice: cold = flat, hot = sharp; sharp → pull out.
    hot, cold = (correct(PHYSICS, "double horn", celsius) for celsius in (33.0, 4.0))
    assert hot.expected_cents["F"].estimate > 0 > cold.expected_cents["F"].estimate
    assert hot.moves[0].move_mm > 0 > cold.moves[0].move_mm


def test_a_cold_start_is_flat():
    # Common practice: warm up before tuning. Minutes count, at the same temperature.
    cold_start = correct(PHYSICS, "BBb tuba", 20.0, minutes=0.0)
    assert cold_start.expected_cents[""].estimate < -5.0


@pytest.mark.parametrize("celsius", [4.0, 12.0, 27.0, 35.0])
def test_after_the_moves_the_open_notes_are_back(celsius):
    correction = correct(PHYSICS, "double horn", celsius)
    horn = find("double horn")
    moves = {move.slide: move.move_mm for move in correction.moves}
    for side, expected in correction.expected_cents.items():
        done = horn.cents_of_moves(side, moves, expected_slopes(horn))
        assert expected.estimate + done == pytest.approx(0.0, abs=1e-6)


def test_the_same_conditions_ask_for_nothing():
    correction = correct(PHYSICS, "Bb trumpet", 20.0)
    assert correction.moves[0].move_mm == 0.0
    assert correction.notices == ()
    assert correction.decision.action is Action.LEAVE


def kinds(correction):
    return [(notice.kind, notice.slide or notice.side) for notice in correction.notices]


def test_travel_and_stuck_slides_are_told():
    correction = correct(
        HOT, "double horn", 33, at={"main": 12, "F": 8}, travel={"main": 25}, stuck=["F", "Bb"]
    )
    assert (About.END_OF_TRAVEL, "main") in kinds(correction)
    assert (About.STUCK, "F") in kinds(correction)
    remaining = next(n for n in correction.notices if n.kind is About.REMAINING and n.side == "F")
    assert remaining.value == correction.remaining_cents["F"] > 0


def test_a_push_from_an_unknown_position_is_told():
    correction = correct(Told(-20.0, -22.0, -18.0), "Bb trumpet", 5)
    assert kinds(correction) == [(About.POSITION_UNKNOWN, "main")]
    known = correct(Told(-20.0, -22.0, -18.0), "Bb trumpet", 5, at={"main": 15.0})
    assert known.notices == ()


@pytest.mark.parametrize(
    ("told", "action", "reason"),
    [
        (Told(20.0, 15.0, 25.0), Action.MOVE, Reason.OFF),
        (Told(-5.5, -7.0, -4.0), Action.MOVE, Reason.OFF),
        (Told(4.5, 3.0, 6.0), Action.LEAVE, Reason.IN_TUNE),
        (Told(1.0, -3.0, 5.0), Action.LEAVE, Reason.IN_TUNE),
        (Told(8.0, -6.0, 22.0), Action.LEAVE, Reason.UNSURE),
    ],
)
def test_whether_to_move_is_decided_by_the_rule_of_tonight(told, action, reason):
    decision = correct(told, "Bb trumpet", 21).decision
    assert (decision.action, decision.reason) == (action, reason)
    assert decision.cents == pytest.approx(told.estimate, abs=1e-6)


def test_temperatures_outside_those_measured_are_told():
    told = Told(22.1, 19.8, 24.3, seen=(12.0, 30.0))
    there = correct(told, "Bb trumpet", 33)
    assert there.notices == (Caveat(About.EXTRAPOLATED, value=33.0),)
    assert there.extrapolated
    assert there.to_json()["extrapolated"] is True
    here = correct(told, "Bb trumpet", 25, tuned_celsius=5)
    assert here.notices == (Caveat(About.EXTRAPOLATED, value=5.0),)


def test_minutes_until_warm_come_from_the_fit_or_the_size():
    # 95 % warm is three time constants; small, medium and large are 4.5, 6 and 8 minutes.
    for name, minutes in (("Bb trumpet", 13.5), ("double horn", 18.0), ("BBb tuba", 24.0)):
        # The median of the quasi-random draws of acoustics alone, good to a thousandth.
        found = correct(PHYSICS, name, 25.0).warm_after.estimate
        assert found == pytest.approx(minutes, rel=2e-3)
        assert correct(HOT, name, 25.0).warm_after.estimate == pytest.approx(minutes)
    season = drift.load(drift.shipped.folder("datasets/cold-hall-season"))
    fit = drift.fit(drift.pair(season))
    known = fit.curve("double horn").entries()["warm_up_time_constant_minutes"].estimate
    assert correct(fit, "double horn", 25.0).warm_after.estimate == 3 * known != 18.0


def test_bars_go_the_other_way_and_stay():
    # Rosewood -0.91 cents/°C (one measured bar, second-hand).
    correction = correct(PHYSICS, "rosewood marimba", 30.0)
    assert correction.remaining_cents[""] == pytest.approx(-9.1)
    expected = correction.expected_cents[""]
    assert expected.low < expected.estimate < expected.high < 0
    assert correction.moves == ()
    assert correction.decision.reason is Reason.FIXED_PITCH
    assert correction.notices == ()


def test_a_measured_slide_is_used_and_shown_beside_the_calculated_one():
    measured = {("main", "Bb"): -1.4}
    correction = correct(HOT, "double horn", 33, calibration=measured)
    assert correction.moves[0].move_mm < correct(HOT, "double horn", 33).moves[0].move_mm
    shown = correction.to_json()["calibration"][0]
    assert (shown["cents_per_mm"], shown["calculated"]) == (-1.4, pytest.approx(-1.173, abs=1e-3))
    assert "on the B♭ side -1.40 cents/mm as measured" in correction.summary()


def test_a_model_with_another_common_slide():
    horn = find("double horn").serving("main", ["F"]).serving("Bb", ["F", "Bb"])
    moves = {m.slide: m.move_mm for m in correct(HOT, horn, 33).moves}
    slopes = expected_slopes(horn)
    left = {s: 22.1 + horn.cents_of_moves(s, moves, slopes) for s in ("F", "Bb")}
    assert left == pytest.approx({"F": 0.0, "Bb": 0.0}, abs=1e-6)
    assert moves["Bb"] == pytest.approx(18.96 / 1.10, abs=0.005)


def test_the_table_has_one_row_a_slide():
    frame = correct(HOT, "double horn", 33).to_frame()
    assert list(frame["slide"]) == ["main", "F", "Bb"]
    assert list(correct(HOT, "vibraphone", 33).to_frame().columns) == list(frame.columns)


def test_what_does_not_exist_is_refused():
    with pytest.raises(InstrumentError, match="no instrument 'hron'"):
        correct(HOT, "hron", 33)
    with pytest.raises(InstrumentError, match="has no slide 'third'"):
        correct(HOT, "double horn", 33, at={"third": 3})
    with pytest.raises(ReachError, match="position of slide main is -3 mm"):
        correct(HOT, "double horn", 33, at={"main": -3})


def test_from_python_as_the_readme_says():
    moves = drift.correct(
        PHYSICS, instrument="double horn", celsius=33, minutes=30, at={"main": 12, "F": 8}
    )
    assert moves.moves[0].to_mm > 12


@pytest.mark.parametrize(
    ("conditions", "words"),
    [
        ({"celsius": float("nan")}, "temperature nan °C is not a number"),
        ({"celsius": 30, "minutes": -5}, "-5 minutes of playing are not possible"),
        ({"celsius": 30, "minutes": 1.7e308}, r"1.7e\+308 minutes of playing are not possible"),
        ({"celsius": 30, "tuned_minutes": float("inf")}, "inf minutes of playing"),
        ({"celsius": 30, "tuned_celsius": float("nan")}, "temperature nan °C"),
    ],
)
def test_impossible_conditions_are_refused(conditions, words):
    with pytest.raises(ReachError, match=words):
        correct(PHYSICS, "Bb trumpet", **conditions)


def test_a_slide_that_would_be_further_out_than_most_models_go_is_named():
    trumpet = find("Bb trumpet")
    usual = trumpet.slide("main").usual_travel_mm
    asked = {"celsius": 33.0, "at": {"main": usual - 2.0}}
    found = correct(PHYSICS, "Bb trumpet", **asked)
    assert found.moves[0].to_mm > usual
    assert Caveat(About.BEYOND_USUAL, "main", value=usual) in found.notices
    assert f"of most models comes out about {usual:g} mm: give the travel" in found.summary()
    for known in ({**asked, "travel": {"main": 60.0}}, {**asked, "celsius": 10.0}):
        notices = correct(PHYSICS, "Bb trumpet", **known).notices
        assert About.BEYOND_USUAL not in [one.kind for one in notices]
