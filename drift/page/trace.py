"""The pitch of the last minutes, as lines and words for the page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from drift.capture.heard import Heard
from drift.capture.lately import SECONDS, Trace
from drift.notes import shown
from drift.page.rendering import render
from drift.words.listening import describe_condition, describe_lately, describe_refusal

__all__ = ["show_trace"]

_WIDTH, _MIDDLE = 330.0, 52.0
_HIGHEST = 10.0  # where words still stand in the picture
_WORDS_WIDTH, _WORDS_HEIGHT = 24.0, 12.0  # of the letters on a telephone
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
    taken = _apart(
        [
            _Mark(
                min(_across(trace, item.tone.start_s), _WIDTH - _WORDS_WIDTH),
                0.0,
                _above(item),
                shown(item.note),
            )
            for item in trace.items
            if isinstance(item, Heard)
        ]
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


def _apart(marks: Sequence[_Mark]) -> tuple[_Mark, ...]:
    """Return the words of tones that follow each other soon, one above the other.

    Those for which there is no room are left out: the list below has them.
    """
    placed: list[_Mark] = []
    for mark in marks:
        near = [one.top for one in placed if mark.left - one.left < _WORDS_WIDTH]
        top = mark.top
        while top >= _HIGHEST and any(abs(top - other) < _WORDS_HEIGHT for other in near):
            top = round(top - 1.0, 1)
        if top >= _HIGHEST:
            placed.append(replace(mark, top=top))
    return tuple(placed)


def _across(trace: Trace, time_s: float) -> float:
    """Return how far to the right a time lies."""
    past = min(max(trace.end_s - time_s, 0.0), SECONDS)
    return round(_WIDTH * (1 - past / SECONDS), 1)


def _above(item: Heard) -> float:
    """Return where the words of a tone stand: a little above its line."""
    return round(max(_HIGHEST, _MIDDLE - item.cents - 4), 1)
