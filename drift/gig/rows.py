"""Rows of a CSV file a person wrote: every refusal names the file, the line and the value."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta, tzinfo
from datetime import time as clock_time
from pathlib import Path
from typing import TypeVar

from drift.errors import InputError
from drift.gig.problems import every, together
from drift.gig.tables import lines_of, named_columns
from drift.quantities import NUMBER, Quantity, read_quantity
from drift.texts import unfit
from drift.times import check_instant

__all__ = ["Row", "Rows", "over_midnight", "read_rows"]

Taken = TypeVar("Taken")

#: A time of day is taken as the next day's only from this hour on to before that one.
EVENING_HOUR, MORNING_HOUR = 18, 6


@dataclass(frozen=True)
class Row:
    """One row: where it stands, and its cells by column (missing cells are empty).

    Attributes
    ----------
    file : str
        Name of the file.
    line : int
        Line in the file, the header being line 1.
    cells : mapping of str to str
        Text by column, without blanks around it; a line end within is a blank.
    """

    file: str
    line: int
    cells: Mapping[str, str]

    def text(self, column: str) -> str:
        """Return the text of a cell, empty where the column is missing."""
        return self.cells.get(column, "")

    def refused(self, why: str, remedy: str) -> InputError:
        """Return the error that names this row."""
        return InputError(f"{self.file} line {self.line}: {why}", remedy)

    def number(
        self, column: str, lowest: float, highest: float, quantity: Quantity = NUMBER
    ) -> float | None:
        """Return the number in a cell, in the base unit, or None where the cell is empty.

        Parameters
        ----------
        column : str
            Name of the column.
        lowest, highest : float
            Limits, both included.
        quantity : Quantity
            What it is, and so which units it may have.

        Raises
        ------
        InputError
            When the cell holds no number, or one outside the limits.
        """
        text = self.text(column)
        if text.lower() in {"", "na", "nan"}:
            return None
        value = read_quantity(text, quantity)
        if value is None or not lowest <= value <= highest:
            raise self.refused(
                f"{column} {text[:40]!r} is not a number from {lowest:g} to {highest:g}",
                f"correct {column}, or leave the cell empty",
            )
        return value

    def instant(
        self,
        column: str,
        *,
        after: datetime | None,
        zone: tzinfo,
        after_row: str = "",
    ) -> datetime:
        """Return the instant in a cell.

        Parameters
        ----------
        column : str
            Name of the column.
        after : datetime or None
            An earlier instant. With it a time of day alone (``21:15``) is taken as the next
            such time; over midnight only from 18:00 on to before 06:00, because a time that runs
            backwards at any other hour is a slip of the pen.
        zone : tzinfo
            The zone of times that carry no offset.
        after_row : str
            Where that earlier instant is written, for the refusal of a time before it.

        Raises
        ------
        InputError
            When the cell holds no date and time.
        """
        text = self.text(column)
        if _two_ways(text):
            raise self.refused(
                f"{column} {text!r} could be two days", "write the date as 2026-10-09"
            )
        value = _full_time(text) or _next_time_of_day(text, after)
        if _slipped_back(text, after, value):
            where = f" on {after_row}" if after_row else ""
            raise self.refused(
                f"{column} {text} is before {after:%H:%M}{where}",
                "correct the time, or write the date with it if it is the next day",
            )
        if value is None:
            raise self.refused(
                f"{column} {text!r} is no date and time",
                "write date, time and offset, such as 2026-10-09T19:00-04:00",
            )
        try:
            return check_instant(value.replace(tzinfo=zone) if value.tzinfo is None else value)
        except InputError as refusal:
            raise self.refused(refusal.problem, refusal.remedy) from None


def _slipped_back(text: str, after: datetime | None, value: datetime | None) -> bool:
    """Return whether a time of day could only be meant as the next day's by mistake."""
    if after is None or value is None or _full_time(text) is not None:
        return False
    return value.date() > after.date() and not over_midnight(after, value)


def over_midnight(before: datetime, after: datetime) -> bool:
    """Return whether a time of day on the next day is unmistakable.

    Examples
    --------
    >>> late, early = datetime(2026, 10, 9, 22, 30), datetime(2026, 10, 10, 0, 30)
    >>> over_midnight(late, early), over_midnight(late, early.replace(hour=18))
    (True, False)
    """
    return before.hour >= EVENING_HOUR and after.hour < MORNING_HOUR


_SLASHED = re.compile(r"(\d{1,2})/(\d{1,2})/(\d{4})[ ,]+(.+)")
_DASHED = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2}) (.+[AaPp]\.?[Mm]\.?)")
_DOTTED = re.compile(r"(\d{1,2})\.(\d{1,2})\.(\d{4})[ ,]+(.+)")


def _two_ways(text: str) -> bool:
    """Return whether a date with strokes could be either of two days."""
    found = _SLASHED.fullmatch(text)
    if found is None or _half_day(found[4]):
        return False  # with AM or PM the month comes first
    first, second = int(found[1]), int(found[2])
    return first != second and first <= 12 and second <= 12


def _half_day(text: str) -> bool:
    return text.strip().upper().replace(".", "").endswith(("AM", "PM"))


def _full_time(text: str) -> datetime | None:
    """Return a date with a time; a date alone is none."""
    if found := _SLASHED.fullmatch(text):
        month, day = int(found[1]), int(found[2])
        if month > 12 and not _half_day(found[4]):
            month, day = day, month
        return _joined(int(found[3]), month, day, found[4])
    if found := _DOTTED.fullmatch(text):
        return _joined(int(found[3]), int(found[2]), int(found[1]), found[4])
    if found := _DASHED.fullmatch(text):
        return _joined(int(found[1]), int(found[2]), int(found[3]), found[4])
    try:
        return datetime.fromisoformat(text) if len(text) > 10 else None
    except ValueError:
        return None


