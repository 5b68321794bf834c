"""Wide tables of readings: a column for each note, or each time, with cents in its cells."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from drift.tables.columns import Column, Floats, Packed, Place, Rows, Table, Texts, column_at
from drift.tables.headers import note_of, times_among
from drift.tables.problems import refused
from drift.tables.values import as_texts

__all__ = ["as_long"]


def as_long(table: Table) -> Table:
    """Return a wide table with a row for each cell that is filled.

    Parameters
    ----------
    table : Table
        Readings, with columns by the names of notes and without ``note`` and ``cents``; or by
        times of day, with the ``day`` and without ``time`` and ``cents``.

    Raises
    ------
    TablesRefused
        When no column is called by a note or a time, or notes or times are given twice over.
    """
    called, cells = _cells(table)
    cents = _interleaved([table.columns[name] for name in cells])
    filled = np.flatnonzero(_filled(cents))
    row = filled // len(cells)
    columns = {
        name: _taken(column, row) for name, column in table.columns.items() if name not in cells
    }
    columns[called] = Texts(filled % len(cells), list(cells.values()))
    columns["cents"] = _taken(cents, filled)

    def places(rows: Rows) -> list[Place]:
        return table.place(row[rows])

    keeps_order = table.keeps_order and called == "note"  # a row is a player's: none is in order
    return replace(table, rows=len(filled), columns=columns, place=places, keeps_order=keeps_order)


def _cells(table: Table) -> tuple[str, dict[str, str]]:
    """Return what columns are called by, ``note`` or ``time``, and what each of them means."""
    here = Place(table.source)
    notes = {name: note for name in table.columns if (note := note_of(name))}
    cells = notes or {name: name for name in times_among([*table.columns])}
    called = "note" if notes else "time"
    if not cells:
        raise refused(
            here,
            "no column is called by a note or a time of day",
            "call them F4, Bb3, ..., or 18:05, 18:20, ..., or leave --wide out",
        )
    both = [name for name in (called, "cents") if name in table.columns]
    if both:
        raise refused(
            here,
            f"there is a column {both[0]!r} beside {next(iter(cells))!r}",
            f"leave one of them out: a wide table has the cents in the columns of the {called}s",
        )
    if called == "time" and "day" not in table.columns:
        raise refused(
            here,
            f"no column 'Date' beside {next(iter(cells))!r}",
            "add one: the day of the rehearsal in every row, such as 2026-10-03",
        )
    return called, cells


def _interleaved(columns: Sequence[Column]) -> Floats | Texts:
    """Return columns as one: the first cell of each, then the second of each, ..."""
    numbers = [column.values for column in columns if isinstance(column, Floats)]
    if len(numbers) == len(columns):
        return Floats(np.stack(numbers, axis=1).ravel())
    texts = [as_texts(column) for column in columns]
    starts = np.cumsum([0, *(len(text.known) for text in texts)])
    codes = [text.codes + start for text, start in zip(texts, starts[:-1], strict=True)]
    return Texts(np.stack(codes, axis=1).ravel(), [word for text in texts for word in text.known])


def _filled(column: Floats | Texts) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    if isinstance(column, Floats):
        return ~np.isnan(column.values)
    given = np.array([bool(text.strip()) for text in column.known], dtype=bool)
    return given[column.codes] if len(given) else np.zeros(0, dtype=bool)


def _taken(column: Column, rows: Rows) -> Column:
    if isinstance(column, Packed):  # each text is there once for every note of its row
        return Texts(rows, [column.at(place) for place in range(len(column.offsets) - 1)])
    return column_at(column, rows)
