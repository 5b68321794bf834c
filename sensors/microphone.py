"""The microphone of this machine, block by block."""

from __future__ import annotations

import queue
from collections.abc import Iterator
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from sensors.errors import SourceUnavailable

__all__ = ["Microphone"]

Block = NDArray[np.float32]


class Microphone:
    """The microphone of this machine: open it with ``with``, then iterate.

    Iterating yields blocks of samples as they come, and None when a second passed without any.

    Parameters
    ----------
    device : str or int, optional
        Name or number of an input, as the operating system has it; its default without.
    seconds : float
        Length of a block [s].

    Raises
    ------
    SourceUnavailable
        On entering, when there is no microphone or the extra ``microphone`` is not installed;
        while iterating, when it is unplugged.
    """

    def __init__(self, device: str | int | None = None, *, seconds: float = 0.2) -> None:
        self.device = device
        self.rate = 0.0
        self.lost = 0
        self._seconds = seconds
        self._stream: Any = None
        self._blocks: queue.SimpleQueue[Block] = queue.SimpleQueue()

    def __enter__(self) -> Self:
        sounddevice = _sounddevice()
        try:
            about = sounddevice.query_devices(self.device, "input")
            self.rate = float(about["default_samplerate"])
            self._stream = sounddevice.InputStream(
                device=self.device,
                samplerate=self.rate,
                channels=1,
                dtype="float32",
                blocksize=round(self._seconds * self.rate),
                callback=self._take,
            )
            self._stream.start()
        except (sounddevice.PortAudioError, ValueError) as error:
            wanted = "" if self.device is None else f" {self.device!r}"
            raise SourceUnavailable(
                f"there is no microphone{wanted} to listen to: {_first_line(error)}",
                "plug one in and allow its use in the settings of the system, or give a recording "
                "to drift listen",
            ) from None
        return self

    def __exit__(self, *error: object) -> None:
        if self._stream is not None:
            self._stream.close()
            self._stream = None

    def __iter__(self) -> Iterator[Block | None]:
        while self._stream is not None:
            try:
                yield self._blocks.get(timeout=1.0)
            except queue.Empty:
                if self._stream is not None and not self._stream.active:
                    raise SourceUnavailable(
                        "the microphone has gone", "plug it in again and start over"
                    ) from None
                yield None

    def _take(self, samples: Block, _count: int, _time: Any, status: Any) -> None:
        self.lost += bool(status)
        self._blocks.put(samples[:, 0].copy())


def _sounddevice() -> Any:
    try:
        import sounddevice
    except ImportError:
        raise SourceUnavailable(
            "listening to a microphone needs the package sounddevice",
            "pip install 'rehearsal-drift[microphone]'",
        ) from None
    except OSError as error:
        raise SourceUnavailable(
            f"sounddevice finds no PortAudio: {_first_line(error)}",
            "install PortAudio (on Debian: apt install libportaudio2)",
        ) from None
    return sounddevice


def _first_line(error: Exception) -> str:
    text = getattr(error, "error_string", "") or str(error) or type(error).__name__
    return str(text).splitlines()[0].rstrip(".")