def _joined(year: int, month: int, day: int, clock: str) -> datetime | None:
    time = _clock_of(clock)
    try:
        return None if time is None else datetime.combine(date(year, month, day), time)
    except ValueError:
        return None


def _clock_of(text: str) -> clock_time | None:
    """Return a time of day: ``17:00``, ``5:00 PM``, ``5 pm``."""
    plain = text.strip().upper().replace(".", "")
    for form in ("%H:%M", "%H:%M:%S", "%I:%M %p", "%I:%M%p", "%I %p", "%I%p", "%I:%M:%S %p"):
        try:
            return datetime.strptime(plain, form).time()  # noqa: DTZ007
        except ValueError:
            continue
    return None


def _next_time_of_day(text: str, after: datetime | None) -> datetime | None:
    clock = _clock_of(text)
    if after is None or clock is None:
        return None
    value = datetime.combine(after.date(), clock, after.tzinfo)
    return value if value >= after else value + timedelta(days=1)


@dataclass(frozen=True)
class Rows:
    """The rows of a table, and what was wrong with others and with the heading.

    Attributes
    ----------
    file : str
        Name of the file.
    columns : list of str
        Their names; one that is not known stays as it is.
    rows : list of Row
        The rows in the order of the file, blank lines left out.
    problems : tuple of InputError
        To be told with those of the cells.
    """

    file: str
    columns: list[str]
    rows: list[Row]
    problems: tuple[InputError, ...] = ()

    def __iter__(self) -> Iterator[Row]:
        """Go through the rows."""
        return iter(self.rows)

    def taken(self, take: Callable[[Row], Taken]) -> list[Taken]:
        """Return what is taken from each row; where something is wrong, all that is at once."""
        return every(self.rows, take, self.problems)

    def zone_for(self, columns: Sequence[str], zone: tzinfo | None) -> tuple[Rows, tzinfo]:
        """Return the zone to go on with, and the rows with one problem where there is none.

        Without a zone the first time that needs one is a problem; the rest is read as UTC, so
        that every other problem is found as well.
        """
        if zone is not None:
            return self, zone
        for row in self.rows:
            for column in columns:
                value = _full_time(row.text(column))
                if value is not None and value.tzinfo is None:
                    found = row.refused(
                        f"{column} {row.text(column)!r} has no offset from UTC",
                        "add the offset, such as 2026-10-09T19:00-04:00, or give it once with "
                        "--zone",
                    )
                    return replace(self, problems=(*self.problems, found)), UTC
        return self, UTC


def read_rows(
    path: Path,
    required: Iterable[str],
    optional: Iterable[str] = (),
    columns: Mapping[str, str] | None = None,
) -> Rows:
    """Read a table that a person wrote: CSV or a spreadsheet, with a heading.

    Parameters
    ----------
    path : Path
        The file; see `drift.gig.tables`.
    required, optional : iterables of str
        Columns that must and may be there. Any other column is refused by name.
    columns : mapping of str to str, optional
        Names of columns by what is written over them; columns named so for nothing known here
        are left out.

    Returns
    -------
    Rows
        What could be read, and the problems of the rest.

    Raises
    ------
    InputError
        When the file cannot be read, a column is missing, or there are no rows.
    """
    path = Path(path)
    needed, allowed = list(required), [*required, *optional]
    lines = lines_of(path)
    header, problems = named_columns(next(lines, (0, []))[1], allowed, columns)
    while header and not header[-1]:  # empty columns at the right of a spreadsheet
        header.pop()
    problems += _of_header(path.name, header, needed, allowed)
    if not set(needed) <= set(header):
        raise together(problems)
    rows: list[Row] = []
    for line, cells in lines:
        if any(cell.strip() for cell in cells):
            try:
                rows.append(_row(path.name, header, line, cells))
            except InputError as problem:
                problems.append(problem)
    if not rows and not problems:
        raise InputError(f"{path.name} has no rows", f"write rows under {','.join(header)}")
    return Rows(path.name, header, rows, tuple(problems))


def _row(file: str, header: list[str], line: int, cells: list[str]) -> Row:
    row = Row(file, line, {})
    if any(cell.strip() for cell in cells[len(header) :]):
        raise row.refused(
            f"{len(cells)} cells under {len(header)} columns",
            "remove the extra comma, or put the text in double quotes",
        )
    named = {name: " ".join(cell.split()) for name, cell in zip(header, cells, strict=False)}
    for name, cell in named.items():
        if letter := unfit(cell):
            raise row.refused(
                f"{name} has the character U+{ord(letter):04X}, which cannot be printed",
                "leave that character out",
            )
    return Row(file, line, named)


def _of_header(
    file: str, header: list[str], needed: list[str], allowed: list[str]
) -> Iterator[InputError]:
    columns = f"the columns are {', '.join(dict.fromkeys(allowed))}"
    if missing := [name for name in needed if name not in header]:
        yield InputError(f"{file} has no column {', '.join(missing)}", columns)
    if unknown := [name for name in header if name not in allowed]:
        yield InputError(f"{file} has an unknown column {', '.join(map(repr, unknown))}", columns)
    if twice := sorted({name for name in header if header.count(name) > 1}):
        yield InputError(f"{file} has the column {', '.join(twice)} twice", "keep one of them")
