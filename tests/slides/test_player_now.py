"""Pitch now with slides and millimetres."""

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

import drift
from drift.instruments import find
from drift.logbook.folders import Folder
from drift.logbook.records import Event, Reading, Temperature
from drift.logbook.rehearsals import of_folder
from drift.slides.player_now import answer_now, know_player
from drift.tonight import Action, Reason
from drift.tonight.conditions import Conditions
from drift.tonight.logged import evening_of
from drift.words.now import around, basis, in_words
from drift.words.tonight import to_do

START = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)
TRUMPET = find("Bb trumpet")
PHYSICS = drift.physics()


def now_with(*cents, instrument="Bb trumpet", note="Bb4", a4_hz=None):
    """Half an hour of playing at 20 °C, readings a minute apart at its end, main slide at 12."""
    kind = find(instrument)
    records = [Event(START, "hall", "", "play"), Event(START, "hall", "Ben", "slide", "main", 12.0)]
    if not kind.slides:
        records.pop()
    records += [Temperature(START + timedelta(minutes=m), "hall", 20.0) for m in range(0, 36, 5)]
    for number, one in enumerate(cents):
        when = START + timedelta(minutes=30 + number)
        records.append(Reading(when, "hall", "Ben", instrument, "", note, one))
    logged = evening_of(
        of_folder(Folder(tuple(records), ())), "hall", "Ben", kind, START + timedelta(minutes=35)
    )
    knowledge = know_player(PHYSICS, "Ben", kind, logged.notes, {})
    return answer_now(logged, PHYSICS, knowledge, "Ben", START + timedelta(minutes=35), a4_hz)


def test_before_the_first_reading_a_player_is_expected_at_the_a4_that_was_set():
    usual, high = now_with().pitch.off_cents, now_with(a4_hz=442.0).pitch.off_cents
    assert high.estimate == pytest.approx(usual.estimate, abs=1e-6)
    assert (high.low, high.high) == pytest.approx((usual.low, usual.high), abs=1e-6)


def test_a_sharp_player_pulls_out_about_as_far_as_the_readings_ask():
    found = now_with(20.0, 21.0, 19.0, 20.0)
    assert found.pitch.decision.action is Action.MOVE
    (move,) = found.pitch.moves
    assert move.from_mm == 12.0
    assert move.to_mm == pytest.approx(12.0 + move.move_mm)
    assert 0.0 < move.low_mm < move.move_mm < move.high_mm
    # 20 cents take 8.6 mm of a plain tube; on real bores a slide does more (less is to move).
    calculated = -20.0 / TRUMPET.cents_per_mm("", "main")
    assert 0.6 * calculated < move.move_mm < 1.1 * calculated
    text = "\n".join(in_words(found))
    assert text.startswith("Ben, B♭ trumpet: 20.0 °C, 35 min played (playing)")
    assert "Pull the main slide out" in text
    assert text.endswith(
        "from 4 readings of tonight and acoustics; earlier rehearsals: too few readings yet"
    )
    after_others = replace(found, earlier_readings=55)
    assert in_words(after_others)[-1] == (
        "from 4 readings of tonight, 55 of earlier rehearsals and acoustics"
    )
    assert in_words(now_with())[-1] == "from acoustics alone: too few readings yet"


def test_before_any_playing_it_says_so():
    waiting = replace(now_with(), conditions=Conditions(20.0))
    assert around(waiting) == "20.0 °C, not played yet"
    assert not waiting.to_json()["playing"]
    just = replace(waiting, conditions=Conditions(20.0, minutes_into_period=0.2))
    assert around(just) == "20.0 °C, 0 min played (playing)"


def test_a_flat_player_pushes_in():
    (move,) = now_with(-20.0, -21.0, -19.0, -20.0).pitch.moves
    assert move.move_mm < 0.0


def test_in_tune_nothing_moves():
    found = now_with(0.0, 1.0, -1.0, 0.0, 0.0)  # four leave 0.255 of being off: above the 0.25
    assert (found.pitch.decision.action, found.pitch.moves) == (Action.LEAVE, ())
    assert any("Leave the slides." in line for line in in_words(found))


def test_without_a_reading_one_is_asked_for():
    found = now_with()
    assert found.pitch.decision.reason is Reason.NO_READING
    assert found.pitch.moves == ()


def test_the_answer_is_strict_json():
    answer = json.loads(json.dumps(now_with(20.0, 21.0, 19.0).to_json(), allow_nan=False))
    assert answer["player"] == "Ben"
    assert answer["decision"] == "move"
    assert answer["moves"][0]["move_mm"]["estimate"] > 0.0
    assert answer["time"].endswith("Z")
    assert answer["earlier_readings"] == 0
    assert answer["extrapolated"] is False


