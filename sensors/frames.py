"""Samples to short frames, and in each frame the pitch of the harmonic peaks.

A long Fourier transform is near perfect on a steady tone and cents wrong on a tone with vibrato.
Here the sound is cut into frames of a tenth of a second, forty a second. In each, the pitch whose
harmonics explain the spectrum is looked for on a grid; the frequency of each harmonic peak is then
read from how far its phase advances to the next frame, and f0 is fitted through the harmonics by
weighted least squares. Because the phase advances add up over a tone, so do the frames.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft, signal

from sensors.errors import RecordingError

__all__ = ["HARMONICS", "HIGHEST_HZ", "HOP_S", "LOWEST_HZ", "PERIOD", "FrameReader", "Frames"]

LOWEST_HZ = 42.0
"""A little under F1 (43.65 Hz), the lowest note of a tuba that is looked for."""
HIGHEST_HZ = 2200.0
"""A little above C7 (2093 Hz), the highest tuning note of a piccolo."""
HARMONICS = 12
"""Harmonics that vote on f0; higher ones add little on wind instruments."""

_FRAME_S = 0.1  # four bins of a Hann window between the harmonics of F1
HOP_S = 0.025
"""From one frame to the next [s]."""
PERIOD = 8
"""Frames in about one period of a vibrato."""
_LOWEST_RATE = 8000  # after decimation; everything below 3.4 kHz is kept free of aliases
_TOP_HZ = 3400.0
_GRID_PER_OCTAVE = 48
_SIDE_LOBE = 0.003
_STRANGERS_TO_HZ = 1600.0  # and to 8.5 harmonics; above, reeds have noises of their own
_ABOVE, _ABOVE_TO_HZ = 1.03, 4300.0  # a little over the highest pitch, and over C8
_ABOVE_LEAST = 2.5e-4  # of full scale, -75 dB: fainter whistles are electronics in silence
_ABOVE_CLEAR = 6.0  # times the mean of its band; the strongest of white noise is 3
_FULL_SCALE = 0.98
_CLIPPED_S = 1e-4  # a plateau at full scale this long is no natural crest

Floats = NDArray[np.float32] | NDArray[np.float64]


@dataclass(frozen=True)
class Frames:
    """A batch of consecutive frames, one row a frame.

    Attributes
    ----------
    time_s : ndarray, shape (n,)
        Middle of the frame pair whose phases were compared [s].
    hertz : ndarray, shape (n,)
        Fitted f0 [Hz]; without meaning where `clarity_db` is low.
    level_db : ndarray, shape (n,)
        Level below 3.4 kHz [dB re full scale].
    clarity_db : ndarray, shape (n,)
        Strongest harmonic over the median of the spectrum [dB].
    stranger_db : ndarray, shape (n,)
        Strongest magnitude that belongs to no harmonic of f0, over the harmonic nearest to it
        [dB].
    above_db : ndarray, shape (n,)
        Strongest magnitude above the highest pitch that is looked for, over the strongest below
        [dB]; -99 where it does not stand out of the noise.
    disagreement_cents : ndarray, shape (n,)
        Weighted scatter of the harmonics about multiples of f0 [cents].
    partials : ndarray, shape (n, HARMONICS)
        Amplitudes of the harmonics, zero where they were not found or lie too high.
    partials_hz : ndarray, shape (n, HARMONICS)
        Their frequencies by the advance of phase [Hz].
    clipped : ndarray of bool, shape (n,)
        Whether samples stood at full scale.
    """

    time_s: NDArray[np.float64]
    hertz: NDArray[np.float64]
    level_db: NDArray[np.float64]
    clarity_db: NDArray[np.float64]
    stranger_db: NDArray[np.float64]
    above_db: NDArray[np.float64]
    disagreement_cents: NDArray[np.float64]
    partials: NDArray[np.float64]
    partials_hz: NDArray[np.float64]
    clipped: NDArray[np.bool_]


class FrameReader:
    r"""Cut a stream of samples into frames and measure each.

    Samples come in blocks of any size; inside they are taken in batches of one fixed size, so
    that the answer does not depend on how the stream was cut.

    Parameters
    ----------
    rate : float
        Sample rate [Hz], 8 000 to 192 000.
    frames_at_once : int, default 64
        Frames in a batch: the delay of a live stream is this many times 25 ms.

    Raises
    ------
    RecordingError
        For a sample rate outside 8 to 192 kHz.

    Notes
    -----
    Hann frames of 0.1 s every 0.025 s, after decimation by an integer to at least 8 kHz (linear
    phase, 70 dB stop band). Candidates for f0 lie 25 cents apart; each is scored by the square
    root of the magnitudes along cosine lobes, positive at its harmonics, negative half way
    between, falling as one over the square root of the harmonic number. With the phase advance
    :math:`\Delta\phi_h` of harmonic h over a hop :math:`\tau`,

    .. math:: f_h = \Delta\phi_h / (2\pi\tau), \qquad
              f_0 = \sum w_h h f_h \Big/ \sum w_h h^2,

    with the weight :math:`w_h` the power of the peak over the median of the spectrum, as white
    noise has it.

    How wrong: two harmonic sounds in one frame are one too many; what is left over is told by
    `Frames.stranger_db` and `Frames.disagreement_cents`. Below 60 Hz strangers cannot be told
    from harmonics, their peaks touch.

    References
    ----------
    .. [1] J. L. Flanagan and R. M. Golden, "Phase vocoder", Bell System Technical Journal 45,
       1966 (frequency from the advance of phase; from memory).
    .. [2] A. Camacho and J. G. Harris, "A sawtooth waveform inspired pitch estimator for speech
       and music", Journal of the Acoustical Society of America 124, 2008 (the cosine lobes on
       the square root of the spectrum; from memory).
    """

    def __init__(self, rate: float, frames_at_once: int = 64) -> None:
        if not 8000 <= rate <= 192_000:
            raise RecordingError(
                f"a sample rate of {rate:g} Hz is outside 8000 to 192000 Hz",
                "Record or convert at 44100 or 48000 Hz.",
            )
        self.rate = float(rate)
        self._step = int(rate // _LOWEST_RATE)
        working = rate / self._step
        self._hop = round(HOP_S * working)
        self._hop_s = self._hop / working
        self._size = round(_FRAME_S * working)
        self._points = fft.next_fast_len(int(1.6 * self._size), real=True)
        self._bin_hz = working / self._points
        self._bins = int(min(_TOP_HZ + 100, 0.45 * working) / self._bin_hz)
        window = signal.windows.hann(self._size, sym=True)
        self._window = (2 * window / window.sum()).astype(np.float32)
        self._power = self._size / self._points / 3  # from peaks of amplitude a to a mean square
        self._candidates, self._kernel = _kernel(self._bins, self._bin_hz)
        self._taps = _decimator(rate, self._step)
        self._batch = frames_at_once
        # Half the decimator and half the first frame lie before the first sample.
        lead = self._taps.size // 2 + (self._step * self._size) // 2
        self._tail: Floats = np.zeros(lead, dtype=np.float32)
        self._given = 0
        self._done = 0

    @property
    def seconds(self) -> float:
        """How much sound has been taken in [s]."""
        return self._given / self.rate

    def read(self, samples: Floats) -> Iterator[Frames]:
        """Take one channel of samples in and yield every batch of frames that is complete.

        Parameters
        ----------
        samples : ndarray, shape (n,)
            Sound between -1 and 1.

        Yields
        ------
        Frames
        """
        self._given += samples.size
        self._tail = np.concatenate([self._tail, samples.astype(np.float32, copy=False)])
        advance = self._batch * self._hop * self._step
        needed = advance + self._step * self._size + self._taps.size
        while self._tail.size >= needed:
            yield self._measure(self._tail[:needed])
            self._tail = self._tail[advance:]

    def finish(self) -> Iterator[Frames]:
        """Yield the frames of what is left, as if silence followed; none beyond the last sample."""
        given, end = self._given, self.seconds
        silence = np.zeros(self._batch * self._hop * self._step, dtype=np.float32)
        while self._done * self._hop_s < end:
            for frames in self.read(silence):
                keep = int(np.searchsorted(frames.time_s, end))
                yield Frames(*(column[:keep] for column in vars(frames).values()))
        self._given = given

    def _measure(self, samples: Floats) -> Frames:
        clipped = _clipped(samples, max(3, round(_CLIPPED_S * self.rate)))
        sound = _decimated(samples, self._taps)
        starts = np.lib.stride_tricks.sliding_window_view(sound, self._size)[:: self._hop]
        starts = starts[: self._batch + 1]
        wide = fft.rfft(starts * self._window, self._points)
        spectra = wide[:, : self._bins]
        magnitude = np.abs(spectra)
        first = self._done
        self._done += self._batch
        numbers = np.arange(first, self._done)
        return Frames(
            time_s=np.asarray((numbers + 0.5) * self._hop_s, dtype=np.float64),
            clipped=self._frames_with(clipped),
            above_db=self._above(wide[:-1], magnitude[:-1]),
            **self._pitch(spectra, magnitude),
        )

    def _frames_with(self, clipped: NDArray[np.intp]) -> NDArray[np.bool_]:
        found = np.zeros(self._batch, dtype=bool)
        hop, size = self._hop * self._step, self._size * self._step
        for at in clipped:  # rare, and few where they are not
            found[max(0, (at - size) // hop) : at // hop + 1] = True
        return found

    def _pitch(
        self, spectra: NDArray[np.complex64], magnitude: Floats
    ) -> dict[str, NDArray[np.float64]]:
        root = np.sqrt(magnitude)
        floor = np.maximum(np.median(root[:, ::2], axis=1) ** 2, 1e-9)
        score = np.maximum(root - 1.5 * np.sqrt(floor)[:, None], 0) @ self._kernel
        f0 = self._candidates[score.argmax(axis=1)]
        _, hertz, weight = self._peaks(magnitude, floor, f0, reach=4)
        f0 = _fit(hertz, weight, f0)
        peak, hertz, weight = self._peaks(magnitude, floor, f0, reach=2)
        row = np.arange(len(f0))[:, None]
        partials = np.where(weight > 0, magnitude[row, peak], 0.0)
        hertz = self._advance(spectra[row, peak], peak, hertz)
        here, weight, partials, floor = magnitude[:-1], weight[:-1], partials[:-1], floor[:-1]
        f0 = _fit(hertz, weight, f0[:-1])
        loudest = np.maximum(partials.max(axis=1), 1e-9)
        return {
            "hertz": f0,
            "level_db": 10 * np.log10(self._power * (here**2).sum(axis=1) + 1e-12),
            "clarity_db": 20 * np.log10(loudest / floor),
            "stranger_db": 20 * np.log10(self._stranger(here, f0, partials, floor) + 1e-9),
            "disagreement_cents": _disagreement(hertz, weight, f0),
            "partials": partials,
            "partials_hz": hertz,
        }

    def _above(self, spectra: NDArray[np.complex64], magnitude: Floats) -> NDArray[np.float64]:
        """Return what stands above the highest pitch that is looked for [dB]."""
        first = int(_ABOVE * HIGHEST_HZ / self._bin_hz)
        above = np.abs(spectra[:, first : int(_ABOVE_TO_HZ / self._bin_hz)])
        top = above.max(axis=1)
        below = magnitude[:, :first].max(axis=1)
        # The mean counts the peak itself: one of 50 bins, three bins wide.
        clear = top > np.maximum(_ABOVE_CLEAR * above.mean(axis=1), _ABOVE_LEAST)
        return np.where(clear, 20 * np.log10((top + 1e-9) / (below + 1e-9)), -99.0)

    def _advance(
        self, sound: NDArray[np.complex64], peak: NDArray[np.intp], near: Floats
    ) -> NDArray[np.float64]:
        """Return the frequency of each peak from its phase here and in the next frame.

        The phase is that in the middle of the frame, where it does not depend on the bin: so the
        advances of successive frames add up, whatever the pitch does in between.
        """
        turns = np.angle(sound) / (2 * np.pi) + peak * ((self._size - 1) / 2 / self._points)
        turn = turns[1:] - turns[:-1]
        between = (near[1:] + near[:-1]) / 2
        return np.asarray((np.rint(between * self._hop_s - turn) + turn) / self._hop_s)

    def _peaks(
        self, magnitude: Floats, floor: Floats, f0: Floats, reach: int
    ) -> tuple[NDArray[np.intp], NDArray[np.float64], NDArray[np.float64]]:
        """Return bin, frequency and weight of the peak nearest each harmonic."""
        expected = f0[:, None] * np.arange(1, HARMONICS + 1)
        last = self._bins - reach - 2
        centre = np.rint(expected / self._bin_hz).astype(int)
        weight = (centre < last).astype(float)
        centre = np.clip(centre, reach + 1, last)
        row = np.arange(len(f0))[:, None]
        around = centre[:, :, None] + np.arange(-reach, reach + 1)
        peak = magnitude[row[:, :, None], around].argmax(axis=2) + centre - reach
        left, top, right = (np.log(magnitude[row, peak + j] + 1e-12) for j in (-1, 0, 1))
        bend = left - 2 * top + right
        shift = 0.5 * (left - right) / np.where(np.abs(bend) < 1e-9, -1.0, bend)
        hertz = (peak + np.clip(shift, -0.6, 0.6)) * self._bin_hz
        size = magnitude[row, peak] * weight
        # In a very clean sound the side lobes of the window stand above the floor.
        floor = np.maximum(floor, _SIDE_LOBE * size.max(axis=1))
        power = (size / floor[:, None]) ** 2
        weight *= np.where(power > 16, power, 0)
        weight *= np.abs(hertz - expected) < np.maximum(0.02 * expected, self._bin_hz)
        return peak, hertz, weight

    def _stranger(
        self, magnitude: Floats, f0: Floats, partials: Floats, floor: Floats
    ) -> NDArray[np.float64]:
        """Return the strongest magnitude away from every harmonic, relative to the nearest one.

        A weak or missing harmonic, and the noise, count as 22 dB below the loudest and 28 dB
        above the median of the spectrum.
        """
        f0 = np.maximum(f0, LOWEST_HZ / 2)[:, None]
        order = np.arange(self._bins) * self._bin_hz / f0
        nearest = np.rint(order).astype(np.intp)
        # The main lobe of a harmonic, and what vibrato smears it to in a frame.
        away = np.abs(order - nearest) > 2.2 / _FRAME_S / f0 + 0.01 * order
        away &= (order > 0.4) & (order < np.maximum(8.5, _STRANGERS_TO_HZ / f0))
        least = np.maximum(0.08 * partials.max(axis=1), 24 * floor)[:, None]
        size = np.maximum(partials, least)
        row = np.arange(len(f0))[:, None]
        own = size[row, np.clip(nearest - 1, 0, HARMONICS - 1)]
        return np.asarray(np.where(away, magnitude / own, 0.0).max(axis=1))


def _fit(hertz: Floats, weight: Floats, otherwise: Floats) -> NDArray[np.float64]:
    """Return f0 by weighted least squares through the harmonics."""
    order = np.arange(1, HARMONICS + 1)
    total = (weight * order**2).sum(axis=1)
    fitted = (weight * order * hertz).sum(axis=1) / np.maximum(total, 1e-9)
    return np.where(total > 0, fitted, otherwise)


def _disagreement(hertz: Floats, weight: Floats, f0: Floats) -> NDArray[np.float64]:
    order = np.arange(1, HARMONICS + 1)
    weight = weight * order**2
    cents = 1200 / np.log(2) * (hertz / (order * np.maximum(f0, 1.0)[:, None]) - 1)
    mean = (weight * cents**2).sum(axis=1) / np.maximum(weight.sum(axis=1), 1e-9)
    return np.asarray(np.sqrt(mean))


def _kernel(bins: int, bin_hz: float) -> tuple[NDArray[np.float64], NDArray[np.float32]]:
    """Return the candidates for f0 [Hz] and what each bin counts for each of them."""
    octaves = np.log2(HIGHEST_HZ / LOWEST_HZ)
    candidates = LOWEST_HZ * 2 ** np.arange(0, octaves, 1 / _GRID_PER_OCTAVE)
    order = np.arange(bins)[:, None] * bin_hz / candidates
    lobes = np.cos(2 * np.pi * order) / np.sqrt(np.maximum(np.rint(order), 1))
    lobes[(order < 0.25) | (order > HARMONICS + 0.25)] = 0
    return candidates, lobes.astype(np.float32)


def _decimator(rate: float, step: int) -> NDArray[np.float32]:
    """Return the low-pass before taking every step-th sample, shape (taps / step, step)."""
    if step == 1:
        return np.ones((1, 1), dtype=np.float32)
    working = rate / step
    length, beta = signal.kaiserord(70, 2 * (working - 2 * _TOP_HZ) / rate)
    rows = 2 * (-(-length // (2 * step)))
    taps = signal.firwin(rows * step, working / 2, window=("kaiser", beta), fs=rate)
    return np.ascontiguousarray(taps.reshape(rows, step)).astype(np.float32)


def _decimated(samples: Floats, taps: NDArray[np.float32]) -> Floats:
    """Return the samples low-passed, one in `step`: a product of matrices, then a skew sum."""
    rows, step = taps.shape
    products = taps @ samples[: samples.size // step * step].reshape(-1, step).T
    count = products.shape[1] - rows + 1
    sound = products[0, :count].copy()
    for row in range(1, rows):
        sound += products[row, row : row + count]
    return sound


def _clipped(samples: Floats, run: int) -> NDArray[np.intp]:
    """Return where `run` equal samples in a row stand at full scale."""
    if max(samples.max(), -samples.min()) < _FULL_SCALE:
        return np.empty(0, dtype=np.intp)
    stands = (samples[1:] == samples[:-1]) & (np.abs(samples[1:]) >= _FULL_SCALE)
    counts = np.convolve(stands, np.ones(run - 1, dtype=int), mode="valid")
    return np.flatnonzero(counts == run - 1)
