"""Frames to steady stretches, each with its pitch or with the reason why it has none."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from sensors.frames import HOP_S, PERIOD, Frames
from sensors.quality import PAIR, pair_probability, quality_of
from sensors.stretches import (
    LINE_CENTS,
    LONGEST_S,
    SILENT_DB,
    cents_of,
    joined,
    level_where,
    part_of,
    pitch_lines,
    pitched,
    rows_of,
    settled_until,
    smoothed,
    span_of,
    stretches,
)

__all__ = ["LEAST_HZ", "SHORTEST_S", "Reason", "Refusal", "Segmenter", "Tone", "mean_pitch"]

SHORTEST_S = 0.7
"""A tone is at least this long [s]."""
LEAST_HZ = 40.5
"""Notes under E1 (41.2 Hz) come out up to 135 cents sharp, at most at 39.8 Hz."""

_NOTICED_S = 0.25  # shorter scraps are not worth a line
_DULL_S = 1.0  # silence or noise is told from this long

_STRANGER_DB = -14.0
_BEND_CENTS = 20.0  # of the smoothed pitch, over the tone
_SPREAD_CENTS = 25.0
_EDGE = 3  # frames left out at either end: attack and release
_RELEASE_DB = 6.0  # below the median level of the tone
_ABOVE_DB = 6.0  # a note above the range has nothing of this strength below it
_LOW_HZ = 200.0  # F1 and two octaves
_DEEP_HZ, _LOST_CENTS = 45.0, 5.0  # a note below the range whose harmonics disagree so much
_ABSENT = 0.03  # 30 dB below the strongest harmonic
_GAPS, _COMPLETE = 0.7, 0.9  # share of the series that is there
_ABOVE_SHARE = 0.3  # of the frames of a stretch without pitch
_LINE_GAP = 3  # frames


class Reason(StrEnum):
    """Why a stretch of sound gives no tone."""

    SILENCE = "silence"
    NO_PITCH = "no-steady-pitch"
    SHORT = "too-short"
    LONG = "longer-than-a-breath"
    GLIDES = "pitch-glides"
    UNSTEADY = "pitch-unsteady"
    CHORD = "two-notes"
    OCTAVE = "octave-in-doubt"
    CLIPPED = "clipped"
    MAINS = "mains-hum"
    PAIR = "two-players"
    HIGH = "above-range"
    LOW = "two-notes-or-below-range"


@dataclass(frozen=True, slots=True)
class Tone:
    """A steady tone.

    Attributes
    ----------
    start_s, end_s : float
        From the beginning of the sound [s].
    hertz : float
        Its pitch [Hz].
    spread_cents : float
        Standard deviation of its frames about that pitch [cents]: vibrato, and unsteadiness.
    frames : int
        How many frames it rests on, forty a second.
    cents_sd : float
        Standard uncertainty of the pitch, as it was held over this tone [cents].
    score : float
        Roughly the logarithm of the odds that two players made it (`sensors.quality`).
    """

    start_s: float
    end_s: float
    hertz: float
    spread_cents: float
    frames: int
    cents_sd: float
    score: float

    @property
    def pair_probability(self) -> float:
        """Probability that two players made it."""
        return pair_probability(self.score)


@dataclass(frozen=True, slots=True)
class Refusal:
    """A stretch of sound that gives no tone.

    Attributes
    ----------
    start_s, end_s : float
        From the beginning of the sound [s].
    reason : Reason
        Why.
    """

    start_s: float
    end_s: float
    reason: Reason


class Segmenter:
    """Gather frames into stretches and judge each when it ends.

    Parameters
    ----------
    sections : bool, default False
        Several players on one note are wanted as one tone: none is taken for a pair.
    complete : bool, default False
        Take only notes with nearly all their harmonics, so low that they may else be what two
        higher ones have in common.
    period : int
        Frames in about one period of a vibrato.
    """

    def __init__(
        self, *, sections: bool = False, complete: bool = False, period: int = PERIOD
    ) -> None:
        self._sections, self._complete, self._period = sections, complete, period
        self._open: Frames | None = None
        self._overlong = False

    def take(self, frames: Frames) -> Iterator[Tone | Refusal]:
        """Take a batch of frames; yield what has ended before it does."""
        frames = frames if self._open is None else joined(self._open, frames)
        cut = settled_until(frames)
        if cut * HOP_S >= _DULL_S:
            yield from self._judge(part_of(frames, 0, cut))
            frames = part_of(frames, cut, frames.hertz.size)
        self._open = frames

    def finish(self) -> Iterator[Tone | Refusal]:
        """Yield what was still open at the end of the sound."""
        if self._open is not None:
            yield from self._judge(self._open)
            self._open = None

    def _judge(self, frames: Frames) -> Iterator[Tone | Refusal]:
        at, count = 0, frames.hertz.size
        for start, stop in pitch_lines(frames):
            if (stop - start) * HOP_S < _NOTICED_S:
                continue
            yield from _dull(part_of(frames, at, start))
            cut_short = stop == count and (stop - start) * HOP_S > LONGEST_S
            if cut_short or (self._overlong and start < 3):
                yield Refusal(*span_of(part_of(frames, start, stop)), Reason.LONG)
            else:
                yield from self._judge_run(part_of(frames, start, stop), frames)
            self._overlong = cut_short
            at = stop
        yield from _dull(part_of(frames, at, count))

    def _judge_run(self, frames: Frames, around: Frames) -> Iterator[Tone | Refusal]:
        """Judge one unbroken line of pitch: its level parts, and the slopes between them."""
        good = pitched(frames)
        frames = rows_of(frames, good)
        steady = level_where(cents_of(frames.hertz), self._period)
        at = 0
        for start, stop in stretches(steady, bridge=2):
            yield from _refusal(part_of(frames, at, start), Reason.GLIDES)
            yield from self._judge_level(part_of(frames, start, stop), around)
            at = stop
        yield from _refusal(part_of(frames, at, frames.hertz.size), Reason.GLIDES)

    def _judge_level(self, frames: Frames, around: Frames) -> Iterator[Tone | Refusal]:
        alone = frames.stranger_db <= _STRANGER_DB
        at = 0
        for start, stop in stretches(alone, bridge=4):
            if (stop - start) * HOP_S < SHORTEST_S and stop - start < 0.8 * alone.size:
                continue
            yield from _refusal(part_of(frames, at, start), _chord(part_of(frames, at, start)))
            yield from self._verdict(part_of(frames, start, stop), around)
            at = stop
        rest = part_of(frames, at, alone.size)
        yield from _refusal(rest, _chord(rest))

    def _verdict(self, frames: Frames, around: Frames) -> Iterator[Tone | Refusal]:
        sounding = np.flatnonzero(frames.level_db > np.median(frames.level_db) - _RELEASE_DB)
        frames = part_of(frames, int(sounding[0]), int(sounding[-1]) + 1)
        reason = _objection(frames, self._period)
        if reason:
            yield from _refusal(frames, reason)
            return
        core = part_of(frames, _EDGE, frames.hertz.size - _EDGE)
        if self._complete and not _is_complete(core.partials):
            yield from _refusal(frames, Reason.OCTAVE)
            return
        quality = quality_of(core, _line_of_sound(core, around), self._period)
        score = -np.inf if self._sections else quality.score
        if score > PAIR:
            yield Refusal(*span_of(frames), Reason.PAIR)
            return
        hertz, spread = mean_pitch(core.hertz)
        if hertz < _DEEP_HZ and quality.cents_sd > _LOST_CENTS:
            yield from _refusal(frames, Reason.LOW)
            return
        yield Tone(*span_of(frames), hertz, spread, core.hertz.size, quality.cents_sd, score)


def mean_pitch(hertz: NDArray[np.float64]) -> tuple[float, float]:
    """Return the pitch of a tone and the spread of its frames.

    Parameters
    ----------
    hertz : ndarray, shape (n,)
        f0 of the frames [Hz].

    Returns
    -------
    hertz : float
        Mean [Hz], in the logarithm, of the frames within five robust standard deviations of
        their median.
    spread_cents : float
        Standard deviation of all frames about it [cents].

    Notes
    -----
    The frames are weighted by a Hann window over the tone: attack and release count little, and
    a vibrato of which a part of a period is left over hardly shifts the mean.

    Examples
    --------
    >>> import numpy as np
    >>> hertz, spread = mean_pitch(np.array([440.0, 440.0, 440.1, 439.9, 440.0, 466.0, 440.0]))
    >>> round(hertz, 2)
    440.0
    """
    middle = float(np.median(hertz))
    cents = 1200 * np.log2(hertz / middle)
    robust_sd = 1.4826 * float(np.median(np.abs(cents)))
    weight = np.hanning(hertz.size + 2)[1:-1] * (np.abs(cents) <= 5 * robust_sd + 0.01)
    mean = float((weight * cents).sum() / weight.sum())
    return middle * 2 ** (mean / 1200), float(np.sqrt(np.mean((cents - mean) ** 2)))


def _objection(frames: Frames, period: int) -> Reason | None:
    """Return why these frames are not a tone, if so."""
    count = frames.hertz.size
    if count * HOP_S < SHORTEST_S:
        return Reason.SHORT
    if count * HOP_S > LONGEST_S:
        return Reason.LONG
    if _is_above(frames):
        return Reason.HIGH
    if np.median(frames.hertz) < LEAST_HZ:
        return Reason.LOW
    smooth = smoothed(cents_of(frames.hertz), period)
    core = part_of(frames, _EDGE, count - _EDGE)
    if core.clipped.mean() > 0.02:
        return Reason.CLIPPED
    if np.ptp(smooth[_EDGE:-_EDGE]) > _BEND_CENTS:
        return Reason.GLIDES
    if float(np.std(cents_of(core.hertz))) > _SPREAD_CENTS:
        return Reason.UNSTEADY
    if _is_mains(core):
        return Reason.MAINS
    return Reason.OCTAVE if _octave_in_doubt(core.partials) else None


def _is_above(frames: Frames) -> bool:
    """Whether this is a note above the range: strong there, with nothing like it below."""
    return bool(np.median(frames.above_db) > _ABOVE_DB)


def _chord(frames: Frames) -> Reason:
    """Return what peaks between the harmonics are: another note, or one out of the range."""
    if frames.hertz.size and _is_above(frames):
        return Reason.HIGH
    low = frames.hertz.size and np.median(frames.hertz) < _LOW_HZ  # taken for an octave above
    return Reason.LOW if low else Reason.CHORD


def _line_of_sound(core: Frames, around: Frames) -> int:
    """Return how many frames the sound lasts that a tone is the steady part of."""
    cents, level = cents_of(around.hertz), around.level_db
    mine = np.abs(cents - np.median(cents_of(core.hertz))) < LINE_CENTS
    mine &= np.abs(level - np.median(core.level_db)) < _RELEASE_DB
    start, stop = np.searchsorted(around.time_s, [core.time_s[0], core.time_s[-1]])
    mine[start : stop + 1] = True
    for first, last in stretches(mine, bridge=_LINE_GAP):
        if first <= start < last:
            return int(mine[first:last].sum())
    return core.hertz.size


def _series(partials: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Return which harmonics are there, up to the highest that is."""
    size = np.median(partials, axis=0)
    present = size > _ABSENT * size.max()
    return np.asarray(present[: int(np.flatnonzero(present)[-1]) + 1])


