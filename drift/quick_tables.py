"""A quick way through a folder that is plainly in order, column by column.

It answers only when it is sure that every row would pass the careful reading in `drift.folders`;
in any doubt it returns None, and the careful reading says what is wrong.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from drift.errors import DriftError
from drift.folders import check_players_in_one_place, existing_folder, header_of
from drift.instruments import canonical_name
from drift.notes import canonical_note
from drift.records import RECORDS, Column, Event, Reading, checked
from drift.vocabulary import check_names

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
        The tables by name, as `drift.rehearsals.Rehearsals` holds them.
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
    frame = _parsed(file, columns, given) if given else pd.DataFrame(index=pd.RangeIndex(0))
    frame = pd.DataFrame(
        {column.name: _column(column, frame.get(column.name), frame.index) for column in columns}
    )
    _check_order(frame)
    _check_rows(table, frame, instruments)
    return frame


def _parsed(file: Path, columns: tuple[Column, ...], given: list[str]) -> pd.DataFrame:
    numbers = {column.name for column in columns if column.is_number}
    # Names repeat, row after row: reading them as categories parses each only once.
    few = {
        "rehearsal",
        "player",
        "instrument",
        "side",
        "note",
        "source",
        "event",
        "slide",
        "remark",
    }
    types: dict[str, Any] = {
        name: float if name in numbers else "category" if name in few else "str" for name in given
    }
    frame = pd.read_csv(
        file,
        dtype=types,
        keep_default_na=False,
        na_values={name: [""] for name in numbers},
        float_precision="round_trip",
        encoding="utf-8-sig",
        index_col=False,
        on_bad_lines="error",
    )
    if any(frame[name].hasnans for name in given if name not in numbers):
        raise _InDoubt  # a row with too few fields
    return frame


def _column(column: Column, values: pd.Series[Any] | None, index: pd.Index) -> pd.Series[Any]:
    if values is None:
        if column.kind == "time":
            return _times(pd.Series(index=index, dtype="str"))
        missing = np.nan if column.default is None else column.default
        return pd.Series(
            missing if column.is_number else "", index, float if column.is_number else "str"
        )
    if column.kind == "time":
        return _times(values)
    if column.is_number:
        return _numbers(column, values)
    if column.kind == "note":
        values = values.cat.rename_categories(_renamed(values, canonical_note))
    if column.kind == "name":
        values = values.cat.rename_categories(_renamed(values, canonical_name))
    if values.cat.categories.str.contains(r"[\r\n\0]").any():
        raise _InDoubt
    return values.astype("str")


def _renamed(values: pd.Series[Any], rule: Callable[[str], str]) -> list[str]:
    names = [rule(name) for name in values.cat.categories]
    if len(set(names)) < len(names):
        raise _InDoubt  # two spellings of one name
    return names


def _numbers(column: Column, values: pd.Series[Any]) -> pd.Series[Any]:
    found = values.to_numpy(dtype=float)
    missing = np.isnan(found)
    if missing.any():
        if column.required:
            raise _InDoubt
        if column.default is not None:
            values = values.fillna(column.default)
    if not ((found >= column.lowest) & (found <= column.highest) | missing).all():
        raise _InDoubt
    return values


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
    return pd.to_datetime(values, format="ISO8601", utc=True).astype("datetime64[us, UTC]")


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
        if (frame[["rehearsal", "player", "instrument"]] == "").any(axis=None):
            raise _InDoubt
        spans = frame.groupby(["player", "rehearsal"], sort=False)["time"].agg(["min", "max"])
        check_players_in_one_place(
            (player, rehearsal, time)
            for player, rehearsal, *span in spans.reset_index().itertuples(index=False)
            for time in span
        )
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
