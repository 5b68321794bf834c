"""The files of an evening in a folder, each known by its headings, whatever its name."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from drift.errors import InputError
from drift.gig.gridded import GRIDDED
from drift.tables.headings import named_columns
from drift.tables.taking import SHEETS
from drift.tables.written import TITLE_LINES, written_lines

__all__ = ["KINDS", "TABLES", "files_in", "kind_of"]

#: What an evening is made of.
KINDS = ("forecast", "schedule", "roster")
#: Endings of the names of tables.
TABLES = (".csv", ".txt", ".tsv", *SHEETS)
_HEADINGS = ("time", "date", "celsius", "fahrenheit", "start", "end", "activity", "section",
             "instrument")  # fmt: skip


def kind_of(path: Path, columns: Mapping[str, str] | None = None) -> str:
    """Return what a file is: ``forecast``, ``schedule``, ``roster``, or nothing (empty).

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
        return "schedule"
    if ending in GRIDDED:
        return "forecast"
    if ending not in TABLES:
        return ""
    heads: set[str] = set()
    degrees = False
    with suppress(InputError):
        for line in written_lines(path).lines[:TITLE_LINES]:
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
    return next((kind for kind in KINDS if kind in path.stem.casefold()), "")


def files_in(
    folder: Path, columns: Mapping[str, str] | None = None
) -> tuple[dict[str, list[Path]], list[Path]]:
    """Return the files of a folder by what they are, and those that are nothing of an evening.

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
        if path.is_dir() or path.name.startswith((".", "~")):
            continue
        kind = kind_of(path, columns)
        (found[kind] if kind else others).append(path)
    return found, others
