"""Sounds that other people made: sound fonts, physical models, rooms and codecs.

    python tests/benchmarks/study_other_sounds.py [--seed 60] [--each 2]

Wind instruments of three General MIDI sound fonts (fluid-soundfont-gm, timgm6mb-soundfont,
musescore-general-soundfont-small, played by fluidsynth) and the reed and flute models of the
Synthesis ToolKit (libstk-dev, compiled here with g++); what is not installed is left out. Every
note is heard as it is, in three rooms (pyroomacoustics, image sources and rays), in noise, and out
of codecs (ffmpeg). The pitch it is judged by is that of Praat's autocorrelation (parselmouth) on
the sound as it was made, under a Hann window over the time of the reading as the finder's own mean
is; Praat is taken to be good to 0.1 cents.

The second table is of what holds no single note: drums, chords, two players 8 to 40 cents apart,
speech (espeak-ng). A reading there is false; of two players, where it is more than two cents from
both.
"""

from __future__ import annotations

import argparse
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import numpy as np
import parselmouth
import pyroomacoustics as pra
from scipy import signal

from drift.notes import hertz_of, note_of_midi
from sensors.quality import DOUBTFUL
from sensors.sound import blocks_of
from sensors.tones import Tone, find_tones
from tests.sounds import Played, Sound, sampled, speech

RATE = 44_100
NOTE_S, REST_S, BEGINS_S, STEP_S = 2.6, 0.8, 0.4, 3.6
WRONG_CENTS, HARMFUL_CENTS = 25.0, 2.0
FONTS = {
    "Fluid": "/usr/share/sounds/sf2/FluidR3_GM.sf2",
    "TimGM": "/usr/share/sounds/sf2/TimGM6mb.sf2",
    "General Lite": "/usr/share/sounds/sf3/MuseScore_General_Lite.sf3",
}
# General MIDI programs of winds, with the lowest and highest note asked of each [MIDI].
WINDS = {
    56: (55, 82), 57: (41, 70), 58: (34, 58), 60: (41, 74), 64: (58, 84), 65: (50, 80),
    66: (46, 74), 67: (38, 68), 68: (59, 86), 69: (53, 78), 70: (36, 67), 71: (50, 86),
    72: (75, 96), 73: (61, 93),
}  # fmt: skip
PRAAT_CENTS = 0.1  # of the pitch that we judge by: see docs/explanation/tracking.md
VOICES = ("en", "en-us", "de")
MODELS = {"clarinet": (130.0, 800.0), "saxofony": (120.0, 700.0), "flute": (260.0, 1000.0)}
ROOMS = {
    "practice room, 0.4 s": (0.4, [4.5, 3.6, 2.7], 1.0),
    "band room, 0.8 s": (0.8, [11.0, 8.0, 3.6], 2.0),
    "hall, 1.8 s": (1.8, [26.0, 17.0, 9.0], 3.0),
}
CODECS = {
    "MP3, 128 kbit/s": ("mp3", ["-c:a", "libmp3lame", "-b:a", "128k"]),
    "MP3, 32 kbit/s": ("mp3", ["-c:a", "libmp3lame", "-b:a", "32k"]),
    "AAC, 96 kbit/s": ("m4a", ["-c:a", "aac", "-b:a", "96k"]),
    "AAC, 32 kbit/s": ("m4a", ["-c:a", "aac", "-b:a", "32k"]),
    "Opus, 48 kbit/s": ("opus", ["-c:a", "libopus", "-b:a", "48k"]),
    "Opus, 16 kbit/s": ("opus", ["-c:a", "libopus", "-b:a", "16k"]),
    "Vorbis, quality 1": ("ogg", ["-c:a", "libvorbis", "-q:a", "1"]),
    "8 kHz, 8 bit µ-law": ("wav", ["-ar", "8000", "-c:a", "pcm_mulaw"]),
}


@dataclass(frozen=True)
class Clip:
    """One note: who made it, the pitch that was asked for [Hz], and its sound."""

    source: str
    hertz: float
    sound: Sound

    def praat_hertz(self, start_s: float, end_s: float) -> float:
        """Return the pitch between two times, by Praat: the mean under a Hann window.

        Left out is what lies a quarter tone from its median: a note that has changed register.
        """
        times, hertz = praat_track(self)
        within = (times > start_s) & (times < end_s) & (hertz > 0)
        if within.any():
            within &= np.abs(12 * np.log2(np.maximum(hertz, 1) / np.median(hertz[within]))) < 0.5
        weight = np.sin(np.pi * (times[within] - start_s) / (end_s - start_s)) ** 2
        if not within.any():
            return float("nan")
        return float(2 ** np.average(np.log2(hertz[within]), weights=weight))


@cache
def _track(key: tuple[str, float], sound: bytes) -> tuple[np.ndarray, np.ndarray]:
    made = parselmouth.Sound(np.frombuffer(sound, dtype=np.float32).astype(float), RATE)
    low, high = key[1] * 0.75, key[1] * 2.3  # a flute may overblow
    pitch = made.to_pitch_ac(time_step=0.01, pitch_floor=low, pitch_ceiling=high)
    return pitch.xs(), pitch.selected_array["frequency"]


