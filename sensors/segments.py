"""Frames to steady stretches, each with its pitch or with the reason why it has none."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from sensors.frames import HOP_S, Frames
from sensors.quality import PAIR, pair_probability, quality_of

__all__ = ["Reason", "Refusal", "Segmenter", "Tone"]

SHORTEST_S = 0.7
LONGEST_S = 30.0  # beyond a breath: a machine, or a recording in a loop
_NOTICED_S = 0.25  # shorter scraps are not worth a line
_DULL_S = 1.0  # silence or noise is told from this long

_SILENT_DB = -75.0
_CLEAR_DB = 15.0  # the strongest of 250 bins of white noise stands 11 dB over their median
_STRANGER_DB = -14.0
_JUMP_CENTS = 45.0  # from frame to frame; vibrato of 25 cents at 6 Hz makes 24
_SMOOTH = 8  # frames: about one period of a vibrato
_SLOPE_CENTS = 10.0  # of the smoothed pitch, from one smoothing to the next (0.2 s)
_BEND_CENTS = 20.0  # of the smoothed pitch, over the tone
_SPREAD_CENTS = 25.0
_EDGE = 3  # frames left out at either end: attack and release
_RELEASE_DB = 6.0  # below the median level of the tone
_ABOVE_DB = 6.0  # a note above the range has nothing of this strength below it
_LOW_HZ = 200.0  # F1 and two octaves
_LEAST_HZ = 40.5  # notes under E1 (41.2 Hz) come out up to 135 cents sharp, at most at 39.8 Hz
_ABSENT = 0.03  # 30 dB below the strongest harmonic
_LINE_CENTS = 100.0  # what belongs to the sound of a tone, steady or not
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
    """

    def __init__(self, *, sections: bool = False) -> None:
        self._sections = sections
        self._open: Frames | None = None
        self._overlong = False

    def take(self, frames: Frames) -> Iterator[Tone | Refusal]:
        """Take a batch of frames; yield what has ended before it does."""
        frames = frames if self._open is None else _joined(self._open, frames)
        cut = _last_break(frames)
        if cut * HOP_S >= _DULL_S:
            yield from self._judge(_part(frames, 0, cut))
            frames = _part(frames, cut, frames.hertz.size)
        self._open = frames

    def finish(self) -> Iterator[Tone | Refusal]:
        """Yield what was still open at the end of the sound."""
        if self._open is not None:
            yield from self._judge(self._open)
            self._open = None

    def _judge(self, frames: Frames) -> Iterator[Tone | Refusal]:
        at, count = 0, frames.hertz.size
        for start, stop in _runs(frames):
            if (stop - start) * HOP_S < _NOTICED_S:
                continue
            yield from _dull(_part(frames, at, start))
            cut_short = stop == count and (stop - start) * HOP_S > LONGEST_S
            if cut_short or (self._overlong and start < 3):
                yield Refusal(*_span(_part(frames, start, stop)), Reason.LONG)
            else:
                yield from self._judge_run(_part(frames, start, stop), frames)
            self._overlong = cut_short
            at = stop
        yield from _dull(_part(frames, at, count))

    def _judge_run(self, frames: Frames, around: Frames) -> Iterator[Tone | Refusal]:
        """Judge one unbroken line of pitch: its level parts, and the slopes between them."""
        good = _good(frames)
        frames = _where(frames, good)
        steady = _steady(_cents(frames.hertz))
        at = 0
        for start, stop in _stretches(steady, bridge=2):
            yield from _refusal(_part(frames, at, start), Reason.GLIDES)
            yield from self._judge_level(_part(frames, start, stop), around)
            at = stop
        yield from _refusal(_part(frames, at, frames.hertz.size), Reason.GLIDES)

    def _judge_level(self, frames: Frames, around: Frames) -> Iterator[Tone | Refusal]:
        alone = frames.stranger_db <= _STRANGER_DB
        at = 0
        for start, stop in _stretches(alone, bridge=4):
            if (stop - start) * HOP_S < SHORTEST_S and stop - start < 0.8 * alone.size:
                continue
            yield from _refusal(_part(frames, at, start), _chord(_part(frames, at, start)))
            yield from self._verdict(_part(frames, start, stop), around)
            at = stop
        yield from _refusal(_part(frames, at, alone.size), _chord(_part(frames, at, alone.size)))

    def _verdict(self, frames: Frames, around: Frames) -> Iterator[Tone | Refusal]:
        sounding = np.flatnonzero(frames.level_db > np.median(frames.level_db) - _RELEASE_DB)
        frames = _part(frames, int(sounding[0]), int(sounding[-1]) + 1)
        reason = _objection(frames)
        if reason:
            yield from _refusal(frames, reason)
            return
        core = _part(frames, _EDGE, frames.hertz.size - _EDGE)
        quality = quality_of(core, _line_of_sound(core, around))
        score = -np.inf if self._sections else quality.score
        if score > PAIR:
            yield Refusal(*_span(frames), Reason.PAIR)
            return
        hertz, spread = mean_pitch(core.hertz)
        yield Tone(*_span(frames), hertz, spread, core.hertz.size, quality.cents_sd, score)


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


