"""The files of an evening in a folder, each known by its headings, whatever its name."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from contextlib import suppress
from pathlib import Path

from drift.errors import InputError
from drift.findings import Finding
from drift.gig.gridded import GRIDDED
from drift.gig.sheets import KINDS, kinds_by_sheet, kinds_of_table, sheet_for
from drift.tables.taking import SHEETS
from drift.tables.written import written_lines, written_sheets

__all__ = ["KINDS", "TABLES", "WRITTEN", "files_in", "kinds_of", "not_read", "written_by_a_plan"]

#: Endings of the names of tables.
TABLES = (".csv", ".txt", ".tsv", *SHEETS)
#: What a plan is written to.
WRITTEN = ("plan.csv", "timeline.csv", "plan.png", "director.pdf", "section-cards.pdf", "plan.html",
           "scenarios.csv", "scenarios.png")  # fmt: skip
#: Columns that only tables of a plan have.
_OF_A_PLAN = ({"tune_at", "move_mm", "remaining_cents"}, {"section", "planned_cents"})


def kinds_of(path: Path, columns: Mapping[str, str] | None = None) -> tuple[str, ...]:
    """Return what a file is: forecast, schedule, roster; several for a workbook, or nothing.

    Parameters
    ----------
    path : Path
        A table, a calendar or a file of a weather service; its name counts only where its
        headings say nothing.
    columns : mapping of str to str, optional
        Names of columns by what is written over them.
    """
    ending = path.suffix.lower()
    if ending == ".ics":
        return ("schedule",)
    if ending in GRIDDED:
        return ("forecast",)
    return kinds_of_table(path, columns) if ending in TABLES else ()


def written_by_a_plan(path: Path) -> bool:
    """Return whether a file is one that a plan was written to, which is never read as an input.

    Parameters
    ----------
    path : Path
        A table is known by its headings, so that a roster that is called ``plan.csv`` is none;
        pictures and pages are known by their names.
    """
    if path.suffix.lower() not in TABLES:
        return path.name in WRITTEN
    with suppress(InputError):
        lines = written_lines(path).lines
        heads = {cell.strip() for cell in lines[0].cells} if lines else set()
        return any(columns <= heads for columns in _OF_A_PLAN)
    return False


def files_in(
    folder: Path, columns: Mapping[str, str] | None = None
) -> tuple[dict[str, list[Path]], list[Path]]:
    """Return the files of a folder by what they are, and those that are nothing of an evening.

    Files that a plan was written to are left out.

    Raises
    ------
    InputError
        When there is no such folder.
    """
    if not Path(folder).is_dir():
        raise InputError(f"{folder} is not a folder", "check the name")
    found: dict[str, list[Path]] = {kind: [] for kind in KINDS}
    others: list[Path] = []
    for path in sorted(Path(folder).iterdir()):
        if path.is_dir() or path.name.startswith((".", "~")) or written_by_a_plan(path):
            continue
        kinds = kinds_of(path, columns)
        for kind in kinds:
            found[kind].append(path)
        if not kinds:
            others.append(path)
    return found, others


def not_read(
    files: Iterable[tuple[str, Path]], columns: Mapping[str, str] | None = None
) -> list[Finding]:
    """Return the sheets of workbooks, empty ones left out, that none of some tables is read from.

    Parameters
    ----------
    files : iterable of (kind, path)
        What is read, and from which file.
    columns : mapping of str to str, optional
        Names of columns by what is written over them.
    """
    asked: dict[Path, list[str]] = {}
    for kind, path in files:
        if path.suffix.lower() in SHEETS:
            asked.setdefault(path, []).append(kind)
    found = []
    for path, kinds in asked.items():
        by_sheet: dict[str, str] = {}
        with suppress(InputError):
            by_sheet = kinds_by_sheet(written_sheets(path), columns)
        read = set()
        for kind in kinds:
            with suppress(InputError):
                read.add(sheet_for(path, by_sheet, kind))
        sheets = [name for name in by_sheet if name not in read]
        if read and sheets:
            found.append(Finding("sheets_not_read", {"file": path.name, "sheets": sheets}))
    return found
