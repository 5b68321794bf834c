"""Recordings and the microphone, block by block."""

from __future__ import annotations

import queue
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from sensors.errors import RecordingError, SourceUnavailable
from sensors.riff import moment, read_header

__all__ = ["Microphone", "Recording", "blocks_of", "inspect"]

Block = NDArray[np.float32]

_CONTAINERS = {
    ".wav": {"WAV", "WAVEX", "RF64"},
    ".wave": {"WAV", "WAVEX", "RF64"},
    ".bwf": {"WAV", "WAVEX", "RF64"},
    ".rf64": {"WAV", "WAVEX", "RF64"},
    ".flac": {"FLAC"},
}
_SUBTYPES = {"PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE"}
_CONVERT = "export it as 16 or 24 bit WAV or FLAC"
_BLOCK_FRAMES = 32_768


@dataclass(frozen=True, slots=True)
class Recording:
    """What a recording says about itself.

    Attributes
    ----------
    path : Path
        The file.
    rate : int
        Sample rate [Hz].
    channels : int
        How many.
    seconds : float
        Length [s].
    kind : str
        Container and subtype, such as ``WAV PCM_24``.
    started : datetime or None
        When it began, by its own metadata (the broadcast extension of a WAV file, or a date tag
        with a time); without a zone where the recorder wrote none.
    """

    path: Path
    rate: int
    channels: int
    seconds: float
    kind: str
    started: datetime | None


def inspect(path: Path) -> Recording:
    """Return what a recording says about itself, or refuse it.

    Parameters
    ----------
    path : Path
        A WAV or FLAC file of 16, 24 or 32 bit or floating point samples, 8 to 192 kHz.

    Returns
    -------
    Recording

    Raises
    ------
    SourceUnavailable
        When the file is missing or may not be read.
    RecordingError
        When it is empty, cut short, no recording, or of a kind whose pitch is not trusted.
    """
    with _opened(path) as file:
        _check_kind(path, file)
        header = read_header(path)
        if header.missing_bytes:
            raise RecordingError(
                f"{path.name} is cut short: its header announces {header.missing_bytes} bytes "
                "more than it holds",
                "copy it again from the recorder",
            )
        if file.frames == 0:
            raise RecordingError(f"{path.name} holds no samples", "check the recorder and the copy")
        return Recording(
            path=path,
            rate=int(file.samplerate),
            channels=int(file.channels),
            seconds=file.frames / file.samplerate,
            kind=f"{file.format} {file.subtype}",
            started=header.started or moment(str(file.copy_metadata().get("date", ""))),
        )


def blocks_of(
    path: Path, *, channel: int | None = None, frames: int = _BLOCK_FRAMES
) -> Iterator[Block]:
    """Yield a recording block by block, so that a long one needs little memory.

    Parameters
    ----------
    path : Path
        The file.
    channel : int, optional
        One channel, counted from 1; the mean of all without it.
    frames : int
        Samples in a block.

    Yields
    ------
    ndarray of float32, shape (frames,)
        Samples between -1 and 1.

    Raises
    ------
    SourceUnavailable, RecordingError
        As for `inspect`; also when the file ends early or cannot be decoded.
    """
    with _opened(path) as file:
        if channel is not None and not 1 <= channel <= file.channels:
            raise RecordingError(
                f"{path.name} has no channel {channel}",
                f"choose 1 to {file.channels}, or none for their mean",
            )
        left = file.frames
        while left > 0:
            block = _read(file, path, min(frames, left))
            if len(block) == 0:
                raise RecordingError(
                    f"{path.name} is cut short: {left / file.samplerate:.1f} s at its end are "
                    "missing",
                    "copy it again from the recorder",
                )
            left -= len(block)
            # Whoever listens refuses what is not a sample.
            with np.errstate(over="ignore", invalid="ignore"):
                mono = block.mean(axis=1) if channel is None else block[:, channel - 1]
            yield mono


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


@contextmanager
def _opened(path: Path) -> Iterator[Any]:
    """Open a recording, with what can go wrong in words."""
    import soundfile

    try:
        with path.open("rb") as raw:
            empty = not raw.read(1)
    except OSError as error:
        raise SourceUnavailable(
            f"{path} cannot be read: {error.strerror or error}",
            "check the name and the permissions",
        ) from None
    if empty:
        raise RecordingError(f"{path.name} is empty", "copy it again from the recorder")
    try:
        file = soundfile.SoundFile(path)
    except (soundfile.LibsndfileError, TypeError) as error:
        raise RecordingError(
            f"{path.name} is no recording that can be read: {_first_line(error)}", _CONVERT
        ) from None
    with file:
        yield file


def _check_kind(path: Path, file: Any) -> None:
    suffix = path.suffix.lower()
    known = set().union(*_CONTAINERS.values())
    if file.format not in known:
        raise RecordingError(f"{path.name} holds {file.format}, not WAV or FLAC", _CONVERT)
    if file.format not in _CONTAINERS.get(suffix, known):
        raise RecordingError(
            f"{path.name} holds {file.format}, which its ending {suffix} denies",
            "rename it if it is the right file",
        )
    if file.subtype not in _SUBTYPES:
        raise RecordingError(
            f"{path.name} holds {file.subtype} samples, too coarse to trust their pitch", _CONVERT
        )


def _read(file: Any, path: Path, frames: int) -> Block:
    import soundfile

    try:
        return np.asarray(file.read(frames, dtype="float32", always_2d=True))
    except soundfile.LibsndfileError as error:
        raise RecordingError(
            f"{path.name} cannot be decoded after {file.tell() / file.samplerate:.1f} s: "
            f"{_first_line(error)}",
            "copy it again from the recorder",
        ) from None


def _first_line(error: Exception) -> str:
    text = getattr(error, "error_string", "") or str(error) or type(error).__name__
    return str(text).splitlines()[0].rstrip(".")
