"""How sure a pitch is, and whether one player made it: a few sounds here, hundreds in the study.

The bounds follow from what the numbers mean: an error within three standard uncertainties, odds
that rise from one player to two. tests/benchmarks/study_rooms.py judges both on many rooms.
"""

import numpy as np
import pytest

from sensors.quality import DOUBTFUL, FLAGGED, pair_probability
from sensors.tones import Reason, Tone, find_tones
from tests.sounds import Sound, horn, in_noise

RATE = 44_100


@pytest.fixture
def rng() -> np.random.Generator:
    return np.random.default_rng(1876)


def cents(hertz: float, reference: float) -> float:
    return 1200 * float(np.log2(hertz / reference))


def longest(sound: Sound) -> Tone:
    tones, refused = find_tones(sound, RATE)
    assert tones, refused
    return max(tones, key=lambda tone: tone.frames)


@pytest.mark.parametrize("vibrato", [0, 8, 15])
@pytest.mark.parametrize("hertz", [58.3, 233.1, 932.3])
def test_one_player_in_a_dry_room_is_certain(rng, vibrato, hertz):
    tone = longest(in_noise(horn(hertz, rng, vibrato_cents=vibrato), 20, rng))
    assert tone.score < FLAGGED
    assert abs(cents(tone.hertz, hertz)) < 3 * tone.cents_sd


def test_an_unsteady_tone_is_less_sure(rng):
    steady = longest(in_noise(horn(349.2, rng), 20, rng))
    swaying = longest(in_noise(horn(349.2, rng, glide_cents=12), 20, rng))
    assert steady.cents_sd < 0.05 < swaying.cents_sd


@pytest.mark.parametrize("apart", [8, 12, 20])
def test_two_players_beat_in_proportion_to_the_harmonic(rng, apart):
    both = horn(349.2, rng) + 0.7 * horn(349.2 * 2 ** (apart / 1200), rng)
    tones, refused = find_tones(in_noise(both, 20, rng), RATE)
    assert all(tone.score > DOUBTFUL for tone in tones)
    assert tones or refused[0].reason is Reason.PAIR


def test_the_probability_follows_the_odds():
    # Odds of 1 in 19 before, e^s times that after.
    assert pair_probability(0.0) == pytest.approx(0.05)
    assert pair_probability(np.log(19)) == pytest.approx(0.5)
    assert pair_probability(-np.inf) == 0
    assert pair_probability(1e4) == pytest.approx(1)
