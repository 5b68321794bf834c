"""Rows of a table of an evening: every cell that cannot be taken is named, with line and value.

The tables are read as all others are (`drift.tables`). What is special here are times of day
without a date, which mean the next such time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta, tzinfo
from pathlib import Path
from typing import TypeVar

from drift.errors import InputError
from drift.findings import Finding
from drift.gig.days import Days, date_in, date_of, days_of, full_time, over_midnight, two_ways
from drift.gig.sheets import written_as
from drift.quantities import NUMBER, Quantity, read_quantity
from drift.tables.columns import Place
from drift.tables.headings import named_columns
from drift.tables.problems import Problem, TablesRefused, every
from drift.tables.spelled_times import clock_of
from drift.tables.written import TITLE_LINES, Line
from drift.texts import unfit
from drift.times import check_instant

__all__ = ["Row", "Rows", "read_rows"]

Taken = TypeVar("Taken")


@dataclass(frozen=True)
class Row:
    """One row: where it is, its cells by column (missing cells are empty), and what is wrong.

    Attributes
    ----------
    place : Place
        File and line.
    cells : mapping of str to str
        Text by column, without blanks around it; a line end within is a blank.
    problems : list of Problem
        What was found wrong while its cells were read.
    """

    place: Place
    cells: Mapping[str, str]
    problems: list[Problem] = field(default_factory=list, compare=False)

    @property
    def where(self) -> str:
        """The line, to be named by another row of the file."""
        return f"{self.place.word} {self.place.number}"

    def text(self, column: str) -> str:
        """Return the text of a cell, empty where the column is missing."""
        return self.cells.get(column, "")

    def note(self, problem: str, remedy: str, column: str = "") -> None:
        """Take note of something wrong with this row, and go on."""
        self.problems.append(Problem(self.place, column, self.text(column), problem, remedy))

    def refused(self) -> TablesRefused:
        """Return everything that is wrong with this row, to be raised."""
        return TablesRefused(tuple(self.problems))

    def number(
        self, column: str, lowest: float, highest: float, quantity: Quantity = NUMBER,
        remedy: str = "",
    ) -> float | None:  # fmt: skip
        """Return the number in a cell, in the base unit; None where it is empty or is noted wrong.

        Parameters
        ----------
        column : str
            Name of the column.
        lowest, highest : float
            Limits, both included.
        quantity : Quantity
            What it is, and so which units it may have.
        remedy : str
            What to do where it cannot be taken, in place of the usual.
        """
        text = self.text(column)
        if text.lower() in {"", "na", "nan", "n/a", "-", "–"}:
            return None
        value = read_quantity(text, quantity)
        if value is None or not lowest <= value <= highest:
            self.note(
                f"{column} {text[:40]!r} is not a number from {lowest:g} to {highest:g}",
                remedy or f"correct {column}, or leave the cell empty",
                column,
            )
            return None
        return value

    def instant(
        self, column: str, days: Days, *, after: datetime | None = None, after_row: str = ""
    ) -> datetime | None:
        """Return the instant in a cell; None where it is not one, which is noted.

        Parameters
        ----------
        column : str
            Name of the column.
        days : Days
            How the dates of the file are written, and on which day a first time of day is.
        after : datetime, optional
            An earlier instant. With it a time of day alone (``21:15``) is taken as the next
            such time; over midnight only from 18:00 on to before 06:00, because a time that runs
            backwards at any other hour is a slip of the pen.
        after_row : str
            Where that earlier instant is written, for the refusal of a time before it.
        """
        text = self.text(column)
        value = full_time(text, days.order)
        if value is None and (day := self._day(days)) is not None:
            after = day if after is None or day > after else after
        if value is None and after is None and (clock := clock_of(text)) is not None:
            if days.day is None:
                remedy = (
                    "write the date once: in the first row, as a line '# date 2026-10-09', or "
                    "as --date 2026-10-09"
                )
                # One cause for all of them, whatever their column and value.
                self.problems.append(
                    Problem(self.place, "", "", f"{column} {text!r} has no date", remedy)
                )
                return None
            value = datetime.combine(days.day, clock, days.day.tzinfo)
        elif value is None:
            value = self._next(column, after, after_row)
        if value is None:
            self._not_an_instant(column, text, days)
            return None
        try:
            return check_instant(value if value.tzinfo else value.replace(tzinfo=days.zone))
        except InputError as refusal:
            self.note(refusal.problem, refusal.remedy, column)
            return None

    def _day(self, days: Days) -> datetime | None:
        """Return midnight of the date in a column of its own."""
        found = date_of(self.text("date"), days.order)
        return None if found is None else datetime(found.year, found.month, found.day,
                                                   tzinfo=days.zone)  # fmt: skip

    def _next(self, column: str, after: datetime | None, after_row: str) -> datetime | None:
        """Return the next time of day; one that runs backwards stays that day, and is noted."""
        clock = clock_of(self.text(column))
        if after is None or clock is None:
            return None
        value = datetime.combine(after.date(), clock, after.tzinfo)
        if value >= after:
            return value
        if not over_midnight(after, value):
            where = f" on {after_row}" if after_row else ""
            self.note(
                f"{column} {self.text(column)} is before {after:%H:%M}{where}",
                "correct the time, or write the date with it if it is the next day",
                column,
            )
            return value
        return value + timedelta(days=1)

    def _not_an_instant(self, column: str, text: str, days: Days) -> None:
        if any(found.column == column for found in self.problems):
            return
        if two_ways(text, days.order):
            self.note(
                f"{column} {text!r} could be two days",
                "write the date as 2026-10-09, or say --dates day-first or month-first",
                column,
            )
        else:
            self.note(
                f"{column} {text!r} is not a date and time" if text else f"{column} is empty",
                "write date, time and offset, such as 2026-10-09T19:00-04:00",
                column,
            )


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
        The rows in the order of the file, blank lines and comments left out.
    problems : tuple of Problem
        To be reported with those of the cells.
    date : date or None
        The day that a comment names (``# date 2026-10-09``).
    unclear : bool
        Whether a heading does not give its unit.
    notices : tuple of Finding
        Of the columns that were left out without being named.
    """

    file: str
    columns: list[str]
    rows: list[Row]
    problems: tuple[Problem, ...] = ()
    date: date | None = None
    unclear: bool = False
    notices: tuple[Finding, ...] = ()

    def __iter__(self) -> Iterator[Row]:
        """Go through the rows."""
        return iter(self.rows)

    def taken(self, take: Callable[[Row], Taken]) -> list[Taken]:
        """Return what is taken from each row; where something is wrong, all that is at once.

        Parameters
        ----------
        take : callable
            Takes a row; what it notes there, or raises, is refused in the end.
        """

        def judged(row: Row) -> Taken:
            found = take(row)
            if row.problems:
                raise row.refused()
            return found

        return every(self.rows, judged, self.problems)

    def days_for(
        self,
        columns: Sequence[str],
        zone: tzinfo | None,
        day: datetime | None,
        order: str | None = None,
    ) -> tuple[Rows, Days]:
        """Return how the dates are to be read, and the rows with one problem where they are not.

        Parameters
        ----------
        columns : sequence of str
            Those that hold times.
        zone : tzinfo or None
            The zone of times without one. Without it the first time that needs one is a problem;
            the rest is read as UTC, so that every other problem is found as well.
        day : datetime or None
            Midnight of the day of a first time of day, where it is known from elsewhere.
        order : str, optional
            ``day-first`` or ``month-first``, where the table itself does not show it.
        """
        texts = [(row, column, row.text(column)) for row in self.rows for column in columns]
        days = days_of([text for _, _, text in texts], zone or UTC, self.date, day,
                       [row.text("date") for row in self.rows], order)  # fmt: skip
        if zone is not None:
            return self, days
        for row, column, text in texts:
            value = full_time(text, days.order)
            alone = clock_of(text) is not None and (row.text("date") or days.without_zone)
            if (value is not None and value.tzinfo is None) or alone:
                found = Problem(
                    row.place, column, text, f"{column} {text!r} has no offset from UTC",
                    "give the zone once with --zone, such as --zone America/New_York, or write "
                    "2026-10-09T19:00-04:00",
                )  # fmt: skip
                return replace(self, problems=(*self.problems, found)), days
        return self, days


