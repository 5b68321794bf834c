"""A quick way through a folder that is plainly in order, column by column.

It answers only when it is sure that every row would pass the careful reading in
`drift.logbook.folders`; in any doubt it returns None, and the careful reading says what is wrong.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.errors import DriftError
from drift.instruments import Catalogue
from drift.logbook.folders import FORMER_WORDS, boolean, existing_folder, header_of, named_now
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
from drift.times import EARLIEST, LATEST

__all__ = ["read_quickly"]

TIME_WIDTH = 32
"""Bytes kept of a time: more than the 25 of the longest that is read here, in whole words."""

_SECONDS = slice(17, 19)
"""Where the seconds stand in a time of RFC 3339."""

_LESS_SECONDS = np.frombuffer(b"\xff" * 17 + b"\0\0" + b"\xff" * 13, dtype=np.uint64)
_FIRST_INSTANT, _LAST_INSTANT = (
    np.datetime64(time.replace(tzinfo=None)) for time in (EARLIEST, LATEST)
)


class _InDoubt(Exception):
    """The table needs the careful reading."""


def read_quickly(
    folder: Path, catalogue: Catalogue | None = None
) -> dict[str, pd.DataFrame] | None:
    """Read the tables of a folder at once, or return None when a row needs a closer look.

    Parameters
    ----------
    folder : Path
        A rehearsal folder.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.

    Returns
    -------
    dict of str to DataFrame, or None
        The tables by name, as `drift.logbook.rehearsals.Rehearsals` holds them.
    """
    if (existing_folder(folder) / "undone.csv").exists():
        return None
    try:
        return {table: _table(folder, table, catalogue) for table in RECORDS}
    except (_InDoubt, DriftError, ValueError, OSError, csv.Error, pd.errors.ParserError):
        return None


def _table(folder: Path, table: str, catalogue: Catalogue | None) -> pd.DataFrame:
    file = folder / f"{table}.csv"
    columns = RECORDS[table].columns
    given = header_of(file, table) if file.exists() else []
    if "fahrenheit" in given:
        raise _InDoubt
    frame = _parsed(file, columns) if given else pd.DataFrame(index=pd.RangeIndex(0))
    _check_remarks(table, frame)
    frame = pd.DataFrame(
        {column.name: _column(column, frame.get(column.name), frame.index) for column in columns}
    )
    _check_order(frame)
    _check_rows(table, frame, catalogue)
    return frame.astype(dict.fromkeys(frame.columns[frame.dtypes == "category"], "str"))


def _check_remarks(table: str, frame: pd.DataFrame) -> None:
    """Check that no remark says what has a column of its own now."""
    for of_table, column, beginning in FORMER_WORDS:
        if table == of_table and column not in frame and "remark" in frame:
            remarks = frame["remark"].cat.categories
            if len(remarks) and remarks.astype("str").str.startswith(beginning).any():
                raise _InDoubt


def _parsed(file: Path, columns: Sequence[Column]) -> pd.DataFrame:
    """Read the fields as text: times as bytes, names as categories."""
    dtypes: dict[str, Any] = {
        column.name: f"S{TIME_WIDTH}" if column.kind == "time"
        else object if column.is_number
        else "category"
        for column in columns
    }  # fmt: skip
    content = file.read_bytes()
    names = content.partition(b"\n")[0].decode("utf-8-sig").strip().split(",")
    dtypes |= {name: dtypes[named_now(name)] for name in names if named_now(name) in dtypes}
    frame = pd.read_csv(
        BytesIO(content),
        dtype=dtypes,
        keep_default_na=False,
        na_filter=False,
        skip_blank_lines=False,
        low_memory=False,
    )
    _check_fields(content, frame)
    return frame.rename(columns=named_now)


def _check_fields(content: bytes, frame: pd.DataFrame) -> None:
    """Check that every row has as many fields as the header, which the parser does not mind."""
    if not isinstance(frame.index, pd.RangeIndex) or b"\0" in content:
        raise _InDoubt  # a first row too long became an index; bytes end at a NUL
    rows, fields = len(frame) + 1, len(frame.columns)
    if b'"' in content:
        lengths = map(
            len, csv.reader(StringIO(content.decode("utf-8-sig"), newline=""), strict=True)
        )
        in_order = all(length == fields for length in lengths)
    else:
        in_order = content.count(b",") == rows * (fields - 1)
    if not in_order:
        raise _InDoubt


def _column(column: Column, texts: pd.Series[Any] | None, index: pd.Index) -> pd.Series[Any]:
    """Return one column in its type, names as categories."""
    if column.kind == "time":
        if texts is None or not len(texts):
            return pd.Series([], dtype="datetime64[us, UTC]")
        return _times(texts.to_numpy())
    # Names and numbers repeat, row after row: each is understood only once.
    codes: Any = np.zeros(len(index), dtype=np.intp)
    known: Any = [""] if len(index) else []
    if texts is not None and column.is_number:
        codes, known = pd.factorize(texts.to_numpy())
    elif texts is not None:
        codes, known = texts.cat.codes.to_numpy(), texts.cat.categories
        if known.dtype != "str" and len(known):
            raise _InDoubt  # names that look like numbers were read as such
    values = [_value(column, text) for text in known]
    if column.is_number or column.kind == "boolean":
        kind = float if column.is_number else bool
        return pd.Series(np.array(values, dtype=kind)[codes], index=index)
    if len(set(values)) < len(values):
        raise _InDoubt  # two spellings of one name
    names = pd.Index(values, dtype="str")
    return pd.Series(pd.Categorical.from_codes(codes, names, validate=False), index=index)


def _value(column: Column, text: str) -> float | str | bool:
    """Return what a field holds, by the rules of the careful way."""
    if column.is_number:
        if text == "" and not column.required:
            return np.nan if column.default is None else column.default
        if "_" in text or column.kind == "whole":
            raise _InDoubt
        return check_number(column, float(text))
    if column.kind == "boolean":
        return boolean(column, text) if text else False
    if text == "" and not column.required:
        return text
    return str(check_value(column, text))


def _times(texts: npt.NDArray[np.bytes_]) -> pd.Series[Any]:
    """Parse date-times; the minute and offset once for each run of rows that share them."""
    words = texts.view(np.uint64).reshape(len(texts), -1) & _LESS_SECONDS
    begins = np.ones(len(texts), dtype=bool)
    begins[1:] = (words[1:] != words[:-1]).any(axis=1)
    letters = texts.view(np.uint8).reshape(len(texts), -1)
    tens, ones = (letters[:, _SECONDS] - ord("0")).T  # unsigned: what is no digit is large
    if tens.max() > 5 or ones.max() > 9:
        raise _InDoubt
    seconds = 10 * tens.astype(np.int64) + ones
    minutes = _instants(texts[begins]) - seconds[begins].astype("timedelta64[s]")
    run = np.cumsum(begins) - 1
    whole = minutes[run] + seconds.astype("timedelta64[s]")
    return pd.Series(whole.astype("datetime64[us]")).dt.tz_localize("UTC")


def _instants(texts: npt.NDArray[np.bytes_]) -> npt.NDArray[np.datetime64]:
    """Return instants [UTC] of texts of one length with the punctuation of RFC 3339."""
    lengths = np.strings.str_len(texts)
    width = int(lengths[0])
    if width not in (20, 25) or (lengths != width).any():
        raise _InDoubt
    letters = texts.astype(f"S{width}").view("S1").reshape(len(texts), width)
    marks = {4: b"-", 7: b"-", 10: b"T", 13: b":", 16: b":"}
    marks |= {19: b"Z"} if width == 20 else {22: b":"}
    if not all((letters[:, place] == mark).all() for place, mark in marks.items()):
        raise _InDoubt
    if width == 25 and not np.isin(letters[:, 19], [b"+", b"-"]).all():
        raise _InDoubt
    parsed = pd.to_datetime(texts.astype("U").astype(object), format="ISO8601", utc=True)
    found = parsed.tz_localize(None).to_numpy(dtype="datetime64[us]")
    if found.min() < _FIRST_INSTANT or found.max() > _LAST_INSTANT:
        raise _InDoubt
    return found


def _check_order(frame: pd.DataFrame) -> None:
    if "rehearsal" not in frame or not len(frame):
        return
    names = frame["rehearsal"].cat.codes.to_numpy()
    changes = np.flatnonzero(names[1:] != names[:-1]) + 1
    blocks = names[np.concatenate([[0], changes])]
    if len(set(blocks)) < len(blocks):
        raise _InDoubt
    when = frame["time"].to_numpy(dtype="datetime64[us]")
    earlier = when[1:] < when[:-1]
    earlier[changes - 1] = False
    if earlier.any():
        raise _InDoubt


def _check_rows(table: str, frame: pd.DataFrame, catalogue: Catalogue | None) -> None:
    """Check the words of a table, each combination of them once."""
    if table == "readings":
        words = frame[["instrument", "side"]].drop_duplicates()
        for name, side in words.itertuples(index=False):
            check_names(Reading(_ANY_TIME, "r", "p", name, side, "A4", 0.0), catalogue)
        times = frame.groupby(["player", "rehearsal"], sort=False, observed=True)["time"]
        spans = times.agg(["min", "max"]).reset_index().sort_values(["player", "min", "max"])
        if "" in {*spans["player"], *spans["rehearsal"], *words["instrument"]}:
            raise _InDoubt
        same = spans["player"].eq(spans["player"].shift())
        if (same & (spans["min"] < spans["max"].shift())).any():
            raise _InDoubt  # a player in two places at once
    elif table == "events":
        for row in frame.to_dict("records"):
            values: dict[str, Any] = {str(k): None if v != v else v for k, v in row.items()}
            event = Event(**values)
            check_names(checked(event), catalogue)
    elif table == "temperatures":
        if (frame["rehearsal"] == "").any():
            raise _InDoubt
    elif len(frame):
        raise _InDoubt  # small tables are read with care


_ANY_TIME = pd.Timestamp(0, tz="UTC").to_pydatetime()
