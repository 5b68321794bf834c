"""Notes beyond the range of the frames: what was refused is listened to again, an octave away.

Sound that is taken for twice as fast as it is sounds an octave higher and lasts half as long. So
the frames of a tenth of a second, made for F1 to C7, measure notes down to A0 with their harmonics
as far apart as those of A1, and taken for half as fast as it is notes up to C8.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from sensors.frames import HIGHEST_HZ, PERIOD, FrameReader
from sensors.segments import LEAST_HZ, SHORTEST_S, Reason, Refusal, Segmenter, Tone

__all__ = ["Beyond"]

_GAP_S = 1.0  # refusals this close may be pieces of one note
_LONGEST_S = 30.0
_KEPT_S = 75.0  # what is refused may be two breaths old
_MARGIN_S = 1.0  # scraps that were not worth a line
_LEAST_S = 0.7
_COARSE_HZ, _WINDOW_S = 4000.0, 0.4
_ALIKE = 0.5  # of a stretch and itself a period later
_RATES_HZ = (16_000.0, 96_000.0)
_NEVER = (Reason.SILENCE, Reason.CLIPPED, Reason.LONG, Reason.MAINS)


@dataclass(frozen=True, slots=True)
class _Speed:
    """How fast sound is taken to be, and what is then heard [Hz].

    The uncertainty was fitted where a frame lasts a tenth of a second, and is `widened` elsewhere.
    """

    factor: float
    lowest_hz: float
    highest_hz: float
    widened: float


_LOW = _Speed(2.0, 26.7, LEAST_HZ, 1.4)  # A0 (27.5 Hz) and half a semitone
_HIGH = _Speed(0.5, HIGHEST_HZ, 4300.0, 1.1)  # C8 (4186 Hz) and half a semitone


class Beyond:
    """Hold what was refused, with its sound, and listen again when it is over.

    Parameters
    ----------
    rate : float
        Sample rate [Hz]; outside 16 to 96 kHz nothing is listened to again.
    sections : bool
        As for `sensors.segments.Segmenter`.
    """

    def __init__(self, rate: float, *, sections: bool = False) -> None:
        self._rate, self._sections = rate, sections
        self._able = _RATES_HZ[0] <= rate <= _RATES_HZ[1]
        self._blocks: deque[NDArray[np.float32]] = deque()
        self._first = self._count = 0  # number of the first sample held, and how many are
        self._waiting: list[Refusal] = []
        self._told_s = 0.0  # end of the last note that was found [s]

    def keep(self, samples: NDArray[np.floating]) -> None:
        """Keep sound that may be listened to again."""
        if not self._able:
            return
        self._blocks.append(samples.astype(np.float32, copy=False))
        self._count += samples.size
        while self._count - self._blocks[0].size > _KEPT_S * self._rate:
            gone = self._blocks.popleft().size
            self._first, self._count = self._first + gone, self._count - gone

    def add(self, item: Tone | Refusal) -> Iterator[Tone | Refusal]:
        """Take what was found; yield what has become certain, in the order of time."""
        if isinstance(item, Tone) or not self._able or item.reason in _NEVER:
            yield from self.settle()
            yield item
            return
        if self._waiting and (
            item.start_s - self._waiting[-1].end_s > _GAP_S
            or item.end_s - self._waiting[0].start_s > _LONGEST_S
        ):
            yield from self.settle()
        self._waiting.append(item)

    def settle(self) -> Iterator[Tone | Refusal]:
        """Yield what waits: the notes that are found in it, and what of it is none."""
        waiting, self._waiting = self._waiting, []
        if not waiting:
            return
        high = any(item.reason is Reason.HIGH for item in waiting)
        again = self._again(waiting[0].start_s, waiting[-1].end_s, _HIGH if high else _LOW)
        tones = [tone for tone in again if tone.start_s >= self._told_s]
        self._told_s = max(self._told_s, *(tone.end_s for tone in tones), 0.0)
        items: list[Tone | Refusal] = [
            item for item in waiting if not any(_covers(tone, item) for tone in tones)
        ]
        yield from sorted([*items, *tones], key=lambda item: item.start_s)

    def _again(self, start_s: float, end_s: float, speed: _Speed) -> list[Tone]:
        if end_s - start_s < _LEAST_S:
            return []
        first = max(self._first, round((start_s - _MARGIN_S) * self._rate))
        sound = self._between(first, round((end_s + _MARGIN_S) * self._rate))
        began = first / self._rate
        if speed is _LOW and not _repeats(sound, self._rate):
            return []
        heard = self._tones(sound, speed.factor)
        found = [
            replace(
                tone,
                start_s=began + speed.factor * tone.start_s,
                end_s=began + speed.factor * tone.end_s,
                hertz=tone.hertz / speed.factor,
                cents_sd=speed.widened * tone.cents_sd,
            )
            for tone in heard
        ]
        return [
            tone
            for tone in found
            if speed.lowest_hz <= tone.hertz < speed.highest_hz
            and tone.end_s - tone.start_s >= SHORTEST_S
            and min(tone.end_s, end_s) - max(tone.start_s, start_s) > 0
        ]

    def _between(self, first: int, last: int) -> NDArray[np.float32]:
        """Return the samples from one number to another."""
        parts, at = [], self._first
        for block in self._blocks:
            if at < last and at + block.size > first:
                parts.append(block[max(0, first - at) : last - at])
            at += block.size
        return np.concatenate(parts)

    def _tones(self, sound: NDArray[np.float32], factor: float) -> list[Tone]:
        """Return the tones in a stretch of sound whose harmonics are all there."""
        reader = FrameReader(self._rate * factor)
        segmenter = Segmenter(sections=self._sections, complete=True, period=round(PERIOD / factor))
        items: list[Tone | Refusal] = []
        for frames in (*reader.read(sound), *reader.finish()):
            items += segmenter.take(frames)
        items += segmenter.finish()
        return [item for item in items if isinstance(item, Tone)]


def _repeats(sound: NDArray[np.float32], rate: float) -> bool:
    """Whether the sound comes again after the period of a pedal note; noise and speech do not.

    By the autocorrelation of stretches of 0.4 s, two of which must agree: far cheaper than
    listening.
    """
    step = int(rate // _COARSE_HZ)
    coarse = sound[: sound.size // step * step].reshape(-1, step) @ np.ones(step, dtype=np.float32)
    size = round(_WINDOW_S * rate / step)
    starts = np.lib.stride_tricks.sliding_window_view(coarse, size)[::size]
    power = np.abs(fft.rfft(starts, 2 * size, axis=1)) ** 2
    alike = fft.irfft(power, axis=1)[:, :size]
    lags = np.arange(int(rate / step / LEAST_HZ), int(rate / step / _LOW.lowest_hz) + 2)
    overlap = (size - lags) / size
    again = (alike[:, lags] / overlap).max(axis=1) > _ALIKE * np.maximum(alike[:, 0], 1e-9)
    return bool(np.any(again[1:] & again[:-1]))


def _covers(tone: Tone, refusal: Refusal) -> bool:
    shared = min(tone.end_s, refusal.end_s) - max(tone.start_s, refusal.start_s)
    return shared > 0.5 * (refusal.end_s - refusal.start_s)
