"""The sentences of pitch now."""

from dataclasses import dataclass, replace

import numpy as np
import pytest

import drift
from drift.instruments.catalogue import Catalogue
from drift.regression.results import Estimate
from drift.tonight import (
    Action,
    Course,
    Evening,
    NotUsed,
    Reading,
    Reason,
    Surprise,
    know,
    pitch_now,
)
from drift.tonight.decision import Decision
from drift.tonight.following import Expected
from drift.tonight.pitch_now import Ahead, SideNow
from drift.words.cents import deviation, interval, millimetres, signed
from drift.words.tonight import answer, moves_in_words, target_in_words, to_do


@dataclass(frozen=True)
class Moved:
    slide: str
    move_mm: float
    to_mm: float | None = None


@pytest.fixture(scope="module")
def asked():
    horn = Catalogue.shipped().find("double horn")
    known = know(horn, drift.physics().draws("double horn", 50, 1))
    room = Course(np.arange(0.0, 31.0), np.full(31, 22.0), (0.0,))
    return pitch_now(known, Evening(room, (Reading(20.0, "F4", -7.0, "Bb"),)), 30.0)


def told(asked, action, reason, off, *ahead, **more):
    side = SideNow(
        Estimate(*off),
        tuple(
            Ahead(m, Estimate(c, c - 4, c + 4)) for m, c in zip((10.0, 30.0), ahead, strict=True)
        ),
        Decision(action, reason, off[0], 2.0),
        off[0],
    )
    return replace(
        asked, side="Bb", sides={"Bb": side}, decision=side.decision,
        **({"surprises": (), "not_used": {}} | more),
    )  # fmt: skip


def test_in_tune(asked):
    now = told(asked, Action.LEAVE, Reason.IN_TUNE, (2.0, -3.0, 6.0), 3.0, 4.0)
    assert to_do(now) == "Leave the slides. Now 2 sharp (−3 to +6); in 30 minutes 4 sharp."


def test_a_move(asked):
    now = told(
        asked, Action.MOVE, Reason.OFF, (9.0, 6.0, 12.0), 9.0, 9.0,
        moves=(Moved("main", 4.1, 16.1), Moved("F", 0.1, 8.1)),
    )  # fmt: skip
    assert to_do(now) == "Pull the main slide out 4 mm, to 16. You are 9 sharp (6 to 12)."


def test_a_move_in_half_millimetres_whole_ones_and_none_at_all():
    moves = (Moved("barrel", -1.3), Moved("F", 0.2))
    assert moves_in_words(moves) == "Push the barrel in 1.5 mm."
    assert moves_in_words(moves, 1.0) == "Push the barrel in 1 mm."
    assert moves_in_words((Moved("Bb", 4.0, 4.0),)) == "Pull the B♭ slide out 4 mm, to 4."
    assert moves_in_words(()) == ""


def test_still_warming_up(asked):
    now = told(asked, Action.LEAVE, Reason.WARMING_UP, (-12.0, -16.0, -8.0), -2.0, 0.0)
    assert to_do(now) == (
        "12 flat now, but still warming up: 2 flat in 10 minutes. Leave the slides."
    )


def test_unsure_and_nothing_read(asked):
    off = (1.0, -6.0, 9.0)
    unsure = told(asked, Action.READ, Reason.UNSURE, off, 1.0, 1.0)
    assert to_do(unsure) == "Take a reading first: anywhere from 6 flat to 9 sharp."
    nothing = told(asked, Action.READ, Reason.NO_READING, off, 1.0, 1.0)
    assert to_do(nothing) == (
        "Take a reading first: nothing was read tonight. Anywhere from 6 flat to 9 sharp."
    )


def test_nothing_to_move(asked):
    now = told(asked, Action.LEAVE, Reason.FIXED_PITCH, (9.0, 6.0, 12.0), 9.0, 10.0)
    assert to_do(now).startswith("Nothing can be moved. Now 9 sharp (6 to 12)")


def test_surprises_come_first_and_readings_not_used_last(asked):
    last = Expected(Reading(20.0, "F4", -7.0, "Bb"), 11.0, 3.0)
    now = told(
        asked, Action.READ, Reason.SURPRISE, (1.0, -6.0, 9.0), 1.0, 1.0, last=last,
        surprises=(Surprise.UNEXPECTED, Surprise.WATCHING), not_used={NotUsed.NO_SIDE: 9},
    )  # fmt: skip
    assert answer(now) == [
        "You read F4 7 flat; 11 sharp was expected: check where the slide is, and read once more.",
        "Your readings move only half as much as the air asks: "
        "look away from the tuner while you play.",
        "Take a reading first: anywhere from 6 flat to 9 sharp.",
        "9 readings not used: no side named.",
    ]


def test_a_jump(asked):
    now = told(
        asked, Action.MOVE, Reason.OFF, (9.0, 6.0, 12.0), 9.0, 9.0, surprises=(Surprise.JUMPED,)
    )
    assert answer(now)[0] == (
        "Your readings have jumped: a slide must have moved. Say where it is."
    )


def test_perhaps_a_jump(asked):
    now = told(
        asked, Action.LEAVE, Reason.IN_TUNE, (0.0, -3.0, 3.0), 0.0, 0.0,
        surprises=(Surprise.SHIFTED,),
    )  # fmt: skip
    assert answer(now)[0] == "Your readings may have shifted: check where the slide is."


@pytest.mark.parametrize("reason", list(NotUsed))
def test_every_reason_of_silence_has_words(asked, reason):
    now = told(
        asked, Action.LEAVE, Reason.IN_TUNE, (0.0, -3.0, 3.0), 0.0, 0.0, not_used={reason: 1}
    )
    assert answer(now)[-1].startswith("1 reading not used: ")


def test_the_target():
    assert target_in_words(Estimate(30.0, 22.0, 38.0), "in the cold") == (
        "In this room let the tuner show 30 sharp (22 to 38): in the cold it will be right."
    )
    assert "let the tuner show 0 (−3 to +3)" in target_in_words(Estimate(0.2, -3.0, 3.0))


def test_numbers():
    assert [signed(c) for c in (5.6, -5.6, 0.4)] == ["+6", "−6", "0"]
    assert [deviation(c) for c in (5.6, -5.6, -0.4)] == ["6 sharp", "6 flat", "in tune"]
    assert interval(Estimate(-2.0, -6.2, -0.2)) == "−6 to 0"
    assert [millimetres(mm) for mm in (4.0, -4.26)] == ["4 mm", "4.5 mm"]
