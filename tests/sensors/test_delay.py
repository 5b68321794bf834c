"""How late a microphone hears, in a room whose delays are known."""

import numpy as np
import pytest
from scipy import signal

from sensors.delay import arrival, measure_delay, sent_tone
from sensors.errors import SourceUnavailable
from tests.studio import Studio


@pytest.mark.slow
@pytest.mark.parametrize(
    ("how", "seconds"),
    [
        ({}, 0.13),
        ({"delay_s": 0.9}, 0.9),
        ({"output_s": 0.25}, 0.13),  # the output's own account is taken off
        ({"opening_s": 0.3}, 0.43),  # sound that came in before it was thought to begin
        ({"noise": 0.05}, 0.13),  # as loud as the tone
        ({"level": 0.02, "noise": 1e-4}, 0.13),
        ({"rate": 8000}, 0.13),
        ({"rate": 48_000}, 0.13),
        ({"echoes": ((0.02, 0.8), (0.05, 1.2), (0.3, 0.6))}, 0.13),
    ],
)  # fmt: skip
def test_the_delay_is_found_to_a_millisecond(how, seconds):
    studio = Studio(**how)
    delay = measure_delay(studio.open, studio, studio)
    assert delay.seconds == pytest.approx(seconds, abs=0.001)
    assert delay.spread_s < 0.002
    assert studio.opened == 3, "each time as an evening begins"


def test_the_note_is_heard_where_it_was_sent():
    studio = Studio()
    assert measure_delay(studio.open, studio, studio).cents == pytest.approx(0, abs=0.01)
    flat = Studio(detune_cents=-3.5)
    assert measure_delay(flat.open, flat, flat, times=1).cents == pytest.approx(-3.5, abs=0.05)


def test_an_echo_louder_than_the_tone_leaves_its_pitch_out_not_its_time():
    rng = np.random.default_rng(3)
    tail = tuple((float(late), 0.25 * np.exp(-2 * late)) for late in rng.uniform(0, 1.5, 120))
    studio = Studio(echoes=tail)
    delay = measure_delay(studio.open, studio, studio, times=1)
    assert delay.seconds == pytest.approx(0.13, abs=0.01)
    assert delay.cents is None or abs(delay.cents) < 3


@pytest.mark.parametrize("how", [{"level": 0.0}, {"level": 0.0, "noise": 0.0}, {"level": 1e-4}])
def test_a_tone_that_does_not_arrive_is_refused(how):
    studio = Studio(**how)
    with pytest.raises(SourceUnavailable, match="the test tone was not heard") as refusal:
        measure_delay(studio.open, studio, studio)
    assert "headphones" in refusal.value.remedy


def test_a_microphone_without_sound_is_named():
    class Mute(Studio):
        def __iter__(self):
            while True:
                self.time += 1.0
                yield None

    studio = Mute()
    with pytest.raises(SourceUnavailable, match="gives no sound"):
        measure_delay(studio.open, studio, studio)


@pytest.mark.parametrize("seed", range(8))
def test_noise_and_music_are_no_test_tone(seed):
    rng = np.random.default_rng(seed)
    time = np.arange(5 * 16_000) / 16_000
    hertz = 440 * 2 ** (rng.integers(-12, 12, 10) / 12)
    tune = np.sin(2 * np.pi * np.cumsum(np.repeat(hertz, time.size // 10)) / 16_000)
    glide = signal.chirp(time, 500, 5, 2500)
    for sound in (rng.normal(size=time.size), tune, glide, tune + rng.normal(size=time.size)):
        assert arrival(sound, 16_000) is None
    assert arrival(np.zeros(100), 16_000) is None


def test_the_tone_is_soft():
    assert np.abs(sent_tone(44_100)).max() <= 0.1
