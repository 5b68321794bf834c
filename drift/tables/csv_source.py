"""A table from a CSV file: separator and decimal sign found out, fields by dictionary.

pyarrow splits the fields. It takes a quote in mid-field for a mark of its own without a word, so
a file in which quotes stand anywhere but around a whole field is split by the `csv` module, as
strictly. Line numbers are worked out when something is wrong.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from drift.tables.columns import (
    Column,
    Packed,
    Place,
    Rows,
    Table,
    Texts,
    coded,
    column_at,
    numbers_of,
)
from drift.tables.headers import Renamed, cells_among, recognised
from drift.tables.problems import Problem, Problems, refused

__all__ = ["Separated", "content_of", "of_csv", "separator_of"]

SEPARATORS = (",", ";", "\t")
PACKED = frozenset({"time", "undone_time", "remark"})
"""Columns in which hardly two rows are alike."""

_BOM = b"\xef\xbb\xbf"
_REMEDY = "save the table as CSV in UTF-8"
_FIELDS = "give every row as many fields as there are columns"

Bytes = npt.NDArray[np.uint8]


@dataclass(frozen=True)
class Separated:
    """How a file is written, where that is not the usual way; to be mentioned once."""

    source: str
    separator: str


def of_csv(
    file: Path, table: str, problems: Problems, *, wide: bool = False
) -> tuple[Table, list[Renamed | Separated]]:
    """Read one table of a rehearsal folder.

    Parameters
    ----------
    file : Path
        The file.
    table : str
        Which table: ``readings``, ``temperatures``, ...
    problems : Problems
        Takes the rows that have too many or too few fields.
    wide : bool
        Whether readings have a column for each note.

    Returns
    -------
    Table
        Its rows, unchecked.
    list of Renamed or Separated
        What was understood though it is not written our way.

    Raises
    ------
    TablesRefused
        When the file cannot be read, is not UTF-8, or its header is wrong.
    """
    content = content_of(file)
    separator = separator_of(content)
    first = _first_row(file, content, separator)
    header, renamed = recognised(
        Place(str(file), "line", 1), table, first, cells_among(first) if wide else (), by_day=True
    )
    found: list[Renamed | Separated] = [*renamed]
    if separator != ",":
        found.append(Separated(str(file), separator))
    split = _by_arrow if _quotes_are_plain(content, separator) else _by_module
    columns, count, place = split(file, content, separator, header, problems)
    return Table(table, str(file), count, columns, place, keeps_order=True), found


def content_of(file: Path) -> bytes:
    """Return the bytes of a file of UTF-8, without its mark of the byte order.

    Raises
    ------
    TablesRefused
        When the file cannot be read or is not UTF-8.
    """
    try:
        content = file.read_bytes().removeprefix(_BOM)
    except OSError as error:
        raise refused(
            Place(str(file)), f"it cannot be read: {error.strerror or error}", "check the file"
        ) from None
    try:
        if not content.isascii():  # the common case, told without a copy
            content.decode("utf-8")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        problem = f"it is not UTF-8: byte {content[error.start]:#04x}"
        raise refused(Place(str(file), "line", line), problem, _REMEDY) from None
    # A spreadsheet of old ends its lines in a carriage return alone.
    return content if b"\n" in content else content.replace(b"\r", b"\n")


def separator_of(content: bytes) -> str:
    """Return what separates the fields: the sign that the header has most of."""
    end = content.find(b"\n")
    first = content[: end if end >= 0 else None].decode("utf-8", "replace")
    return max(SEPARATORS, key=first.count)


def _first_row(file: Path, content: bytes, separator: str) -> list[str]:
    lines = io.StringIO(content[: 1 << 16].decode("utf-8", "ignore"), newline="")
    try:
        return [text.strip() for text in next(csv.reader(lines, delimiter=separator), [])]
    except csv.Error as error:
        raise refused(Place(str(file), "line", 1), str(error), _REMEDY) from None


def _quotes_are_plain(content: bytes, separator: str) -> bool:
    """Return whether quotes stand only around whole fields, doubled within."""
    if b'"' not in content:
        return True
    text = np.frombuffer(content, dtype=np.uint8)
    marks = np.flatnonzero(text == ord('"'))
    if len(marks) % 2:
        return False
    opens, closes = marks[::2], marks[1::2]
    outside = np.zeros(256, dtype=bool)
    outside[np.frombuffer(f"{separator}\r\n".encode(), dtype=np.uint8)] = True
    begins = (opens == 0) | outside[text[np.maximum(opens - 1, 0)]]
    ends = (closes == len(text) - 1) | outside[text[np.minimum(closes + 1, len(text) - 1)]]
    doubled = np.zeros(len(opens), dtype=bool)  # a mark right after a mark goes on with the field
    doubled[1:] = opens[1:] == closes[:-1] + 1
    begins |= doubled
    ends[:-1] |= doubled[1:]
    return bool((begins & ends).all())


def _by_arrow(
    file: Path, content: bytes, separator: str, header: Sequence[str], problems: Problems
) -> tuple[dict[str, Column], int, Callable[[Rows], list[Place]]]:
    import pyarrow as pa
    from pyarrow import csv as arrow_csv

    wrong: list[Any] = []

    def skip(row: Any) -> Literal["skip", "error"]:
        wrong.append(row)
        return "skip"

    names = [f"c{place}" for place in range(len(header))]
    coded_text = pa.dictionary(pa.int32(), pa.string())
    types = {
        name: pa.string() if text in PACKED else coded_text
        for name, text in zip(names, header, strict=True)
    }

    def read(threads: bool) -> Any:
        wrong.clear()
        source: Any = pa.BufferReader(content)  # without a copy
        return arrow_csv.read_csv(
            source,
            read_options=arrow_csv.ReadOptions(
                use_threads=threads, block_size=1 << 22, column_names=names, skip_rows=1
            ),
            parse_options=arrow_csv.ParseOptions(
                delimiter=separator, newlines_in_values=b'"' in content, invalid_row_handler=skip
            ),
            convert_options=arrow_csv.ConvertOptions(
                column_types=types,
                strings_can_be_null=False,
                check_utf8=False,  # it is decoded
            ),
        )

    try:
        found = read(threads=True)
        if wrong:  # the numbers of rows are right only when one thread counts them
            found = read(threads=False)
    except pa.ArrowInvalid as error:
        if "Empty CSV" in str(error):
            return {name: Texts(np.zeros(0, np.int32), []) for name in header}, 0, lambda _: []
        raise refused(Place(str(file)), str(error), _REMEDY) from None
    lines = _Lines(content)
    lost = np.array([row.number - 2 for row in wrong], dtype=np.int64)  # the header is row 1
    ordinals = np.delete(np.arange(found.num_rows + len(lost)), lost) if len(lost) else None
    for row, place in zip(wrong, lines.of(lost), strict=True):
        if not row.text.replace(separator, "").strip():
            continue  # a blank row
        text = f"{row.actual_columns} fields where the header has {len(header)}: {row.text}"
        problems.add_one(Problem(Place(str(file), "line", int(place)), "", "", text, _FIELDS))

    def places(rows: Rows) -> list[Place]:
        at = lines.of(rows if ordinals is None else ordinals[rows])
        return [Place(str(file), "line", int(line)) for line in at]

    columns = {
        name: _column(found.column(column)) for name, column in zip(header, names, strict=True)
    }
    return _without_blank(columns, found.num_rows, places)


def _column(column: Any) -> Column:
    """Return a column of Arrow as ours, without copying its texts one by one."""
    import pyarrow as pa

    if pa.types.is_dictionary(column.type):
        return _texts(column)
    whole = column.combine_chunks()
    if hasattr(whole, "num_chunks"):
        if not whole.num_chunks:
            return Packed.of([])
        whole = whole.chunk(0)
    if not len(whole):
        return Packed.of([])
    _, offsets, data = whole.buffers()
    ends = np.frombuffer(offsets, np.int32)[whole.offset : whole.offset + len(whole) + 1]
    used = np.frombuffer(data, np.uint8)[ends[0] : ends[-1]]
    return Packed((ends - ends[0]).astype(np.int64), used)


def _texts(column: Any) -> Texts:
    whole = column.unify_dictionaries().combine_chunks()
    if hasattr(whole, "num_chunks"):
        if not whole.num_chunks:
            return Texts(np.zeros(0, np.int32), [])
        whole = whole.chunk(0)
    codes = numbers_of(whole.indices, np.int32)
    return Texts(codes, whole.dictionary.to_pylist())


class _Lines:
    """The line of each row of a file, worked out at the first question."""

    def __init__(self, content: bytes) -> None:
        self._content = content
        self._starts: Rows | None = None

    def of(self, rows: Rows) -> Rows:
        if not len(rows):
            return rows
        if self._starts is None:
            self._starts = self._found()
        return self._starts[np.minimum(rows + 1, len(self._starts) - 1)]  # the header is first

    def _found(self) -> Rows:
        text = np.frombuffer(self._content, dtype=np.uint8)
        ended = text == ord("\n")
        if b"\r" in self._content:
            # A line ends in \n, in \r\n, or, as spreadsheets of old leave it, in \r alone.
            ended[:-1] |= (text[:-1] == ord("\r")) & (text[1:] != ord("\n"))
        ends = np.flatnonzero(ended)
        if len(text) and text[-1] != ord("\n"):
            ends = np.append(ends, len(text))
        starts = np.concatenate([[0], ends[:-1] + 1])
        only_return = text[np.minimum(starts, len(text) - 1)] == ord("\r")
        blank = (ends == starts) | ((ends == starts + 1) & only_return)
        within = np.zeros(len(ends), dtype=bool)  # the field goes on in the next line
        if b'"' in self._content:
            within = np.searchsorted(np.flatnonzero(text == ord('"')), ends) % 2 == 1
        blank[1:] &= ~within[:-1]
        return np.asarray(np.flatnonzero(~within & ~blank) + 1, dtype=np.int64)


def _by_module(
    file: Path, content: bytes, separator: str, header: Sequence[str], problems: Problems
) -> tuple[dict[str, Column], int, Callable[[Rows], list[Place]]]:
    reader = csv.reader(
        io.StringIO(content.decode("utf-8"), newline=""), delimiter=separator, strict=True
    )
    rows: list[list[str]] = []
    lines: list[int] = []
    try:
        next(reader, None)
        for fields in reader:
            if not any(field.strip() for field in fields):
                continue
            if len(fields) != len(header):
                place = Place(str(file), "line", reader.line_num)
                text = f"{len(fields)} fields where the header has {len(header)}: "
                text += separator.join(fields)
                problems.add_one(Problem(place, "", "", text, _FIELDS))
                continue
            rows.append(fields)
            lines.append(reader.line_num)
    except csv.Error as error:
        raise refused(Place(str(file), "line", reader.line_num), str(error), _REMEDY) from None
    at = np.array(lines, dtype=np.int64)
    columns: dict[str, Column] = {
        name: coded([row[place] for row in rows]) for place, name in enumerate(header)
    }

    def places(which: Rows) -> list[Place]:
        return [Place(str(file), "line", int(line)) for line in at[which]]

    return _without_blank(columns, len(rows), places)


def _without_blank(
    columns: dict[str, Column], count: int, places: Callable[[Rows], list[Place]]
) -> tuple[dict[str, Column], int, Callable[[Rows], list[Place]]]:
    """Return a table without the rows in which every field is empty, as spreadsheets leave them."""
    filled = np.zeros(count, dtype=bool)
    for column in columns.values():
        if isinstance(column, Packed):
            filled |= column.filled()
        elif isinstance(column, Texts) and len(column.known):
            filled |= np.array([bool(text.strip()) for text in column.known])[column.codes]
        if filled.all():
            return columns, count, places
    kept = np.flatnonzero(filled)
    left = {name: column_at(column, kept) for name, column in columns.items()}
    return left, len(kept), lambda rows: places(kept[rows])
