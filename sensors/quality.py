"""How sure the pitch of a tone is, and whether one player made it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensors.frames import HARMONICS, HOP_S, Frames

__all__ = ["DOUBTFUL", "FLAGGED", "PAIR", "PAIR_SHARE", "Quality", "pair_probability", "quality_of"]

DOUBTFUL = -0.6
"""Score above which a tone that stands alone is refused."""
FLAGGED = -2.0
"""Score above which a tone is worth a look."""
PAIR = 1.5
"""Score above which a tone is refused, whatever stands beside it: a chord or unison of a band."""
PAIR_SHARE = 0.05
"""Share of tones made by two players, before one is heard."""

_BEAT_HZ = 18.0  # fastest beat looked for in any harmonic; the frames end at 20 Hz
_APART = 0.041  # of f0: 70 cents
_POINTS = 1024  # of the transform of a harmonic over the tone: steps of 0.04 Hz
_SLOWEST_TURNS = 0.6  # of a beat within the tone, in the highest harmonic
_BLOCK = 8  # frames: about one period of a vibrato
_ALONE_SD = 5.0  # cents, for the mean of a single block
_LEAST = 0.001  # added inside the logarithms

# Weights of the score: intercept, beat, flutter, disagreement, share of the line of sound.
_SCORE = (3.5, 2.2, -1.2, 1.1, -3.2)
# Weights of the variance [cents²]: floor, wander, wander in a room, harmonics apart.
_VARIANCE = np.array([4e-4, 0.83, 0.19, 0.26])


@dataclass(frozen=True, slots=True)
class Quality:
    """What the harmonics of a tone tell beside its pitch.

    Attributes
    ----------
    cents_sd : float
        Standard uncertainty of the pitch as it was held over this tone [cents].
    score : float
        Roughly the logarithm of the odds that two players made it, before `PAIR_SHARE`.
    """

    cents_sd: float
    score: float


def quality_of(core: Frames, line: int) -> Quality:
    r"""Return how sure the pitch of a tone is, and whether one player made it.

    Parameters
    ----------
    core : Frames
        The frames that the pitch rests on.
    line : int
        Frames of the whole line of sound that the tone is part of.

    Returns
    -------
    Quality

    Notes
    -----
    Let :math:`z_h(t)` be the complex amplitude of harmonic *h* over its mean size, turned back by
    the phase of f0, without its quadratic trend; :math:`q_h` its share of the size. Two players on
    one note beat in every harmonic in proportion to its number; a room makes the harmonics
    flutter without such order:

    .. math:: F = \sum q_h \overline{|z_h|^2}, \qquad
              P = \max_{\delta} \sum_h q_h |Z_h(h \delta)|^2,

    with :math:`Z_h` the Fourier transform over the tone, up to 70 cents and 18 Hz. With *D* the
    85 % quantile of the disagreement of the harmonics within a frame [cents] and *c* the share of
    the line of sound that is steady,

    .. math:: s = 3.5 + 2.2 \ln P - 1.2 \ln F + 1.1 \ln D - 3.2 \ln c .

    With :math:`s^2` the variance of f0 over *m* blocks of 0.2 s and :math:`d^2` the variance of
    the harmonics' own means [cents²],

    .. math:: u^2 = 0.0004 + 0.83 s^2 / m + 0.19 F s^2 + 0.26 d^2 .

    The weights of both were fitted to simulated players in simulated rooms and judged on others;
    ``docs/explanation/tones.md`` has the tables.
    """
    cents = 1200 * np.log2(np.maximum(core.hertz, 1.0))
    size = core.partials.mean(axis=0)
    main = ((core.partials > 0).mean(axis=0) > 0.9) & (size > 0.05 * size.max())
    if not main.any():
        return Quality(_ALONE_SD, 99.0)
    order = np.arange(1, HARMONICS + 1)[main]
    share = size[main] / size[main].sum()
    f0 = float(2 ** (cents.mean() / 1200))
    left = _fluctuation(core, order, main, size[main])
    flutter = float(share @ (np.abs(left) ** 2).mean(axis=0))
    beat = _beat(left, order, share, f0)
    apart = float(np.quantile(core.disagreement_cents, 0.85))
    steady = min(1.0, cents.size / max(line, 1))
    logs = [1.0, *(math.log(value + _LEAST) for value in (beat, flutter, apart)), math.log(steady)]
    score = sum(weight * value for weight, value in zip(_SCORE, logs, strict=True))
    return Quality(_standard_uncertainty(core, cents, order, main, share, f0, flutter), score)


def pair_probability(score: float) -> float:
    """Return the probability that two players made a tone of this score.

    Examples
    --------
    >>> round(pair_probability(0.0), 3), round(pair_probability(-4.0), 3)
    (0.05, 0.001)
    """
    odds = PAIR_SHARE * math.exp(min(score, 50.0))
    return odds / (1 - PAIR_SHARE + odds)


def _fluctuation(
    core: Frames, order: NDArray[np.intp], main: NDArray[np.bool_], size: NDArray[np.float64]
) -> NDArray[np.complex128]:
    """Return the harmonics about their own trend, relative to their size."""
    ahead = core.partials_hz[:, main] - order * core.hertz[:, None]
    phase = 2 * np.pi * HOP_S * np.cumsum(ahead, axis=0)
    sound = core.partials[:, main] / size * np.exp(1j * phase)
    trend = np.linalg.qr(np.vander(np.linspace(-1, 1, len(sound)), 3))[0]
    return np.asarray(sound - trend @ (trend.T @ sound))


def _beat(
    left: NDArray[np.complex128],
    order: NDArray[np.intp],
    share: NDArray[np.float64],
    f0: float,
) -> float:
    """Return the strongest beat that is in proportion to the number of the harmonic."""
    count = len(left)
    power = np.abs(np.fft.fft(left, _POINTS, axis=0)) ** 2 / count**2
    half_bins = 2 * _POINTS * HOP_S
    fastest = max(2, int(min(_APART * f0, _BEAT_HZ) * half_bins))
    slowest = max(1, int(_SLOWEST_TURNS / (count * HOP_S) / order.max() * half_bins))
    step = np.arange(slowest, fastest + 1)
    step = np.concatenate([-step[::-1], step])  # half bins of the beat of the fundamental
    at = np.rint(step[:, None] * order / 2).astype(int)
    slow = np.abs(at) < _BEAT_HZ * _POINTS * HOP_S
    line = np.where(slow, power[at % _POINTS, np.arange(order.size)], 0.0) @ share
    return float(line.max())


def _standard_uncertainty(
    core: Frames,
    cents: NDArray[np.float64],
    order: NDArray[np.intp],
    main: NDArray[np.bool_],
    share: NDArray[np.float64],
    f0: float,
    flutter: float,
) -> float:
    blocks = cents.size // _BLOCK
    means = cents[: _BLOCK * blocks].reshape(blocks, _BLOCK).mean(axis=1)
    wander = float(means.var(ddof=1)) if blocks > 1 else _ALONE_SD**2
    weight = np.hanning(cents.size + 2)[1:-1]
    own = weight @ core.partials_hz[:, main] / weight.sum() / (order * f0)
    own_cents = 1200 / np.log(2) * (own - 1)
    apart = float(share @ (own_cents - share @ own_cents) ** 2)
    return math.sqrt(
        float(np.array([1.0, wander / max(blocks, 1), flutter * wander, apart]) @ _VARIANCE)
    )
