"""A rehearsal folder written as a Frictionless Data Package: CSV tables and what they mean."""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from itertools import islice
from pathlib import Path
from typing import Any

import pandas as pd

from drift.errors import InputError
from drift.logbook.folders import Contents
from drift.logbook.records import RECORDS, Column, Record
from drift.logbook.rehearsals import frame as frame_of_records
from drift.tables.headers import FILES, PACKAGE, UNDONE
from drift.times import shown_time
from drift.writing import written_folder

__all__ = ["ROWS_AT_ONCE", "described", "write_folder"]

ROWS_AT_ONCE = 1 << 16
"""Rows that are held while a table is written: those of one row group of a Parquet file."""

_TYPES = {"time": "datetime", "number": "number", "whole": "integer", "boolean": "boolean"}
_TITLES = {
    "readings": "Tuner readings, one a row",
    "temperatures": "Temperatures of the air",
    "events": "Playing, rests, slide positions and remarks",
    "calibrations": "Cents per millimetre of slides, measured",
    "notices": "What thermometers and the clock had to say",
    "undone": "Entries that were taken back",
}


def write_folder(
    folder: Path | str,
    contents: Contents,
    *,
    title: str,
    description: str = "",
    parquet: bool = False,
    progress: Callable[[str, int], None] | None = None,
) -> Path:
    """Write a rehearsal folder.

    Parameters
    ----------
    folder : Path or str
        Where; it is made, and must not hold a rehearsal already.
    contents : Contents
        What to write; a table at a time is read, and no table is held.
    title, description : str
        For the data package.
    parquet : bool
        Write Parquet files, which keep the types, instead of CSV.
    progress : callable, optional
        Called now and then, and at the end of each table, with its name and the number of its
        rows that are written.

    Returns
    -------
    Path
        The folder.

    Raises
    ------
    InputError
        When the folder holds tables already or cannot be written.
    """
    path = Path(folder)
    files = [f"{name}.{ending}" for ending in ("csv", "parquet") for name in FILES]
    taken = [name for name in files if (path / name).exists()]
    if taken:
        raise InputError(f"{path} already holds {taken[0]}", "choose a new or empty folder")
    kind, written = ("parquet", _parquet) if parquet else ("csv", _csv)
    kept = []
    try:
        with written_folder(path) as unfinished:
            for name in FILES:
                rows, file = 0, unfinished / f"{name}.{kind}"
                for rows in written(file, name, _rows(name, contents)):
                    if progress:
                        progress(name, rows)
                if rows or name in FILES[:3]:
                    kept.append(name)
                else:
                    file.unlink()
            package = described(kept, title=title, description=description, kind=kind)
            text = json.dumps(package, ensure_ascii=False, indent=2) + "\n"
            (unfinished / PACKAGE).write_text(text, encoding="utf-8", newline="\n")
    except OSError as error:
        raise InputError(
            f"{path} cannot be written: {error.strerror or error}",
            "check the disk's space and your right to write there",
        ) from None
    return path


def described(
    tables: Iterable[str], *, title: str, description: str = "", kind: str = "csv"
) -> dict[str, Any]:
    """Return the descriptor of a data package with these tables, in files of a kind.

    References
    ----------
    Frictionless Data, *Data Package* and *Table Schema*, version 1.
    """
    package: dict[str, Any] = {"profile": "tabular-data-package", "title": title}
    if description:
        package["description"] = description
    package["resources"] = [
        {
            "name": name,
            "title": _TITLES[name],
            "path": f"{name}.{kind}",
            "profile": "tabular-data-resource",
            "format": kind,
            **({"encoding": "utf-8"} if kind == "csv" else {}),
            "schema": {"fields": [_field(column) for column in _columns(name)]},
        }
        for name in tables
    ]
    return package


def _columns(table: str) -> tuple[Column, ...]:
    return UNDONE if table == "undone" else RECORDS[table].columns


def _field(column: Column) -> dict[str, Any]:
    field: dict[str, Any] = {
        "name": column.name,
        "type": _TYPES.get(column.kind, "string"),
        "title": column.title,
    }
    if column.kind == "time":
        field["format"] = "any"
    if column.unit:
        field["unit"] = column.unit
    limits: dict[str, Any] = {"required": True} if column.required else {}
    if column.choices:
        limits["enum"] = list(column.choices)
    if math.isfinite(column.lowest):
        limits["minimum"] = column.lowest
    if math.isfinite(column.highest):
        limits["maximum"] = column.highest
    return field | ({"constraints": limits} if limits else {})


def _rows(table: str, contents: Contents) -> Iterator[Sequence[Any]]:
    """Yield the values of each record of a table, in the order of its columns."""
    if table == "undone":
        yield from (_undone(*entry) for entry in contents.undone)
        return
    for record in contents.of(table):
        values = record.values()
        yield [values[column.name] for column in record.columns]


def _text(value: Any) -> Any:
    if isinstance(value, bool):
        return "true" if value else ""
    if isinstance(value, datetime):
        return shown_time(value)
    return "" if value is None else repr(value) if isinstance(value, float) else value


def _undone(record: Record, undone_time: datetime) -> list[Any]:
    names = (column.name for column in record.columns)
    values = record.values()
    entry: Mapping[str, Any] = {
        name: shown_time(values[name]) if name == "time" else values[name] for name in names
    }
    return [shown_time(undone_time), record.table, json.dumps(entry, ensure_ascii=False)]


def _csv(file: Path, table: str, rows: Iterator[Sequence[Any]]) -> Iterator[int]:
    """Write a table as CSV; yield now and then, and at the end, how many rows it has."""
    with file.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow([column.name for column in _columns(table)])
        done = 0
        for some in _blocks(rows):
            writer.writerows([_text(value) for value in row] for row in some)
            done += len(some)
            yield done


def _parquet(file: Path, table: str, rows: Iterator[Sequence[Any]]) -> Iterator[int]:
    """Write a table with its types, a row group at a time; yields as `_csv` does."""
    import pyarrow as pa
    from pyarrow import parquet

    schema = pa.Table.from_pandas(_frame(table, []), preserve_index=False).schema
    with parquet.ParquetWriter(file, schema) as writer:
        done = 0
        for some in _blocks(rows):
            frame = _frame(table, some)
            writer.write_table(pa.Table.from_pandas(frame, schema, preserve_index=False))
            done += len(some)
            yield done


def _blocks(rows: Iterator[Sequence[Any]]) -> Iterator[list[Sequence[Any]]]:
    while some := list(islice(rows, ROWS_AT_ONCE)):
        yield some


def _frame(table: str, rows: Sequence[Sequence[Any]]) -> pd.DataFrame:
    names = [column.name for column in _columns(table)]
    if table == "undone":
        return pd.DataFrame(rows, columns=names, dtype="str")
    return frame_of_records(table, (dict(zip(names, row, strict=True)) for row in rows))
