"""Two channels of one recording: a mean, the larger score, and a refusal that counts for both."""

import numpy as np
import pytest

from sensors.channels import ChannelFinder, together
from sensors.segments import Reason, Refusal, Tone
from tests.sounds import horn, in_noise

RATE = 44_100


def tone(start_s: float, hertz: float, score: float = -5.0) -> Tone:
    return Tone(start_s, start_s + 2, hertz, 1.0, 74, 0.1, score)


def test_tones_of_one_note_become_one_with_the_larger_score():
    (one,) = together([[tone(1.0, 440.0)], [tone(1.1, 440.4, -1.0)]])
    assert one.hertz == pytest.approx(440.2, abs=1e-3)
    assert one.score == -1.0
    assert (one.start_s, one.end_s) == (1.0, 3.1)


def test_tones_of_other_notes_or_times_stay_apart():
    assert len(together([[tone(1.0, 440.0)], [tone(1.0, 466.2)]])) == 2
    assert len(together([[tone(1.0, 440.0)], [tone(5.0, 440.0)]])) == 2


def test_two_players_in_one_channel_are_two_players():
    pair = Refusal(1.0, 3.0, Reason.PAIR)
    assert together([[tone(1.0, 440.0)], [pair]]) == [pair]


def test_what_one_channel_refuses_and_another_hears_is_not_refused():
    dull = Refusal(1.0, 3.0, Reason.NO_PITCH)
    assert together([[dull], [tone(1.0, 440.0)]]) == [tone(1.0, 440.0)]
    assert together([[dull], [dull]]) == [dull]


def test_channels_upside_down_are_heard_where_their_mean_is_silent():
    rng = np.random.default_rng(4)
    sound = in_noise(horn(233.1, rng), 30, rng)
    finder = ChannelFinder(RATE, 2)
    finder.hear(np.column_stack([sound, -sound]))
    (found,) = (item for item in finder.finish() if isinstance(item, Tone))
    assert found.hertz == pytest.approx(233.1, rel=1e-5)
