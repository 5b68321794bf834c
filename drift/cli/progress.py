"""How far a long command is, on a terminal only, and only once it has taken a while."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import Any

__all__ = ["of_source", "shown_progress"]

_PATIENCE_S = 2.0


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
    One line of standard error that is written anew; nothing where that is no terminal, and
    nothing in the first two seconds. A count that begins again is a task of its own.
    """
    began, last, shown = time.monotonic(), 0, False

    def show(done: int, of: int) -> None:
        nonlocal began, last, shown
        if done < last:
            began, shown = time.monotonic(), False
        last = done
        if not sys.stderr.isatty() or time.monotonic() - began < _PATIENCE_S:
            return
        if done < of or shown:
            shown = True
            sys.stderr.write("\r")
            end = "\n" if done >= of else ""
            print(f"{what}: {100 * done // of} % of {of} {unit}", end=end, file=sys.stderr)
            sys.stderr.flush()

    return show


def of_source(source: object) -> dict[str, Any]:
    """Return what shows how far a source is read and fitted, as `Study.open` takes it."""
    return {
        "reading": shown_progress(f"{source}: reading"),
        "progress": shown_progress(f"{source}: fitting", "steps"),
    }
