"""Which frames hang together: unbroken lines of pitch, level parts, gaps that are bridged."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
from numpy.typing import NDArray

from sensors.frames import HOP_S, PERIOD, Frames

__all__ = [
    "LINE_CENTS",
    "LONGEST_S",
    "SILENT_DB",
    "cents_of",
    "joined",
    "level_where",
    "part_of",
    "pitch_lines",
    "pitched",
    "rows_of",
    "settled_until",
    "smoothed",
    "span_of",
    "stretches",
]

LONGEST_S = 30.0
"""Beyond a breath: a machine, or a recording in a loop [s]."""
SILENT_DB = -75.0
"""Level up to which a frame is silent [dB re full scale]."""
LINE_CENTS = 100.0
"""What belongs to the sound of a tone, steady or not [cents]."""

_CLEAR_DB = 15.0  # the strongest of 250 bins of white noise stands 11 dB over their median
_JUMP_CENTS = 45.0  # from frame to frame; vibrato of 25 cents at 6 Hz makes 24
_SLOPE_CENTS = 10.0  # of the smoothed pitch, from one smoothing to the next (0.2 s)


def pitched(frames: Frames) -> NDArray[np.bool_]:
    """Where a frame has a pitch, and one that its neighbours share."""
    if frames.hertz.size == 0:
        return np.zeros(0, dtype=bool)
    clear = (frames.level_db > SILENT_DB) & (frames.clarity_db > _CLEAR_DB)
    cents = cents_of(frames.hertz)
    padded = np.concatenate([cents[:1], cents[:1], cents, cents[-1:], cents[-1:]])
    return np.asarray(clear & (np.abs(cents - _median_of_five(padded)) < _JUMP_CENTS))


def _median_of_five(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the running median of five by comparisons, ten times as fast as by sorting."""
    a, b, c, d, e = (values[at : values.size - 4 + at] for at in range(5))
    low = np.maximum(np.minimum(a, b), np.minimum(c, d))
    high = np.minimum(np.maximum(a, b), np.maximum(c, d))
    return np.maximum(np.minimum(e, low), np.minimum(np.maximum(e, low), high))


def pitch_lines(frames: Frames, jump_cents: float = _JUMP_CENTS) -> list[tuple[int, int]]:
    """Return the unbroken lines of pitch: at most two frames missing, no jump."""
    at = np.flatnonzero(pitched(frames))
    if at.size == 0:
        return []
    cents = cents_of(frames.hertz[at])
    breaks = np.flatnonzero((np.diff(at) > 3) | (np.abs(np.diff(cents)) > jump_cents)) + 1
    return [(int(part[0]), int(part[-1]) + 1) for part in np.split(at, breaks)]


def settled_until(frames: Frames) -> int:
    """Return where the frames can be cut: at the start of the last line that may go on."""
    count = frames.hertz.size
    runs = pitch_lines(frames, LINE_CENTS)
    settled = count - 5  # the median over neighbours needs two more, a gap may last two
    if runs and runs[-1][1] > settled:
        start = runs[-1][0]
        return start if (count - start) * HOP_S <= LONGEST_S + 5 else count
    return max(0, settled)


def level_where(cents: NDArray[np.float64], period: int = PERIOD) -> NDArray[np.bool_]:
    """Where the pitch, smoothed over a period of vibrato, stays."""
    if cents.size < 3 * period:
        return np.ones(cents.size, dtype=bool)
    smooth = smoothed(cents, period)
    slope = np.abs(smooth[period:] - smooth[:-period])
    level = slope < _SLOPE_CENTS
    half = period // 2
    return np.concatenate([np.repeat(level[:1], half), level, np.repeat(level[-1:], half)])


def smoothed(values: NDArray[np.float64], period: int = PERIOD) -> NDArray[np.float64]:
    """Return the running mean; near the ends that of the nearest whole window."""
    if values.size < period:
        return np.full(values.size, values.mean() if values.size else 0.0)
    total = np.cumsum(np.concatenate([[0.0], values]))
    mean = (total[period:] - total[:-period]) / period
    before = period // 2
    return np.pad(mean, (before, values.size - mean.size - before), mode="edge")


def stretches(mask: NDArray[np.bool_], bridge: int) -> list[tuple[int, int]]:
    """Return the stretches where the mask holds, over gaps of up to `bridge`."""
    at = np.flatnonzero(mask)
    if at.size == 0:
        return []
    parts = np.split(at, np.flatnonzero(np.diff(at) > bridge + 1) + 1)
    return [(int(part[0]), int(part[-1]) + 1) for part in parts]


def span_of(frames: Frames) -> tuple[float, float]:
    """Return where frames begin and end [s]."""
    start, end = float(frames.time_s[0]), float(frames.time_s[-1])
    return max(0.0, start - HOP_S / 2), end + HOP_S / 2


def cents_of(hertz: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return pitches as cents above 1 Hz."""
    return np.asarray(1200 * np.log2(np.maximum(hertz, 1.0)))


def rows_of(frames: Frames, rows: NDArray[np.bool_] | slice) -> Frames:
    """Return some of the frames."""
    return Frames(**{field.name: getattr(frames, field.name)[rows] for field in fields(Frames)})


def part_of(frames: Frames, start: int, stop: int) -> Frames:
    """Return the frames from one to another."""
    return rows_of(frames, slice(start, stop))


def joined(first: Frames, second: Frames) -> Frames:
    """Return two batches as one."""
    names = [field.name for field in fields(Frames)]
    return Frames(
        **{name: np.concatenate([getattr(first, name), getattr(second, name)]) for name in names}
    )
