"""A rehearsal folder written as a Frictionless Data Package: CSV tables and what they mean."""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

import pandas as pd

from drift.errors import InputError
from drift.logbook.folders import Folder
from drift.logbook.records import RECORDS, Column, Record
from drift.logbook.rehearsals import frame as frame_of_records
from drift.tables.headers import FILES, UNDONE
from drift.times import shown_time
from drift.writing import written_folder

__all__ = ["described", "write_folder"]

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
    contents: Folder,
    *,
    title: str,
    description: str = "",
    parquet: bool = False,
) -> Path:
    """Write a rehearsal folder.

    Parameters
    ----------
    folder : Path or str
        Where; it is made, and must not hold a rehearsal already.
    contents : Folder
        What to write.
    title, description : str
        For the data package.
    parquet : bool
        Write Parquet files, which keep the types, instead of CSV.

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
    tables: dict[str, list[Sequence[Any]]] = {
        name: [_texts(record) for record in contents.of(name)] for name in RECORDS
    }
    tables["undone"] = [_undone(*entry) for entry in contents.undone]
    kept = {name: rows for name, rows in tables.items() if rows or name in FILES[:3]}
    try:
        with written_folder(path) as unfinished:
            for name, rows in kept.items():
                if parquet:
                    _write_parquet(unfinished / f"{name}.parquet", name, contents)
                else:
                    _write(unfinished / f"{name}.csv", _columns(name), rows)
            kind = "parquet" if parquet else "csv"
            package = described(kept, title=title, description=description, kind=kind)
            text = json.dumps(package, ensure_ascii=False, indent=2) + "\n"
            (unfinished / "datapackage.json").write_text(text, encoding="utf-8", newline="\n")
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


def _texts(record: Record) -> list[Any]:
    values = record.values()
    return [_text(values[column.name]) for column in record.columns]


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


def _write(file: Path, columns: tuple[Column, ...], rows: list[Sequence[Any]]) -> None:
    with file.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow([column.name for column in columns])
        writer.writerows(rows)


def _write_parquet(file: Path, table: str, contents: Folder) -> None:
    """Write a table with its types: times with their zone, texts by dictionary."""
    if table == "undone":
        rows = [_undone(*entry) for entry in contents.undone]
        frame = pd.DataFrame(rows, columns=[column.name for column in UNDONE], dtype="str")
    else:
        frame = frame_of_records(table, (record.values() for record in contents.of(table)))
    frame.to_parquet(file, index=False)