def praat_track(clip: Clip) -> tuple[np.ndarray, np.ndarray]:
    return _track((clip.source, clip.hertz), clip.sound.tobytes())


def framed(sound: Sound) -> Sound:
    """Return a sound at RMS 0.1 with a rest before and after."""
    sound = 0.1 * sound / max(1e-9, float(np.sqrt(np.mean(sound**2))))
    before, after = np.zeros(round(BEGINS_S * RATE)), np.zeros(round(REST_S * RATE))
    return np.asarray(np.concatenate([before, sound, after]), dtype=np.float32)


def font_clips(rng: np.random.Generator, each: int) -> Iterator[Clip]:
    for name, font in FONTS.items():
        if not (Path(font).exists() and shutil.which("fluidsynth")):
            print(f"left out: {name} ({font} or fluidsynth is not installed)")
            continue
        asked = [
            (program, int(rng.integers(low, high + 1)))
            for program, (low, high) in WINDS.items()
            for _ in range(each)
        ]
        channel = dict(zip(WINDS, [*range(9), *range(10, 16)], strict=False))  # 9 is for drums
        notes = [
            Played(place * STEP_S, NOTE_S, midi, program=program, channel=channel[program])
            for place, (program, midi) in enumerate(asked)
        ]
        sound = sampled(notes, font=Path(font))
        for place, (_, midi) in enumerate(asked):
            start = round(place * STEP_S * RATE)
            part = sound[start : start + round((NOTE_S + 0.2) * RATE)]
            yield Clip(name, hertz_of(note_of_midi(midi)), framed(part))


def model_clips(rng: np.random.Generator, each: int) -> Iterator[Clip]:
    with tempfile.TemporaryDirectory() as folder:
        program = Path(folder) / "stk_notes"
        source = Path(__file__).with_name("stk_notes.cpp")
        built = shutil.which("g++") and subprocess.run(
            ["g++", "-O1", "-o", str(program), str(source), "-lstk"], capture_output=True
        )
        if not built or built.returncode:
            print("left out: STK (libstk-dev or g++ is not installed)")
            return
        for model, (low, high) in MODELS.items():
            for _ in range(4 * each):
                hertz = low * (high / low) ** rng.uniform()
                words = [str(program), model, f"{hertz}", f"{NOTE_S}"]
                made = subprocess.run(words, check=True, capture_output=True).stdout
                yield Clip("STK", hertz, framed(np.frombuffer(made, dtype=np.float32)))


def response(seconds: float, walls: list[float], distance: float) -> Sound:
    """Return the impulse response of a shoebox [samples at RATE]."""
    pra.random.seed(5)
    material = pra.Material(min(0.95, pra.inverse_sabine(seconds, walls)[0]), 0.1)
    box = pra.ShoeBox(walls, fs=RATE, materials=material, max_order=6, ray_tracing=True)
    box.set_ray_tracing(receiver_radius=0.4)
    microphone = np.array([0.45 * walls[0], 0.55 * walls[1], 1.4])
    box.add_microphone(microphone)
    box.add_source(microphone + np.array([distance * 0.8, -distance * 0.6, 0.1]))
    box.compute_rir()
    return np.asarray(box.rir[0][0])


def in_room(sounds: list[Sound], room: Sound) -> list[Sound]:
    late = int(np.argmax(np.abs(room)))
    wet = [signal.fftconvolve(sound, room)[late : late + sound.size] for sound in sounds]
    return [np.asarray(0.1 * each / max(1e-9, each.std()), dtype=np.float32) for each in wet]


def in_noise(sounds: list[Sound], snr_db: float, rng: np.random.Generator) -> list[Sound]:
    size = 0.1 * 10 ** (-snr_db / 20)
    return [(each + size * rng.normal(size=each.size)).astype(np.float32) for each in sounds]


def through(sounds: list[Sound], ending: str, options: list[str]) -> tuple[list[Sound], int]:
    """Return the sounds out of a codec, as one file read by `sensors.sound`, and their rate."""
    import soundfile

    with tempfile.TemporaryDirectory() as folder:
        before, after = Path(folder) / "before.wav", Path(folder) / f"after.{ending}"
        soundfile.write(before, np.concatenate(sounds), RATE, subtype="PCM_16")
        command = ["ffmpeg", "-v", "error", "-i", str(before), *options, str(after)]
        subprocess.run(command, check=True)
        rate = read_rate(after)
        whole = np.concatenate(list(blocks_of(after)))
    ends = np.cumsum([0, *(each.size for each in sounds)]) * rate // RATE
    return [whole[a:b] for a, b in pairwise(ends)], rate


def read_rate(path: Path) -> int:
    from sensors.sound import inspect

    return inspect(path).rate


