"""How sure the pitch of a tone is, and whether one player made it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensors.frames import HARMONICS, HOP_S, PERIOD, Frames

__all__ = ["DOUBTFUL", "FLAGGED", "PAIR", "PAIR_SHARE", "Quality", "pair_probability", "quality_of"]

DOUBTFUL = -0.6
"""Score above which a tone that stands alone is refused."""
FLAGGED = -2.0
"""Score above which a tone is worth a look."""
PAIR = 0.5
"""Score above which a tone is refused, whatever stands beside it: a chord or unison of a band."""
PAIR_SHARE = 0.05
"""Share of tones made by two players, before one is heard."""

_FASTEST_HZ = 18.0  # beat looked for in any harmonic; the frames end at 20 Hz
_SLOWEST_HZ = 0.5  # modulation that is not a trend
_APART = 0.041  # of f0: 70 cents
_POINTS = 1024  # of the transform of a harmonic over the tone: steps of 0.04 Hz
_SLOWEST_TURNS = 0.6  # of a beat within the tone, in the highest harmonic
_UNKNOWN = 5.0  # cents, where there is too little to tell
_CERTAIN = 99.0  # score of a tone without a harmonic that lasts

# Measure, weight in the score, what is added inside its logarithm; fitted, see quality_of.
_INTERCEPT = 2.0
_WEIGHTS = {
    "beat": (2.6, 1e-3),
    "modulation": (-1.25, 1e-3),
    "flutter": (-0.6, 1e-3),
    "disagreement": (1.0, 1e-3),
    "share": (-0.9, 0.0),
}
# Weights of the variance [cents²]: floor, wander, harmonics apart, vibrato.
_FLOOR, _WANDER, _HARMONICS, _VIBRATO = 4e-4, 0.74, 0.28, 0.047


@dataclass(frozen=True, slots=True)
class Quality:
    """What the harmonics of a tone tell beside its pitch.

    Attributes
    ----------
    cents_sd : float
        Standard uncertainty of the pitch as it was held over this tone [cents].
    score : float
        Logarithm of how much likelier two players make it than one does.
    """

    cents_sd: float
    score: float


def quality_of(core: Frames, line: int, period: int = PERIOD) -> Quality:
    r"""Return how sure the pitch of a tone is, and whether one player made it.

    Parameters
    ----------
    core : Frames
        The frames that the pitch rests on.
    line : int
        Frames of the whole line of sound that the tone is part of.
    period : int
        Frames in about one period of a vibrato.

    Returns
    -------
    Quality

    Notes
    -----
    Let :math:`z_h(t)` be the complex amplitude of harmonic *h* over its mean size, turned back by
    the phase of f0, without its quadratic trend; :math:`Z_h` its Fourier transform over the tone,
    :math:`q_h` its share of the size. Two players on one note beat in every harmonic in proportion
    to its number; vibrato modulates all harmonics at one rate, and a room makes them flutter
    without order:

    .. math:: P = \max_{\delta} \sum_h q_h |Z_h(h \delta)|^2, \qquad
              M = \max_{\nu} \sum_h q_h |Z_h(\nu)|^2, \qquad
              F = \sum_h q_h \overline{|z_h|^2},

    up to 70 cents and 18 Hz. With *D* the 85 % quantile of the disagreement of the harmonics
    within a frame [cents] and *c* the share of the line of sound that is steady,

    .. math:: \text{score} = 2 + 2.6 \ln P - 1.25 \ln M - 0.6 \ln F + \ln D - 0.9 \ln c,

    With :math:`s^2` the variance of f0 over *m* blocks of 0.2 s, :math:`v^2` that over its *n*
    frames, and :math:`d^2` the variance of the harmonics' own means [cents²],

    .. math:: u^2 = 0.0004 + 0.74 s^2/m + 0.28 d^2 + 0.047 v^2/n .

    Both were fitted (logistic regression; maximum likelihood) to simulated players in simulated
    rooms and judged on others: ``docs/explanation/tones.md`` has the tables.
    """
    size = core.partials.mean(axis=0)
    main = ((core.partials > 0).mean(axis=0) > 0.9) & (size > 0.05 * size.max())
    if not main.any():
        return Quality(_UNKNOWN, _CERTAIN)
    order = np.arange(1, HARMONICS + 1)[main]
    share = size[main] / size[main].sum()
    cents = 1200 * np.log2(np.maximum(core.hertz, 1.0))
    f0 = float(2 ** (cents.mean() / 1200))
    left = _fluctuation(core, order, main, size[main])
    power = np.abs(np.fft.fft(left, _POINTS, axis=0)) ** 2 / len(left) ** 2
    measures = {
        "beat": _beat(power, order, share, f0, len(left)),
        "modulation": _modulation(power, share),
        "flutter": float(share @ (np.abs(left) ** 2).mean(axis=0)),
        "disagreement": float(np.quantile(core.disagreement_cents, 0.85)),
        "share": min(1.0, cents.size / max(line, 1)),
    }
    score = _INTERCEPT + sum(
        weight * math.log(measures[name] + least) for name, (weight, least) in _WEIGHTS.items()
    )
    wander, blocks = _wander(cents, period)
    variance = (
        _FLOOR
        + _WANDER * wander / blocks
        + _HARMONICS * _apart(core.partials_hz[:, main] / (order * f0), share)
        + _VIBRATO * float(np.var(cents)) / cents.size
    )
    return Quality(math.sqrt(variance), score)


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
    time = np.linspace(-1, 1, len(sound))
    trend = np.column_stack([np.ones_like(time), time, time**2 - np.mean(time**2)])
    trend /= np.linalg.norm(trend, axis=0)  # orthogonal, as the times lie evenly about zero
    return np.asarray(sound - trend @ (trend.T @ sound))


def _beat(
    power: NDArray[np.float64],
    order: NDArray[np.intp],
    share: NDArray[np.float64],
    f0: float,
    count: int,
) -> float:
    """Return the strongest line at a frequency in proportion to the number of the harmonic."""
    half_bins = 2 * _POINTS * HOP_S
    fastest = max(2, int(min(_APART * f0, _FASTEST_HZ) * half_bins))
    slowest = max(1, int(_SLOWEST_TURNS / (count * HOP_S) / order.max() * half_bins))
    step = np.arange(slowest, fastest + 1)
    step = np.concatenate([-step[::-1], step])  # half bins of the beat of the fundamental
    at = np.rint(step[:, None] * order / 2).astype(int)
    slow = np.abs(at) < _FASTEST_HZ * _POINTS * HOP_S
    line = np.where(slow, power[at % _POINTS, np.arange(order.size)], 0.0) @ share
    return float(line.max())


def _modulation(power: NDArray[np.float64], share: NDArray[np.float64]) -> float:
    """Return the strongest line at a frequency that is the same in all harmonics."""
    first, last = (round(hertz * _POINTS * HOP_S) for hertz in (_SLOWEST_HZ, _FASTEST_HZ))
    bins = np.arange(first, last + 1)
    return float((power[np.concatenate([bins, -bins])] @ share).max())


def _apart(relative: NDArray[np.float64], share: NDArray[np.float64]) -> float:
    """Return the variance of the harmonics' own mean pitches [cents²]."""
    weight = np.hanning(len(relative) + 2)[1:-1]
    own = 1200 / math.log(2) * (weight @ relative / weight.sum() - 1)
    return float(share @ (own - share @ own) ** 2)


def _wander(cents: NDArray[np.float64], period: int) -> tuple[float, int]:
    """Return the variance of f0 over blocks as long as a vibrato [cents²], and their number."""
    blocks = cents.size // period
    if blocks < 2:
        return _UNKNOWN**2, 1
    means = cents[: period * blocks].reshape(blocks, period).mean(axis=1)
    return float(means.var(ddof=1)), blocks
