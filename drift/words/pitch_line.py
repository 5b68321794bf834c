"""The pitch of the last minutes, drawn with characters for a terminal."""

from __future__ import annotations

import numpy as np

from drift.capture.lately import SECONDS, Trace

__all__ = ["pitch_line"]

_WIDTH = 60  # a column is three seconds
_STEP_CENTS = 10.0
_ROWS = (40, 30, 20, 10, 0, -10, -20, -30, -40)


def pitch_line(trace: Trace) -> list[str]:
    """Return the pitch of the last three minutes: a column is three seconds, a row ten cents.

    A column shows the median of its frames, against the nearest note.

    Examples
    --------
    >>> from drift.capture.lately import Condition
    >>> times = np.arange(0.0, 6.0, 0.025)
    >>> trace = Trace(6.0, times, np.where(times < 3, 2.0, 11.0), (), Condition.GOOD)
    >>> for line in pitch_line(trace)[3:5]:
    ...     print(line.replace(" ", "."))
    .+10.............................................................*
    ...0............................................................*
    """
    start = trace.end_s - SECONDS
    column = ((trace.times_s - start) / (SECONDS / _WIDTH)).astype(int).clip(0, _WIDTH - 1)
    rows = {}
    for place in np.unique(column):
        middle = float(np.median(trace.cents[column == place]))
        rows[int(place)] = int(np.clip(_STEP_CENTS * round(middle / _STEP_CENTS), -40, 40))
    lines = []
    for cents in _ROWS:
        marks = "".join("*" if rows.get(at) == cents else " " for at in range(_WIDTH))
        lines.append(f"{f'{cents:+d}' if cents else '0':>4}  {marks}".rstrip())
    return [*lines, f"{'cents':>5} {'3 min ago':<{_WIDTH - 3}}now"]
