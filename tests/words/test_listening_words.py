"""What was heard, in words: the sentence says what helps, and how sure the pitch is."""

import pytest

from drift.capture.heard import Declined, Heard, Why
from drift.instruments import find
from drift.words.listening import describe_heard, describe_refusal, describe_verdict
from sensors.segments import Reason, Refusal, Tone


def heard(score: float, side: str = "") -> Heard:
    return Heard(Tone(1.0, 3.0, 349.6, 1.0, 74, 0.12, score), "F4", 1.84, side)


def test_a_reading_on_one_line():
    assert describe_heard(heard(-5.0, "Bb")) == "F4 +1.8 cents on the B\u266d side"


def test_one_player_is_told_how_good_the_pitch_is():
    assert describe_verdict(heard(-5.0)) == "One player; pitch good to \u00b10.24 cents."


@pytest.mark.parametrize(
    ("score", "alone", "beginning"),
    [
        (-1.0, False, "Probably one player in a live room; counted"),
        (0.0, False, "Maybe two players, or strong echo; this note counts little."),
        (0.0, True, "No pitch given: two players or strong echo. Play alone"),
    ],
)
def test_doubt_says_what_helps(score, alone, beginning):
    assert describe_verdict(heard(score), alone=alone).startswith(beginning)


def test_every_reason_has_words():
    for reason in Reason:
        assert describe_refusal(Refusal(0.0, 1.0, reason))
    for why in Why:
        assert "F4" in describe_refusal(Declined(0.0, 1.0, why, "F4", 47.0, find("double horn")))