def _objection(frames: Frames) -> Reason | None:
    """Return why these frames are not a tone, if so."""
    count = frames.hertz.size
    if count * HOP_S < SHORTEST_S:
        return Reason.SHORT
    if count * HOP_S > LONGEST_S:
        return Reason.LONG
    if _is_above(frames):
        return Reason.HIGH
    if np.median(frames.hertz) < _LEAST_HZ:
        return Reason.LOW
    smooth = _smoothed(_cents(frames.hertz))
    core = _part(frames, _EDGE, count - _EDGE)
    if core.clipped.mean() > 0.02:
        return Reason.CLIPPED
    if np.ptp(smooth[_EDGE:-_EDGE]) > _BEND_CENTS:
        return Reason.GLIDES
    if float(np.std(_cents(core.hertz))) > _SPREAD_CENTS:
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
    cents, level = _cents(around.hertz), around.level_db
    mine = np.abs(cents - np.median(_cents(core.hertz))) < _LINE_CENTS
    mine &= np.abs(level - np.median(core.level_db)) < _RELEASE_DB
    start, stop = np.searchsorted(around.time_s, [core.time_s[0], core.time_s[-1]])
    mine[start : stop + 1] = True
    for first, last in _stretches(mine, bridge=_LINE_GAP):
        if first <= start < last:
            return int(mine[first:last].sum())
    return core.hertz.size


def _octave_in_doubt(partials: NDArray[np.float64]) -> bool:
    """Whether f0 is a note that nobody plays: no fundamental, and gaps in the series above."""
    size = np.median(partials, axis=0)
    present = size > _ABSENT * size.max()
    top = int(np.flatnonzero(present)[-1]) + 1
    return not present[0] and present[:top].mean() < 0.7


def _is_mains(frames: Frames) -> bool:
    """Whether this may be the hum of 50 or 60 Hz: at its pitch, and too steady or too faint."""
    hertz = float(np.median(frames.hertz))
    if all(abs(1200 * np.log2(hertz / mains)) > 7 for mains in (50, 60, 100, 120)):
        return False
    still = np.std(_smoothed(_cents(frames.hertz))) < 0.7
    still &= np.std(_smoothed(frames.level_db)) < 0.5
    return bool(still or np.median(frames.clarity_db) < 40)


def _good(frames: Frames) -> NDArray[np.bool_]:
    """Where a frame has a pitch, and one that its neighbours share."""
    if frames.hertz.size == 0:
        return np.zeros(0, dtype=bool)
    pitched = (frames.level_db > _SILENT_DB) & (frames.clarity_db > _CLEAR_DB)
    cents = _cents(frames.hertz)
    padded = np.concatenate([cents[:1], cents[:1], cents, cents[-1:], cents[-1:]])
    return np.asarray(pitched & (np.abs(cents - _median_of_five(padded)) < _JUMP_CENTS))


