"""Tables in memory and in Parquet files, as columns."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from drift.errors import InputError
from drift.groups import codes_of
from drift.tables.columns import Column, Floats, Instants, Place, Rows, Table, Texts
from drift.tables.headers import Renamed, cells_among, columns_of, recognised
from drift.tables.problems import refused
from drift.tables.stamps import MISSING

__all__ = ["in_whole_microseconds", "labels_of", "of_frame", "of_parquet", "text_of"]


def of_frame(
    frame: pd.DataFrame,
    table: str,
    *,
    source: str = "",
    first: int = 0,
    word: str = "row",
    wide: bool = False,
) -> tuple[Table, list[Renamed]]:
    """Return a DataFrame as a table.

    Parameters
    ----------
    frame : DataFrame
        Any index, any order of rows, any types of pandas: categories, extension types, strings.
    table : str
        Which table it is: ``readings``, ``temperatures``, ...
    source : str
        What a person calls it; by default the name of the table.
    first, word : int, str
        The number of the first row, and what a row is called, for messages.
    wide : bool
        Whether readings have a column for each note.

    Raises
    ------
    InputError
        When its columns are not those of the table.
    """
    if not isinstance(frame, pd.DataFrame):
        raise InputError(
            f"{table} is a {type(frame).__name__}, not a table", "give a pandas DataFrame"
        )
    called = source or table
    given = [str(name) for name in frame.columns]
    names, renamed = recognised(
        Place(called), table, given, cells_among(given) if wide else (), by_day=True
    )
    columns = {name: _column(frame.iloc[:, place]) for place, name in enumerate(names)}

    def places(rows: Rows) -> list[Place]:
        return [Place(called, word, int(row) + first) for row in rows]

    return Table(table, called, len(frame), columns, places), renamed


def _column(series: pd.Series[Any]) -> Column:
    if isinstance(series.dtype, pd.CategoricalDtype):
        codes = series.cat.codes.to_numpy()
        known = _texts(series.cat.categories)
        if len(codes) and codes.min() < 0:
            known, codes = [*known, ""], np.where(codes < 0, len(known), codes)
        return Texts(codes, known)
    if isinstance(series.dtype, pd.DatetimeTZDtype) or (
        hasattr(series.dtype, "pyarrow_dtype") and series.dtype.kind == "M"
    ):
        return _instants(series)
    if series.dtype.kind == "M":  # without a zone: as texts, which the rules tell in one
        codes, stamps = pd.factorize(series)
        return _with_missing(codes, _texts(stamps))
    if series.dtype.kind in "fiu":
        return Floats(series.to_numpy(dtype=float, na_value=np.nan))
    codes, values = pd.factorize(series)
    return _with_missing(codes, _texts(values))


def _instants(series: pd.Series[Any]) -> Column:
    utc = pd.Series(pd.to_datetime(series, utc=True))
    whole = in_whole_microseconds(utc)
    rounded = int((whole != utc)[utc.notna()].sum())
    micros = whole.dt.tz_localize(None).to_numpy(dtype="datetime64[us]")
    return Instants(np.where(np.isnat(micros), MISSING, micros.astype(np.int64)), rounded)


def in_whole_microseconds(times: pd.Series[Any]) -> pd.Series[Any]:
    """Return instants rounded to the microsecond, as texts are in `drift.times.in_microseconds`."""
    if times.dt.unit != "ns":
        return times
    return (times + pd.Timedelta(500, "ns")).dt.floor("us")


def _with_missing(codes: Any, known: list[str]) -> Texts:
    if len(codes) and codes.min() < 0:
        return Texts(np.where(codes < 0, len(known), codes), [*known, ""])
    return Texts(codes, known)


def _texts(values: Iterable[Any]) -> list[str]:
    return [text_of(value) for value in values]


def text_of(value: Any) -> str:
    """Return a cell as it would be written in a CSV file, empty where there is nothing."""
    if isinstance(value, str):
        return value
    if value is None or value is pd.NaT or value is pd.NA or value != value:
        return ""
    if isinstance(value, datetime):
        return value.isoformat(sep=" ") if value.tzinfo is None else value.isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, bool | np.bool_):
        return "true" if value else "false"
    if isinstance(value, float | int | np.number):
        return f"{float(value):.15g}"
    return str(value)


def labels_of(labels: pd.Series[Any]) -> pd.Series[Any]:
    """Return names as texts, as they would be written in a CSV file: a player may be a number.

    Examples
    --------
    >>> labels_of(pd.Series([25, 7])).tolist()
    ['25', '7']
    """
    codes, names = codes_of(labels)
    if all(isinstance(name, str) for name in names):
        return labels
    texts = pd.Series([text_of(name) for name in names], dtype="str")
    return texts.take(codes).set_axis(labels.index)


def of_parquet(path: Path, table: str, *, wide: bool = False) -> tuple[Table, list[Renamed]]:
    """Return a Parquet file, or a folder of them, as a table.

    Parameters
    ----------
    path : Path
        A file, or the root of a data set that is partitioned by folders ``name=value``.
    table : str
        Which table it is.

    Raises
    ------
    InputError
        When it cannot be read, or its columns are not those of the table.
    """
    import pyarrow as pa
    from pyarrow import parquet

    texts = [c.name for c in columns_of(table) if c.kind in ("text", "name", "note")]
    try:
        found = parquet.read_table(path, read_dictionary=texts)
    except (pa.ArrowInvalid, OSError) as error:
        problem = f"it cannot be read as Parquet: {str(error).splitlines()[0]}"
        raise refused(Place(str(path)), problem, "check the file") from None
    return of_frame(found.to_pandas(), table, source=str(path), wide=wide)
