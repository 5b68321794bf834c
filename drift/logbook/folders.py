"""A rehearsal folder as records, for what goes through a logbook record by record."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Protocol

import pandas as pd

from drift.errors import InputError
from drift.instruments import Catalogue
from drift.logbook.records import RECORDS, Record
from drift.tables.checking import Conventions
from drift.tables.loading import Loaded, load_tables

__all__ = ["Contents", "Folder", "folder_of", "read_folder"]


class Contents(Protocol):
    """What a rehearsal folder is to hold: a `Folder`, or what is read while it is written."""

    def of(self, table: str) -> Iterable[Record]:
        """Return the records of one table that stand."""

    @property
    def undone(self) -> Iterable[tuple[Record, datetime]]:
        """The records that were taken back, and when."""


@dataclass(frozen=True)
class Folder:
    """What a rehearsal folder holds: the records that stand and those that were taken back."""

    records: tuple[Record, ...]
    undone: tuple[tuple[Record, datetime], ...] = ()

    def of(self, table: str) -> list[Record]:
        """Return the records of one table."""
        return [record for record in self.records if record.table == table]


def read_folder(folder: Path | str, catalogue: Catalogue | None = None) -> Folder:
    """Read a rehearsal folder as records.

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
        With everything that cannot be taken, each with file, line and value.
    """
    if not Path(folder).is_dir():
        raise InputError(f"there is no folder {folder}", "check the name")
    return folder_of(load_tables(Path(folder), Conventions(catalogue)))


def folder_of(loaded: Loaded) -> Folder:
    """Return tables as records, in the order of their rows."""
    records = [record for name, frame in loaded.frames.items() for record in _records(name, frame)]
    undone: list[tuple[int, Record, datetime]] = []
    for name, frame in loaded.undone.items():
        times = [time.to_pydatetime() for time in frame["undone_time"]]
        undone += zip(frame["at"].tolist(), _records(name, frame), times, strict=True)
    undone.sort(key=lambda entry: entry[0])
    return Folder(tuple(records), tuple((record, time) for _, record, time in undone))


def _records(table: str, frame: pd.DataFrame) -> Iterator[Record]:
    kind = RECORDS[table]
    names = [column.name for column in kind.columns]
    lists = [_values(column.kind, frame[column.name]) for column in kind.columns]
    for row in zip(*lists, strict=True):
        yield kind(**dict(zip(names, row, strict=True)))


def _values(kind: str, series: pd.Series[Any]) -> list[Any]:
    if kind == "time":
        return [time.to_pydatetime() for time in series]
    values = [None if value != value else value for value in series.tolist()]
    if kind == "whole":
        return [None if value is None else int(value) for value in values]
    return values