def read_rows(
    path: Path,
    required: Iterable[str],
    optional: Iterable[str] = (),
    columns: Mapping[str, str] | None = None,
    extra: list[str] | None = None,
    kind: str = "",
) -> Rows:
    """Read a table that a person wrote: CSV or a spreadsheet, with a heading.

    Parameters
    ----------
    path : Path
        The file; see `drift.tables.written`.
    required, optional : iterables of str
        Columns that must and may be there. Any other column is refused by name.
    columns : mapping of str to str, optional
        Names of columns by what is written over them (`drift.tables.headings.named_columns`).
    extra : list of str, optional
        Filled with what is written over the columns that nobody needs. Without it they are refused.
    kind : str
        Which table of an evening it is: its sheet is taken of a workbook with several.

    Returns
    -------
    Rows
        What could be read, and the problems of the rest.

    Raises
    ------
    TablesRefused
        When the file cannot be read, a column is missing, or there are no rows.
    """
    path = Path(path)
    needed, allowed = list(required), [*required, *optional]
    written = written_as(path, kind, columns)
    at = _heading_among(written.lines, needed, allowed, columns)
    heading = written.lines[at] if written.lines else Line(Place(path.name, "line", 1), [])
    heads = list(heading.cells)
    while heads and not heads[-1].strip():  # empty columns at the right of a spreadsheet
        heads.pop()
    header, wrong = named_columns(heads, allowed, columns)
    if extra is not None:
        extra.extend(name for name in header if name and name not in allowed)
        header = [name if name in allowed else "" for name in header]
    problems = [Problem(heading.place, "", "", one.problem, one.remedy) for one in wrong]
    problems += _of_header(heading, header, needed, allowed)
    if not set(needed) <= set(header):
        raise TablesRefused(tuple(problems))
    rows: list[Row] = []
    for line in written.lines[at + 1 :]:
        row, problem = _row(header, line)
        if problem is None:
            rows.append(row)
        else:
            problems.append(problem)
    if not rows and not problems:
        raise InputError(f"{path.name} has no rows", f"write rows under {','.join(header)}")
    given = {head.strip().casefold() for head in columns or {}}
    left_out = [
        head.strip()
        for head, name in zip(heads, header, strict=True)
        if head.strip() and not name and head.strip().casefold() not in given
    ]
    found = Finding("columns_left_out", {"file": path.name, "columns": left_out})
    return Rows(path.name, header, rows, tuple(problems), date_in(written.comments), bool(wrong),
                (found,) if left_out else ())  # fmt: skip


