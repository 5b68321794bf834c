"""The time of day of what is entered later than it happened, before the entry or behind it."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta
from typing import NamedTuple

from drift.errors import InputError

__all__ = ["ClockTime", "split_time"]

_TIME = r"(?:(\d{4}-\d\d-\d\d)\s+)?([01]?\d|2[0-3])[:.]([0-5]\d)(?:[:.]([0-5]\d))?"
_NEARLY = r"(?:\d{4}-\S+\s+)?\d\S*"
_SECOND, _MINUTE, _DAY = timedelta(seconds=1), timedelta(minutes=1), timedelta(days=1)


class ClockTime(NamedTuple):
    """What the clock of this computer showed.

    Attributes
    ----------
    hour, minute : int
        Of the day.
    day : date or None
        The day, where one was typed.
    second : int or None
        The second, where one was typed; else the time is that of a whole minute.
    """

    hour: int
    minute: int
    day: date | None = None
    second: int | None = None

    def __str__(self) -> str:
        """Return the time as it is typed."""
        return f"{f'{self.day} ' if self.day else ''}{self._of_day()}"

    def in_words(self) -> str:
        """Return the time, and behind it the day where one was typed."""
        return f"{self._of_day()}{f' on {self.day}' if self.day else ''}"

    def _of_day(self) -> str:
        return str(time(self.hour, self.minute, self.second or 0))[
            : 5 if self.second is None else 8
        ]

    def shows(self, shown: datetime, moment: datetime) -> bool:
        """Return whether the clock shows it at a moment, as it did at another.

        Parameters
        ----------
        shown, moment : datetime
            When the clock showed this time, and the moment that is asked about.
        """
        if self.second is not None:
            return shown <= moment < shown + _SECOND
        minute = shown.replace(second=0, microsecond=0)
        return minute <= moment < minute + _MINUTE

    def between(self, begun: datetime, now: datetime) -> datetime:
        """Return the moment of a rehearsal, so far, at which the clock showed the time.

        The minute in which the rehearsal began counts from its beginning.

        Parameters
        ----------
        begun, now : datetime
            When the rehearsal began, and the present; aware.

        Raises
        ------
        InputError
            When it is yet to come, when it was before the rehearsal, or came more than once.
        """
        found = [moment for moment in self._moments(begun, now) if begun - _MINUTE < moment <= now]
        if not found:
            here, there = begun.astimezone(), now.astimezone()
            date = "" if here.date() == there.date() else f"{here:%Y-%m-%d} "
            raise InputError(
                f"{self} is not between the beginning of the rehearsal, {date}{here:%H:%M}, "
                f"and now, {there:%H:%M}",
                "type a time between the two: at 20:10 slide main 14",
            )
        if len(found) > 1:
            days = found[-1] - found[0] > _DAY / 2
            raise InputError(
                f"since the rehearsal began the clock has shown {self} more than once",
                f"name the day as well: at {found[-1].astimezone():%Y-%m-%d} {self} slide main 14"
                if days and not self.day
                else "type a time that it showed once",
            )
        return max(found[0], begun)

    def _moments(self, begun: datetime, now: datetime) -> list[datetime]:
        """Return when the clock shows the time on the days of a rehearsal, in order."""
        first, last = begun.astimezone().date(), now.astimezone().date()
        days = [self.day or first + n * _DAY for n in range((last - first).days + 1)]
        # An hour that comes twice, when summer time ends, is told apart by its fold.
        shown = {
            datetime.combine(
                day, time(self.hour, self.minute, self.second or 0, fold=fold)
            ).astimezone(UTC)
            for day in days
            for fold in (0, 1)
        }
        clock = self.hour, self.minute
        there = {moment: moment.astimezone() for moment in sorted(shown)}
        # An hour that is left out, when summer time begins, is shown by no clock.
        return [moment for moment, at in there.items() if (at.hour, at.minute) == clock]


def split_time(line: str) -> tuple[str, ClockTime | None]:
    """Return an entry and the time of day that stands before it or behind it.

    Parameters
    ----------
    line : str
        As typed. What a remark says, and what is said behind a ``!``, is left alone.

    Raises
    ------
    InputError
        When there is a time that no clock shows, or nothing beside it.

    Examples
    --------
    >>> split_time("at 20:10 slide main 14")
    ('slide main 14', ClockTime(hour=20, minute=10, day=None, second=None))
    >>> split_time("slide main 14 at 20:10") == split_time("at 20:10 slide main 14")
    True
    >>> split_time("F4 +6 at 20:10:35 ! mute in")
    ('F4 +6 ! mute in', ClockTime(hour=20, minute=10, day=None, second=35))
    >>> split_time("remark the doors were opened at 20:10")
    ('remark the doors were opened at 20:10', None)
    """
    if re.match(r"at(\s|$)", line, re.IGNORECASE):
        before = re.fullmatch(rf"at\s+{_TIME}\s+(\S.*)", line, re.IGNORECASE)
        if before is None:
            raise _no_time(line)
        return before[5], _clock_time(before[1], before[2], before[3], before[4], line)
    if re.match(r"remark\b", line, re.IGNORECASE):
        return line, None
    said, mark, remark = line.partition("!")
    said = said.rstrip()
    behind = re.fullmatch(rf"(.*\S)\s+at\s+{_TIME}", said, re.IGNORECASE)
    if behind is not None:
        entry = f"{behind[1]} {mark}{remark}".strip()
        return entry, _clock_time(behind[2], behind[3], behind[4], behind[5], line)
    if re.fullmatch(rf".*\S\s+at\s+{_NEARLY}", said, re.IGNORECASE):
        raise _no_time(line)
    return line, None


def _clock_time(
    day: str | None, hour: str, minute: str, second: str | None, line: str
) -> ClockTime:
    try:
        on = date.fromisoformat(day) if day else None
        return ClockTime(int(hour), int(minute), on, int(second) if second else None)
    except ValueError:
        raise _no_time(line) from None


def _no_time(line: str) -> InputError:
    return InputError(
        f"{line[:60]!r} does not name an entry and a time of day",
        "type both, the hours from 0 to 23: at 20:10 slide main 14",
    )
