"""How well and how fast tones are found, beside two general pitch trackers in the same run.

    python tests/benchmarks/bench_tones.py [--quick] [--only accuracy,differences,...]

Prints a table for each part. Every sound is made here from a fixed seed; nothing is recorded
from anybody. The two trackers are given the same search range (42 to 2200 Hz), the same 25 ms
steps and the same mean over the same stretch of frames; times are processor seconds of one core.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
os.environ["OMP_NUM_THREADS"] = "1"
os.environ["OPENBLAS_NUM_THREADS"] = "1"
os.environ["MKL_NUM_THREADS"] = "1"
os.environ["NUMBA_NUM_THREADS"] = "1"

import numpy as np
import soundfile

from sensors.frames import HIGHEST_HZ, LOWEST_HZ
from sensors.segments import mean_pitch
from sensors.sound import blocks_of
from sensors.tones import Refusal, Tone, ToneFinder, find_tones
from tests.sounds import (
    CLARINET,
    FRENCH_HORN,
    TROMBONE,
    TRUMPET,
    TUBA,
    Played,
    Sound,
    horn,
    hum,
    in_noise,
    noise,
    sampled,
    speech,
)

RATE = 44_100
STEP_S = 0.025
F1, F3, C7 = 43.65, 174.6, 2093.0

# condition, SNR [dB], vibrato [cents], target below F3, target from F3 up [cents]
CONDITIONS = [
    ("steady, 20 dB", 20, 0, 0.2, 0.05),
    ("vibrato 8 cents, 20 dB", 20, 8, 0.2, 0.1),
    ("vibrato 15 cents, 20 dB", 20, 15, 0.2, 0.2),
    ("steady, 5 dB", 5, 0, 1.0, 1.0),
]


def cents(hertz: float, reference: float) -> float:
    return 1200 * float(np.log2(hertz / reference))


def praat(sound: Sound, rate: int) -> tuple[np.ndarray, np.ndarray]:
    import parselmouth

    track = parselmouth.Sound(sound.astype(float), rate).to_pitch_ac(
        time_step=STEP_S, pitch_floor=LOWEST_HZ, pitch_ceiling=HIGHEST_HZ
    )
    return track.xs(), track.selected_array["frequency"]


def yin(sound: Sound, rate: int) -> tuple[np.ndarray, np.ndarray]:
    import librosa

    hop = round(STEP_S * rate)
    track = librosa.yin(
        sound, fmin=LOWEST_HZ, fmax=HIGHEST_HZ, sr=rate, frame_length=4096, hop_length=hop
    )
    return np.arange(track.size) * hop / rate, track


def over(track: tuple[np.ndarray, np.ndarray], start_s: float, end_s: float) -> float:
    """Return the mean of a tracker over a stretch, as ours is made; NaN without a frame."""
    times, hertz = track
    inside = hertz[(times > start_s + 0.075) & (times < end_s - 0.075) & (hertz > 0)]
    return mean_pitch(inside)[0] if inside.size else float("nan")


def accuracy(quick: bool) -> None:
    count = 20 if quick else 150
    print(f"95th percentile of |error| in cents, {count} tones of 2 s each; [target]")
    print(f"{'':24}{'range':>10}{'found':>9}{'ours':>9}{'target':>8}{'praat ac':>10}{'yin':>9}"
          f"{'octaves (ours, ac, yin)':>26}")  # fmt: skip
    for label, snr, vibrato, low_target, high_target in CONDITIONS:
        for where, low, high, target in (
            ("F1 to F3", F1, F3, low_target),
            ("F3 to C7", F3, C7, high_target),
        ):
            rng = np.random.default_rng(2026)
            errors: list[list[float]] = [[], [], []]
            for _ in range(count):
                pitch = float(low * (high / low) ** rng.uniform())
                sound = in_noise(horn(pitch, rng, vibrato_cents=vibrato), snr, rng)
                tones, _ = find_tones(sound, RATE)
                if len(tones) != 1:
                    continue
                errors[0].append(cents(tones[0].hertz, pitch))
                for mine, tracker in zip(errors[1:], (praat, yin), strict=True):
                    mine.append(cents(over(tracker(sound, RATE), 0.3, 2.3), pitch))
            worst = [np.nanpercentile(np.abs(each), 95) for each in errors]
            octaves = [int(np.sum(np.abs(each) > 50)) for each in np.array(errors)]
            print(f"{label:24}{where:>10}{len(errors[0]):>5}/{count:<3}{worst[0]:9.4f}{target:8.2f}"
                  f"{worst[1]:10.3f}{worst[2]:9.3f}{octaves!s:>26}", flush=True)  # fmt: skip


def differences(quick: bool) -> None:
    """Renders of sampled instruments at whole cents: does the difference come out?

    FluidSynth rounds a pitch to whole cents, so halves cannot be asked of it. The French horn of
    the General MIDI font is a section, several players beating, which is refused unless sections
    are wanted.
    """
    offsets = (0, 7, 20) if quick else (0, 1, 2, 3, 5, 7, 11, 16, 20, 30, 40)
    print("differences between renders of sampled instruments, |error| in cents")
    print(f"{'':22}{'renders':>9}{'95 %':>9}{'worst':>9}{'praat 95 %':>12}")
    for label, program, sections in (
        ("French horn (section)", FRENCH_HORN, True),
        ("trumpet", TRUMPET, False),
        ("trombone", TROMBONE, False),
        ("tuba", TUBA, False),
    ):
        notes = (41, 46, 48, 53, 58, 60, 65) if program != TUBA else (34, 36, 41, 46, 48, 53)
        ours, theirs, missing = [], [], 0
        for note in notes:
            mine, other = [], []
            for offset in offsets:
                sound = sampled([Played(0.3, 2.2, note, offset, program)])
                tones, _ = find_tones(sound, RATE, sections=sections)
                longest = max(tones, key=lambda tone: tone.frames, default=None)
                mine.append(longest.hertz if longest else float("nan"))
                other.append(over(praat(sound, RATE), 0.4, 2.3))
            missing += int(np.isnan(mine).sum())
            for found, into in ((mine, ours), (other, theirs)):
                into += [
                    cents(hertz, found[0]) - offset
                    for hertz, offset in zip(found[1:], offsets[1:], strict=True)
                ]
        errors = np.abs(ours)
        print(f"{label:22}{errors.size:>5} -{missing:<3}{np.nanpercentile(errors, 95):9.3f}"
              f"{np.nanmax(errors):9.3f}{np.nanpercentile(np.abs(theirs), 95):12.3f}",
              flush=True)  # fmt: skip


TEXT = (
    "Good evening. Please take out your parts and tune to the horn. Oooh, no, a little slower at "
    "letter B; once more from bar forty two, and one, and two, and ready. We rehearse the slow "
    "movement first, moooore, loooong notes, hmmmm, then the finale, and home before the rain. "
)


def nothing(quick: bool) -> None:
    seconds = 60 if quick else 600
    rng = np.random.default_rng(7)
    print(f"tones from {seconds} s of sound without a note (must be 0)")
    makers: list[tuple[str, Callable[[], tuple[Sound, int]]]] = [
        ("white noise", lambda: (noise(seconds, rng), RATE)),
        ("pink noise", lambda: (noise(seconds, rng, slope=1), RATE)),
        ("brown noise", lambda: (noise(seconds, rng, slope=2), RATE)),
    ]
    for mains in (50, 60):
        makers.append((f"hum {mains} Hz", lambda f=mains: (hum(seconds, f, rng), RATE)))
        for level in (0.05, 0.2):
            makers.append((
                f"hum {mains} Hz and noise",
                lambda f=mains, g=level: (hum(seconds, f, rng) + g * noise(seconds, rng), RATE),
            ))  # fmt: skip
    for voice, speed in (("en", 160), ("en-us+f3", 130), ("de", 120), ("fr+f2", 100), ("it", 90)):
        makers.append((f"speech {voice}", lambda v=voice, s=speed: _speech(seconds, v, s)))
    for label, make in makers:
        sound, rate = make()
        tones, _ = find_tones(sound, rate)
        print(f"{label:24}{sound.size / rate:7.0f} s{len(tones):>6}", flush=True)


def _speech(seconds: float, voice: str, speed: int) -> tuple[Sound, int]:
    parts, total = [], 0.0
    while total < seconds:
        sound, rate = speech(TEXT * 4, voice=voice, words_per_minute=speed)
        parts.append(sound)
        total += sound.size / rate
    return np.concatenate(parts), rate


def speed(quick: bool) -> None:
    rng = np.random.default_rng(3)
    count = 20 if quick else 120
    print("times real time, processor seconds of one core, best of 3")
    print(f"{'':26}{'ours':>9}{'praat ac':>10}{'praat, its defaults':>21}{'yin':>8}")
    for rate in (44_100, 48_000) if quick else (8000, 44_100, 48_000, 96_000, 192_000):
        tones = [
            in_noise(horn(float(F3 * 4 ** rng.uniform()), rng, rate=rate), 20, rng)
            for _ in range(max(8, count * 44_100 // rate // 2))
        ]
        _speed_of(f"notes, {rate} Hz", np.concatenate(tones), rate, yin_too=rate <= 48_000)
    _speed_of("white noise, 44100 Hz", noise(60, rng), RATE, yin_too=True)
    said, rate = _speech(60, "en", 140)
    _speed_of(f"speech, {rate} Hz", said, rate, yin_too=True)


def _speed_of(label: str, sound: Sound, rate: int, *, yin_too: bool) -> None:
    import parselmouth

    wide = sound.astype(float)
    runs: list[Callable[[], object]] = [
        lambda: find_tones(sound, rate),
        lambda: praat(sound, rate),
        lambda: parselmouth.Sound(wide, rate).to_pitch_ac(),
    ]
    if yin_too:
        runs.append(lambda: yin(sound, rate))
    times = [sound.size / rate / min(_processor_seconds(run) for _ in range(3)) for run in runs]
    shown = "".join(
        f"{each:{width}.0f}" for each, width in zip(times, (9, 10, 21, 8), strict=False)
    )
    print(f"{label:26}{shown}", flush=True)


def _processor_seconds(run: Callable[[], object]) -> float:
    began = time.process_time()
    run()
    return time.process_time() - began


def two_players(quick: bool) -> None:
    count = 20 if quick else 100
    print(f"two players, the second 6 dB below, {count} each: refused, and worst error otherwise")
    for vibrato in (0, 6):
        for label, low, high in (
            ("unison, 3 to 6 cents apart", 3, 6),
            ("unison, 6 to 12", 6, 12),
            ("unison, 12 to 30", 12, 30),
            ("unison, 30 to 70", 30, 70),
            *(
                (f"chord, {step} semitones", 100 * step - 8, 100 * step + 8)
                for step in range(1, 12)
            ),
            ("octave, 5 to 15 cents wide", 1205, 1215),
            ("octave, exact", 1200, 1200),
            ("twelfth, 1902 cents", 1902, 1902),
        ):
            rng = np.random.default_rng(11)
            refused, worst = 0, 0.0
            for _ in range(count):
                pitch = float(65 * 10 ** rng.uniform())
                apart = rng.uniform(low, high)
                second = horn(pitch * 2 ** (apart / 1200), rng, vibrato_cents=vibrato)
                both = horn(pitch, rng, vibrato_cents=vibrato) + 0.5 * second
                tones, _ = find_tones(in_noise(both, 20, rng), RATE)
                refused += not tones
                worst = max([worst, *(abs(cents(tone.hertz, pitch)) for tone in tones)])
            print(f"{label:30}vibrato {vibrato}{refused:>6}/{count}{worst:10.2f} cents", flush=True)


def rehearsal(quick: bool) -> None:
    """Hide tuning notes in band music and find them again."""
    pieces = 1 if quick else 9
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "rehearsal.flac"
        wanted = _compose(path, pieces)
        began = time.process_time()
        finder = ToneFinder(RATE)
        heard: list[Tone | Refusal] = []
        for block in blocks_of(path):
            heard += finder.hear(block)
        heard += finder.finish()
        took = time.process_time() - began
    tones = [item for item in heard if isinstance(item, Tone)]
    found, false = _compare(wanted, tones)
    print(f"{finder.seconds / 60:.0f} minutes of band music, {len(wanted)} tuning notes: "
          f"{found} found, {len(false)} false; {finder.seconds / took:.0f} times real time with "
          "decoding")  # fmt: skip
    for tone in false:
        print(f"  false: {tone}")


def _compose(path: Path, pieces: int) -> list[Played]:
    """Write ten minutes a piece and return the tuning notes, timed in the whole."""
    rng = np.random.default_rng(90)
    wanted = []
    with soundfile.SoundFile(path, "w", RATE, 1, subtype="PCM_16") as file:
        for piece in range(pieces):
            notes, now = [], 1.0
            for tuning in range(7 if piece < 6 else 6):
                program = (TRUMPET, TROMBONE, TUBA, CLARINET)[int(rng.integers(4))]
                low = {TRUMPET: 58, TROMBONE: 48, TUBA: 41, CLARINET: 53}[program]
                midi, off = low + int(rng.integers(0, 13)), int(rng.integers(-20, 21))
                length = float(rng.uniform(1.6, 3.0))
                notes.append(Played(now, length, midi, off, program, channel=15))
                wanted.append(Played(600 * piece + now, length, midi, off, program))
                now += length + rng.uniform(0.6, 1.5)
                until = 595 if tuning == 6 else now + rng.uniform(60, 80)
                music = list(_music(now, min(until, 595.0), rng))
                notes += music
                now = max(note.start_s + note.seconds for note in music) + rng.uniform(1.0, 2.0)
                if now > 590:
                    break
            sound = sampled(notes, reverb=True)[: 600 * RATE]
            file.write(np.pad(sound, (0, 600 * RATE - sound.size)))
    return wanted


def _music(start: float, end: float, rng: np.random.Generator) -> Iterator[Played]:
    """Yield three to five parts that move in chords and runs, never one long note alone."""
    programs = (TRUMPET, CLARINET, TROMBONE, FRENCH_HORN, TUBA)
    now = start
    while now < end:
        if rng.uniform() < 0.25:  # a run of one part
            for step in range(int(rng.integers(6, 16))):
                yield Played(
                    now, 0.18, 60 + int(rng.integers(-5, 12)), 0, TRUMPET, channel=step % 2
                )
                now += 0.2
            continue
        length = float(rng.choice([0.5, 1.0, 1.5, 3.0]))
        root, third = 46 + int(rng.integers(0, 12)), int(rng.choice([3, 4]))
        parts = int(rng.integers(3, 6))
        for part in range(parts):
            midi = root + (0, 7, 12 + third, 12, 19)[part]
            off = int(rng.integers(-12, 13))
            yield Played(now, length, midi, off, programs[part], channel=2 + part,
                         velocity=int(rng.integers(70, 110)))  # fmt: skip
        now += length


def _compare(wanted: list[Played], tones: list[Tone]) -> tuple[int, list[Tone]]:
    """Return how many tuning notes were found, and the tones that are none of them.

    A tone belongs to a note when it lies within it (and half a second of reverberation) and within
    6 cents of it; the samples themselves stand up to 5 cents off equal temperament.
    """
    found, false = set(), []
    for tone in tones:
        for note in wanted:
            pitch = 440 * 2 ** ((note.midi - 69 + note.cents / 100) / 12)
            end = note.start_s + note.seconds + 0.5
            inside = note.start_s - 0.1 < tone.start_s and tone.end_s < end
            if inside and abs(cents(tone.hertz, pitch)) < 6:
                found.add(note)
                break
        else:
            false.append(tone)
    return len(found), false


PARTS = {
    "accuracy": accuracy,
    "differences": differences,
    "nothing": nothing,
    "speed": speed,
    "two-players": two_players,
    "rehearsal": rehearsal,
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--only", default=",".join(PARTS))
    options = parser.parse_args()
    for part in options.only.split(","):
        PARTS[part](options.quick)
        print()


if __name__ == "__main__":
    sys.exit(main())
