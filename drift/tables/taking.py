"""One way in for every source of tables: folder, Parquet, spreadsheet, tables in memory.

What is taken is columns; pandas, which takes as long to import as a million rows to read, is not
needed for a folder of CSV files.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from drift.errors import InputError
from drift.logbook.records import RECORDS
from drift.tables.by_time import named_by_time
from drift.tables.checking import Conventions, checked_values
from drift.tables.columns import Place, Rows, Table, Texts, coded, texts_at
from drift.tables.csv_source import Separated, of_csv
from drift.tables.evenings import Evenings, evenings_of, keeps_names
from drift.tables.gaps import without_gaps
from drift.tables.headers import FILES, REHEARSAL, Renamed, recognised
from drift.tables.one_sheet import apart, by_day, lacks_rehearsal
from drift.tables.problems import Problem, Problems, TablesRefused
from drift.tables.understood import Daily, Understood, noticed
from drift.tables.wide import as_long
from drift.tables.zones import written_zone, zone_over

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "SHEETS",
    "Source",
    "Taken",
    "TakenBack",
    "TakenTables",
    "is_tables",
    "parquet_in",
    "take_tables",
]

TWO_TEMPERATURES = Problem(
    Place(""),
    "",
    "",
    "temperatures are in a column of the readings and a table of their own",
    "leave one of them out",
)
SHEETS = (".xlsx", ".xls", ".ods")

Source = Path | str | Mapping[str, "pd.DataFrame"]


Values = Mapping[str, Any]
"""Texts, Packed or an array by column."""


class Taken(NamedTuple):
    """A table whose rows can all be taken.

    Attributes
    ----------
    values : mapping of str to Texts, Packed or array
        Its columns.
    rows : int
        How many.
    keeps_order : bool
        Whether the order of the rows means something.
    """

    values: Values
    rows: int
    keeps_order: bool

    def in_order(self) -> Rows:
        """Return the rows as they are kept: by rehearsal, in order of time within each.

        Rehearsals follow each other as they came.
        """
        if self.keeps_order:
            return np.arange(self.rows)
        keys = [self.values["time"]]
        if "rehearsal" in self.values:
            keys.append(coded(texts_at(self.values["rehearsal"], np.arange(self.rows))).codes)
        return np.lexsort(keys)


class TakenBack(NamedTuple):
    """Entries of one table that were taken back.

    Attributes
    ----------
    values : mapping of str to Texts, Packed or array
        Their columns.
    undone_us : array of int
        When, in microseconds since 1970.
    at : array of int
        Their rows in the table of what was taken back.
    """

    values: Values
    undone_us: Rows
    at: Rows


class TakenTables(NamedTuple):
    """What a source of tables holds, each value within its limits.

    Attributes
    ----------
    tables : dict of str to Taken
        All of them, by name.
    undone : dict of str to TakenBack
        The entries that were taken back, by table.
    understood : tuple of Understood
        What was taken though it could have been meant otherwise, each to be mentioned once.
    zone : tzinfo or None
        In which the times of the readings were written, where that is one.
    """

    tables: dict[str, Taken]
    undone: dict[str, TakenBack]
    understood: tuple[Understood, ...] = ()
    zone: tzinfo | None = None


def is_tables(source: Any) -> bool:
    """Return whether a source is tables: a folder, tables in memory, Parquet or a spreadsheet."""
    if isinstance(source, Mapping):
        return True
    path = Path(source)
    return path.is_dir() or path.suffix.lower() in (*SHEETS, ".parquet", ".csv")


def take_tables(
    source: Source,
    how: Conventions | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> TakenTables:
    """Read the tables of a source as columns.

    Parameters
    ----------
    source : Path, str or mapping of str to DataFrame
        A rehearsal folder (CSV or Parquet files, or partitioned data sets, called as the tables
        are), a spreadsheet, a single Parquet file of readings, or tables in memory.
    how : Conventions, optional
        The instruments, and how times without an offset are told.
    progress : callable, optional
        Called after each column of a table with the number of rows that are checked, a part of a
        row as a part, and the number of all.

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
    for table, mentioned in _tables(source, problems, settings):
        if table.name in found and table.name == "temperatures":
            problems.add_one(TWO_TEMPERATURES._replace(place=Place(table.source)))
        found[table.name] = table
        understood += mentioned
    if not problems and not isinstance(source, Mapping) and _is_folder(Path(source)):
        _required("temperatures", found, Path(source))
    taken_back = found.pop("undone", None)
    tables: dict[str, Taken] = {}
    all_rows, before = sum(table.rows for table in found.values()), 0
    evenings = Evenings()
    for name in RECORDS:
        table = found.get(name) or Table(name, name, 0, {}, lambda rows: [])
        shown = _in_rows(progress, before, table.rows, all_rows)
        before += table.rows
        table, gaps = without_gaps(table)
        understood += gaps
        if name in found and lacks_rehearsal(table):
            table, mentioned = _with_rehearsals(table, tables.get("readings"), settings, problems)
            understood += mentioned
        values: Values = checked_values(table, problems, settings, shown)
        if name == "readings" and name in found and not (problems or keeps_names(source)):
            evenings = evenings_of(values, settings.zone)
            understood += evenings.understood(table.source)
        values = evenings.of(values)
        if not problems:
            understood += noticed(table, values)
        tables[name] = Taken(values, table.rows, table.keeps_order)
    undone = {} if taken_back is None else _undone(taken_back, problems, settings)
    problems.check()
    undone = {name: one._replace(values=evenings.of(one.values)) for name, one in undone.items()}
    return TakenTables(tables, undone, tuple(understood), written_zone(found.get("readings")))


