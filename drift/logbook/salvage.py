"""What a damaged logbook still holds: every entry that is as it was saved."""

from __future__ import annotations

import contextlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from drift.logbook.blocks import COLUMNS, Rows
from drift.logbook.digests import each_entry, read_head
from drift.logbook.file import connect, in_words, refuse_other_name
from drift.logbook.folders import Folder
from drift.logbook.records import RECORDS, Record
from drift.times import from_microseconds

__all__ = ["Salvage", "salvage"]


@dataclass(frozen=True)
class Salvage:
    """What was found, entry by entry.

    Attributes
    ----------
    folder : Folder
        The records of all entries that hold, those that were taken back apart.
    holding : int
        How many entries hold; choices and what took something back are among them.
    lost : tuple of int
        The numbers of the entries that are not as they were saved, are missing or cannot be read.
    """

    folder: Folder
    holding: int
    lost: tuple[int, ...]


def salvage(path: Path) -> Salvage:
    """Read every entry of a logbook that is as it was saved.

    Parameters
    ----------
    path : Path
        The logbook; nothing is written into it, though SQLite may bring in what its journal holds.

    Raises
    ------
    LogbookError
        When the file cannot be opened as a logbook at all, or a program has it open under another
        name.
    """
    refuse_other_name(path)
    head = read_head(path)
    with contextlib.closing(connect(path, write=False, cut=True)) as sqlite, in_words(path):
        entries = dict(each_entry(sqlite, head))
    sound = {number: rows for number, rows in entries.items() if rows}
    undone = {
        row["undone_id"]: from_microseconds(_named("entry", rows)["time_us"])
        for rows in sound.values()
        if rows["undo"]
        for row in [_named("undo", rows)]
    }
    records: list[Record] = []
    taken_back: list[tuple[Record, datetime]] = []
    for table in RECORDS:
        for number, rows in sound.items():
            if not rows[table.removesuffix("s")]:
                continue
            record = _record(table, rows)
            if number in undone:
                taken_back.append((record, undone[number]))
            else:
                records.append(record)
    lost = tuple(number for number in entries if number not in sound)
    return Salvage(Folder(tuple(_in_order(records)), tuple(taken_back)), len(sound), lost)


def _named(table: str, rows: Mapping[str, Rows]) -> dict[str, Any]:
    return dict(zip(COLUMNS[table], rows[table][0], strict=True))


def _record(table: str, rows: Mapping[str, Rows]) -> Record:
    entry = _named("entry", rows)
    values = _named(table.removesuffix("s"), rows) | {
        "time": from_microseconds(entry["time_us"]),
        "rehearsal": entry["name"] or "",
    }
    kept: dict[str, Any] = {
        column.name: bool(values[column.name]) if column.kind == "boolean" else values[column.name]
        for column in RECORDS[table].columns
    }
    return RECORDS[table](**kept)


def _in_order(records: list[Record]) -> list[Record]:
    """Return records in the order of a folder: table by table, rehearsal by rehearsal, by time."""
    tables = list(RECORDS)
    first: dict[str, int] = {}
    for record in sorted(records, key=lambda record: record.time):
        first.setdefault(getattr(record, "rehearsal", ""), len(first))
    return sorted(
        records,
        key=lambda r: (tables.index(r.table), first[getattr(r, "rehearsal", "")], r.time),
    )