def row(name: str, clips: list[Clip], sounds: list[Sound], rate: int = RATE) -> str:
    """Return a row of the table of single notes."""
    errors, sure, taken, wrong, more = [], [], 0, 0, 0
    for clip, sound in zip(clips, sounds, strict=True):
        tones = [tone for tone in find_tones(sound, rate)[0] if tone.score <= DOUBTFUL]
        taken, more = taken + bool(tones), more + (len(tones) > 1)
        for tone in tones[:1]:
            true = clip.praat_hertz(tone.start_s, tone.end_s)
            cents = 1200 * np.log2(tone.hertz / true)
            if not abs(cents) <= WRONG_CENTS:
                wrong += 1
                continue
            errors.append(cents)
            sure.append(tone.cents_sd)
    error = np.array(errors)
    ratio = error / np.hypot(np.array(sure), PRAAT_CENTS)
    return (
        f"| {name} | {len(clips)} | {taken / len(clips):.2f} | {wrong} | {more} "
        f"| {np.sqrt(np.mean(error**2)):.2f} | {np.median(np.abs(error)):.2f} "
        f"| {np.median(sure):.2f} | {np.sqrt(np.mean(ratio**2)):.2f} "
        f"| {np.mean(np.abs(ratio) <= 2):.2f} |"
    )


def false_readings(clips: list[Clip], rng: np.random.Generator, count: int) -> Iterator[str]:
    """Yield rows of what holds no single note."""
    fonts = [clip for clip in clips if clip.source != "STK"]

    def two(cents: float) -> tuple[Sound, list[float]]:
        """Return two players so far apart, and the pitch of each."""
        while True:
            first, second = (fonts[rng.integers(len(fonts))] for _ in range(2))
            own = [clip.praat_hertz(0.8, 2.6) for clip in (first, second)]
            speed = own[0] * 2 ** (cents / 1200) / own[1]
            if first is not second and 0.8 < speed < 1.25:  # near where it was played
                break
        at = np.arange(min(first.sound.size, int(second.sound.size / speed))) * speed
        turned = np.interp(at, np.arange(second.sound.size), second.sound)
        return (first.sound[: at.size] + turned).astype(np.float32), [own[0], own[1] * speed]

    def taken(sound: Sound) -> list[Tone]:
        return [tone for tone in find_tones(sound, RATE)[0] if tone.score <= DOUBTFUL]

    chords = [two(100.0 * rng.integers(1, 12))[0] for _ in range(count)]
    found = [taken(sound) for sound in chords]
    yield f"| chords of two, all fonts | {count} | {sum(map(bool, found))} |"
    misled = 0
    for _ in range(count):
        sound, pitches = two(rng.choice([-1, 1]) * rng.uniform(8, 40))
        for tone in taken(sound)[:1]:
            misled += (
                min(abs(1200 * np.log2(tone.hertz / hertz)) for hertz in pitches) > HARMFUL_CENTS
            )
    yield f"| two players on one note, 8 to 40 cents apart | {count} | {misled} |"
    kit = [
        Played(at, 0.2, int(rng.choice([35, 36, 38, 40, 42, 45, 47, 49, 51])), channel=9)
        for at in np.arange(0, 60, 0.25)
    ]
    for name, font in FONTS.items():
        if Path(font).exists():
            tones = taken(sampled(kit, font=Path(font)))
            yield f"| drums, {name}, 60 s, hits | {len(kit)} | {len(tones)} |"
    if shutil.which("espeak-ng"):
        text = "Please hold the note for two seconds. " * 4
        talk = [
            speech(text, words_per_minute=speed, voice=v) for speed in (90, 150) for v in VOICES
        ]
        found = [[t for t in find_tones(*one)[0] if t.score <= DOUBTFUL] for one in talk]
        yield f"| speech | {len(talk)} | {sum(map(len, found))} |"


def study(seed: int, each: int) -> Iterator[str]:
    """Yield the tables line by line."""
    rng = np.random.default_rng([seed, 8])
    clips = [*font_clips(rng, each), *model_clips(rng, each)]
    sounds = [clip.sound for clip in clips]
    yield (
        "| condition | notes | taken | wrong | more than one | error [cents] | median | u [cents] "
        "| error/u | within 2u |\n|---|---|---|---|---|---|---|---|---|---|"
    )
    for name in [*FONTS, "STK"]:
        some = [clip for clip in clips if clip.source == name]
        if some:
            yield row(f"{name}, as made", some, [clip.sound for clip in some])
    for snr_db in (20.0, 10.0):
        yield row(f"noise {snr_db:.0f} dB below", clips, in_noise(sounds, snr_db, rng))
    for name, (seconds, walls, distance) in ROOMS.items():
        wet = in_room(sounds, response(seconds, walls, distance))
        yield row(f"{name}, at {distance:g} m", clips, wet)
    for name, (ending, options) in CODECS.items():
        made, rate = through(sounds, ending, options)
        yield row(name, clips, made, rate)
    yield "\n| no single note | clips | readings |\n|---|---|---|"
    yield from false_readings(clips, rng, 60 * each)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=60)
    parser.add_argument("--each", type=int, default=2)
    options = parser.parse_args()
    for line in study(options.seed, options.each):
        print(line, flush=True)


if __name__ == "__main__":
    main()
