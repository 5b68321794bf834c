"""The microphone of this machine, block by block."""

from __future__ import annotations

import queue
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from sensors.errors import SourceUnavailable

__all__ = ["Input", "Microphone", "first_line", "inputs", "load_sounddevice"]

Block = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Input:
    """An input of this machine that sound can come in by.

    Attributes
    ----------
    name : str
        As the system has it, with the part of the system that offers it.
    rate : float
        Sample rate [Hz].
    default : bool
        Whether the system takes it where none is named.
    """

    name: str
    rate: float
    default: bool


def inputs() -> list[Input]:
    """Return the inputs of this machine.

    Raises
    ------
    SourceUnavailable
        When the extra ``microphone`` or PortAudio is not installed.
    """
    sounddevice = load_sounddevice()
    hosts = [host["name"] for host in sounddevice.query_hostapis()]
    try:
        usual = sounddevice.query_devices(None, "input")["index"]
    except (sounddevice.PortAudioError, ValueError):
        usual = None  # none is connected
    return [
        Input(
            f"{device['name']}, {hosts[device['hostapi']]}",
            float(device["default_samplerate"]),
            device["index"] == usual,
        )
        for device in sounddevice.query_devices()
        if device["max_input_channels"] > 0
    ]


class Microphone:
    """The microphone of this machine: open it with ``with``, then iterate.

    Iterating yields blocks of samples as they come, and None when a second passed without any.

    Parameters
    ----------
    device : str or int, optional
        Name or number of an input, as the operating system has it; its default without.
    seconds : float
        Length of a block [s].
    delay_s : float
        How much later than it was heard a sound has its time, as measured with a test tone
        (`sensors.delay`) [s]. Whoever gives times to the sound takes it off.

    Raises
    ------
    SourceUnavailable
        On entering, when there is no microphone or the extra ``microphone`` is not installed;
        while iterating, when it is unplugged.
    """

    def __init__(
        self, device: str | int | None = None, *, seconds: float = 0.2, delay_s: float = 0.0
    ) -> None:
        self.device, self.delay_s = device, delay_s
        self.rate = 0.0
        self.lost = 0
        self._seconds = seconds
        self._stream: Any = None
        self._blocks: queue.SimpleQueue[Block] = queue.SimpleQueue()

    def __enter__(self) -> Self:
        sounddevice = load_sounddevice()
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
                f"there is no microphone{wanted} to listen to: {first_line(error)}",
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


def load_sounddevice() -> Any:
    """Return the package that reaches PortAudio, or say what to install."""
    try:
        import sounddevice
    except ImportError:
        raise SourceUnavailable(
            "listening to a microphone needs the package sounddevice",
            "pip install 'rehearsal-drift[microphone]'",
        ) from None
    except OSError as error:
        raise SourceUnavailable(
            f"sounddevice finds no PortAudio: {first_line(error)}",
            "install PortAudio (on Debian: apt install libportaudio2)",
        ) from None
    return sounddevice


def first_line(error: Exception) -> str:
    """Return the first line of what a package says of its failure."""
    text = getattr(error, "error_string", "") or str(error) or type(error).__name__
    return str(text).splitlines()[0].rstrip(".")
