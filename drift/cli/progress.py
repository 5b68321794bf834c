"""How far a long command is, on a terminal only, and only once it has taken a while."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

__all__ = ["shown_progress"]

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
    nothing in the first two seconds.
    """
    began = time.monotonic()
    shown = False

    def show(done: int, of: int) -> None:
        nonlocal shown
        if not sys.stderr.isatty() or time.monotonic() - began < _PATIENCE_S:
            return
        if done < of or shown:
            shown = True
            sys.stderr.write("\r")
            end = "\n" if done >= of else ""
            print(f"{what}: {100 * done // of} % of {of} {unit}", end=end, file=sys.stderr)
            sys.stderr.flush()

    return show