def _octave_in_doubt(partials: NDArray[np.float64]) -> bool:
    """Whether f0 is a note that nobody plays: no fundamental, and gaps in the series above."""
    series = _series(partials)
    return not series[0] and series.mean() < _GAPS


def _is_complete(partials: NDArray[np.float64]) -> bool:
    """Whether the series of harmonics above the fundamental has no gaps worth the name."""
    series = _series(partials)[1:]
    return series.size == 0 or bool(series.mean() >= _COMPLETE)


def _is_mains(frames: Frames) -> bool:
    """Whether this may be the hum of 50 or 60 Hz: at its pitch, and too steady or too faint."""
    hertz = float(np.median(frames.hertz))
    if all(abs(1200 * np.log2(hertz / mains)) > 7 for mains in (50, 60, 100, 120)):
        return False
    still = np.std(smoothed(cents_of(frames.hertz))) < 0.7
    still &= np.std(smoothed(frames.level_db)) < 0.5
    return bool(still or np.median(frames.clarity_db) < 40)


def _dull(frames: Frames) -> Iterator[Refusal]:
    """Say what a long stretch without pitch is."""
    if frames.hertz.size * HOP_S >= _DULL_S:
        silent = np.median(frames.level_db) <= SILENT_DB
        dull = Reason.SILENCE if silent else Reason.NO_PITCH
        above = np.mean(frames.above_db > _ABOVE_DB) > _ABOVE_SHARE
        yield Refusal(*span_of(frames), Reason.HIGH if above else dull)


def _refusal(frames: Frames, reason: Reason) -> Iterator[Refusal]:
    if frames.hertz.size * HOP_S >= _NOTICED_S:
        yield Refusal(*span_of(frames), reason)