def _median_of_five(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the running median of five by comparisons, ten times as fast as by sorting."""
    a, b, c, d, e = (values[at : values.size - 4 + at] for at in range(5))
    low = np.maximum(np.minimum(a, b), np.minimum(c, d))
    high = np.minimum(np.maximum(a, b), np.maximum(c, d))
    return np.maximum(np.minimum(e, low), np.minimum(np.maximum(e, low), high))


def _runs(frames: Frames, jump_cents: float = _JUMP_CENTS) -> list[tuple[int, int]]:
    """Return the unbroken lines of pitch: at most two frames missing, no jump."""
    at = np.flatnonzero(_good(frames))
    if at.size == 0:
        return []
    cents = _cents(frames.hertz[at])
    breaks = np.flatnonzero((np.diff(at) > 3) | (np.abs(np.diff(cents)) > jump_cents)) + 1
    return [(int(part[0]), int(part[-1]) + 1) for part in np.split(at, breaks)]


def _last_break(frames: Frames) -> int:
    """Return where the frames can be cut: at the start of the last line that may go on."""
    count = frames.hertz.size
    runs = _runs(frames, _LINE_CENTS)
    settled = count - 5  # the median over neighbours needs two more, a gap may last two
    if runs and runs[-1][1] > settled:
        start = runs[-1][0]
        return start if (count - start) * HOP_S <= LONGEST_S + 5 else count
    return max(0, settled)


def _steady(cents: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Where the pitch, smoothed over a period of vibrato, stays."""
    if cents.size < 3 * _SMOOTH:
        return np.ones(cents.size, dtype=bool)
    smooth = _smoothed(cents)
    slope = np.abs(smooth[_SMOOTH:] - smooth[:-_SMOOTH])
    level = slope < _SLOPE_CENTS
    half = _SMOOTH // 2
    return np.concatenate([np.repeat(level[:1], half), level, np.repeat(level[-1:], half)])


def _smoothed(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the running mean; near the ends that of the nearest whole window."""
    if values.size < _SMOOTH:
        return np.full(values.size, values.mean() if values.size else 0.0)
    total = np.cumsum(np.concatenate([[0.0], values]))
    mean = (total[_SMOOTH:] - total[:-_SMOOTH]) / _SMOOTH
    before = _SMOOTH // 2
    return np.pad(mean, (before, values.size - mean.size - before), mode="edge")


def _stretches(mask: NDArray[np.bool_], bridge: int) -> list[tuple[int, int]]:
    """Return the stretches where the mask holds, over gaps of up to `bridge`."""
    at = np.flatnonzero(mask)
    if at.size == 0:
        return []
    parts = np.split(at, np.flatnonzero(np.diff(at) > bridge + 1) + 1)
    return [(int(part[0]), int(part[-1]) + 1) for part in parts]


def _dull(frames: Frames) -> Iterator[Refusal]:
    """Say what a long stretch without pitch is."""
    if frames.hertz.size * HOP_S >= _DULL_S:
        silent = np.median(frames.level_db) <= _SILENT_DB
        dull = Reason.SILENCE if silent else Reason.NO_PITCH
        yield Refusal(*_span(frames), Reason.HIGH if _is_above(frames) else dull)


def _refusal(frames: Frames, reason: Reason) -> Iterator[Refusal]:
    if frames.hertz.size * HOP_S >= _NOTICED_S:
        yield Refusal(*_span(frames), reason)


def _span(frames: Frames) -> tuple[float, float]:
    start, end = float(frames.time_s[0]), float(frames.time_s[-1])
    return max(0.0, start - HOP_S / 2), end + HOP_S / 2


def _cents(hertz: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(1200 * np.log2(np.maximum(hertz, 1.0)))


def _where(frames: Frames, rows: NDArray[np.bool_] | slice) -> Frames:
    return Frames(**{field.name: getattr(frames, field.name)[rows] for field in fields(Frames)})


def _part(frames: Frames, start: int, stop: int) -> Frames:
    return _where(frames, slice(start, stop))


def _joined(first: Frames, second: Frames) -> Frames:
    names = [field.name for field in fields(Frames)]
    return Frames(
        **{name: np.concatenate([getattr(first, name), getattr(second, name)]) for name in names}
    )
