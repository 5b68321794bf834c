"""Which sheet of a workbook is which table of an evening: known by its headings, as files are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from drift.errors import InputError
from drift.tables.headings import named_columns
from drift.tables.taking import SHEETS
from drift.tables.written import TITLE_LINES, Line, Written, lines_of_sheets, written_lines

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
    by_sheet = kinds_by_sheet(path, columns)
    if len(by_sheet) > 1:
        return tuple(kind for kind in KINDS if kind in by_sheet.values())
    lines: Sequence[Line] = ()
    with suppress(InputError):
        lines = written_lines(path).lines
    kind = kind_of_lines(lines, path.stem, columns)
    return (kind,) if kind else ()


def sheet_for(path: Path, kind: str, columns: Mapping[str, str] | None = None) -> str | None:
    """Return the sheet of a workbook that is a table; None where there is nothing to choose.

    Parameters
    ----------
    path : Path
        A file.
    kind : str
        One of `KINDS`.
    columns : mapping of str to str, optional
        Names of columns by what is written over them.

    Raises
    ------
    InputError
        When several of its sheets are that.
    """
    by_sheet = kinds_by_sheet(path, columns)
    if len(by_sheet) < 2:
        return None
    own = [name for name, is_kind in by_sheet.items() if is_kind == kind]
    if len(own) > 1:
        raise InputError(
            f"{path.name} has more than one {kind}: the sheets {', '.join(map(repr, own))}",
            "leave one in the workbook, or save it as a file of its own",
        )
    unknown = [name for name, is_kind in by_sheet.items() if not is_kind]
    return next(iter([*own, *unknown, *by_sheet]))


def written_as(path: Path, kind: str, columns: Mapping[str, str] | None = None) -> Written:
    """Return the lines of a file, of the sheet that is a table of some kind where it has several.

    Parameters
    ----------
    path, kind, columns
        As in `sheet_for`; without a kind the first sheet that is not empty is taken.
    """
    return written_lines(path, sheet_for(path, kind, columns) if kind else None)


def kinds_by_sheet(path: Path, columns: Mapping[str, str] | None = None) -> dict[str, str]:
    """Return what each sheet of a workbook is, empty sheets left out; nothing for other files."""
    if path.suffix.lower() not in SHEETS or not path.exists():
        return {}
    with suppress(InputError):
        return {
            name: kind_of_lines(lines, name, columns)
            for name, lines in lines_of_sheets(path).items()
            if lines
        }
    return {}
