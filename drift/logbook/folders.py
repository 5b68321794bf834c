"""Rehearsal folders read with care, so that whatever is wrong is named by file, line and value."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from pathlib import Path
from typing import Any, TextIO

from drift.errors import DriftError, InputError
from drift.instruments import Catalogue
from drift.logbook.records import (
    RECORDS,
    Column,
    Reading,
    Record,
    check_number,
    checked,
)
from drift.logbook.vocabulary import check_names
from drift.times import parse_time, shown_time

__all__ = [
    "FILES",
    "FORMER_WORDS",
    "UNDONE",
    "Folder",
    "boolean",
    "check_players_in_one_place",
    "existing_folder",
    "header_of",
    "named_now",
    "read_folder",
]

#: The files of a folder; the first two must be there.
FILES = ("readings", "temperatures", "events", "calibrations", "notices", "undone")
REQUIRED = FILES[:2]

#: Columns by the names they had in version 0.1, still understood in a folder.
FORMER_NAMES = {"millimetres": "position_mm"}
#: What a remark alone said in version 0.1: the table, the column that says it now, how such a
#: remark began.
FORMER_WORDS = (("readings", "flagged", "!"), ("events", "already_warm", "already warm"))

UNDONE = (
    Column("undone_time", "time", "when the entry was taken back", required=True),
    Column("table", "text", "the table it stood in", required=True, choices=tuple(RECORDS)),
    Column("entry", "text", "the entry as it stood, a JSON object", required=True),
)

_FAHRENHEIT = Column(
    "fahrenheit", "number", "temperature of the air", "°F", required=True, lowest=-40, highest=140
)


@dataclass(frozen=True)
class Folder:
    """What a rehearsal folder holds: the records that stand and those that were taken back."""

    records: tuple[Record, ...]
    undone: tuple[tuple[Record, datetime], ...] = ()

    def of(self, table: str) -> list[Record]:
        """Return the records of one table."""
        return [record for record in self.records if record.table == table]


def read_folder(folder: Path | str, catalogue: Catalogue | None = None) -> Folder:
    """Read a rehearsal folder.

    Parameters
    ----------
    folder : Path or str
        The folder with ``readings.csv``, ``temperatures.csv`` and, where there are any,
        ``events.csv``, ``calibrations.csv``, ``notices.csv`` and ``undone.csv``.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.

    Returns
    -------
    Folder
        Its records, each within its limits.

    Raises
    ------
    InputError
        Naming the file, the line and the value that cannot be taken.
    """
    path = existing_folder(folder)
    records: list[Record] = []
    undone: list[tuple[Record, datetime]] = []
    for table in FILES:
        file = path / f"{table}.csv"
        if not file.exists():
            continue
        if table == "undone":
            undone.extend(_undone_rows(file, catalogue))
        else:
            records.extend(_table_rows(file, table, catalogue))
    check_players_in_one_place(
        (record.player, record.rehearsal, record.time)
        for record in records
        if isinstance(record, Reading)
    )
    return Folder(tuple(records), tuple(undone))


def existing_folder(folder: Path | str) -> Path:
    """Return the folder as a path after checking that the required files are there."""
    path = Path(folder)
    if not path.is_dir():
        raise InputError(f"there is no folder {path}", "check the name")
    for table in REQUIRED:
        if not (path / f"{table}.csv").is_file():
            raise InputError(
                f"{path} has no {table}.csv",
                "a rehearsal folder holds readings.csv and temperatures.csv, a header row in each",
            )
    return path


def header_of(file: Path, table: str) -> list[str]:
    """Return the header of a table after checking that it has the columns it must have.

    Raises
    ------
    InputError
        When a column is unknown, missing or there twice, or the file is empty.
    """
    with _opened(file) as stream:
        return _checked_header(file, table, next(csv.reader(stream), []))


def named_now(name: str) -> str:
    """Return a column's name in this version for the one that it had in an earlier one."""
    return FORMER_NAMES.get(name, name)


