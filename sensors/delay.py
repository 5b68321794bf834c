"""How late a microphone hears: a test tone is played, and looked for in what comes in."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import signal

from sensors.errors import SourceUnavailable
from sensors.reading import Clock
from sensors.tones import find_tones

__all__ = ["TEST_HZ", "Delay", "Player", "arrival", "measure_delay", "sent_tone"]

TEST_HZ = 440.0
"""Pitch of the note in the test tone [Hz]."""

_AMPLITUDE = 0.1  # -20 dB re full scale: heard across a room, no strain on ears
_SWEEP_S, _SWEEP_HZ = 0.5, (400.0, 3000.0)  # what the loudspeaker of a laptop can do
_REST_S, _NOTE_S, _FADE_S = 0.3, 1.5, 0.02
_QUIET_S = 0.4  # heard before the first, and after the note
_LATEST_S = 1.5  # nothing in a computer takes longer
_PATIENCE_S = 10.0
_CLEAR = 8.0  # times the median of the correlation; the largest of white noise is 4
_ALIKE = 0.3  # of all that sounds for as long as the sweep; a tune comes to 0.07
_FIRST = 0.5  # of the strongest: the direct sound, where a reflection is louder
_NEAR_CENTS = 50.0

Sound = NDArray[np.float32]


class Player(Protocol):
    """A `sensors.loudspeaker.Loudspeaker`, or anything of its shape."""

    rate: float

    def play(self, samples: Sound) -> float:
        """Begin to play and return at once: how long the output takes by its own account [s]."""


class Listened(Protocol):
    """An open microphone."""

    rate: float

    def __iter__(self) -> Iterator[ArrayLike | None]:
        """Yield blocks of samples, and None at least once a second without any."""


@dataclass(frozen=True, slots=True)
class Delay:
    """How late a microphone hears.

    Attributes
    ----------
    seconds : float
        Median over the test tones of the time given to each after it was sent [s]. Negative
        where listening is thought to begin earlier than it does.
    spread_s : float
        Largest less smallest [s].
    cents : float or None
        Pitch at which the note of the last test tone was heard, against that at which it was
        sent [cents]; None where it could not be measured.
    """

    seconds: float
    spread_s: float
    cents: float | None


def sent_tone(rate: float) -> Sound:
    """Return the test tone: a sweep to find its time by, a rest, and a note to hear its pitch.

    Parameters
    ----------
    rate : float
        Sample rate [Hz].

    Returns
    -------
    ndarray of float32, shape (n,)
        Sound of at most a tenth of full scale.
    """
    time = np.arange(round(_NOTE_S * rate)) / rate
    note = sum(np.sin(2 * np.pi * h * TEST_HZ * time) / h for h in (1, 2, 3)) / 1.6
    rest = np.zeros(round(_REST_S * rate))
    sound = np.concatenate([_sweep(rate), rest, note * _faded(time.size, rate)])
    return np.asarray(_AMPLITUDE * sound, dtype=np.float32)


def arrival(samples: ArrayLike, rate: float) -> float | None:
    """Return when a test tone begins in a sound.

    Parameters
    ----------
    samples : array_like, shape (n,)
        Sound.
    rate : float
        Sample rate [Hz].

    Returns
    -------
    float or None
        From the first sample [s]; None where no test tone stands out.

    Notes
    -----
    The sound is correlated with the sweep (a matched filter). The first arrival that is at least
    half as strong as the strongest counts, so that a reflection does not pass for the direct
    sound.

    Examples
    --------
    >>> sound = np.concatenate([np.zeros(2000), sent_tone(8000)])
    >>> round(arrival(sound, 8000), 3)
    0.25
    """
    sound = np.asarray(samples, dtype=float)
    sweep = _sweep(rate)
    if sound.size < sweep.size:
        return None
    match = np.abs(signal.hilbert(signal.correlate(sound, sweep, mode="valid", method="fft")))
    at = int(match.argmax())
    strongest, here = float(match[at]), sound[at : at + sweep.size]
    least = _ALIKE * float(np.linalg.norm(sweep) * np.linalg.norm(here))
    if strongest == 0 or strongest < max(least, _CLEAR * float(np.median(match))):
        return None
    first = int(np.flatnonzero(match >= _FIRST * strongest)[0])
    reach = max(1, round(0.001 * rate))
    return (first + int(match[first : first + reach].argmax())) / rate


def measure_delay(
    microphone: Callable[[], AbstractContextManager[Listened]],
    loudspeaker: Player,
    clock: Clock,
    *,
    times: int = 3,
) -> Delay:
    """Play test tones and return how late the microphone hears them.

    Parameters
    ----------
    microphone : callable
        Gives a microphone to open; each test tone opens it anew, as each evening does.
    loudspeaker : Player
        What plays.
    clock : Clock
        What both times are read from.
    times : int
        How many test tones.

    Returns
    -------
    Delay

    Raises
    ------
    SourceUnavailable
        When a test tone is not heard, or the microphone gives no sound.

    Notes
    -----
    The first sample is taken to be of the time when the microphone was open. The delay of a tone
    is the time of its arrival, by counting samples from there, less that at which it was sent and
    less what the output takes by its own account. Sound needs 3 ms a metre.
    """
    tone = sent_tone(loudspeaker.rate)
    delays, cents = [], None
    for _ in range(times):
        with microphone() as opened:
            delay, cents = _one_delay(opened, loudspeaker, tone, clock)
        delays.append(delay)
    return Delay(float(np.median(delays)), float(np.ptp(delays)), cents)


def _one_delay(
    microphone: Listened, loudspeaker: Player, tone: Sound, clock: Clock
) -> tuple[float, float | None]:
    """Return the delay of one test tone [s], and its pitch [cents]."""
    began, rate = clock.monotonic(), microphone.rate
    heard = _Heard(microphone, clock)
    heard.gather(_QUIET_S)
    sent = clock.monotonic()
    sent += loudspeaker.play(tone)
    heard.gather(tone.size / loudspeaker.rate + _LATEST_S)
    at = arrival(heard.samples, rate)
    if at is None:
        raise SourceUnavailable(
            "the test tone was not heard",
            "turn the loudspeaker up a little, put the microphone near it, and try again; "
            "through headphones it cannot be heard",
        )
    return began + at - sent, _pitch(heard.samples[round((at + _SWEEP_S) * rate) :], rate)


class _Heard:
    """What has come in since a microphone was opened."""

    def __init__(self, microphone: Listened, clock: Clock) -> None:
        self._blocks, self._rate, self._clock = iter(microphone), microphone.rate, clock
        self.samples: Sound = np.empty(0, dtype=np.float32)

    def gather(self, seconds: float) -> None:
        """Take in so much more sound."""
        enough = self.samples.size + round(seconds * self._rate)
        latest = self._clock.monotonic() + seconds + _PATIENCE_S
        for block in self._blocks:
            if block is not None:
                new = np.asarray(block, dtype=np.float32)
                self.samples = np.concatenate([self.samples, new])
            if self.samples.size >= enough:
                return
            if self._clock.monotonic() > latest:
                break
        raise SourceUnavailable(
            "the microphone gives no sound", "allow its use in the settings of the system"
        )


def _pitch(samples: Sound, rate: float) -> float | None:
    """Return how far the note is heard from where it was sent [cents]."""
    tones, _ = find_tones(samples, rate)
    cents = [float(1200 * np.log2(tone.hertz / TEST_HZ)) for tone in tones]
    return next((value for value in cents if abs(value) < _NEAR_CENTS), None)


def _sweep(rate: float) -> NDArray[np.float64]:
    time = np.arange(round(_SWEEP_S * rate)) / rate
    low, high = _SWEEP_HZ
    sound = signal.chirp(time, low, _SWEEP_S, min(high, 0.45 * rate))
    return np.asarray(sound * _faded(time.size, rate))


def _faded(count: int, rate: float) -> NDArray[np.float64]:
    """Return a level of one with soft ends, that no click is heard."""
    return np.asarray(signal.windows.tukey(count, 2 * _FADE_S * rate / count))
