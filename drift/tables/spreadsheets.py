"""The sheets of a spreadsheet: which are our tables, and their columns."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

from drift.errors import InputError
from drift.logbook.records import RECORDS
from drift.tables.columns import Column, Place, Rows, Table, coded
from drift.tables.headers import (
    TURN_ROUND,
    Renamed,
    Unread,
    by_times,
    cells_among,
    holds_readings,
    recognised,
)
from drift.tables.problems import refused
from drift.tables.sources import text_of

__all__ = ["of_spreadsheet", "sheets_of"]

MOST_TITLES = 8
"""A heading is looked for in so many rows, where what a sheet holds is asked."""


def sheets_of(path: Path) -> dict[str, list[list[Any]]]:
    """Return the cells of each sheet of a spreadsheet, row by row from the first on.

    Parameters
    ----------
    path : Path
        A file (.xlsx, .xlsm, .xls, .ods).

    Raises
    ------
    InputError
        When it cannot be read.
    """
    try:
        from python_calamine import CalamineError, CalamineWorkbook
    except ImportError:
        raise InputError(
            f"{path} is a spreadsheet, which needs python-calamine",
            "pip install 'rehearsal-drift[sheets]', or save each sheet as CSV",
        ) from None
    try:
        book = CalamineWorkbook.from_path(str(path))
        return {
            name: book.get_sheet_by_name(name).to_python(skip_empty_area=False)
            for name in book.sheet_names
        }
    except (CalamineError, OSError) as error:
        raise refused(
            Place(str(path)), f"it cannot be read: {error}", "save it again as .xlsx"
        ) from None


def of_spreadsheet(
    path: Path, *, wide: bool = False
) -> Iterator[Callable[[], list[tuple[Table, list[Renamed | Unread]]]]]:
    """Yield, for each sheet of a spreadsheet (.xlsx, .ods) that is one of our tables, its reader.

    A sheet is the table that it is called by. Where none is called ``readings``, the one sheet of
    another name that has their columns holds them; so does a sheet that is alone.

    Parameters
    ----------
    path : Path
        The file.
    wide : bool
        Whether readings have a column for each note.

    Raises
    ------
    InputError
        When the file cannot be read, or none of its sheets is one of our tables.
    """
    sheets = sheets_of(path)
    named = {name: name.strip().casefold() for name in sheets}
    others = [name for name in sheets if named[name] not in RECORDS]
    if "readings" not in named.values():
        alike = others if len(sheets) == 1 else _with_readings(sheets, others, wide)
        if len(alike) > 1:
            raise InputError(
                f"{path} has readings in the sheets {', '.join(map(repr, alike))}",
                "put them below each other in one sheet, and call it readings"
                + ("" if wide or not _is_by_times(sheets[alike[0]]) else f"; {TURN_ROUND}"),
            )
        named |= dict.fromkeys(alike, "readings")
    read = [name for name in sheets if named[name] in RECORDS]
    if not read:
        raise InputError(
            f"{path} has the sheets {', '.join(map(repr, sheets))}",
            f"call them {', '.join(RECORDS)}",
        )
    unread = [Unread(str(path), name) for name in sheets if name not in read and sheets[name]]
    for name in read:
        said, unread = unread, []
        yield partial(_read, sheets[name], named[name], f"{path} sheet {name!r}", wide, said)


def _read(
    rows: Sequence[Sequence[Any]], table: str, source: str, wide: bool, unread: list[Unread]
) -> list[tuple[Table, list[Renamed | Unread]]]:
    found, renamed = _of_sheet(rows, table, source, wide)
    return [(found, [*renamed, *unread])]


def _with_readings(
    sheets: Mapping[str, Sequence[Sequence[Any]]], among: Sequence[str], wide: bool
) -> list[str]:
    """Return those sheets, of some, that have the columns of readings."""
    return [
        name
        for name in among
        if (heads := _heads(sheets[name]))
        and (holds_readings(heads[0], wide=wide) or _is_by_times(sheets[name]))
    ]


def _is_by_times(rows: Sequence[Sequence[Any]]) -> bool:
    return any(map(by_times, _heads(rows)))


def _heads(rows: Sequence[Sequence[Any]]) -> list[list[str]]:
    """Return the first rows as texts: notes of an evening may stand above the heading."""
    return [[text_of(cell).strip() for cell in row] for _, row in _filled(rows)[:MOST_TITLES]]


def _filled(rows: Sequence[Sequence[Any]]) -> list[tuple[int, Sequence[Any]]]:
    """Return the rows of a sheet that are not empty, with their numbers, from the heading on."""
    filled = [(at, row) for at, row in enumerate(rows, 1) if any(text_of(cell) for cell in row)]
    return filled[_titles(filled) :]


def _titles(filled: Sequence[tuple[int, Sequence[Any]]]) -> int:
    """Return how many rows stand above the names of the columns: each fills one cell alone."""
    wide = (sum(bool(text_of(cell)) for cell in row) > 1 for _, row in filled)
    return next((at for at, heads in enumerate(wide) if heads), 0)


def _of_sheet(
    rows: Sequence[Sequence[Any]], table: str, source: str, wide: bool
) -> tuple[Table, list[Renamed]]:
    filled = _filled(rows)
    if not filled:
        raise refused(Place(source), "the sheet is empty", "its first row names the columns")
    header = [text_of(cell).strip() for cell in filled[0][1]]
    used = [place for place, text in enumerate(header) if text]
    given = [header[place] for place in used]
    names, renamed = recognised(
        Place(source), table, given, cells_among(given) if wide else (), by_day=True
    )
    columns: dict[str, Column] = {
        name: coded([text_of(row[place]) for _, row in filled[1:]])
        for name, place in zip(names, used, strict=True)
    }
    lines = [at for at, _ in filled[1:]]

    def places(which: Rows) -> list[Place]:
        return [Place(source, "row", lines[int(row)]) for row in which]

    return Table(table, source, len(lines), columns, places, keeps_order=True), renamed