def _checked_header(file: Path, table: str, header: list[str]) -> list[str]:
    """Return the header in names of now, or say which is unknown, missing or there twice."""
    header = [named_now(name) for name in header]
    columns = UNDONE if table == "undone" else RECORDS[table].columns
    names = [column.name for column in columns]
    required = [column.name for column in columns if column.required]
    if table == "temperatures" and "fahrenheit" in header and "celsius" not in header:
        names[names.index("celsius")] = required[required.index("celsius")] = "fahrenheit"
    if not header:
        raise InputError(f"{file} is empty", f"its first row names the columns: {', '.join(names)}")
    unknown = [name for name in header if name not in names]
    if unknown:
        raise InputError(
            f"{file} line 1: unknown column {', '.join(map(repr, unknown))}",
            f"the columns are {', '.join(names)}",
        )
    twice = sorted({name for name in header if header.count(name) > 1})
    missing = [name for name in required if name not in header]
    if twice or missing:
        what = f"column {twice[0]!r} is there twice" if twice else f"no column {missing[0]!r}"
        raise InputError(f"{file} line 1: {what}", f"the columns are {', '.join(names)}")
    return header


def _table_rows(file: Path, table: str, catalogue: Catalogue | None) -> Iterator[Record]:
    order = _Order()
    for line, row in _rows(file, table):
        with _naming(file, line):
            record = _record(table, row)
            check_names(record, catalogue)
            order.check(record)
        yield record


def _undone_rows(file: Path, catalogue: Catalogue | None) -> Iterator[tuple[Record, datetime]]:
    for line, row in _rows(file, "undone"):
        with _naming(file, line):
            table = row["table"]
            if table not in RECORDS:
                raise InputError(
                    f"table {table!r} is not one of {', '.join(RECORDS)}", "name the table"
                )
            try:
                fields = json.loads(row["entry"])
                texts = {named_now(k): "" if v is None else str(v) for k, v in fields.items()}
            except (ValueError, AttributeError):
                raise InputError(
                    f"entry {row['entry']!r} is not a JSON object", "mend the entry"
                ) from None
            unknown = set(texts) - {column.name for column in RECORDS[table].columns}
            if unknown:
                raise InputError(f"unknown column {sorted(unknown)[0]!r}", "mend the entry")
            record = _record(table, texts)
            check_names(record, catalogue)
            undone_time = parse_time(row["undone_time"])
        yield record, undone_time


def _rows(file: Path, table: str) -> Iterator[tuple[int, dict[str, str]]]:
    """Yield the number of each line and its fields by column."""
    with _opened(file) as stream:
        rows = csv.reader(stream, strict=True)
        try:
            header = _checked_header(file, table, next(rows, []))
            for fields in rows:
                with _naming(file, rows.line_num):
                    if fields and len(fields) != len(header):
                        raise InputError(
                            f"{len(fields)} fields where the header has {len(header)}: "
                            f"{','.join(fields)}",
                            "give every row as many fields as there are columns",
                        )
                if fields:
                    yield rows.line_num, dict(zip(header, fields, strict=True))
        except csv.Error as error:
            raise InputError(
                f"{file} line {rows.line_num}: {error}", "save the table as CSV with commas"
            ) from None
        except UnicodeDecodeError as error:
            raise InputError(
                f"{file} is not UTF-8: byte {error.object[error.start]:#04x}",
                "save the table as CSV in UTF-8",
            ) from None


def _record(table: str, row: Mapping[str, str]) -> Record:
    texts = dict(row)
    if "fahrenheit" in texts and "celsius" not in texts:
        texts["celsius"] = repr(_celsius_of(texts.pop("fahrenheit")))
    _say_in_columns(table, texts)
    values = {column.name: _value(column, texts.get(column.name, "")) for column in
              RECORDS[table].columns}  # fmt: skip
    return checked(RECORDS[table](**values))