def _heading_among(
    lines: Sequence[Line], needed: Sequence[str], allowed: Sequence[str],
    columns: Mapping[str, str] | None,
) -> int:  # fmt: skip
    """Return which of the first lines is the heading: others above it may hold a title."""
    known: list[int] = []
    for number, line in enumerate(lines[:TITLE_LINES]):
        names = set(named_columns(line.cells, allowed, columns)[0])
        if set(needed) <= names:
            return number
        known.append(len(names & set(allowed)))
    return known.index(max(known)) if known else 0


def _row(header: list[str], line: Line) -> tuple[Row, Problem | None]:
    if any(cell.strip() for cell in line.cells[len(header) :]):
        return Row(line.place, {}), Problem(
            line.place, "", "", f"{len(line.cells)} cells under {len(header)} columns",
            "remove the extra comma, or put the text in double quotes",
        )  # fmt: skip
    named = {name: " ".join(cell.split()) for name, cell in zip(header, line.cells, strict=False)}
    for name, cell in named.items():
        if letter := unfit(cell):
            return Row(line.place, {}), Problem(
                line.place, name, "",
                f"{name} has the character U+{ord(letter):04X}, which cannot be printed",
                "leave that character out",
            )  # fmt: skip
    return Row(line.place, named), None


def _of_header(
    heading: Line, header: list[str], needed: list[str], allowed: list[str]
) -> Iterator[Problem]:
    place, columns = heading.place, f"the columns are {', '.join(dict.fromkeys(allowed))}"
    unknown = [name for name in header if name and name not in allowed]
    unnamed = [head for head, name in zip(heading.cells, header, strict=False)
               if head.strip() and name not in allowed]  # fmt: skip
    if missing := [name for name in needed if name not in header]:
        which = f"; name it, such as --columns '{unnamed[0]}={missing[0]}'" if unnamed else ""
        seen = f"; not understood: {', '.join(map(repr, unnamed))}" if unnamed else ""
        yield Problem(place, "", "", f"no column {', '.join(missing)}{seen}", f"{columns}{which}")
    elif unknown:
        example = "remark" if "remark" in allowed else allowed[-1]
        yield Problem(
            place, "", "", f"unknown column {', '.join(map(repr, unknown))}",
            f"{columns}; name one as with --columns '{unknown[0]}={example}', or leave out "
            "what is not understood with --columns '*=unused'",
        )  # fmt: skip
    if twice := sorted({name for name in header if name and header.count(name) > 1}):
        yield Problem(place, "", "", f"column {', '.join(twice)} is there twice", "keep one")
