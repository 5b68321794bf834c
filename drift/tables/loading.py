"""One way in for every source of tables: folder, Parquet, spreadsheet, tables in memory."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from drift.errors import InputError
from drift.logbook.records import RECORDS
from drift.tables.checking import Conventions, frame_of, in_order
from drift.tables.columns import Place, Rows, Table, coded
from drift.tables.csv_source import Separated, of_csv
from drift.tables.headers import FILES, Renamed, recognised
from drift.tables.problems import Problems, TablesRefused
from drift.tables.sources import of_frame, of_parquet, of_spreadsheet
from drift.tables.understood import Understood, noticed
from drift.tables.wide import as_long

__all__ = ["SHEETS", "Conventions", "Loaded", "is_tables", "load_tables"]

REQUIRED = FILES[:2]
SHEETS = (".xlsx", ".xls", ".ods")

Source = Path | str | Mapping[str, pd.DataFrame]


@dataclass(frozen=True)
class Loaded:
    """What a source of tables holds.

    Attributes
    ----------
    frames : dict of str to DataFrame
        The tables by name, as `drift.logbook.rehearsals.Rehearsals` holds them.
    undone : dict of str to DataFrame
        The entries that were taken back, by table, each with its ``undone_time`` and its row
        ``at`` in the table of what was taken back.
    understood : tuple of Renamed, Separated, Commas or Repeated
        What was taken though it could have been meant otherwise, each to be mentioned once.
    """

    frames: dict[str, pd.DataFrame]
    undone: dict[str, pd.DataFrame]
    understood: tuple[Understood, ...] = ()


def is_tables(source: Any) -> bool:
    """Return whether a source is tables: a folder, tables in memory, Parquet or a spreadsheet."""
    if isinstance(source, Mapping):
        return True
    path = Path(source)
    return path.is_dir() or path.suffix.lower() in (*SHEETS, ".parquet", ".csv")


def load_tables(
    source: Source,
    how: Conventions | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Loaded:
    """Read the tables of a source.

    Parameters
    ----------
    source : Path, str or mapping of str to DataFrame
        A rehearsal folder (CSV or Parquet files, or partitioned data sets, called as the tables
        are), a spreadsheet, a single Parquet file of readings, or tables in memory.
    how : Conventions, optional
        The instruments, and how times without an offset are told.
    progress : callable, optional
        Called after each table with the number of rows that are checked and the number of all.

    Returns
    -------
    Loaded
        All of them, each value within its limits.

    Raises
    ------
    InputError
        When there is no such source, or a file cannot be read.
    TablesRefused
        With everything that is wrong; nothing is half taken.
    """
    problems = Problems()
    settings = how or Conventions()
    found: dict[str, Table] = {}
    understood: list[Understood] = []
    for table, mentioned in _tables(source, problems, settings.wide):
        found[table.name] = table
        understood += mentioned
    taken_back = found.pop("undone", None)
    frames: dict[str, pd.DataFrame] = {}
    for name in RECORDS:
        frames[name] = _frame(name, found.get(name), problems, settings, understood)
        if progress:
            progress(sum(map(len, frames.values())), sum(table.rows for table in found.values()))
    undone = {} if taken_back is None else _undone(taken_back, problems, settings)
    problems.check()
    return Loaded(frames, undone, tuple(understood))


def _frame(
    name: str,
    table: Table | None,
    problems: Problems,
    how: Conventions,
    understood: list[Understood],
) -> pd.DataFrame:
    if table is None:
        return frame_of(Table(name, name, 0, {}, lambda rows: []), problems, how)
    frame = frame_of(table, problems, how)
    if not problems:
        understood += noticed(table, frame)
    return frame if table.keeps_order or problems else in_order(frame)


def _tables(
    source: Source, problems: Problems, wide: bool
) -> Iterator[tuple[Table, list[Renamed | Separated]]]:
    """Yield the tables of a source; a header that is wrong does not hide those of the others."""
    for read in _readers(source, problems, wide):
        try:
            tables = read()
            if wide:
                tables = [
                    (as_long(table) if table.name == "readings" else table, mentioned)
                    for table, mentioned in tables
                ]
        except TablesRefused as refusal:
            for problem in refusal.problems:
                problems.add_one(problem)
            continue
        yield from tables


def _readers(source: Source, problems: Problems, wide: bool) -> Iterator[Any]:
    """Yield, for each file of a source, what reads it."""
    if isinstance(source, Mapping):
        unknown = [name for name in source if name not in RECORDS]
        if unknown:
            raise InputError(
                f"there is no table {unknown[0]!r}", f"the tables are {', '.join(RECORDS)}"
            )
        for name, frame in source.items():
            yield lambda frame=frame, name=name: [_pair(of_frame(frame, name, wide=wide))]
        return
    path = Path(source)
    if not path.exists():
        raise InputError(f"there is no folder {path}", "check the name")
    if path.suffix.lower() in SHEETS:
        yield lambda: [_pair(pair) for pair in of_spreadsheet(path, wide=wide)]
    elif path.is_dir():
        for name in _present(path):
            file = path / f"{name}.csv"
            if file.is_file():
                yield lambda file=file, name=name: [of_csv(file, name, problems, wide=wide)]
            else:
                parquet = path / f"{name}.parquet"
                yield lambda file=parquet, name=name: [_pair(of_parquet(file, name, wide=wide))]
    elif path.suffix.lower() == ".parquet":
        yield lambda: [_pair(of_parquet(path, "readings", wide=wide))]
    else:
        yield lambda: [of_csv(path, "readings", problems, wide=wide)]


def _pair(pair: tuple[Table, list[Renamed]]) -> tuple[Table, list[Renamed | Separated]]:
    table, renamed = pair
    return table, [*renamed]


def _present(folder: Path) -> list[str]:
    """Return the tables that a folder holds, after checking that the required ones are there."""
    there = [
        name
        for name in FILES
        if (folder / f"{name}.csv").is_file() or (folder / f"{name}.parquet").exists()
    ]
    for name in REQUIRED:
        if name not in there:
            raise InputError(
                f"{folder} has no {name}.csv",
                "a rehearsal folder holds readings.csv and temperatures.csv, a header row in each",
            )
    return there


def _undone(table: Table, problems: Problems, how: Conventions) -> dict[str, pd.DataFrame]:
    """Return the entries that were taken back, by the table they were in."""
    frame = frame_of(table, problems, how)
    rows: dict[str, list[tuple[int, dict[str, str]]]] = {}
    for row, (name, text) in enumerate(zip(frame["table"], frame["entry"], strict=True)):
        if name:
            entry = _entry(text)
            if entry is None:
                problems.add(table, "entry", np.array([row]), _not_an_object(text))
            else:
                rows.setdefault(name, []).append((row, entry))
    return {
        name: _entries(table, name, found, frame["undone_time"], problems, how)
        for name, found in rows.items()
    }


def _entry(text: str) -> dict[str, str] | None:
    try:
        found = json.loads(text)
        return {key: "" if value is None else str(value) for key, value in found.items()}
    except (ValueError, AttributeError, RecursionError):
        return None


def _not_an_object(text: str) -> Any:
    return lambda row: (text, f"entry {text[:60]!r} is not a JSON object", "mend the entry")


def _entries(
    table: Table,
    name: str,
    found: Iterable[tuple[int, dict[str, str]]],
    times: pd.Series[Any],
    problems: Problems,
    how: Conventions,
) -> pd.DataFrame:
    """Return entries of one table through the same rules as those that stand."""
    numbers, entries = zip(*found, strict=True)
    at = np.array(numbers, dtype=np.int64)
    given = list(dict.fromkeys(key for entry in entries for key in entry))
    names, _ = recognised(Place(table.source), name, given)
    columns: dict[str, Any] = {
        ours: coded([entry.get(key, "") for entry in entries])
        for key, ours in zip(given, names, strict=True)
    }

    def places(rows: Rows) -> list[Place]:
        return table.place(at[rows])

    inner = Table(name, table.source, len(entries), columns, places)
    frame = frame_of(inner, problems, how)
    return frame.assign(undone_time=times.iloc[at].array, at=at)
