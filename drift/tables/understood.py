"""What was taken from tables though it could have been meant otherwise: to be mentioned once."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from drift.degrees import NO_ROOM_CELSIUS, look_like_fahrenheit
from drift.logbook.records import FAR_OUT_MM
from drift.tables.columns import Column, Instants, Packed, Rows, Table, Texts, coded, matching
from drift.tables.csv_source import Separated
from drift.tables.headers import Renamed, Unread, columns_of
from drift.times import FINER

__all__ = [
    "MOST_FAR",
    "Alike",
    "ByTime",
    "Commas",
    "Daily",
    "FarOut",
    "Gaps",
    "Hot",
    "Repeated",
    "Rounded",
    "Several",
    "Understood",
    "noticed",
]


class Commas(NamedTuple):
    """A column of a file in which a comma stands before the decimals."""

    source: str
    column: str


class Repeated(NamedTuple):
    """Rows of a file that equal an earlier one in every column, and where the first of them is."""

    source: str
    rows: int
    first: str


class Gaps(NamedTuple):
    """Rows of temperatures that hold none and are passed over, and where the first of them is."""

    source: str
    rows: int
    first: str


class Rounded(NamedTuple):
    """A file with times finer than a microsecond, which are rounded to it, and how many."""

    source: str
    rows: int


class Daily(NamedTuple):
    """A file that names no rehearsals: each day is taken as one."""

    source: str


class ByTime(NamedTuple):
    """A file that names no rehearsals: its rows go by the time of the readings.

    With how many there are, and how many lie too far from any reading and are left out.
    """

    source: str
    rows: int
    left_out: int = 0


class Several(NamedTuple):
    """A name that stands for more than one evening, and what each of them is called."""

    source: str
    name: str
    evenings: tuple[str, ...]


class Alike(NamedTuple):
    """Players whose names differ in nothing but signs, spaces and large letters.

    And where each of them is written first.
    """

    source: str
    names: tuple[str, ...]
    places: tuple[str, ...] = ()


class Hot(NamedTuple):
    """A file whose temperatures look like °F under ``celsius``: their range, and where not all."""

    source: str
    low: float
    high: float
    rehearsals: tuple[str, ...] = ()


class FarOut(NamedTuple):
    """A slide farther out than slides go: where it is written, how many more, and how far."""

    place: str
    slide: str
    position_mm: float
    more: int = 0


Understood = (
    Renamed | Unread | Separated | Commas | Repeated | Several | Alike | ByTime | Daily | Hot
    | FarOut | Rounded | Gaps
)  # fmt: skip

MOST_FAR = 5
"""So many slides that are far out are named one by one; a column in other units has many."""


def noticed(table: Table, values: Mapping[str, Any]) -> list[Understood]:
    """Return what is to be mentioned of a table whose values can all be taken.

    Parameters
    ----------
    table : Table
        As its source gave it.
    values : mapping of str to Texts, Packed or array
        Its columns as they are taken, the rows in the same order.
    """
    found: list[Understood] = []
    for rule in columns_of(table.name):
        column = table.columns.get(rule.name)
        if rule.is_number and isinstance(column, Texts) and any("," in t for t in column.known):
            found.append(Commas(table.source, rule.name))
    if rounded := _rounded(table.columns.get("time")):
        found.append(Rounded(table.source, rounded))
    if table.name == "temperatures":
        found += _hot(table.source, values["rehearsal"], values["celsius"])
    if table.name == "readings":
        found += [_alike_at(table, values["player"], names) for names in _alike(values["player"])]
    if table.name == "events":
        found += _far_out(table, values)
    again = _repeated(values)
    if len(again):
        found.append(Repeated(table.source, len(again), str(table.place(again[:1])[0])))
    return found


def _rounded(times: Column | None) -> int:
    """Return how many times are finer than a microsecond."""
    if isinstance(times, Instants):
        return times.rounded
    packed = Packed.of(times.known) if isinstance(times, Texts) else times
    if not isinstance(packed, Packed):
        return 0
    data = packed.data.tobytes()
    if b"." not in data and b"," not in data:  # as of most: without a search
        return 0
    finer = matching(packed, FINER.pattern)
    return int((finer[times.codes] if isinstance(times, Texts) else finer).sum())


def _alike(players: Texts) -> list[tuple[str, ...]]:
    """Return names that are read aloud alike; one player can be two by a full stop."""
    there: dict[str, dict[str, None]] = {}
    for name in players.known:
        folded = "".join(letter for letter in name.casefold() if letter.isalnum())
        there.setdefault(folded, {})[name] = None
    return [tuple(names) for folded, names in there.items() if folded and len(names) > 1]


def _alike_at(table: Table, players: Texts, names: tuple[str, ...]) -> Alike:
    """Return such names with the place of the first row of each."""
    codes = [players.known.index(name) for name in names]
    rows = np.array([int(np.flatnonzero(players.codes == code)[0]) for code in codes])
    return Alike(table.source, names, tuple(map(str, table.place(rows))))


def _hot(source: str, rehearsal: Texts, celsius: Any) -> list[Understood]:
    """Return the temperatures that look like °F, looked at one rehearsal after the other."""
    if not (celsius > NO_ROOM_CELSIUS).any():
        return []
    order = np.argsort(rehearsal.codes, kind="stable")
    present, first = np.unique(rehearsal.codes[order], return_index=True)
    parts = np.split(celsius[order], first[1:])
    hot = np.flatnonzero(look_like_fahrenheit([np.median(part) for part in parts]))
    if not len(hot):
        return []
    there = np.concatenate([parts[at] for at in hot])
    names = [rehearsal.known[present[at]] for at in hot] if len(hot) < len(parts) else []
    return [Hot(source, float(there.min()), float(there.max()), tuple(names))]


def _far_out(table: Table, values: Mapping[str, Any]) -> list[Understood]:
    """Return the slides that are farther out than slides go, the first ones one by one."""
    rows = np.flatnonzero(values["position_mm"] > FAR_OUT_MM)
    first = rows[:MOST_FAR]
    more = [0] * (len(first) - 1) + [len(rows) - len(first)]
    slides = values["slide"]
    return [
        FarOut(str(place), slides.known[slides.codes[row]], float(values["position_mm"][row]), rest)
        for place, row, rest in zip(table.place(first), first, more, strict=False)
    ]


def _repeated(values: Mapping[str, Any]) -> Rows:
    """Return the rows that equal an earlier one; rows that are alike have the same time at least.

    Of those with a twin so far the next column is looked at, until hardly any are left.
    """
    times = values["time"]
    order = np.argsort(times, kind="stable")
    later = np.flatnonzero(np.diff(times[order]) == 0)
    alike = np.zeros(len(times), dtype=bool)
    alike[order[later]] = alike[order[later + 1]] = True
    rows = np.flatnonzero(alike)
    group = np.zeros(len(rows), dtype=np.int64)
    for column in values.values():
        numbers = _numbered(column, rows)
        _, group = np.unique(group * (len(rows) + 1) + numbers, return_inverse=True)
        twins = np.bincount(group)[group] > 1
        rows, group = rows[twins], group[twins]
        if not len(rows):
            return rows
    return np.delete(rows, np.unique(group, return_index=True)[1])


def _numbered(column: Any, rows: Rows) -> Rows:
    """Return a number for each distinct value of some rows, below the number of rows."""
    if isinstance(column, Packed):
        return coded([column.at(int(row)) for row in rows]).codes.astype(np.int64)
    held = column.codes[rows] if isinstance(column, Texts) else column[rows]
    values, numbers = np.unique(held, return_inverse=True)
    if isinstance(column, Texts):  # a text can have two codes
        one_code = coded([column.known[code] for code in values]).codes
        return np.asarray(one_code[numbers], dtype=np.int64)
    return np.asarray(numbers, dtype=np.int64)
