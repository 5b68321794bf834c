"""What a WAV file says about itself beside its samples: its length, and when it was made."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import BinaryIO

__all__ = ["WaveHeader", "moment", "read_header"]

_UNKNOWN = (0, 0xFFFFFFFF)  # written by programs that cannot go back to fill the size in
_ORIGINATION = slice(320, 338)  # date and time in the bext chunk


@dataclass(frozen=True, slots=True)
class WaveHeader:
    """The two things a reader of samples does not tell.

    Attributes
    ----------
    missing_bytes : int
        How many bytes of sound the header announces that the file does not hold.
    started : datetime or None
        When recording began, by the broadcast extension; without a zone, as recorders write it.
    """

    missing_bytes: int = 0
    started: datetime | None = None


def read_header(path: Path) -> WaveHeader:
    """Return what the header of a WAV file says.

    Parameters
    ----------
    path : Path
        A file; one that is no RIFF or RF64 file gives an empty header.

    Returns
    -------
    WaveHeader

    References
    ----------
    .. [1] European Broadcasting Union, "Specification of the Broadcast Wave Format (BWF)", Tech
       3285, 2011: the bext chunk, OriginationDate and OriginationTime (from memory).
    """
    missing, started = 0, None
    with path.open("rb") as file:
        for name, size, at in _chunks(file, path.stat().st_size):
            if name == b"data" and size not in _UNKNOWN:
                missing = max(0, at + size - path.stat().st_size)
            elif name == b"bext":
                file.seek(at)
                text = file.read(min(size, 602))[_ORIGINATION].decode("ascii", "replace")
                started = moment(f"{text[:10]}T{text[10:]}")
    return WaveHeader(missing, started)


def moment(text: str) -> datetime | None:
    """Return the date and time that a tag names, or None for anything less.

    Examples
    --------
    >>> moment("2026-10-03T19:00:00")
    datetime.datetime(2026, 10, 3, 19, 0)
    >>> moment("2026") is None
    True
    """
    text = text.strip(" \0").replace("_", "-")
    if len(text) < len("2026-10-03T19:00"):
        return None
    # Recorders part hours from minutes by a colon, a hyphen, a full stop or a space.
    clock = text[11:19]
    for mark in "-. ":
        clock = clock.replace(mark, ":")
    try:
        return datetime.fromisoformat(f"{text[:10]}T{clock}{text[19:]}")
    except ValueError:
        return None


def _chunks(file: BinaryIO, length: int) -> Iterator[tuple[bytes, int, int]]:
    """Yield name, size and place of each chunk."""
    head = file.read(12)
    if head[:4] not in (b"RIFF", b"RF64") or head[8:] != b"WAVE":
        return
    at, wide = 12, 0
    while at + 8 <= length:
        file.seek(at)
        name, size = struct.unpack("<4sI", file.read(8))
        if name == b"ds64":
            wide = struct.unpack("<Q", file.read(16)[8:])[0]
        if name == b"data" and size == 0xFFFFFFFF and wide:
            size = wide
        yield name, size, at + 8
        at += 8 + size + size % 2
