"""How far a long command is, on a terminal only, and only while it takes a while."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, TextIO

__all__ = ["of_source", "shown_progress", "wiped"]

_PATIENCE_S = 2.0
FEW = 100
"""So many are counted one by one: a share of eight steps is none."""

_standing: dict[TextIO, int] = {}
"""How wide the line is that stands on a terminal now."""


def shown_progress(what: str, unit: str = "rows") -> Callable[[int, int], None]:
    """Return what shows how much is done of how much there is to do.

    Parameters
    ----------
    what : str
        What is done: ``band.logbook: importing``.
    unit : str
        What there is so much of.

    Notes
    -----
    One line of standard error that is written anew, and erased when all is done; nothing where
    that is no terminal, and nothing in the first two seconds. A count that begins again is a task
    of its own.
    """
    began, last = time.monotonic(), 0

    def show(done: int, of: int) -> None:
        nonlocal began, last
        if done < last:
            began = time.monotonic()
        last = done
        if done >= of:
            _wipe()
        elif sys.stderr.isatty() and time.monotonic() - began >= _PATIENCE_S:
            share = f"{done} of {of}" if of < FEW else f"{100 * done // of} % of {of}"
            _write(f"{what}: {share} {unit}")

    return show


@contextmanager
def wiped() -> Iterator[None]:
    """Erase the line that stands on the terminal at the end, however that comes."""
    try:
        yield
    finally:
        _wipe()


def _wipe() -> None:
    if sys.stderr in _standing:
        _write("")


def _write(line: str) -> None:
    """Write the line anew, its end where the terminal is narrow."""
    from shutil import get_terminal_size  # imported where it takes a while anyway

    line = line[-(get_terminal_size().columns - 1) :]
    blank = " " * (_standing.pop(sys.stderr, 0) - len(line))
    for part in ("\r", line + blank, "\r" if blank or not line else ""):
        sys.stderr.write(part)  # a lone return passes to the terminal as it is
    sys.stderr.flush()
    if line:
        _standing[sys.stderr] = len(line)


def of_source(source: object) -> dict[str, Any]:
    """Return what shows how far a source is read and fitted, as `Study.open` takes it."""
    return {
        "reading": shown_progress(f"{source}: reading"),
        "progress": shown_progress(f"{source}: fitting", "steps"),
    }
