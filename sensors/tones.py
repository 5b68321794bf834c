"""Samples to steady tones, block by block; no files and no devices."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from sensors.beyond import Beyond
from sensors.frames import FrameReader, Frames
from sensors.samples import check_samples
from sensors.segments import Reason, Refusal, Segmenter, Tone

__all__ = ["Reason", "Refusal", "Tone", "ToneFinder", "find_tones"]

_TOGETHER_S = 0.5  # refusals for one reason this close are told as one


class ToneFinder:
    """Find the steady tones in a stream of samples.

    Parameters
    ----------
    rate : float
        Sample rate [Hz], 8 000 to 192 000.
    sections : bool, default False
        Several players on one note are wanted as one tone: none is taken for a pair.
    clock_ppm : float, default 0.0
        By how many parts in a million the recorder's clock runs fast. A fast clock takes more
        samples a second than it says, and every pitch comes out low by the same number of cents
        (1 ppm is 0.0017 cents, 100 ppm are 0.17).
    frames_at_once : int, default 64
        How much sound is worked on together, in frames of 25 ms; smaller answers sooner.
    begin_s : float, default 0.0
        The time of the first sample [s].
    watch : callable, optional
        Called with each batch of frames as it is measured, before anything is judged.

    Raises
    ------
    RecordingError
        For a sample rate outside 8 to 192 kHz.

    Notes
    -----
    The method is in `sensors.frames` and `sensors.segments`, beyond E1 and C7 in `sensors.beyond`
    (from A0, held for 1.4 s, to C8, at 16 to 96 kHz). What is refused, with the reason:
    notes under 0.7 s, slides between notes, two notes at once, a phantom octave, mains hum,
    clipping, noise and speech, and two players on one note where they are obvious; where they are
    not, `Tone.score` says how likely they are.

    How wrong: see the tables of ``docs/explanation/tones.md``. Two players an octave apart and
    exactly in tune are one tone to any ear; the lower note is reported.

    Examples
    --------
    >>> import numpy as np
    >>> time = np.arange(88_200) / 44_100
    >>> sound = sum(np.sin(2 * np.pi * 350 * h * time) / h for h in (1, 2, 3)) / 5
    >>> finder = ToneFinder(44_100)
    >>> heard = [*finder.hear(sound[:1000]), *finder.hear(sound[1000:]), *finder.finish()]
    >>> [round(tone.hertz, 2) for tone in heard]
    [350.0]
    """

    def __init__(
        self,
        rate: float,
        *,
        sections: bool = False,
        clock_ppm: float = 0.0,
        frames_at_once: int = 64,
        begin_s: float = 0.0,
        watch: Callable[[Frames], None] = lambda frames: None,
    ) -> None:
        self._reader = FrameReader(rate, frames_at_once)
        self._segmenter = Segmenter(sections=sections)
        self._beyond = Beyond(rate, sections=sections)
        self._clock = 1 + 1e-6 * clock_ppm
        self._begin_s = begin_s
        self._watch = watch
        self._held: Refusal | None = None

    @property
    def seconds(self) -> float:
        """How much sound has been heard [s]."""
        return self._reader.seconds

    def hear(self, block: ArrayLike) -> Iterator[Tone | Refusal]:
        """Take a block of samples and yield what has become certain.

        Parameters
        ----------
        block : array_like, shape (n,) or (n, channels)
            Samples between -1 and 1; several channels are averaged.

        Yields
        ------
        Tone or Refusal
            In the order of time, each once its end has been heard.

        Raises
        ------
        RecordingError
            For samples that are not numbers, or far beyond full scale.
        """
        samples = np.asarray(block)
        check_samples(samples, self._reader.rate, self.seconds)
        if samples.ndim == 2:
            samples = samples.mean(axis=1)
        self._beyond.keep(samples)
        for frames in self._reader.read(samples):
            self._watch(frames)
            for item in self._segmenter.take(frames):
                yield from self._settled(self._beyond.add(item))

    def finish(self) -> Iterator[Tone | Refusal]:
        """Yield what was still open at the end of the sound."""
        for frames in self._reader.finish():
            for item in self._segmenter.take(frames):
                yield from self._settled(self._beyond.add(item))
        for item in self._segmenter.finish():
            yield from self._settled(self._beyond.add(item))
        yield from self._settled(self._beyond.settle())
        if self._held:
            yield self._held
            self._held = None

    def _settled(self, items: Iterable[Tone | Refusal]) -> Iterator[Tone | Refusal]:
        for item in items:
            yield from self._tell(item)

    def _tell(self, item: Tone | Refusal) -> Iterator[Tone | Refusal]:
        """Correct time and pitch, and hold a refusal back until its neighbours are known."""
        start, end = item.start_s + self._begin_s, item.end_s + self._begin_s
        if isinstance(item, Tone):
            item = replace(item, start_s=start, end_s=end, hertz=item.hertz * self._clock)
        else:
            item = replace(item, start_s=start, end_s=end)
        held = self._held
        if isinstance(item, Refusal):
            if held and held.reason == item.reason and item.start_s - held.end_s < _TOGETHER_S:
                item = Refusal(held.start_s, item.end_s, item.reason)
            elif held:
                yield held
            self._held = item
            return
        if held:
            yield held
            self._held = None
        yield item


def find_tones(
    samples: ArrayLike, rate: float, *, sections: bool = False, clock_ppm: float = 0.0
) -> tuple[list[Tone], list[Refusal]]:
    """Return the tones in samples at hand, and what was refused.

    Parameters
    ----------
    samples : array_like, shape (n,) or (n, channels)
        Samples between -1 and 1.
    rate : float
        Sample rate [Hz].
    sections, clock_ppm
        As for `ToneFinder`.

    Returns
    -------
    tones : list of Tone
    refused : list of Refusal

    Raises
    ------
    RecordingError
        For samples that are no numbers, or a rate outside 8 to 192 kHz.

    Examples
    --------
    >>> tones, refused = find_tones([0.0] * 20_000, 10_000)
    >>> tones, str(refused[0].reason)
    ([], 'silence')
    """
    finder = ToneFinder(rate, sections=sections, clock_ppm=clock_ppm)
    heard = [*finder.hear(samples), *finder.finish()]
    tones = [item for item in heard if isinstance(item, Tone)]
    return tones, [item for item in heard if isinstance(item, Refusal)]
