"""Files that are there whole or not at all: written beside, and renamed when they are finished.

A full disk, an interrupt or a fault in the middle leaves what was there before.
"""

from __future__ import annotations

import os
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

__all__ = ["written_file", "written_folder"]


@contextmanager
def written_file(path: Path | str) -> Iterator[Path]:
    """Yield the name under which to write a file that takes its place when it is finished.

    Parameters
    ----------
    path : Path or str
        Where the file is wanted. Its ending is that of the name yielded, too.

    Yields
    ------
    Path
        A new name in the same folder; the path itself where that is a device or a pipe.

    Raises
    ------
    OSError
        When it cannot be written; then nothing has changed.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     with written_file(Path(folder, "answer.txt")) as unfinished:
    ...         _ = unfinished.write_text("42")
    ...     [file.name for file in Path(folder).iterdir()]
    ['answer.txt']
    """
    target = Path(os.path.realpath(path))  # a link goes on pointing to the file
    if target.exists() and not target.is_file():
        yield target
        return
    if target.exists() and not os.access(target, os.W_OK):
        raise PermissionError(13, "it may not be written", str(path))
    unfinished = _beside(target)
    try:
        yield unfinished
        _onto_the_disk(unfinished)
        if target.exists():
            shutil.copymode(target, unfinished)
        os.replace(unfinished, target)
    finally:
        with suppress(OSError):
            unfinished.unlink(missing_ok=True)


@contextmanager
def written_folder(path: Path | str) -> Iterator[Path]:
    """Yield a new folder whose files are moved to their place when all of them are finished.

    Parameters
    ----------
    path : Path or str
        The folder that is wanted. It is made, with those above it; where it exists, its files of
        the same names are replaced and others stay.

    Yields
    ------
    Path
        An empty folder beside it.

    Raises
    ------
    OSError
        When something cannot be written; then nothing has changed.
    """
    target = Path(os.path.realpath(path))
    if target.exists() and not target.is_dir():
        raise NotADirectoryError(20, "it is a file, not a folder", str(path))
    made = [parent for parent in target.parents if not parent.exists()]
    unfinished = _beside(target)
    try:
        unfinished.mkdir(parents=True)
        yield unfinished
        for file in sorted(unfinished.iterdir()):
            _onto_the_disk(file)
        if target.exists():
            for file in sorted(unfinished.iterdir()):
                os.replace(file, target / file.name)
        else:
            os.replace(unfinished, target)
            made = []
    finally:
        shutil.rmtree(unfinished, ignore_errors=True)
        with suppress(OSError):
            for parent in made:
                parent.rmdir()


def _beside(target: Path) -> Path:
    return target.with_name(f".{target.stem[:100]}-{secrets.token_hex(4)}{target.suffix}")


def _onto_the_disk(file: Path) -> None:
    """Wait until a file is on the disk: a name must not come before what it names."""
    with file.open("r+b") as stream:
        os.fsync(stream.fileno())
