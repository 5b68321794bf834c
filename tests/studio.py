"""A loudspeaker, a microphone and a clock in one room, whose delays are known."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

import numpy as np

BLOCK_S = 0.2


class Studio:
    """A loudspeaker, a microphone and a clock in one room; a block of sound is a step of time."""

    def __init__(self, *, delay_s=0.13, opening_s=0.0, output_s=0.0, level=1.0, noise=1e-3,
                 rate=44_100, echoes=(), detune_cents=0.0) -> None:  # fmt: skip
        self.rate, self.time, self.playing = float(rate), 0.0, []
        self.delay_s, self.opening_s, self.output_s = delay_s, opening_s, output_s
        self.level, self.noise, self.echoes = level, noise, echoes
        self.detune = 2 ** (detune_cents / 1200)
        self.rng = np.random.default_rng(11)
        self.opened = 0

    # the clock
    def monotonic(self) -> float:
        return self.time

    def now(self) -> datetime:
        return datetime(2026, 10, 3, tzinfo=UTC) + timedelta(seconds=self.time)

    # the loudspeaker
    def play(self, samples) -> float:
        if self.detune != 1:
            count = round(len(samples) / self.detune)
            samples = np.interp(np.linspace(0, len(samples) - 1, count), range(len(samples)),
                                samples)  # fmt: skip
        self.playing.append((self.time + self.output_s + self.delay_s, samples))
        return self.output_s

    # the microphone
    @contextmanager
    def open(self) -> Iterator[Studio]:
        self.opened += 1
        self.playing.clear()
        self.time += self.opening_s  # its first samples are older than its opening
        yield self

    def __iter__(self) -> Iterator[np.ndarray | None]:
        at = self.time - self.opening_s
        count = round(BLOCK_S * self.rate)
        while True:
            yield None
            self.time = max(self.time, at + BLOCK_S)
            block = self.noise * self.rng.normal(size=count)
            for sounds, samples in self.playing:
                for late, size in ((0.0, 1.0), *self.echoes):
                    begin = round((sounds + late - at) * self.rate)
                    here = np.arange(count) - begin
                    inside = (here >= 0) & (here < len(samples))
                    block[inside] += self.level * size * samples[here[inside]]
            at += BLOCK_S
            yield block
