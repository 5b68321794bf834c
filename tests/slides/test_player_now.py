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
from drift.tonight.logged import evening_of
from drift.words.now import basis, in_words

START = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)
TRUMPET = find("Bb trumpet")
PHYSICS = drift.physics()


def now_with(*cents, instrument="Bb trumpet", note="Bb4"):
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
    return answer_now(logged, PHYSICS, knowledge, "Ben", START + timedelta(minutes=35))


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
