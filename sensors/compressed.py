"""Recordings of telephones (.m4a and its like), in the shape of a `soundfile.SoundFile`."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from sensors.errors import RecordingError, SourceUnavailable

__all__ = ["ENDINGS", "CompressedFile"]

ENDINGS = frozenset(
    {".m4a", ".mp4", ".m4b", ".mov", ".aac", ".3gp", ".3ga", ".amr", ".webm", ".mka"}
)
"""What libsndfile does not open and telephones write."""


class CompressedFile:
    """Open the sound of a file with PyAV, and read it from its beginning.

    Parameters
    ----------
    path : Path
        The file.

    Attributes
    ----------
    samplerate, channels : int
        Sample rate [Hz] and number of channels.
    frames : int
        Samples in a channel, as the file says; coders add or lose some hundreds.
    format, subtype : str
        Container and coder.

    Raises
    ------
    SourceUnavailable
        Where the extra ``phone`` is not installed.
    RecordingError
        When there is no sound in the file, or it cannot be decoded.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._av = _av(path)
        try:
            self._container = self._av.open(str(path))
        except self._av.FFmpegError as error:
            raise self._refused(error) from None
        if not self._container.streams.audio:
            self._container.close()
            raise RecordingError(f"{path.name} holds no sound", "choose another file")
        self._stream = self._container.streams.audio[0]
        coder = self._stream.codec_context
        self.samplerate, self.channels = int(coder.sample_rate), int(coder.channels)
        self.format, self.subtype = path.suffix[1:].upper(), coder.name.upper()
        length = self._container.duration or 0
        self.frames = round(length / self._av.time_base * self.samplerate)
        self._pending: NDArray[np.float32] = np.zeros((0, self.channels), dtype=np.float32)
        self._sound = self._decoded()
        self._done = 0

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *error: object) -> None:
        self._container.close()

    def read(self, frames: int, dtype: str = "float32", always_2d: bool = True) -> NDArray[Any]:
        """Return the next samples, shape (frames, channels); fewer at the end, then none."""
        parts, count = [self._pending], len(self._pending)
        while count < frames and (part := next(self._sound, None)) is not None:
            parts.append(part)
            count += len(part)
        joined = np.concatenate(parts)
        self._pending = joined[frames:]
        self._done += len(joined[:frames])
        return joined[:frames]

    def tell(self) -> int:
        """Return how many samples were read."""
        return self._done

    def copy_metadata(self) -> dict[str, str]:
        """Return the tags, with the time of creation as ``date``."""
        tags = {**self._container.metadata, **self._stream.metadata}
        date = tags.get("creation_time") or tags.get("date")
        return {**tags, "date": date} if date else tags

    def _decoded(self) -> Any:
        resampler = self._av.AudioResampler(format="fltp")
        try:
            for frame in self._container.decode(self._stream):
                for part in resampler.resample(frame):
                    yield part.to_ndarray().T.astype(np.float32, copy=False)
        except self._av.FFmpegError as error:
            raise self._refused(error) from None

    def _refused(self, error: Exception) -> RecordingError:
        why = str(getattr(error, "strerror", "") or error).splitlines()[0]
        return RecordingError(
            f"{self._path.name} cannot be decoded: {why}", "copy it again from the recorder"
        )


def _av(path: Path) -> Any:
    try:
        import av
    except ImportError:
        raise SourceUnavailable(
            f"{path.name} needs the package av, which is not installed",
            f"pip install 'rehearsal-drift[phone]', or convert it: ffmpeg -i {path.name} "
            f"{path.stem}.wav",
        ) from None
    return av
