"""The pitch of the last minutes, and what was taken and refused in it."""

import numpy as np
import pytest

from drift.capture.heard import Declined, Wanted, Why, parse_sides
from drift.capture.lately import Condition, Lately
from drift.capture.levels import Level
from drift.capture.proposals import Proposals
from drift.instruments import find
from drift.words.listening import describe_lately
from drift.words.pitch_line import pitch_line
from sensors.tones import Reason, Refusal, ToneFinder
from tests.microphones import BEGAN, RATE, FedMicrophone, FixedClock, played


@pytest.fixture
def heard():
    horn = find("double horn")
    wanted = Wanted(instrument=horn, sides=parse_sides("Bb", horn))
    microphone = FedMicrophone(played(("F4", 5), ("C6", 0), ("Bb3", -12)))
    with Proposals(microphone, wanted, FixedClock()) as live:
        assert microphone.given.wait(30)
        yield live.trace


def test_the_line_follows_the_pitch_and_breaks_between_notes(heard):
    long = [line for line in heard.lines() if line.size > 40]
    assert [float(np.median(heard.cents[line])) for line in long] == pytest.approx(
        [5, 0, -12], abs=0.1
    )
    assert heard.condition is Condition.GOOD


def test_what_was_taken_and_refused_is_listed_with_its_reason(heard):
    lines = describe_lately(heard, BEGAN)
    times = [line.split()[0] for line in lines[:3]]
    assert times == sorted(times)
    assert "taken: F4 +5.0 cents" in lines[0]
    assert "refused: C6 is outside the compass" in lines[1]
    assert "taken: B♭3 -12.0 cents" in lines[2]
    assert lines[-1] == "Level: good."


def test_a_terminal_draws_the_line_with_characters(heard):
    rows = {line[:4].strip(): line[4:] for line in pitch_line(heard)}
    assert "*" in rows["0"]
    assert "*" in rows["-10"]
    assert "*" not in rows["+40"]


def test_what_is_older_than_the_minutes_shown_is_forgotten():
    lately = Lately(seconds=5.0)
    lately.add(Refusal(0.5, 1.0, Reason.SHORT))
    finder = ToneFinder(RATE, watch=lambda frames: lately.take(frames, 440.0))
    list(finder.hear(played(("F4", 5), ("Bb3", 0), ("F4", -5))))
    trace = lately.trace()
    assert trace.items == ()
    assert trace.times_s.min() >= trace.end_s - 5.0


@pytest.mark.parametrize(
    ("level", "refusals", "condition"),
    [
        (Level.SOFT, 0, Condition.SOFT),
        (Level.CLIPPED, 3, Condition.CLIPPED),
        (Level.GOOD, 1, Condition.GOOD),
        (Level.GOOD, 2, Condition.ROOM),
    ],
)
def test_the_level_line_names_what_hinders_most(level, refusals, condition):
    lately = Lately()
    for at in range(refusals):
        echo = Declined(at, at + 1, Why.ALONE, "F4", 3.0) if at else Refusal(0, 1, Reason.PAIR)
        lately.add(echo)
    assert lately.trace(level).condition is condition
