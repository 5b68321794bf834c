"""Which sheet of a workbook is which table of an evening: known by its headings, as files are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from drift.errors import InputError
from drift.tables.headings import named_columns
from drift.tables.written import TITLE_LINES, Line, Written, first_filled, written_sheets

__all__ = ["KINDS", "kind_of_lines", "kinds_by_sheet", "kinds_of_table", "sheet_for",
           "written_as"]  # fmt: skip

#: What an evening is made of.
KINDS = ("forecast", "schedule", "roster")
_HEADINGS = ("time", "date", "celsius", "fahrenheit", "start", "end", "activity", "section",
             "instrument")  # fmt: skip


def kind_of_lines(
    lines: Sequence[Line], name: str = "", columns: Mapping[str, str] | None = None
) -> str:
    """Return what lines are: ``forecast``, ``schedule``, ``roster``, or nothing (empty).

    Parameters
    ----------
    lines : sequence of Line
        Those of one table, the heading among the first ten.
    name : str
        What it is called, which counts only where its headings say nothing.
    columns : mapping of str to str, optional
        Names of columns by what is written over them.
    """
    heads: set[str] = set()
    degrees = False
    for line in lines[:TITLE_LINES]:
        names, doubtful = named_columns(line.cells, _HEADINGS, columns)
        heads, degrees = set(names), bool(doubtful)
        if degrees or {*_HEADINGS} & heads:
            break
    if {"section", "instrument"} & heads:
        return "roster"
    if "activity" in heads or {"start", "end"} <= heads:
        return "schedule"
    if degrees or {"celsius", "fahrenheit"} & heads:
        return "forecast"
    return next((kind for kind in KINDS if kind in name.casefold()), "")


def kinds_of_table(path: Path, columns: Mapping[str, str] | None = None) -> tuple[str, ...]:
    """Return what a table is, each of the sheets of a workbook for itself; empty for nothing.

    Parameters
    ----------
    path : Path
        CSV or a spreadsheet.
    columns : mapping of str to str, optional
        Names of columns by what is written over them.
    """
    sheets: dict[str, Written] = {}
    with suppress(InputError):
        sheets = written_sheets(path)
    if by_sheet := kinds_by_sheet(sheets, columns):
        return tuple(kind for kind in KINDS if kind in by_sheet.values())
    kind = kind_of_lines(first_filled(sheets).lines, path.stem, columns)
    return (kind,) if kind else ()


def kinds_by_sheet(
    sheets: Mapping[str, Written], columns: Mapping[str, str] | None = None
) -> dict[str, str]:
    """Return what each sheet is, empty ones left out; nothing where there are not several."""
    filled = {name: one.lines for name, one in sheets.items() if one.lines}
    if len(filled) < 2:
        return {}
    return {name: kind_of_lines(lines, name, columns) for name, lines in filled.items()}


def sheet_for(path: Path, by_sheet: Mapping[str, str], kind: str) -> str | None:
    """Return the sheet of a workbook that is a table; None where there is nothing to choose.

    Parameters
    ----------
    path : Path
        A file.
    by_sheet : mapping of str to str
        What its sheets are (`kinds_by_sheet`).
    kind : str
        One of `KINDS`.

    Raises
    ------
    InputError
        When several of its sheets are that.
    """
    own = [name for name, is_kind in by_sheet.items() if is_kind == kind]
    if len(own) > 1:
        raise InputError(
            f"{path.name} has more than one {kind}: the sheets {', '.join(map(repr, own))}",
            "leave one in the workbook, or save it as a file of its own",
        )
    unknown = [name for name, is_kind in by_sheet.items() if not is_kind]
    return next(iter([*own, *unknown, *by_sheet]), None)


def written_as(path: Path, kind: str, columns: Mapping[str, str] | None = None) -> Written:
    """Return the lines of a file, of the sheet that is a table of some kind where it has several.

    Parameters
    ----------
    path : Path
        A file.
    kind : str
        One of `KINDS`; without one the first sheet that is not empty is taken.
    columns : mapping of str to str, optional
        Names of columns by what is written over them.
    """
    sheets = written_sheets(path)
    sheet = sheet_for(path, kinds_by_sheet(sheets, columns), kind) if kind else None
    return first_filled(sheets) if sheet is None else sheets[sheet]
