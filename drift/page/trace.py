"""The pitch of the last minutes, as lines and words for the page."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from drift.capture.heard import Heard
from drift.capture.lately import SECONDS, Trace
from drift.notes import shown
from drift.page.rendering import render
from drift.words.listening import describe_condition, describe_lately, describe_refusal

__all__ = ["show_trace"]

_WIDTH, _MIDDLE = 330.0, 52.0
_LEAST_WIDTH = 2.0
_EVERY = 4  # a point for a tenth of a second


@dataclass(frozen=True)
class _Mark:
    """Something at its place in the picture."""

    left: float
    width: float
    top: float
    words: str


@dataclass(frozen=True)
class _Drawn:
    lines: tuple[str, ...]
    taken: tuple[_Mark, ...]
    refused: tuple[_Mark, ...]


def show_trace(trace: Trace, began: datetime) -> str:
    """Return the trace as HTML: a level line, the line of pitch, what was taken and refused.

    Parameters
    ----------
    trace : Trace
        What was heard.
    began : datetime
        When listening began, aware.
    """
    happened = describe_lately(trace, began)[:-1]
    return render(
        "_trace.html",
        trace=_drawn(trace),
        level=describe_condition(trace.condition),
        happened=happened[::-1] if trace.items else [],
    )


def _drawn(trace: Trace) -> _Drawn:
    lines = tuple(
        " ".join(
            f"{_across(trace, trace.times_s[at]):.1f},{_MIDDLE - trace.cents[at]:.1f}"
            for at in line[::_EVERY]
        )
        for line in trace.lines()
        if line.size > _EVERY
    )
    taken = tuple(
        _Mark(_across(trace, item.tone.start_s), 0.0, _above(item), shown(item.note))
        for item in trace.items
        if isinstance(item, Heard)
    )
    refused = tuple(
        _Mark(
            left := _across(trace, item.start_s),
            max(_LEAST_WIDTH, round(_across(trace, item.end_s) - left, 1)),
            0.0,
            describe_refusal(item),
        )
        for item in trace.items
        if not isinstance(item, Heard)
    )
    return _Drawn(lines, taken, refused)


def _across(trace: Trace, time_s: float) -> float:
    """Return how far to the right a time lies."""
    past = min(max(trace.end_s - time_s, 0.0), SECONDS)
    return round(_WIDTH * (1 - past / SECONDS), 1)


def _above(item: Heard) -> float:
    """Return where the words of a tone stand: a little above its line."""
    return round(max(9.0, _MIDDLE - item.cents - 4), 1)
