"""Notes below E1 and above C7: how many are taken, how far off, and what chords are taken for.

    python tests/benchmarks/study_beyond.py [--seed 41] [--notes 100]

Harmonics added, wandering by 0 to 4 cents, half of the notes with vibrato up to 15 cents, white
noise 10 to 30 dB below. The chords are two or three notes of 45 to 260 Hz in pure or tempered
intervals; none of them may be taken for the pedal note that they have in common.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import numpy as np

from sensors.tones import find_tones

RATE = 44_100
BEGINS_S = 0.5
PURE = (3 / 2, 4 / 3, 5 / 4, 6 / 5, 5 / 3, 8 / 5, 2.0, 9 / 8, 7 / 4)


def note(
    hertz: float, seconds: float, harmonics: int, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """Return a note, and how far its pitch is from `hertz` at every sample [cents]."""
    time = np.arange(int(seconds * RATE)) / RATE
    wander = np.interp(time, np.linspace(0, seconds, 8), rng.normal(0, 4 * rng.uniform() ** 2, 8))
    swing = 15 * rng.uniform() if rng.uniform() < 0.5 else 0.0
    cents = wander + swing * np.sin(
        2 * np.pi * rng.uniform(5, 7) * time + rng.uniform(0, 2 * np.pi)
    )
    phase = 2 * np.pi * np.cumsum(hertz * 2 ** (cents / 1200)) / RATE
    tilt = rng.uniform(0.3, 1.5)
    sound = np.zeros(time.size)
    for order in range(1, harmonics + 1):
        if order * hertz < 20_000:
            size = order**-tilt * rng.uniform(0.5, 1)
            sound += size * np.sin(order * phase + rng.uniform(0, 2 * np.pi))
    return sound / sound.std(), cents


def in_noise(sound: np.ndarray, snr_db: float, rng: np.random.Generator) -> np.ndarray:
    rest = np.zeros(int(BEGINS_S * RATE))
    sound = 0.1 * np.concatenate([rest, sound, rest])
    return sound + 0.1 * 10 ** (-snr_db / 20) * rng.normal(size=sound.size)


def notes(low: float, high: float, harmonics: int, count: int, rng: np.random.Generator) -> str:
    """Return a row of the table."""
    errors, sure, doubtful, twice = [], [], 0, 0
    for _ in range(count):
        hertz = low * (high / low) ** rng.uniform()
        sound, cents = note(hertz, rng.uniform(2, 4), harmonics, rng)
        tones, _ = find_tones(in_noise(sound, rng.uniform(10, 30), rng), RATE)
        twice += len(tones) > 1
        for tone in tones[:1]:
            span = [max(0, int((at - BEGINS_S) * RATE)) for at in (tone.start_s, tone.end_s)]
            errors.append(1200 * np.log2(tone.hertz / hertz) - cents[slice(*span)].mean())
            sure.append(tone.cents_sd)
            doubtful += tone.score > -0.6
    error, ratio = np.array(errors), np.array(errors) / np.array(sure)
    return (
        f"| {low:g} to {high:g} Hz | {count} | {error.size / count:.2f} | {doubtful} | {twice} "
        f"| {np.sum(np.abs(error) > 25)} | {np.sqrt(np.mean(error**2)):.2f} "
        f"| {np.median(sure):.2f} | {np.sqrt(np.mean(ratio**2)):.2f} "
        f"| {np.mean(np.abs(ratio) < 2):.3f} |"
    )


def chords(count: int, rng: np.random.Generator) -> int:
    """Return how many chords are taken for a pedal note."""
    false = 0
    for number in range(count):
        hertz, ratio = rng.uniform(45, 260), rng.choice(PURE)
        if number % 3 == 1:
            ratio = 2 ** ((round(12 * np.log2(ratio)) + rng.normal(0, 0.05)) / 12)
        parts = [hertz, hertz * ratio, *([hertz * rng.choice(PURE)] if number % 3 == 2 else [])]
        sound = sum(rng.uniform(0.5, 1) * note(part, 2.5, 30, rng)[0] for part in parts)
        tones, _ = find_tones(in_noise(sound, 30, rng), RATE)
        false += any(tone.hertz < 40.5 for tone in tones)
    return false


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=41)
    parser.add_argument("--notes", type=int, default=100)
    options = parser.parse_args()
    rng = np.random.default_rng([options.seed, 29])
    print(
        "| notes | clips | taken | doubtful | twice | wrong by > 25 cents | error [cents] "
        "| u [cents] | error/u | within 2u |"
    )
    print("|---" * 10 + "|")
    for low, high, harmonics in ((28.5, 40.0, 30), (2250.0, 4200.0, 4)):
        print(notes(low, high, harmonics, options.notes, rng), flush=True)
    print(f"\n{chords(options.notes, rng)} of {options.notes} chords taken for a pedal note")


if __name__ == "__main__":
    main()
