"""Sounds of known pitch, and sounds that hold none, for the tests of listening."""

from __future__ import annotations

import os
import shutil
import struct
import subprocess
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from numpy.typing import NDArray

Sound = NDArray[np.float32]

SOUND_FONT = Path("/usr/share/sounds/sf2/FluidR3_GM.sf2")
FRENCH_HORN, TRUMPET, TROMBONE, TUBA, CLARINET, FLUTE = 60, 56, 57, 58, 71, 73


def needs(*programs: str) -> None:
    """Skip with the reason where a program (or file) is absent; fail where CI is set."""
    missing = [name for name in programs if not (shutil.which(name) or Path(name).exists())]
    if not missing:
        return
    reason = f"needs {', '.join(missing)} (apt install espeak-ng fluidsynth fluid-soundfont-gm)"
    if os.environ.get("CI"):
        pytest.fail(reason)
    pytest.skip(reason)


def horn(
    hertz: float,
    rng: np.random.Generator,
    *,
    seconds: float = 2.0,
    rate: int = 44_100,
    vibrato_cents: float = 0.0,
    glide_cents: float = 0.0,
) -> Sound:
    """Return a horn-like tone of RMS 1: harmonics under a formant, no two renders alike.

    The phase of the vibrato, its rate (4.5 to 6.5 Hz), the phases and the balance of the
    harmonics are drawn; the pitch averaged over whole periods of the vibrato is `hertz`.
    """
    time = np.arange(round(seconds * rate)) / rate
    swing = vibrato_cents * np.sin(
        2 * np.pi * rng.uniform(4.5, 6.5) * time + rng.uniform(0, 2 * np.pi)
    )
    cents = swing + glide_cents * time / seconds
    phase = 2 * np.pi * np.cumsum(hertz * 2 ** (cents / 1200)) / rate
    sound = np.zeros(time.size)
    for order in range(1, 41):
        partial = order * hertz
        if partial > min(0.45 * rate, 12_000):
            break
        amplitude = 1 / (1 + (partial / 900) ** 2) / (1 + (150 / partial) ** 2)
        amplitude *= 10 ** (rng.normal(0, 3) / 20)
        sound += amplitude * np.sin(order * phase + rng.uniform(0, 2 * np.pi))
    edge = np.clip(np.minimum(time, time[-1] - time) / 0.05, 0, 1)
    sound *= np.sin(np.pi / 2 * edge) ** 2
    return np.asarray(sound / np.sqrt(np.mean(sound**2)), dtype=np.float32)


def added(
    hertz: float,
    tilt: float,
    harmonics: int,
    rng: np.random.Generator | None = None,
    rate: int = 44_100,
) -> Sound:
    """Return 2.5 s of harmonics of size 1/h**tilt, in phase or (with a generator) not."""
    time = np.arange(round(2.5 * rate)) / rate
    orders = [h for h in range(1, harmonics + 1) if h * hertz < 0.45 * rate]
    turns = rng.uniform(0, 2 * np.pi, len(orders)) if rng else np.zeros(len(orders))
    sound = sum(
        np.sin(2 * np.pi * hertz * h * time + turn) / h**tilt
        for h, turn in zip(orders, turns, strict=True)
    )
    edge = np.clip(np.minimum(time, time[-1] - time) / 0.05, 0, 1)
    return np.asarray(sound * edge, dtype=np.float32)


def in_noise(
    sound: Sound, snr_db: float, rng: np.random.Generator, *, rest: int = 13_230, level: float = 0.1
) -> Sound:
    """Return the sound between two rests, white noise over all (SNR over the whole band)."""
    padded = np.concatenate([np.zeros(rest), sound, np.zeros(rest)])
    noise = rng.normal(size=padded.size) * np.sqrt(np.mean(sound**2)) * 10 ** (-snr_db / 20)
    return np.asarray(level * (padded + noise), dtype=np.float32)


