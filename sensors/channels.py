"""Several channels of one recording, each heard apart, and what they make together.

The mean of two microphones is no microphone: what reaches them at different times cancels in it.
Heard apart, two channels are two looks at one tone, and the more doubtful of the two decides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sensors.segments import Reason
from sensors.tones import Refusal, Tone, ToneFinder

__all__ = ["ChannelFinder", "together"]

_SAME_CENTS = 25.0
_OVERLAP = 0.5  # of the shorter


class ChannelFinder:
    """Find the steady tones in each of several channels, and put them together.

    Parameters
    ----------
    rate : float
        Sample rate [Hz].
    channels : int
        How many are heard.
    sections, clock_ppm
        As for `sensors.tones.ToneFinder`.
    """

    def __init__(
        self, rate: float, channels: int, *, sections: bool = False, clock_ppm: float = 0.0
    ) -> None:
        self._finders = [
            ToneFinder(rate, sections=sections, clock_ppm=clock_ppm) for _ in range(channels)
        ]
        self._heard: list[list[Tone | Refusal]] = [[] for _ in range(channels)]

    @property
    def seconds(self) -> float:
        """How much sound has been heard [s]."""
        return self._finders[0].seconds

    def hear(self, block: NDArray[np.float32]) -> None:
        """Take a block of samples in, shape (n, channels)."""
        for finder, heard, samples in zip(self._finders, self._heard, block.T, strict=True):
            heard += finder.hear(samples)

    def finish(self) -> list[Tone | Refusal]:
        """Return what was heard, in the order of time."""
        for finder, heard in zip(self._finders, self._heard, strict=True):
            heard += finder.finish()
        return together(self._heard)


def together(channels: Sequence[Sequence[Tone | Refusal]]) -> list[Tone | Refusal]:
    """Return what several channels of one sound make together.

    Parameters
    ----------
    channels : sequence of sequences of Tone or Refusal
        What was heard in each.

    Returns
    -------
    list of Tone or Refusal
        In the order of time. A tone of several channels is their mean with the larger score and
        the smaller uncertainty; a tone that one channel refuses as two players is refused.

    Examples
    --------
    >>> left = [Tone(1.0, 3.0, 440.0, 1.0, 74, 0.1, -5.0)]
    >>> right = [Tone(1.1, 3.0, 440.2, 1.2, 70, 0.2, -1.0)]
    >>> [(round(tone.hertz, 1), tone.cents_sd, tone.score) for tone in together([left, right])]
    [(440.1, 0.1, -1.0)]
    """
    if len(channels) == 1:
        return list(channels[0])
    items = [item for heard in channels for item in heard]
    pairs = [item for item in items if isinstance(item, Refusal) and item.reason is Reason.PAIR]
    found: list[Tone | Refusal] = []
    for tone in (item for item in items if isinstance(item, Tone)):
        if any(_overlap(tone, pair) for pair in pairs):
            continue
        for at, other in enumerate(found):
            if isinstance(other, Tone) and _is_same(tone, other):
                found[at] = _mean(other, tone)
                break
        else:
            found.append(tone)
    for refusal in [*pairs, *(item for item in items if isinstance(item, Refusal))]:
        if not any(_overlap(refusal, other) for other in found):
            found.append(refusal)
    return sorted(found, key=lambda item: item.start_s)


def _overlap(one: Tone | Refusal, other: Tone | Refusal) -> bool:
    shared = min(one.end_s, other.end_s) - max(one.start_s, other.start_s)
    return shared > _OVERLAP * min(one.end_s - one.start_s, other.end_s - other.start_s)


def _is_same(one: Tone, other: Tone) -> bool:
    return _overlap(one, other) and abs(1200 * np.log2(one.hertz / other.hertz)) < _SAME_CENTS


def _mean(one: Tone, other: Tone) -> Tone:
    return replace(
        one,
        start_s=min(one.start_s, other.start_s),
        end_s=max(one.end_s, other.end_s),
        hertz=float(np.sqrt(one.hertz * other.hertz)),
        spread_cents=max(one.spread_cents, other.spread_cents),
        frames=max(one.frames, other.frames),
        cents_sd=min(one.cents_sd, other.cents_sd),
        score=max(one.score, other.score),
    )
