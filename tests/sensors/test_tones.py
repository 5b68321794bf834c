"""Steady tones: how right they are, and what is refused.

The tolerances are the accuracy promised for a tone: 0.05 cents from F3 (174.6 Hz) up and 0.2
below at 20 dB of signal over white noise in the whole band, 0.1 with vibrato of 8 cents, 0.2 with
15, one cent at 5 dB. Few sounds are made here; hundreds in tests/benchmarks/bench_tones.py.
"""

import numpy as np
import pytest

from sensors.errors import RecordingError
from sensors.segments import mean_pitch
from sensors.tones import Reason, Refusal, Tone, ToneFinder, find_tones
from tests.sounds import (
    FRENCH_HORN,
    SOUND_FONT,
    TROMBONE,
    TRUMPET,
    TUBA,
    Played,
    Sound,
    added,
    horn,
    hum,
    in_noise,
    needs,
    noise,
    sampled,
    speech,
)

RATE = 44_100


@pytest.fixture
def rng() -> np.random.Generator:
    return np.random.default_rng(1815)


def cents(hertz: float, reference: float) -> float:
    return 1200 * float(np.log2(hertz / reference))


def the_tone(sound: Sound, rate: int = RATE) -> Tone:
    tones, refused = find_tones(sound, rate)
    assert len(tones) == 1, (tones, refused)
    return tones[0]


def reasons(sound: Sound, rate: int = RATE) -> set[str]:
    tones, refused = find_tones(sound, rate)
    assert not tones
    return {item.reason for item in refused}


@pytest.mark.parametrize(
    ("snr_db", "vibrato", "below", "above"),
    [(20, 0, 0.2, 0.05), (20, 8, 0.2, 0.1), (20, 15, 0.2, 0.2), (5, 0, 1.0, 1.0)],
)
def test_a_horn_like_tone_is_measured_within_its_promise(rng, snr_db, vibrato, below, above):
    for hertz in (43.65, 58.27, 87.3, 116.5, 174.6, 233.1, 349.2, 523.3, 932.3, 1480.0, 2093.0):
        sound = in_noise(horn(hertz, rng, vibrato_cents=vibrato), snr_db, rng)
        tone = the_tone(sound)
        assert abs(cents(tone.hertz, hertz)) < (above if hertz > 174 else below), hertz


