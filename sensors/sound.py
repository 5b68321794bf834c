"""Recordings, block by block."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sensors.compressed import ENDINGS, CompressedFile
from sensors.errors import RecordingError, SourceUnavailable
from sensors.riff import moment, read_header
from sensors.samples import check_samples

__all__ = ["Layout", "Recording", "blocks_of", "channels_of", "inspect", "layout_of"]

Block = NDArray[np.float32]

_WAV = {"WAV", "WAVEX", "RF64"}
_CONTAINERS = {
    ".wav": _WAV,
    ".wave": _WAV,
    ".bwf": _WAV,
    ".rf64": _WAV,
    ".flac": {"FLAC"},
    ".aif": {"AIFF"},
    ".aiff": {"AIFF"},
    ".aifc": {"AIFF"},
    ".caf": {"CAF"},
    ".mp3": {"MP3", "MPEG"},
    ".ogg": {"OGG"},
    ".oga": {"OGG"},
    ".opus": {"OGG"},
}
_SUBTYPES = {
    "PCM_S8", "PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE", "ULAW", "ALAW",
    "ALAC_16", "ALAC_20", "ALAC_24", "ALAC_32",
    "VORBIS", "OPUS", "MPEG_LAYER_I", "MPEG_LAYER_II", "MPEG_LAYER_III",
}  # fmt: skip
_KINDS = "WAV, AIFF, CAF, FLAC, MP3 or Ogg"
_CONVERT = f"export it as {_KINDS}"
_SAME = 1e-3  # of the level: what a lossy codec makes of two equal channels
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
        WAV, AIFF, CAF, FLAC, MP3 or Ogg (Vorbis, Opus), 8 to 192 kHz; with the extra ``phone``
        also .m4a and its like.

    Returns
    -------
    Recording

    Raises
    ------
    SourceUnavailable
        When the file is missing or may not be read.
    RecordingError
        When it is empty, cut short, not a recording, or of a kind whose pitch is not trusted.
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
    """Yield a recording block by block as one channel, so that a long one needs little memory.

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
        As for `channels_of`.
    """
    for block in channels_of(path, [channel] if channel is not None else None, frames=frames):
        yield block.mean(axis=1)


def channels_of(
    path: Path, channels: Sequence[int] | None = None, *, frames: int = _BLOCK_FRAMES
) -> Iterator[Block]:
    """Yield a recording block by block, its channels beside each other.

    Parameters
    ----------
    path : Path
        The file.
    channels : sequence of int, optional
        Which, counted from 1; all without it.
    frames : int
        Samples in a block.

    Yields
    ------
    ndarray of float32, shape (frames, channels)
        Samples between -1 and 1.

    Raises
    ------
    SourceUnavailable, RecordingError
        As for `inspect`; also when the file ends early, cannot be decoded, or holds a sample that
        is not a number or far beyond full scale.
    """
    with _opened(path) as file:
        for channel in channels or ():
            if not 1 <= channel <= file.channels:
                raise RecordingError(
                    f"{path.name} has no channel {channel}",
                    f"choose 1 to {file.channels}, or none for all of them",
                )
        wanted = [channel - 1 for channel in channels] if channels else slice(None)
        done = 0
        while len(block := _read(file, path, frames)):
            check_samples(block, file.samplerate, done / file.samplerate)
            done += len(block)
            yield block[:, wanted]
        if done < file.frames and not _is_lossy(file):
            raise RecordingError(
                f"{path.name} is cut short: {(file.frames - done) / file.samplerate:.1f} s at its "
                "end are missing",
                "copy it again from the recorder",
            )


@dataclass(frozen=True, slots=True)
class Layout:
    """Which channels of a recording are worth hearing.

    Attributes
    ----------
    distinct : tuple of int
        Channels that are neither silent nor a copy of an earlier one, counted from 1; the first
        where all are silent.
    inverted : bool
        Whether one is another upside down, so that their mean is silence.
    """

    distinct: tuple[int, ...]
    inverted: bool


def layout_of(path: Path) -> Layout:
    """Return which channels of a recording differ; reads only as far as that takes.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    Layout

    Raises
    ------
    SourceUnavailable, RecordingError
        As for `channels_of`.
    """
    products: NDArray[np.float64] | None = None
    for block in channels_of(path):
        if block.shape[1] == 1:
            return Layout((1,), False)
        wide = block.astype(float)
        products = wide.T @ wide + (0.0 if products is None else products)
        power = np.diag(products)
        alike = np.abs(products) >= (1 - _SAME**2) * np.sqrt(np.outer(power, power))
        if power.all() and alike.sum() == len(power):
            break  # no two are alike, and none is silent
    if products is None or not power.any():
        return Layout((1,), False)
    distinct: list[int] = []
    for channel in np.flatnonzero(power > 0):
        if not alike[channel, distinct].any():
            distinct.append(int(channel))
    inverted = bool((alike & (products < 0)).any())
    return Layout(tuple(channel + 1 for channel in distinct), inverted)


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
        file = CompressedFile(path) if _is_compressed(path) else soundfile.SoundFile(path)
    except (soundfile.LibsndfileError, TypeError) as error:
        raise RecordingError(
            f"{path.name} is not a recording that can be read: {_first_line(error)}", _CONVERT
        ) from None
    with file:
        yield file


def _is_compressed(path: Path) -> bool:
    return path.suffix.lower() in ENDINGS


def _is_lossy(file: Any) -> bool:
    """Whether the length in the header is an estimate."""
    return isinstance(file, CompressedFile) or file.format in ("MP3", "MPEG", "OGG")


def _check_kind(path: Path, file: Any) -> None:
    if isinstance(file, CompressedFile):
        return
    suffix = path.suffix.lower()
    known = set().union(*_CONTAINERS.values())
    if file.format not in known:
        raise RecordingError(f"{path.name} holds {file.format}, not {_KINDS}", _CONVERT)
    if file.format not in _CONTAINERS.get(suffix, known):
        raise RecordingError(
            f"{path.name} contains {file.format} but its name ends in {suffix}",
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
