"""A folder row by row with the scalar rules alone: what the vectorised path is held to."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

from drift.errors import DriftError
from drift.logbook.records import RECORDS, Record, checked
from drift.logbook.vocabulary import check_names
from drift.tables.columns import Place
from drift.tables.headers import recognised
from drift.tables.values import flag_of, number_of
from drift.times import parse_time


def rows_of(file: Path) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """Return the header and the numbered rows of a file that are not blank."""
    text = file.read_bytes().decode("utf-8-sig")
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    header = next(reader)
    return header, [(reader.line_num, row) for row in reader if any(field.strip() for field in row)]


def record_of(table: str, names: list[str], row: list[str]) -> Record:
    """Return a row as a record, by the rules for one value."""
    if len(row) != len(names):
        raise DriftError(f"{len(row)} fields", "")
    given = dict(zip(names, row, strict=True))
    values: dict[str, Any] = {}
    for column in RECORDS[table].columns:
        text = given.get(column.name, "")
        if column.kind == "time":
            values[column.name] = parse_time(text.strip())
        elif column.is_number:
            values[column.name] = number_of(column, text)
        elif column.kind == "boolean":
            values[column.name] = flag_of(column, text)
        else:
            values[column.name] = text
    record = checked(RECORDS[table](**values))
    check_names(record)
    return record


def judged(file: Path, table: str) -> tuple[list[Record], set[int]]:
    """Return the rows that can be taken by themselves, and the lines of those that cannot."""
    header, rows = rows_of(file)
    names, _ = recognised(Place(str(file)), table, header)
    taken, refused = [], set()
    for line, row in rows:
        try:
            taken.append(record_of(table, names, row))
        except DriftError:
            refused.add(line)
    return taken, refused
