"""A quick way through a folder that is plainly in order, column by column.

It answers only when it is sure that every row would pass the careful reading in
`drift.logbook.folders`; in any doubt it returns None, and the careful reading says what is wrong.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from drift.errors import DriftError
from drift.logbook.folders import existing_folder, header_of
from drift.logbook.records import (
    RECORDS,
    Column,
    Event,
    Reading,
    check_number,
    check_value,
    checked,
)
from drift.logbook.vocabulary import check_names

__all__ = ["read_quickly"]


class _InDoubt(Exception):
    """The table needs the careful reading."""


def read_quickly(folder: Path, instruments: Path | None = None) -> dict[str, pd.DataFrame] | None:
    """Read the tables of a folder at once, or return None when a row needs a closer look.

    Parameters
    ----------
    folder : Path
        A rehearsal folder.
    instruments : Path, optional
        A file with instruments beside the shipped catalogue.

    Returns
    -------
    dict of str to DataFrame, or None
        The tables by name, as `drift.logbook.rehearsals.Rehearsals` holds them.
    """
    if (existing_folder(folder) / "undone.csv").exists():
        return None
    try:
        return {table: _table(folder, table, instruments) for table in RECORDS}
    except (_InDoubt, DriftError, ValueError, OSError, pd.errors.ParserError):
        return None


def _table(folder: Path, table: str, instruments: Path | None) -> pd.DataFrame:
    file = folder / f"{table}.csv"
    columns = RECORDS[table].columns
    given = header_of(file, table) if file.exists() else []
    if "fahrenheit" in given:
        raise _InDoubt
    frame = _parsed(file, columns) if given else pd.DataFrame(index=pd.RangeIndex(0))
    frame = pd.DataFrame(
        {column.name: _column(column, frame.get(column.name), frame.index) for column in columns}
    )
    _check_order(frame)
    _check_rows(table, frame, instruments)
    return frame


def _parsed(file: Path, columns: Sequence[Column]) -> pd.DataFrame:
    frame = pd.read_csv(
        file,
        dtype={
            column.name: "str" if column.is_number or column.kind == "time" else "category"
            for column in columns
        },
        keep_default_na=False,
        na_filter=False,
        encoding="utf-8-sig",
        index_col=False,
        on_bad_lines="error",
    )
    if frame.iloc[:, -1].isna().any():
        raise _InDoubt  # a row with too few fields
    return frame


def _column(column: Column, texts: pd.Series[Any] | None, index: pd.Index) -> pd.Series[Any]:
    if column.kind == "time":
        return _times(pd.Series("", index=index, dtype="str") if texts is None else texts)
    # Names and numbers repeat, row after row: each is understood only once.
    codes: Any = np.zeros(len(index), dtype=np.intp)
    known: Any = [""] if len(index) else []
    if texts is not None and column.is_number:
        codes, known = pd.factorize(texts.to_numpy(dtype=object))
    elif texts is not None:
        codes, known = texts.cat.codes.to_numpy(), texts.cat.categories
        if known.dtype != "str" and len(known):
            raise _InDoubt  # names that look like numbers were read as such
    values = [_value(column, text) for text in known]
    if not column.is_number and len(set(values)) < len(values):
        raise _InDoubt  # two spellings of one name
    lookup = pd.array(values, dtype="float64" if column.is_number else "str")
    if column.is_number:
        return pd.Series(lookup.to_numpy(dtype=float, na_value=np.nan)[codes], index=index)
    return pd.Series(lookup.take(codes), index=index)


def _value(column: Column, text: str) -> float | str:
    """Return what a field holds, by the rules of the careful way."""
    if column.is_number:
        if text == "" and not column.required:
            return np.nan if column.default is None else column.default
        if "_" in text or column.kind == "whole":
            raise _InDoubt
        return check_number(column, float(text))
    if text == "" and not column.required:
        return text
    return str(check_value(column, text))


def _times(values: pd.Series[Any]) -> pd.Series[Any]:
    """Parse date-times that all have one length and the punctuation of RFC 3339."""
    if not len(values):
        return pd.Series(pd.to_datetime(values, utc=True)).astype("datetime64[us, UTC]")
    try:
        texts = np.asarray(values.to_numpy(dtype=object), dtype="S")
    except UnicodeEncodeError:
        raise _InDoubt from None
    letters = texts.view("S1").reshape(len(texts), -1)
    width = letters.shape[1]
    marks = {4: b"-", 7: b"-", 10: b"T", 13: b":", 16: b":"}
    if width == 20 or width == 25:
        marks |= {19: b"Z"} if width == 20 else {22: b":"}
    else:
        raise _InDoubt
    if not all((letters[:, place] == mark).all() for place, mark in marks.items()):
        raise _InDoubt
    if width == 25 and not np.isin(letters[:, 19], [b"+", b"-"]).all():
        raise _InDoubt
    return pd.to_datetime(values, format="ISO8601", utc=True, cache=False).astype(
        "datetime64[us, UTC]"
    )


def _check_order(frame: pd.DataFrame) -> None:
    if "rehearsal" not in frame or not len(frame):
        return
    names = frame["rehearsal"].to_numpy(dtype=object)
    changes = np.flatnonzero(names[1:] != names[:-1]) + 1
    blocks = names[np.concatenate([[0], changes])]
    if len(set(blocks)) < len(blocks):
        raise _InDoubt
    earlier = frame["time"].diff().dt.total_seconds().to_numpy(copy=True) < 0
    earlier[changes] = False
    if earlier.any():
        raise _InDoubt


def _check_rows(table: str, frame: pd.DataFrame, instruments: Path | None) -> None:
    """Check the words of a table, each combination of them once."""
    if table == "readings":
        words = frame[["instrument", "side"]].drop_duplicates()
        for name, side in words.itertuples(index=False):
            check_names(Reading(_ANY_TIME, "r", "p", name, side, "A4", 0.0), instruments)
        spans = frame.groupby(["player", "rehearsal"], sort=False)["time"].agg(["min", "max"])
        spans = spans.reset_index().sort_values(["player", "min", "max"])
        if "" in {*spans["player"], *spans["rehearsal"], *words["instrument"]}:
            raise _InDoubt
        same = spans["player"].eq(spans["player"].shift())
        if (same & (spans["min"] < spans["max"].shift())).any():
            raise _InDoubt  # a player in two places at once
    elif table == "events":
        for row in frame.to_dict("records"):
            values: dict[str, Any] = {str(k): None if v != v else v for k, v in row.items()}
            event = Event(**values)
            check_names(checked(event), instruments)
    elif table == "temperatures":
        if (frame["rehearsal"] == "").any():
            raise _InDoubt
    elif len(frame):
        raise _InDoubt  # small tables are read with care


_ANY_TIME = pd.Timestamp(0, tz="UTC").to_pydatetime()
