"""One sheet as people keep it: a day and a time, the room's temperature in the row of a reading."""

from __future__ import annotations

import re
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace

import numpy as np

from drift.errors import InputError
from drift.logbook.records import TYPED
from drift.tables.columns import Column, Floats, Instants, Place, Rows, Table, Texts, coded
from drift.tables.headers import ANY_NAME, REHEARSAL, columns_of
from drift.tables.problems import refused
from drift.tables.spelled_times import day_order, spelled, spelled_time
from drift.tables.stamps import MISSING
from drift.tables.values import as_texts

__all__ = ["apart", "by_day", "lacks_rehearsal"]

_MIDNIGHT = (" 00:00:00", "T00:00:00")
"""What a spreadsheet adds to a day."""


def apart(table: Table, dates: str | None = None) -> list[Table]:
    """Return a table as tables of ours: the temperatures of its rows by themselves.

    Parameters
    ----------
    table : Table
        With the columns that `drift.tables.headers.recognised` names, ``day`` and, of readings,
        ``celsius`` or ``fahrenheit`` among them.
    dates : str, optional
        ``day-first`` or ``month-first``, for dates that do not tell by themselves.

    Returns
    -------
    tables : list of Table
        The table with one column of time, readings that name no rehearsal with their day in its
        place; then the temperatures, each instant and value of a rehearsal once, where it holds
        any.

    Raises
    ------
    TablesRefused
        When a day is beside what is a whole time already, or no day can be read that would
        stand for the rehearsal that is not named.
    """
    if table.name == "readings" and lacks_rehearsal(table):
        table = replace(table, columns=table.columns | {REHEARSAL: by_day(table, dates)})
    table = _in_one_column(table)
    degrees = [name for name in ("celsius", "fahrenheit") if name in table.columns]
    if table.name != "readings" or not degrees:
        return [table]
    kept = {name: column for name, column in table.columns.items() if name not in degrees}
    return [replace(table, columns=kept), _temperatures(table, degrees[0])]


def lacks_rehearsal(table: Table) -> bool:
    """Return whether a table names no rehearsals though it should."""
    needed = any(rule.name == REHEARSAL and rule.required for rule in columns_of(table.name))
    return needed and REHEARSAL not in table.columns


def by_day(table: Table, dates: str | None) -> Texts:
    """Return the day of each row, as the rehearsal where none is named.

    Raises
    ------
    TablesRefused
        When the times of the table are instants, of which no day is written.
    """
    column = table.columns.get("day", table.columns["time"])
    if isinstance(column, Instants | Floats):
        raise refused(Place(table.source), f"no column {REHEARSAL!r}", ANY_NAME)
    text = as_texts(column)
    known = coded(_days([_date_of(one) for one in text.known], dates))
    return Texts(known.codes[text.codes], known.known)


def _date_of(text: str) -> str:
    """Return a date and time of day, or what stands before the time of day and its offset."""
    return text if spelled(text) else re.split(r"[T\s]", text.strip())[0]


def _days(texts: Sequence[str], dates: str | None) -> list[str]:
    """Return days as they are named, however each is written; what is no day stays as it is.

    Examples
    --------
    >>> _days(["10/13/2026", "2026-10-13", "Tuesday"], None)
    ['2026-10-13', '2026-10-13', 'Tuesday']
    """
    with suppress(InputError):  # dates that contradict each other are refused as times
        order = day_order(texts, dates)
        return [_day(text, order) for text in texts]
    return list(texts)


def _day(text: str, order: str | None) -> str:
    try:
        return spelled_time(text, order).date().isoformat()
    except InputError:  # refused as a time, with its place
        return text


def _in_one_column(table: Table) -> Table:
    """Return the table with day and time of day in one column."""
    if "day" not in table.columns:
        return table
    columns = dict(table.columns)
    parts = columns.pop("day"), columns["time"]
    if any(isinstance(part, Instants) for part in parts):
        raise refused(
            Place(table.source),
            "a column of days is beside one of whole times",
            "leave one of them out",
        )
    day, time = map(as_texts, parts)
    pairs, codes = _distinct([day, time])
    known = [_joined(day.at(row), time.at(row)) for row in pairs]
    return replace(table, columns=columns | {"time": Texts(codes, known)})


def _joined(day: str, time: str) -> str:
    """Return a day and a time of day as one text; without one of them, what there is.

    Examples
    --------
    >>> _joined("2026-09-24 00:00:00", "18:36:00"), _joined("", "18:36")
    ('2026-09-24 18:36:00', '18:36')
    """
    day = day.strip()
    for end in _MIDNIGHT:
        day = day.removesuffix(end)
    return f"{day} {time.strip()}".strip() if time.strip() else ""


def _temperatures(table: Table, degrees: str) -> Table:
    """Return the temperatures beside readings, each instant and value of a rehearsal once."""
    names = ("time", REHEARSAL, degrees)
    texts = [as_texts(_spelled(table.columns[name])) for name in names]
    filled = np.array([bool(text.strip()) for text in texts[-1].known], dtype=bool)
    given = np.flatnonzero(filled[texts[-1].codes]) if len(filled) else np.zeros(0, np.int64)
    first, _ = _distinct([Texts(text.codes[given], text.known) for text in texts])
    rows = given[first]

    def places(which: Rows) -> list[Place]:
        return table.place(rows[which])

    columns: dict[str, Column] = {
        name: Texts(text.codes[rows], text.known) for name, text in zip(names, texts, strict=True)
    }
    # Somebody looked: such a temperature holds for longer than one of a thermometer.
    columns["source"] = Texts(np.zeros(len(rows), dtype=np.int64), [TYPED])
    return Table("temperatures", table.source, len(rows), columns, places, zone=table.zone)


def _spelled(column: Column) -> Column:
    """Return instants as texts that are read back as the same instants."""
    if not isinstance(column, Instants):
        return column
    instants, codes = np.unique(column.values, return_inverse=True)
    return Texts(codes, [_instant(int(value)) for value in instants])


def _instant(microseconds: int) -> str:
    return "" if microseconds == MISSING else f"{np.datetime64(microseconds, 'us')}Z"


def _distinct(columns: Sequence[Texts]) -> tuple[Rows, Rows]:
    """Return the first row of each distinct one, in order, and which of them each row is."""
    words = [coded([text.strip() for text in column.known]).codes for column in columns]
    key = np.zeros(len(columns[0].codes), dtype=np.int64)
    for column, code in zip(columns, words, strict=True):
        _, key = np.unique(key * (len(code) + 1) + code[column.codes], return_inverse=True)
    _, first, codes = np.unique(key, return_index=True, return_inverse=True)
    rank = np.argsort(np.argsort(first))
    return np.sort(first), rank[codes]
