"""A data set of Parquet files, read rehearsals at a time."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from drift.errors import InputError
from drift.logbook.records import RECORDS
from drift.tables.columns import Place
from drift.tables.headers import columns_of, recognised
from drift.tables.problems import refused
from drift.tables.taking import parquet_in

__all__ = ["READINGS_A_PART", "Dataset", "Part", "dataset_of", "parts_of", "table_of"]

READINGS_A_PART = 100_000
"""About so many readings are paired at a time, in a hundred megabytes."""

_INDEX = re.compile(r"__index_level_\d+__")
"""What pandas calls the numbers of rows that it writes after some were left out."""

PAIRED = "reference_cents"
"""The column that only a paired table has."""


@dataclass(frozen=True)
class Dataset:
    """Where the tables are.

    Parameters
    ----------
    tables : dict of str to Path
        A Parquet file, or a folder of them, for each table that there is.
    paired : bool
        Whether the readings are paired already.
    """

    tables: dict[str, Path]
    paired: bool


@dataclass(frozen=True)
class Part:
    """Some rehearsals, which are read and paired together.

    Parameters
    ----------
    number : int
        Parts are numbered in the order of their first reading.
    rehearsals : tuple of str
        Their names as the tables spell them.
    readings : mapping of str to int
        How many readings each has.
    """

    number: int
    rehearsals: tuple[str, ...]
    readings: Mapping[str, int]


def dataset_of(source: Path | str) -> Dataset:
    """Return where the tables of a data set are.

    Parameters
    ----------
    source : Path or str
        A folder with ``readings.parquet``, ``temperatures.parquet``, ..., such as ``drift export
        --parquet`` writes; each a file or a partitioned data set, which may also be a folder
        ``readings``. Or a paired table as a Parquet file or a folder of them.

    Raises
    ------
    InputError
        If there is no such data set.
    """
    path = Path(source)
    if not path.exists():
        raise InputError(f"there is no data set {path}", "check the name")
    there = {name: file for name in RECORDS if (file := parquet_in(path, name)) is not None}
    if path.is_dir() and "readings" in there:
        if "temperatures" not in there:
            raise InputError(
                f"{path} has no temperatures.parquet", "readings are paired with temperatures"
            )
        return Dataset(there, False)
    if not (path / "readings.csv").exists() and PAIRED in _opened(path).schema.names:
        return Dataset({"readings": path}, True)
    raise InputError(
        f"{path} holds neither the tables of rehearsals nor paired readings in Parquet",
        "write such a folder with drift export LOGBOOK FOLDER --parquet",
    )


def parts_of(dataset: Dataset, most: int = READINGS_A_PART) -> list[Part]:
    """Return rehearsals grouped to about so many readings, in the order of their first one.

    Raises
    ------
    TablesRefused
        If a table has no column for the rehearsal.
    """
    counts: dict[str, int] = {}
    spelt: dict[str, list[str]] = {}
    for name in dataset.tables:
        if name != "calibrations":
            for given, count in _rehearsals(dataset, name):
                rehearsal = given.strip()
                more = count if name == "readings" else 0
                counts[rehearsal] = counts.get(rehearsal, 0) + more
                spellings = spelt.setdefault(rehearsal, [])
                if given not in spellings:
                    spellings.append(given)
    groups: list[dict[str, int]] = [{}]
    for rehearsal, count in counts.items():
        if sum(groups[-1].values()) >= most:
            groups.append({})
        groups[-1][rehearsal] = count
    return [
        Part(number, tuple(name for rehearsal in group for name in spelt[rehearsal]), group)
        for number, group in enumerate(groups)
    ]


def table_of(dataset: Dataset, name: str, rehearsals: Sequence[str] | None) -> pd.DataFrame:
    """Return the rows of a table that belong to some rehearsals, or all of them.

    Parameters
    ----------
    dataset : Dataset
    name : str
        Which table.
    rehearsals : sequence of str, optional
        Which; an empty name stands for rows without one.
    """
    import pyarrow as pa
    from pyarrow import compute

    found = _opened(dataset.tables[name])
    wanted = None
    if rehearsals is not None:
        column = _column(dataset, name, found)
        kind = found.schema.field(column).type
        field = compute.field(column)
        if not (pa.types.is_string(kind) or pa.types.is_large_string(kind)):
            field, kind = field.cast(pa.string()), pa.string()
        wanted = field.isin(pa.array(list(rehearsals), type=kind))
        if "" in rehearsals:
            wanted = wanted | field.is_null()
    table = found.to_table(filter=wanted)
    texts = [rule.name for rule in columns_of(name) if rule.kind in ("text", "name", "note")]
    for place, field_ in enumerate(table.schema):
        if field_.name in texts and pa.types.is_string(field_.type):
            coded = table.column(place).combine_chunks().dictionary_encode()
            table = table.set_column(place, field_.name, coded)
    frame: pd.DataFrame = table.to_pandas()
    return frame


def _opened(path: Path) -> Any:
    import pyarrow as pa
    from pyarrow import dataset

    try:
        return dataset.dataset(path, format="parquet", partitioning="hive")
    except (pa.ArrowInvalid, OSError) as error:
        problem = f"it cannot be read as Parquet: {str(error).splitlines()[0]}"
        raise refused(Place(str(path)), problem, "check the file") from None


def _column(dataset: Dataset, name: str, opened: Any) -> str:
    """Return what the column of the rehearsal is called."""
    given = [one for one in opened.schema.names if not _INDEX.fullmatch(one)]
    if dataset.paired:
        if "rehearsal" not in given:
            raise InputError("the paired table has no column rehearsal", "add it")
        return "rehearsal"
    names, _ = recognised(Place(str(dataset.tables[name])), name, given)
    return str(given[names.index("rehearsal")])


def _rehearsals(dataset: Dataset, name: str) -> Iterator[tuple[str, int]]:
    """Yield the names of rehearsals and how many rows they have, a batch of rows at a time."""
    opened = _opened(dataset.tables[name])
    column = _column(dataset, name, opened)
    for batch in opened.to_batches(columns=[column]):
        counts = batch.column(0).value_counts()
        for one in counts.to_pylist():
            value = one["values"]
            yield "" if value is None else str(value), one["counts"]