def _with_rehearsals(
    table: Table, readings: Taken | None, how: Conventions, problems: Problems
) -> tuple[Table, list[Understood]]:
    """Return a table that names no rehearsals with those of the readings, or else with days."""
    try:
        if readings is not None and readings.rows and not problems:
            named, by_time = named_by_time(table, readings.values, how, problems)
            return named, [by_time]
        days = by_day(table, how.dates)
        return replace(table, columns=table.columns | {REHEARSAL: days}), [Daily(table.source)]
    except TablesRefused as refusal:
        for problem in refusal.problems:
            problems.add_one(problem)
    except InputError:  # the times contradict each other: refused with them
        pass
    any_name = Texts(np.zeros(table.rows, dtype=np.int64), [table.source])
    return replace(table, columns=table.columns | {REHEARSAL: any_name}), []


def _in_rows(
    progress: Callable[[int, int], None] | None, before: int, rows: int, all_rows: int
) -> Callable[[int, int], None]:
    """Return what takes columns of a table that are done, and tells it as rows of all tables."""
    if progress is None or not rows:
        return lambda done, of: None
    return lambda done, of: progress(before + rows * done // of, all_rows)


def _tables(
    source: Source, problems: Problems, how: Conventions
) -> Iterator[tuple[Table, list[Understood]]]:
    """Yield the tables of a source; a header that is wrong does not hide those of the others."""
    for read in _readers(source, problems, how.wide):
        try:
            tables = [ours for table, said in read() for ours in _as_ours(table, said, how)]
        except TablesRefused as refusal:
            for problem in refusal.problems:
                problems.add_one(problem)
            continue
        yield from tables


def _as_ours(
    table: Table, mentioned: Sequence[Understood], how: Conventions
) -> list[tuple[Table, list[Understood]]]:
    """Return a table that was brought as tables of ours, with what is to be mentioned of it."""
    if how.wide and table.name == "readings":
        table = as_long(table)
    table = replace(table, zone=zone_over(mentioned))
    lacks = table.name == "readings" and lacks_rehearsal(table)
    daily = [Daily(table.source)] if lacks else []
    first, *others = apart(table, how.dates)
    return [(first, [*daily, *mentioned]), *((one, []) for one in others)]


def _readers(source: Source, problems: Problems, wide: bool) -> Iterator[Any]:
    """Yield, for each file of a source, what reads it."""
    if isinstance(source, Mapping):
        unknown = [name for name in source if name not in RECORDS]
        if unknown:
            raise InputError(
                f"there is no table {unknown[0]!r}", f"the tables are {', '.join(RECORDS)}"
            )
        from drift.tables.sources import of_frame

        for name, frame in source.items():
            yield lambda frame=frame, name=name: [_pair(of_frame(frame, name, wide=wide))]
        return
    path = Path(source)
    if not path.exists():
        raise InputError(f"there is no folder {path}", "check the name")
    if path.suffix.lower() in SHEETS:
        from drift.tables.spreadsheets import of_spreadsheet

        yield from of_spreadsheet(path, wide=wide)
    elif _is_folder(path):
        for name in _present(path):
            file = path / f"{name}.csv"
            if file.is_file():
                yield lambda file=file, name=name: [of_csv(file, name, problems, wide=wide)]
            elif parquet := parquet_in(path, name):
                yield lambda file=parquet, name=name: [_of_parquet(file, name, wide)]
    elif path.suffix.lower() == ".parquet":
        yield lambda: [_of_parquet(path, "readings", wide)]
    else:
        yield lambda: [of_csv(path, "readings", problems, wide=wide)]


def _of_parquet(file: Path, name: str, wide: bool) -> tuple[Table, list[Renamed | Separated]]:
    from drift.tables.sources import of_parquet

    return _pair(of_parquet(file, name, wide=wide))


def _pair(pair: tuple[Table, list[Renamed]]) -> tuple[Table, list[Renamed | Separated]]:
    table, renamed = pair
    return table, [*renamed]


def _is_folder(path: Path) -> bool:
    """Return whether a folder holds tables and is not itself one of Parquet, in parts."""
    partitioned = path.suffix.lower() == ".parquet"
    return path.is_dir() and not (partitioned and not any(_holds(path, name) for name in FILES))


def parquet_in(folder: Path, name: str) -> Path | None:
    """Return the Parquet file of a table, or the folder of such files; none if there is none.

    Parameters
    ----------
    folder : Path
        A rehearsal folder.
    name : str
        The table. It may be ``NAME.parquet``, a file or a folder, or a folder ``NAME``.
    """
    called = folder / f"{name}.parquet"
    if called.exists():
        return called
    parts = folder / name
    return parts if parts.is_dir() and any(parts.rglob("*.parquet")) else None


def _holds(folder: Path, name: str) -> bool:
    return (folder / f"{name}.csv").is_file() or parquet_in(folder, name) is not None


def _present(folder: Path) -> list[str]:
    """Return the tables that a folder holds, after checking that readings are among them."""
    there = [name for name in FILES if _holds(folder, name)]
    _required("readings", there, folder)
    return there


def _required(table: str, there: Container[str], folder: Path) -> None:
    """Refuse a folder without a table."""
    if table not in there:
        raise InputError(
            f"{folder} has no {table}.csv",
            "a rehearsal folder holds readings.csv and temperatures.csv, a header row in each; "
            "temperatures may be a column of the readings instead",
        )


def _undone(table: Table, problems: Problems, how: Conventions) -> dict[str, TakenBack]:
    """Return the entries that were taken back, by the table they were in."""
    values = checked_values(table, problems, how)
    rows: dict[str, list[tuple[int, dict[str, str]]]] = {}
    for row in range(table.rows):
        name, text = values["table"].at(row), values["entry"].at(row)
        if name:
            entry = _entry(text)
            if entry is None:
                problems.add(table, "entry", np.array([row]), _not_an_object(text))
            else:
                rows.setdefault(name, []).append((row, entry))
    return {
        name: _entries(table, name, found, values["undone_time"], problems, how)
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
    undone_us: Rows,
    problems: Problems,
    how: Conventions,
) -> TakenBack:
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
    return TakenBack(checked_values(inner, problems, how), undone_us[at], at)