def noise(
    seconds: float, rng: np.random.Generator, *, slope: float = 0.0, rate: int = 44_100
) -> Sound:
    """Return noise of RMS 0.1, white (slope 0), pink (1) or brown (2: power falls as 1/f²)."""
    count = round(seconds * rate)
    spectrum = np.fft.rfft(rng.normal(size=count))
    spectrum /= np.maximum(np.arange(spectrum.size), 10) ** (slope / 2)
    sound = np.fft.irfft(spectrum, count)
    return np.asarray(0.1 * sound / sound.std(), dtype=np.float32)


def hum(seconds: float, mains_hz: float, rng: np.random.Generator, *, rate: int = 44_100) -> Sound:
    """Return mains hum with thirty harmonics, its frequency wandering by hundredths of a hertz."""
    count = round(seconds * rate)
    knots = mains_hz + np.cumsum(rng.normal(0, 0.004, round(seconds) + 2))
    track = np.interp(np.arange(count) / rate, np.arange(knots.size), knots)
    phase = 2 * np.pi * np.cumsum(track) / rate
    sound = 1e-4 * rng.normal(size=count)
    for order in range(1, 31):
        strength = rng.uniform(0.3, 1) * (1.0 if order % 2 == 0 or order == 1 else 0.4) / order
        sound += 0.02 * strength * np.sin(order * phase + rng.uniform(0, 2 * np.pi))
    return sound.astype(np.float32)


def speech(text: str, *, words_per_minute: int = 160, voice: str = "en") -> tuple[Sound, int]:
    """Return what espeak-ng makes of a text, and its sample rate."""
    import soundfile

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "speech.wav"
        subprocess.run(
            ["espeak-ng", "-v", voice, "-s", str(words_per_minute), "-w", str(path), text],
            check=True,
            capture_output=True,
        )
        sound, rate = soundfile.read(path, dtype="float32")
    return sound, rate


class Played(NamedTuple):
    """One note for a sampled instrument; `cents` off equal temperament are whole ones."""

    start_s: float
    seconds: float
    midi: int
    cents: int = 0
    program: int = FRENCH_HORN
    channel: int = 0
    velocity: int = 90


def sampled(
    notes: Sequence[Played], *, rate: int = 44_100, reverb: bool = False, font: Path = SOUND_FONT
) -> Sound:
    """Return the notes played by FluidSynth on a General MIDI sound font, mixed to mono."""
    import soundfile

    with tempfile.TemporaryDirectory() as folder:
        score, path = Path(folder) / "score.mid", Path(folder) / "played.wav"
        score.write_bytes(_midi_file(notes))
        command = ["fluidsynth", "-ni", "-g", "0.5", "-C", "0", "-R", "1" if reverb else "0"]
        command += ["-r", str(rate), "-O", "float", "-F", str(path), str(font), str(score)]
        subprocess.run(command, check=True, capture_output=True)
        sound = soundfile.read(path, dtype="float32")[0]
    return np.asarray(sound.mean(axis=1), dtype=np.float32)


def _midi_file(notes: Sequence[Played]) -> bytes:
    """Return a format 0 file at one tick a millisecond."""
    events: list[tuple[int, int, bytes]] = []
    for note in notes:
        on, off = round(1000 * note.start_s), round(1000 * (note.start_s + note.seconds))
        # FluidSynth cuts a pitch down to whole cents: aim half a cent above.
        bend = 8192 + round((note.cents + 0.5) * 8192 / 200)
        channel = note.channel
        events.append((on, 1, bytes([0xC0 | channel, note.program])))
        events.append((on, 2, bytes([0xE0 | channel, bend & 0x7F, bend >> 7])))
        events.append((on, 3, bytes([0x90 | channel, note.midi, note.velocity])))
        events.append((off, 0, bytes([0x80 | channel, note.midi, 0])))
    track, now = b"", 0
    for at, _, event in sorted(events):
        track += _delta(at - now) + event
        now = at
    track += _delta(500) + b"\xff\x2f\x00"
    head = b"MThd" + struct.pack(">IHHH", 6, 0, 1, 500)  # 500 ticks a beat of half a second
    return head + b"MTrk" + struct.pack(">I", len(track)) + track


def _delta(ticks: int) -> bytes:
    groups = [ticks & 0x7F]
    while ticks := ticks >> 7:
        groups.append(0x80 | (ticks & 0x7F))
    return bytes(reversed(groups))
