"""Rows of a CSV file a person wrote: every refusal names the file, the line and the value."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from pathlib import Path
from typing import Any

from drift.errors import InputError
from drift.quantities import NUMBER, read_quantity
from drift.texts import unfit
from drift.times import check_instant

__all__ = ["Row", "over_midnight", "read_rows"]

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

    def number(self, column: str, lowest: float, highest: float) -> float | None:
        """Return the number in a cell, or None where the cell is empty.

        Raises
        ------
        InputError
            When the cell holds no number, or one outside the limits.
        """
        text = self.text(column)
        if text.lower() in {"", "na", "nan"}:
            return None
        value = read_quantity(text, NUMBER)
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
        zone: tzinfo | None,
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
        zone : tzinfo or None
            The zone of times that carry no offset; None refuses those.
        after_row : str
            Where that earlier instant is written, for the refusal of a time before it.

        Raises
        ------
        InputError
            When the cell holds no date and time.
        """
        text = self.text(column)
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
        if value.tzinfo is None and zone is None:
            raise self.refused(
                f"{column} {text!r} has no offset from UTC",
                "add the offset, such as 2026-10-09T19:00-04:00, or give it once with --zone",
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


def _full_time(text: str) -> datetime | None:
    """Return a date with a time; a date alone is none."""
    try:
        return datetime.fromisoformat(text) if len(text) > 10 else None
    except ValueError:
        return None


def _next_time_of_day(text: str, after: datetime | None) -> datetime | None:
    if after is None or len(text) < 4 or ":" not in text[:3]:
        return None
    try:
        clock = datetime.strptime(text, "%H:%M" if text.count(":") == 1 else "%H:%M:%S")  # noqa: DTZ007
    except ValueError:
        return None
    value = datetime.combine(after.date(), clock.time(), after.tzinfo)
    return value if value >= after else value + timedelta(days=1)


def read_rows(path: Path, required: Iterable[str], optional: Iterable[str] = ()) -> list[Row]:
    """Read a CSV file (UTF-8, comma, header row).

    Parameters
    ----------
    path : Path
        The file.
    required, optional : iterables of str
        Columns that must and may be there. Any other column is refused by name.

    Returns
    -------
    list of Row
        The rows in the order of the file, blank lines left out.

    Raises
    ------
    InputError
        When the file cannot be read, a column is missing or unknown, or a row is too long.
    """
    path = Path(path)
    needed, allowed = list(required), [*required, *optional]
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise InputError(
            f"{path} cannot be read: {error.strerror or error}", "check the name of the file"
        ) from None
    except UnicodeDecodeError:
        raise InputError(f"{path} is not UTF-8 text", "save it as CSV in UTF-8") from None
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    header = [name.strip() for name in next(_lines(reader, path.name), [])]
    _check_header(path.name, header, needed, allowed)
    rows = []
    for cells in _lines(reader, path.name):
        if not any(cell.strip() for cell in cells):
            continue
        row = Row(path.name, reader.line_num, {})
        if len(cells) > len(header):
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
        rows.append(Row(path.name, reader.line_num, named))
    if not rows:
        raise InputError(f"{path.name} has no rows", f"write rows under {','.join(header)}")
    return rows


def _lines(reader: Any, file: str) -> Iterator[list[str]]:
    """Yield the cells of each line; what no CSV file can hold is refused with its line."""
    try:
        yield from reader
    except csv.Error as error:
        raise InputError(
            f"{file} line {reader.line_num}: {error}", "look for a quote that is not closed"
        ) from None


def _check_header(file: str, header: list[str], needed: list[str], allowed: list[str]) -> None:
    columns = f"the columns are {', '.join(dict.fromkeys(allowed))}"
    if missing := [name for name in needed if name not in header]:
        raise InputError(f"{file} has no column {', '.join(missing)}", columns)
    if unknown := [name for name in header if name not in allowed]:
        raise InputError(f"{file} has an unknown column {', '.join(map(repr, unknown))}", columns)
    if twice := sorted({name for name in header if header.count(name) > 1}):
        raise InputError(f"{file} has the column {', '.join(twice)} twice", "keep one of them")