def test_one_reading_is_one():
    assert basis(1) == "1 reading and acoustics"


HORN = find("double horn")
SIDE_NOTES = {"Bb": ("F4", "Bb3", "F3"), "F": ("F4", "C4", "A3")}


def horn_now(*, at, **cents):
    """A double horn warmed up at 20 °C, each side read so often, with slides where they are."""
    records = [Event(START, "hall", "", "play")]
    records += [Event(START, "hall", "Ben", "slide", name, mm) for name, mm in at.items()]
    records += [Temperature(START + timedelta(minutes=m), "hall", 20.0) for m in range(0, 36, 5)]
    read = [
        (side, *one) for side in cents for one in zip(SIDE_NOTES[side], cents[side], strict=False)
    ]
    for number, (side, note, value) in enumerate(read):
        when = START + timedelta(minutes=30 + 0.7 * number)
        records.append(Reading(when, "hall", "Ben", "double horn", side, note, value))
    end = START + timedelta(minutes=35)
    logged = evening_of(of_folder(Folder(tuple(records), ())), "hall", "Ben", HORN, end)
    knowledge = know_player(PHYSICS, "Ben", HORN, logged.notes, {})
    return answer_now(logged, PHYSICS, knowledge, "Ben", end).pitch


AT = {"main": 15.0, "F": 8.0, "Bb": 2.0}


def test_a_side_that_is_not_known_well_is_kept_where_it_is_and_no_more():
    """The F slide makes up for the main slide; what nobody is sure of is not moved."""
    pitch = horn_now(at=AT, Bb=(-14.0, -15.0, -16.0), F=(0.0,))
    assert pitch.sides["F"].decision.action is Action.READ
    moves = {move.slide: move for move in pitch.moves}
    assert moves["main"].move_mm < 0.0 < moves["F"].move_mm
    assert moves["F"].makes_up_for == "main"
    lines = to_do(pitch)
    assert lines[1].endswith(": this makes up for the main slide going in.")
    assert not any("will most likely decide" in line for line in lines)


@pytest.mark.parametrize("f_cents", [(14.0, 15.0, 13.0), (8.0, 9.0, 8.0)])
def test_a_side_that_is_not_known_well_has_no_move_where_the_other_does_without(f_cents):
    pitch = horn_now(at=AT, Bb=(4.0,), F=f_cents)
    assert pitch.sides["Bb"].decision.action is Action.READ
    assert [move.slide for move in pitch.moves] == ["F"]
    first, second = to_do(pitch)
    assert first.startswith("B♭ side not sure yet: ")
    assert "Pull the F slide out" in second


def test_the_main_slide_goes_in_for_a_flat_side_whose_own_slide_is_in():
    pitch = horn_now(at={**AT, "F": 0.0}, Bb=(0.0,), F=(-14.0, -15.0, -13.0))
    moves = {move.slide: move for move in pitch.moves}
    assert moves["main"].move_mm < 0.0
    assert moves["Bb"].makes_up_for == "main"
    assert not any("will most likely decide" in line for line in to_do(pitch))


def test_a_side_that_is_in_tune_enough_keeps_the_slide_that_both_share():
    pitch = horn_now(
        at={"main": 12.0, "F": 5.0, "Bb": 0.0}, Bb=(2.0, 3.0, 2.0), F=(14.0, 15.0, 14.0)
    )
    assert pitch.sides["Bb"].decision.action is Action.LEAVE
    assert pitch.sides["Bb"].off_cents.estimate > 0.7  # a millimetre would be asked for it alone
    assert [move.slide for move in pitch.moves] == ["F"]
    first, second = to_do(pitch)
    assert first.endswith("Leave it.")
    assert "Pull the F slide out" in second


def test_one_line_for_both_sides_only_where_it_is_right_for_both():
    """The number of one side must lie in the interval of the other."""
    near = horn_now(at=AT, Bb=(0.0, 0.0, 0.0), F=(1.0, 1.0, 1.0))
    off = horn_now(at=AT, Bb=(0.0, 0.0, 0.0), F=(5.0, 5.0, 5.0))
    for pitch in (near, off):
        assert {side.decision.action for side in pitch.sides.values()} == {Action.LEAVE}
    assert not near.apart
    bb, f = (off.sides[side].off_cents for side in ("Bb", "F"))
    assert f.estimate - bb.estimate < 5.0
    assert f.estimate > bb.high
    assert off.apart
    assert len(to_do(off)) == 2