@pytest.mark.parametrize("rate", [8000, 11_025, 16_000, 22_050, 48_000, 96_000, 192_000])
def test_every_sample_rate_gives_the_same_pitch(rng, rate):
    for hertz in (87.3, 349.2, 1568.0):
        tone = the_tone(in_noise(horn(hertz, rng, rate=rate), 20, rng, rest=rate // 4), rate)
        assert abs(cents(tone.hertz, hertz)) < 0.05


def test_the_bounds_the_spread_and_the_frames_are_told(rng):
    tone = the_tone(in_noise(horn(349.2, rng, vibrato_cents=10), 20, rng))
    assert tone.start_s == pytest.approx(0.3, abs=0.08)  # a frame is 0.1 s long
    assert tone.end_s == pytest.approx(2.3, abs=0.08)
    # A sine of 10 cents has a standard deviation of 7.07; frames of 0.1 s smooth a sixth away.
    assert 5.0 < tone.spread_cents < 7.5
    assert tone.frames == pytest.approx(40 * (tone.end_s - tone.start_s) - 6, abs=2)


def test_a_pure_tone_in_silence_has_no_spread():
    time = np.arange(2 * RATE) / RATE
    tone = the_tone((0.3 * np.sin(2 * np.pi * 440 * time)).astype(np.float32))
    assert abs(cents(tone.hertz, 440)) < 0.001
    assert tone.spread_cents < 0.01


def test_a_missing_fundamental_and_missing_even_harmonics_change_no_octave(rng):
    time = np.arange(2 * RATE) / RATE
    for orders in ((2, 3, 4, 5, 6), (1, 3, 5, 7), (1,), (1, 2), (1, 4), (3, 4, 5, 6, 7, 8)):
        for hertz in (65.4, 116.5, 311.1):
            sound = sum(np.sin(2 * np.pi * hertz * h * time + h) for h in orders)
            tone = the_tone(in_noise(np.asarray(sound, dtype=np.float32), 20, rng))
            assert abs(cents(tone.hertz, hertz)) < 0.2, (orders, hertz)


def test_two_tones_come_in_order_and_on_time(rng):
    sound = np.concatenate([in_noise(horn(f, rng), 25, rng) for f in (233.1, 349.2)])
    tones, _ = find_tones(sound, RATE)
    assert [round(tone.hertz, 1) for tone in tones] == [233.1, 349.2]
    assert tones[1].start_s == pytest.approx(2.9, abs=0.08)


def test_cutting_the_stream_differently_changes_nothing(rng):
    sound = np.concatenate([in_noise(horn(f, rng, vibrato_cents=5), 20, rng) for f in (98, 587)])
    whole = ToneFinder(RATE)
    expected = [*whole.hear(sound), *whole.finish()]
    assert sum(isinstance(item, Tone) for item in expected) == 2
    for size in (311, 8192, 70_001):
        finder = ToneFinder(RATE)
        heard = [
            item for at in range(0, sound.size, size) for item in finder.hear(sound[at : at + size])
        ]
        assert [*heard, *finder.finish()] == expected


def test_small_batches_for_live_sound_give_the_same_tones(rng):
    sound = np.concatenate([in_noise(horn(f, rng), 20, rng) for f in (98, 587)])
    finder = ToneFinder(RATE, frames_at_once=8)
    live = [item for item in [*finder.hear(sound), *finder.finish()] if isinstance(item, Tone)]
    for mine, theirs in zip(live, find_tones(sound, RATE)[0], strict=True):
        assert mine.hertz == pytest.approx(theirs.hertz, rel=1e-6)


def test_channels_are_averaged(rng):
    sound = in_noise(horn(349.2, rng), 20, rng)
    both = np.column_stack([1.5 * sound, 0.5 * sound])
    assert the_tone(both).hertz == pytest.approx(the_tone(sound).hertz, rel=1e-9)


def test_a_fast_clock_is_a_constant_number_of_cents(rng):
    sound = in_noise(horn(349.2, rng), 20, rng)
    plain = the_tone(sound).hertz
    corrected = find_tones(sound, RATE, clock_ppm=100)[0][0].hertz
    # 1200 log2(1 + 1e-4), by hand.
    assert cents(corrected, plain) == pytest.approx(0.17312, abs=1e-4)


def test_the_mean_of_frames_leaves_outliers_out_and_tells_their_spread():
    hertz = np.full(40, 440.0) * 2 ** (np.tile([1.0, -1.0], 20) / 1200)
    hertz[20] *= 2 ** (40 / 1200)
    mean, spread = mean_pitch(hertz)
    assert abs(cents(mean, 440)) < 0.06
    assert spread == pytest.approx(np.sqrt((39 + 41**2) / 40), rel=0.05)


@pytest.mark.parametrize("rise_db", [10, 20, 30])
def test_a_crescendo_is_one_tone_with_the_weight_of_its_loud_part(rng, rise_db):
    sound = horn(349.2, rng, seconds=4.0)
    sound = sound * 10 ** (np.linspace(-rise_db, 0, sound.size) / 20)
    tone = the_tone(in_noise(sound.astype(np.float32), 30, rng))
    assert tone.end_s == pytest.approx(4.3, abs=0.08)
    assert abs(cents(tone.hertz, 349.2)) < 0.05


def test_a_note_that_is_held_through_a_dip_is_one_reading(rng):
    sound = horn(349.2, rng, seconds=6.0, vibrato_cents=6)
    dip = 1 - 0.9 * np.exp(-(((np.arange(sound.size) / RATE - 3) / 0.15) ** 2))
    tone = the_tone(in_noise((dip * sound).astype(np.float32), 30, rng))
    assert tone.end_s - tone.start_s == pytest.approx(6.0, abs=0.15)


# -- refusals -----------------------------------------------------------------------------------


def test_silence_is_refused():
    assert reasons(np.zeros(5 * RATE, dtype=np.float32)) == {Reason.SILENCE}
    tones, refused = find_tones(np.zeros(0), RATE)
    assert (tones, refused) == ([], [])


@pytest.mark.parametrize("slope", [0, 1, 2])
def test_noise_is_refused(rng, slope):
    assert Reason.NO_PITCH in reasons(noise(60, rng, slope=slope))


@pytest.mark.parametrize("mains", [50, 60])
@pytest.mark.parametrize("level", [0.0, 0.03, 0.2])
def test_mains_hum_is_refused(rng, mains, level):
    assert reasons(hum(40, mains, rng) + level * noise(40, rng))


@pytest.mark.parametrize("mains", [50, 60])
def test_a_short_hum_is_called_by_its_name(rng, mains):
    assert Reason.MAINS in reasons(hum(5, mains, rng))


def test_a_tone_over_hum_is_still_taken(rng):
    sound = 0.3 * in_noise(horn(349.2, rng), 30, rng)
    tone = the_tone(sound + 0.05 * hum(3, 50, rng)[: sound.size])
    assert abs(cents(tone.hertz, 349.2)) < 0.2


@pytest.mark.parametrize(("voice", "speed"), [("en", 150), ("de", 110), ("fr", 90)])
def test_speech_is_refused(voice, speed):
    needs("espeak-ng")
    text = "Good evening. Tune to the horn, please. Oooh, moooore, loooong notes, hmmmm. " * 4
    sound, rate = speech(text, voice=voice, words_per_minute=speed)
    assert sound.size > 15 * rate
    assert reasons(sound, rate)


def test_a_short_note_is_refused(rng):
    assert Reason.SHORT in reasons(in_noise(horn(349.2, rng, seconds=0.6), 20, rng))
    the_tone(in_noise(horn(349.2, rng, seconds=0.9), 20, rng))


@pytest.mark.parametrize("slide", [40, -100, 300, 1200])
def test_a_slide_between_notes_is_refused(rng, slide):
    assert Reason.GLIDES in reasons(in_noise(horn(233.1, rng, glide_cents=slide), 20, rng))


def test_a_scoop_into_a_note_is_left_out(rng):
    scoop = horn(330.0, rng, seconds=0.4, glide_cents=98)
    sound = np.concatenate([scoop[: -RATE // 20], horn(349.2, rng)[RATE // 20 :]])
    assert abs(cents(the_tone(in_noise(sound, 25, rng)).hertz, 349.2)) < 0.5


@pytest.mark.slow
def test_a_drone_is_refused_to_its_end(rng):
    assert reasons(in_noise(horn(233.1, rng, seconds=55), 20, rng)) >= {Reason.LONG}


def test_clipping_is_refused(rng):
    sound = 4 * in_noise(horn(349.2, rng), 30, rng)
    assert Reason.CLIPPED in reasons(np.clip(sound, -1, 1))
    loud = sound / np.abs(sound).max()
    assert abs(cents(the_tone(loud).hertz, 349.2)) < 0.05


@pytest.mark.slow
@pytest.mark.parametrize("apart", [*range(100, 1200, 100), -300, -500, 1212, 40])
@pytest.mark.parametrize("hertz", [110.0, 349.2])
def test_two_notes_are_refused_when_the_second_is_6_db_below(rng, apart, hertz):
    both = horn(hertz, rng) + 0.5 * horn(hertz * 2 ** (apart / 1200), rng)
    assert reasons(in_noise(both, 20, rng)) & {Reason.CHORD, Reason.LOW, Reason.OCTAVE, Reason.PAIR}


def test_a_phantom_fundamental_of_a_fifth_is_refused(rng):
    """F4 and C5 have F3 as common fundamental, which nobody plays."""
    both = horn(349.2, rng) + horn(349.2 * 1.5, rng)
    assert reasons(in_noise(both, 30, rng)) & {
        Reason.CHORD,
        Reason.OCTAVE,
    }


@pytest.mark.parametrize("hertz", [4400.0, 4700.0])
def test_above_c8_nothing_is_taken(rng, hertz):
    assert not reasons(in_noise(horn(hertz, rng), 25, rng)) & {Reason.CHORD}


@pytest.mark.parametrize("hertz", [2349.3, 2960.0, 3136.0])
@pytest.mark.parametrize("rate", [8000, 11_025])
def test_at_a_low_sample_rate_a_note_above_c7_is_called_so(rng, hertz, rate):
    time = np.arange(2 * rate) / rate
    sound = in_noise(np.sin(2 * np.pi * hertz * time).astype(np.float32), 40, rng, rest=rate)
    assert Reason.HIGH in reasons(sound, rate)


def test_a_faint_whistle_of_electronics_is_silence(rng):
    assert reasons(in_noise(added(4186.0, 1.0, 1), 30, rng, level=5e-5)) == {Reason.SILENCE}


def test_a_section_is_no_pair_when_it_is_asked_for(rng):
    both = in_noise(horn(349.2, rng) + 0.7 * horn(351.2, rng), 20, rng)
    assert all(tone.pair_probability > 0.05 for tone in find_tones(both, RATE)[0])
    tones, _ = find_tones(both, RATE, sections=True)
    assert tones[0].pair_probability == 0
    assert abs(cents(tones[0].hertz, 349.2)) < 10  # between the two players, 9.9 cents apart


# -- sampled instruments --------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize(
    ("program", "midi"), [(FRENCH_HORN, 53), (TRUMPET, 60), (TROMBONE, 53), (TUBA, 41)]
)
def test_differences_between_renders_of_a_sampled_instrument_come_out(program, midi):
    """FluidSynth rounds a pitch to whole cents, so whole ones are asked of it."""
    needs("fluidsynth", str(SOUND_FONT))
    pitches = []
    for offset in (0, 5, 20):
        sound = sampled([Played(0.3, 2.2, midi, offset, program)])
        tones, _ = find_tones(sound, RATE, sections=program == FRENCH_HORN)
        pitches.append(max(tones, key=lambda tone: tone.frames).hertz)
    found = [cents(pitch, pitches[0]) for pitch in pitches[1:]]
    np.testing.assert_allclose(found, [5, 20], atol=0.2)


def test_tuning_notes_are_found_among_band_music():
    needs("fluidsynth", str(SOUND_FONT))
    rng = np.random.default_rng(4)
    chords = [
        Played(3.5 + step, 0.98, root + above, int(rng.integers(-10, 10)), program, channel)
        for step, root in enumerate(rng.integers(48, 58, 10))
        for channel, (above, program) in enumerate(
            [(0, TROMBONE), (7, TROMBONE), (12, FRENCH_HORN), (16, TRUMPET)]
        )
    ]
    notes = [
        Played(0.5, 2.0, 53, 0, TROMBONE, 9 + 1),
        *chords,
        Played(15.0, 2.0, 53, 8, TROMBONE, 9 + 1),
    ]
    tones, _ = find_tones(sampled(notes, reverb=True), RATE)
    assert [round(tone.start_s) for tone in tones] == [1, 15]
    assert cents(tones[1].hertz, tones[0].hertz) == pytest.approx(8, abs=0.2)


# -- what is no sound -----------------------------------------------------------------------------


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_a_sample_that_is_no_number_is_named(bad):
    sound = np.zeros(2 * RATE, dtype=np.float32)
    sound[RATE] = bad
    finder = ToneFinder(RATE)
    with pytest.raises(RecordingError, match=r"the sample at 1\.000 s is not a number"):
        list(finder.hear(sound))


@pytest.mark.parametrize("channels", [1, 2])
def test_samples_far_beyond_full_scale_are_refused(channels):
    # As a damaged file of floating point holds them: finite each, infinite in any sum.
    sound = np.full((2 * RATE, channels), 3e38, dtype=np.float32).squeeze()
    with pytest.raises(RecordingError, match=r"the sample at 0\.000 s .* far beyond full scale"):
        list(ToneFinder(RATE).hear(sound))


@pytest.mark.parametrize("rate", [7999, 0, 192_001])
def test_a_sample_rate_outside_the_range_is_refused(rate):
    with pytest.raises(RecordingError, match="outside 8000 to 192000 Hz"):
        ToneFinder(rate)


def test_refusals_for_one_reason_are_told_as_one(rng):
    _, refused = find_tones(noise(20, rng), RATE)
    assert len(refused) == 1
    assert isinstance(refused[0], Refusal)
    # Less than a second without pitch is not told, so the end may be missing.
    assert refused[0].end_s - refused[0].start_s == pytest.approx(20, abs=1.1)


@pytest.mark.parametrize("hertz", [58.27, 87.3, 233.1])
@pytest.mark.parametrize("left", [0.02, 0.0])
def test_a_weak_or_missing_fundamental_changes_nothing(rng, hertz, left):
    weak = added(hertz, 1.0, 8) - (1 - left) * added(hertz, 1.0, 1)
    assert the_tone(in_noise(weak, 40, rng)).hertz == pytest.approx(hertz, abs=0.01)


@pytest.mark.parametrize("rise_db", [20, 40])
def test_a_crescendo_is_one_reading_of_its_loud_part(rng, rise_db):
    note = added(233.1, 1.0, 8)
    louder = note * 10 ** (rise_db / 20 * np.linspace(-1, 0, note.size))
    tone = the_tone(in_noise(louder.astype(np.float32), 40, rng))
    assert abs(cents(tone.hertz, 233.1)) < 0.1
    assert tone.end_s > 2.6, "the loud end is in it"


def test_a_note_with_a_swell_every_two_seconds_is_one_reading(rng):
    sound = horn(233.1, rng, seconds=12.0)
    swell = 10 ** (-10 * (1 + np.cos(np.pi * np.arange(sound.size) / RATE)) / 2 / 20)
    tone = the_tone(in_noise((swell * sound).astype(np.float32), 30, rng))
    assert tone.end_s - tone.start_s == pytest.approx(12, abs=0.5)
    assert abs(cents(tone.hertz, 233.1)) < 0.05


@pytest.mark.parametrize("vibrato", [0, 12])
def test_one_note_held_for_twelve_seconds_is_one_reading(rng, vibrato):
    sound = horn(233.1, rng, seconds=12.0, vibrato_cents=vibrato)
    tone = the_tone(in_noise(sound, 30, rng))
    assert tone.end_s - tone.start_s == pytest.approx(12, abs=0.3)
    assert abs(cents(tone.hertz, 233.1)) < 0.3
