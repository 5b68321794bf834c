"""A table as it was brought: its columns as codes into distinct texts, or as typed arrays."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import tzinfo
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

__all__ = [
    "Column",
    "Floats",
    "Instants",
    "Packed",
    "Place",
    "Rows",
    "Table",
    "Texts",
    "arrow_of",
    "coded",
    "column_at",
    "matching",
    "numbers_of",
    "rows_of",
    "texts_at",
]

Rows = npt.NDArray[np.int64]

_SPACES = b" \t\x0b\x0c\x1c\x1d\x1e\x1f\xc2\xe1\xe2\xe3"
"""First bytes of what may be a space in UTF-8."""


class Place(NamedTuple):
    """Where a row is, for a person: ``readings.csv line 12``, ``readings row 3``."""

    source: str
    word: str = ""
    number: int = 0

    def __str__(self) -> str:
        return f"{self.source} {self.word} {self.number}" if self.word else self.source


@dataclass(frozen=True)
class Texts:
    """Texts by dictionary.

    Attributes
    ----------
    codes : array of int, shape (n,)
        Which of the distinct texts each row holds.
    known : list of str
        The distinct texts; an empty one where nothing is given.
    """

    codes: npt.NDArray[np.integer]
    known: list[str]

    def at(self, row: int) -> str:
        """Return the text of a row."""
        return self.known[int(self.codes[row])]


@dataclass(frozen=True)
class Packed:
    """Texts one behind the other, for columns in which hardly two rows are alike.

    Attributes
    ----------
    offsets : array of int, shape (n + 1,)
        Where each text begins and the last one ends.
    data : array of bytes
        The texts in UTF-8.
    """

    offsets: npt.NDArray[np.int64]
    data: npt.NDArray[np.uint8]

    @classmethod
    def of(cls, texts: list[str]) -> Packed:
        """Return texts packed."""
        encoded = [text.encode("utf-8", "replace") for text in texts]
        lengths = np.fromiter(map(len, encoded), dtype=np.int64, count=len(encoded))
        return cls(
            np.concatenate([[0], np.cumsum(lengths)]).astype(np.int64),
            np.frombuffer(b"".join(encoded), dtype=np.uint8),
        )

    def at(self, row: int) -> str:
        """Return the text of a row."""
        text: bytes = self.data[self.offsets[row] : self.offsets[row + 1]].tobytes()
        return text.decode("utf-8")

    def begins_with(self, letters: bytes) -> npt.NDArray[np.bool_]:
        """Return which texts begin with one of some bytes."""
        found = np.zeros(len(self.offsets) - 1, dtype=bool)
        given = np.flatnonzero(np.diff(self.offsets))
        first = np.zeros(256, dtype=bool)
        first[np.frombuffer(letters, dtype=np.uint8)] = True
        found[given] = first[self.data[self.offsets[given]]]
        return found

    def filled(self) -> npt.NDArray[np.bool_]:
        """Return which texts hold more than spaces."""
        found = np.diff(self.offsets) > 0
        perhaps = np.flatnonzero(self.begins_with(_SPACES))
        found[perhaps] = [bool(self.at(int(row)).strip()) for row in perhaps]
        return found

    def taken(self, rows: Rows) -> Packed:
        """Return some of the rows."""
        return Packed.of([self.at(int(row)) for row in rows])


@dataclass(frozen=True)
class Floats:
    """Numbers, NaN where nothing is given; shape (n,)."""

    values: npt.NDArray[np.float64]


@dataclass(frozen=True)
class Instants:
    """Microseconds since 1970 in UTC, `MISSING` where nothing is given; shape (n,).

    And how many of them were finer and are rounded.
    """

    values: npt.NDArray[np.int64]
    rounded: int = 0


Column = Texts | Packed | Floats | Instants


@dataclass(frozen=True)
class Table:
    """One table of a source, before it is checked.

    Attributes
    ----------
    name : str
        ``readings``, ``temperatures``, ...
    source : str
        What a person calls it: a file, or the name of a table in memory.
    rows : int
        How many.
    columns : dict of str to Column
        By the names of `drift.logbook.records`.
    place : callable
        Rows to places; worked out only when something is wrong.
    keeps_order : bool
        Whether the order of the rows means something: a file is read from the top.
    zone : tzinfo or None
        Where times without an offset are told, if the heading of their column gives it.
    """

    name: str
    source: str
    rows: int
    columns: dict[str, Column]
    place: Callable[[Rows], list[Place]] = field(repr=False)
    keeps_order: bool = False
    zone: tzinfo | None = None


def coded(values: npt.NDArray[np.object_] | list[str]) -> Texts:
    """Return texts by dictionary, in order of first appearance."""
    numbers: dict[str, int] = {}
    codes = [numbers.setdefault(text, len(numbers)) for text in values]
    return Texts(np.array(codes, dtype=np.int64), [str(text) for text in numbers])


def column_at(column: Column, rows: Rows) -> Column:
    """Return some rows of a column."""
    if isinstance(column, Texts):
        return Texts(column.codes[rows], column.known)
    if isinstance(column, Packed):
        return column.taken(rows)
    if isinstance(column, Instants):
        return Instants(column.values[rows], column.rounded)
    return Floats(column.values[rows])


def rows_of(table: Table, rows: Rows) -> Table:
    """Return some rows of a table, each where it was."""
    if len(rows) == table.rows:
        return table
    columns = {name: column_at(column, rows) for name, column in table.columns.items()}
    return replace(
        table, rows=len(rows), columns=columns, place=lambda which: table.place(rows[which])
    )


def texts_at(texts: Texts | Packed, rows: Rows) -> list[str]:
    """Return the texts of some rows."""
    if isinstance(texts, Texts):
        known = np.array(texts.known or [""], dtype=object)
        return known[texts.codes[rows]].tolist()  # type: ignore[no-any-return]
    data = texts.data.data
    begins, ends = texts.offsets[rows].tolist(), texts.offsets[rows + 1].tolist()
    return [str(data[a:b], "utf-8") for a, b in zip(begins, ends, strict=True)]


def arrow_of(texts: Packed, given: npt.NDArray[np.bool_] | None = None) -> Any:
    """Return packed texts as an array of Arrow, without a copy; null where one is not given.

    ``pyarrow.array`` imports pandas, which takes as long as reading a million rows.
    """
    import pyarrow as pa

    valid = None if given is None else pa.py_buffer(np.packbits(given, bitorder="little"))
    buffers = [valid, pa.py_buffer(texts.offsets), pa.py_buffer(texts.data)]
    return pa.Array.from_buffers(pa.large_string(), len(texts.offsets) - 1, buffers)


def matching(texts: Packed, pattern: str) -> npt.NDArray[np.bool_]:
    """Return in which texts a regular expression is found."""
    from pyarrow import compute

    found = compute.match_substring_regex(arrow_of(texts), pattern)
    bits = np.unpackbits(np.frombuffer(found.buffers()[1], dtype=np.uint8), bitorder="little")
    return bits[: len(texts.offsets) - 1].astype(bool)


def numbers_of(array: Any, kind: type[np.generic]) -> npt.NDArray[Any]:
    """Return the numbers of an array of Arrow without a copy, arbitrary where one is missing.

    Its own ``to_numpy`` imports pandas.
    """
    held = np.frombuffer(array.buffers()[1], dtype=kind)
    return held[array.offset : array.offset + len(array)]
