"""The day of an evening whose times are written without a date, and how its dates are written."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo
from pathlib import Path

from drift.errors import InputError
from drift.gig.sheets import written_as
from drift.tables.headings import named_columns
from drift.tables.spelled_times import clock_of, day_order, spelled, spelled_time

__all__ = [
    "MONTHS",
    "WEEKDAYS",
    "Days",
    "date_in",
    "date_of",
    "day_of_table",
    "days_of",
    "full_time",
    "has_half_day",
    "over_midnight",
    "two_ways",
]

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September",
          "October", "November", "December")  # fmt: skip
#: A time of day is the next day's only from this hour on to before that one, and a first one from
#: this hour on is the evening before a date whose hour is before that.
EVENING_HOUR, MORNING_HOUR = 18, 6
_HALF_DAY = re.compile(r"\d\s*[ap]\.?m\b", re.IGNORECASE)


@dataclass(frozen=True)
class Days:
    """How the dates and times of one table are read.

    Attributes
    ----------
    zone : tzinfo
        Of times without an offset.
    order : str or None
        ``day-first`` or ``month-first``, where the dates of the file show it.
    day : datetime or None
        Midnight of the day of a first time that has no date.
    """

    zone: tzinfo
    order: str | None = None
    day: datetime | None = None

    @property
    def without_zone(self) -> bool:
        """Whether a first time of day needs the zone, because its day has none."""
        return self.day is not None and self.day.tzinfo is None


def days_of(
    texts: Sequence[str],
    zone: tzinfo,
    named: date | None = None,
    elsewhere: datetime | None = None,
    dates: Sequence[str] = (),
    order: str | None = None,
) -> Days:
    """Return how the dates of a table are read, from what is written in it.

    Parameters
    ----------
    texts : sequence of str
        Its times, row by row.
    zone : tzinfo
        Of times without an offset.
    named : date, optional
        The day that a comment of the file names.
    elsewhere : datetime, optional
        Midnight of the day, where it is known from another file or an option.
    dates : sequence of str
        What is written in a column ``date``.
    order : str, optional
        ``day-first`` or ``month-first``, where the table itself does not show it.

    Notes
    -----
    A date with strokes and a.m. or p.m. has the month first, unless another shows the opposite
    (common practice).
    """
    order = _order([*texts, *dates], order)
    if named is not None:
        return Days(zone, order, datetime(named.year, named.month, named.day))  # noqa: DTZ001
    if elsewhere is not None:
        return Days(zone, order, elsewhere)
    return Days(zone, order, _first_day(texts, order))


def has_half_day(text: str) -> bool:
    """Return whether a time in a text is written with AM or PM.

    Examples
    --------
    >>> has_half_day("6:25 p.m."), has_half_day("8:00-8:30 PM stands"), has_half_day("18:25")
    (True, True, False)
    """
    return bool(_HALF_DAY.search(text))


def _order(texts: Sequence[str], told: str | None = None) -> str | None:
    with suppress(InputError):  # both ways in one file: each such date is refused
        usual = any("/" in text and has_half_day(text) for text in texts)
        return day_order(texts) or told or ("month-first" if usual else None)
    return None


def _first_day(texts: Iterable[str], order: str | None) -> datetime | None:
    """Return midnight before the first full time; the day before it for the evening before."""
    first = None
    for text in texts:
        if (value := full_time(text, order)) is not None:
            midnight = value.replace(hour=0, minute=0, second=0, microsecond=0)
            night = first is not None and first.hour >= EVENING_HOUR
            if night and value.hour < MORNING_HOUR and midnight.date() > date.min:
                return midnight - timedelta(days=1)
            return midnight
        first = first or clock_of(text)
    return None


def over_midnight(before: datetime, after: datetime) -> bool:
    """Return whether a time of day on the next day is unmistakable.

    Examples
    --------
    >>> late, early = datetime(2026, 10, 9, 22, 30), datetime(2026, 10, 10, 0, 30)
    >>> over_midnight(late, early), over_midnight(late, early.replace(hour=18))
    (True, False)
    """
    return before.hour >= EVENING_HOUR and after.hour < MORNING_HOUR


def date_in(comments: Iterable[str]) -> date | None:
    """Return the day that a comment names.

    Examples
    --------
    >>> date_in(["our homecoming", "date: 2026-10-16"])
    datetime.date(2026, 10, 16)
    """
    for comment in comments:
        found = re.fullmatch(r"date\s*[:=]?\s*(.+)", comment, re.IGNORECASE)
        if found and (day := date_of(found[1], _order([found[1]]))) is not None:
            return day
    return None


def date_of(text: str, order: str | None) -> date | None:
    """Return a date, None where the text is not one or could name two days."""
    with suppress(InputError):
        return spelled_time(text, order).date() if text else None
    return None


def full_time(text: str, order: str | None) -> datetime | None:
    """Return a date with a time; a date alone is not one.

    Examples
    --------
    >>> full_time("16.10.2026 17:00", None), full_time("17:00", None)
    (datetime.datetime(2026, 10, 16, 17, 0), None)
    """
    parts = spelled(text)
    if parts is not None:
        with suppress(InputError):
            return spelled_time(text, order) if parts.has_clock else None
        return None
    try:  # with an offset
        return datetime.fromisoformat(text) if len(text) > 10 else None
    except ValueError:
        return None


def two_ways(text: str, order: str | None) -> bool:
    """Return whether a date could be either of two days."""
    parts = spelled(text)
    return (
        parts is not None
        and order is None
        and not parts.settled
        and not parts.dotted
        and parts.first != parts.second
        and max(parts.first, parts.second) <= 12
    )


def day_of_table(
    path: Path,
    columns: dict[str, str] | None = None,
    kind: str = "",
    order: str | None = None,
) -> datetime | None:
    """Return midnight of the day that a schedule or a forecast is for, None where it is open.

    Parameters
    ----------
    path : Path
        A table with times in ``start`` and ``end``, or in ``time``.
    columns : dict of str to str, optional
        Names of columns by what is written over them.
    kind : str
        Which table of an evening it is: its sheet is taken of a workbook with several.
    order : str, optional
        ``day-first`` or ``month-first``, where the table itself does not show it.

    Notes
    -----
    A table that runs over more than one day is no answer, but for a night that ends before six.
    """
    with suppress(InputError):
        written = written_as(path, kind, columns)
        heads, _ = named_columns(
            written.lines[0].cells if written.lines else [],
            ("time", "start", "end", "date"), columns,
        )  # fmt: skip
        at = [n for n, head in enumerate(heads) if head in ("time", "start", "end")]
        texts = [line.cells[n].strip() for line in written.lines[1:] for n in at
                 if n < len(line.cells)]  # fmt: skip
        named = date_in(written.comments)
        if named is not None:
            return datetime(named.year, named.month, named.day)  # noqa: DTZ001
        return _only_day(texts, _order(texts, order))
    return None


def _only_day(texts: Iterable[str], order: str | None) -> datetime | None:
    times = [found for text in texts if (found := full_time(text, order)) is not None]
    if not times:
        return None
    first, last = (pick(times, key=_instant) for pick in (min, max))
    away = last.date().toordinal() - first.date().toordinal()
    if away > 1 or (away == 1 and last.hour >= MORNING_HOUR):
        return None
    return first.replace(hour=0, minute=0, second=0, microsecond=0)


def _instant(time: datetime) -> datetime:
    return time if time.tzinfo else time.replace(tzinfo=UTC)
