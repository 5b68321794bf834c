"""Times of day as the timetable of an evening has them: 18:25, or 6:25 PM."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import datetime
from functools import wraps
from typing import TYPE_CHECKING, Concatenate, ParamSpec, TypeVar

if TYPE_CHECKING:
    from drift.gig.plan import Plan

__all__ = ["as_timetable", "clock", "clock_now", "hours_of", "told_with"]

_P = ParamSpec("_P")
_Made = TypeVar("_Made")
_HALF_DAYS: ContextVar[bool] = ContextVar("half_days", default=False)
"""Whether what is made now tells times with AM and PM."""


def as_timetable(make: Callable[Concatenate[Plan, _P], _Made]) -> Callable[..., _Made]:
    """Let what is made of a plan tell times of day as its timetable does.

    Parameters
    ----------
    make : callable
        Takes a plan first, and returns when all of it is made.
    """

    @wraps(make)
    def made(plan: Plan, *args: _P.args, **kwargs: _P.kwargs) -> _Made:
        with told_with(plan.schedule.half_days):
            return make(plan, *args, **kwargs)

    return made


@contextmanager
def told_with(half_days: bool) -> Iterator[None]:
    """Tell times of day with AM and PM, or without, for as long as something is made."""
    before = _HALF_DAYS.set(half_days)
    try:
        yield
    finally:
        _HALF_DAYS.reset(before)


def clock_now() -> Callable[[datetime], str]:
    """Return what tells times of day as they are told now, for what is drawn later."""
    return _with_half_days if _HALF_DAYS.get() else _of_24_hours


def clock(time: datetime) -> str:
    """Return a time of day.

    Examples
    --------
    >>> clock(datetime(2026, 10, 23, 18, 5))
    '18:05'
    """
    return clock_now()(time)


def hours_of(start: datetime, end: datetime) -> str:
    """Return from when to when, the hour alone.

    Examples
    --------
    >>> hours_of(datetime(2026, 10, 23, 18, 0), datetime(2026, 10, 23, 18, 12))
    '18:00–18:12'
    """
    if start == end:
        return clock(start)
    first, last = clock(start), clock(end)
    if _HALF_DAYS.get() and first[-3:] == last[-3:]:
        first = first[:-3]
    return f"{first}–{last}"


def _of_24_hours(time: datetime) -> str:
    return f"{time:%H:%M}"


def _with_half_days(time: datetime) -> str:
    """Return a time of day with AM or PM, which no line breaks off.

    Examples
    --------
    >>> midnight = datetime(2026, 10, 23)
    >>> [_with_half_days(midnight.replace(hour=hour)).split() for hour in (0, 9, 12, 20)]
    [['12:00', 'AM'], ['9:00', 'AM'], ['12:00', 'PM'], ['8:00', 'PM']]
    """
    half = "AM" if time.hour < 12 else "PM"
    return f"{time.hour % 12 or 12}:{time:%M}\N{NO-BREAK SPACE}{half}"