def _say_in_columns(table: str, texts: dict[str, str]) -> None:
    """Put what a remark of an earlier version said into the column that says it now."""
    remark = texts.get("remark", "")
    if table == "readings" and "flagged" not in texts and remark.startswith("!"):
        texts |= {"flagged": "true", "remark": remark[1:].strip()}
    playing = table == "events" and texts["event"] in ("start", "play")
    if playing and "already_warm" not in texts and remark == "already warm":
        texts |= {"already_warm": "true", "remark": ""}


def _celsius_of(text: str) -> float:
    fahrenheit = check_number(_FAHRENHEIT, _number(_FAHRENHEIT, text))
    return (fahrenheit - 32.0) / 1.8


def _value(column: Column, text: str) -> Any:
    if column.kind == "time":
        return parse_time(text)
    if column.is_number:
        return _number(column, text) if text else None
    if column.kind == "boolean":
        return boolean(column, text) if text else False
    return text


def boolean(column: Column, text: str) -> bool:
    """Return whether a field says true, in the words of a Frictionless Table Schema.

    Raises
    ------
    InputError
        When it says neither true nor false.
    """
    if text in ("true", "True", "TRUE", "1"):
        return True
    if text in ("false", "False", "FALSE", "0"):
        return False
    raise InputError(
        f"{column.name} {text!r} is not true or false", f"write true or false: {column.title}"
    )


def _number(column: Column, text: str) -> float:
    try:
        if "_" in text:
            raise ValueError
        return int(text) if column.kind == "whole" else float(text)
    except ValueError:
        kind = "whole number" if column.kind == "whole" else "number"
        raise InputError(
            f"{column.name} {text!r} is not a {kind}", f"write digits, with a point: {column.title}"
        ) from None


class _Order:
    """Holds a table to its order: the rows of a rehearsal together, each later than the last."""

    def __init__(self) -> None:
        self._over: set[str] = set()
        self._last: Record | None = None

    def check(self, record: Record) -> None:
        last, self._last = self._last, record
        if last is None or not hasattr(record, "rehearsal"):
            return
        here, before = record.rehearsal, last.rehearsal  # type: ignore[attr-defined]
        if here != before:
            self._over.add(before)
            if here in self._over:
                raise InputError(
                    f"rehearsal {here!r} goes on after rows of {before!r}",
                    "keep the rows of one rehearsal together",
                )
        elif record.time < last.time:
            raise InputError(
                f"time {shown_time(record.time)} is before the row above ({shown_time(last.time)})",
                "put the rows of a rehearsal in order of time, or mend the clock that wrote them",
            )


def check_players_in_one_place(readings: Iterable[tuple[str, str, datetime]]) -> None:
    """Check that no player is in two rehearsals at once.

    Parameters
    ----------
    readings : iterable of (player, rehearsal, time)
        In order of time within each rehearsal.

    Raises
    ------
    InputError
        Naming the player and the two rehearsals.
    """
    spans: dict[tuple[str, str], tuple[datetime, datetime]] = {}
    for player, rehearsal, time in readings:
        first, last = spans.get((player, rehearsal), (time, time))
        spans[player, rehearsal] = (min(first, time), max(last, time))
    by_start = sorted((player, *span, name) for (player, name), span in spans.items())
    for (player, _, end, name), (other, start, _, next_name) in pairwise(by_start):
        if player == other and start < end:
            raise InputError(
                f"readings of player {player!r} in {name!r} and {next_name!r} overlap: "
                f"{shown_time(start)} is before {shown_time(end)}",
                "give the rows of one rehearsal one name, or mend the clock that wrote them",
            )


@contextmanager
def _naming(file: Path, line: int) -> Iterator[None]:
    try:
        yield
    except DriftError as error:
        raise InputError(f"{file} line {line}: {error.problem}", error.remedy) from None


@contextmanager
def _opened(file: Path) -> Iterator[TextIO]:
    try:
        with file.open(encoding="utf-8-sig", newline="") as stream:
            yield stream
    except OSError as error:
        raise InputError(
            f"{file} cannot be read: {error.strerror or error}", "check the file"
        ) from None
