"""A small table that a person wrote by hand: every line with its number and its cells.

It is opened, decoded and split by the rules of every other table (`drift.tables.csv_source`,
`drift.tables.spreadsheets`); a line that begins with ``# `` is a comment.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from drift.tables.columns import Place
from drift.tables.csv_source import content_of, separator_of
from drift.tables.problems import refused
from drift.tables.sources import text_of
from drift.tables.spreadsheets import sheets_of
from drift.tables.taking import SHEETS

__all__ = ["TITLE_LINES", "Line", "Written", "first_filled", "written_lines", "written_sheets"]


#: A heading is looked for in so many lines: others may hold a title above it.
TITLE_LINES = 10


@dataclass(frozen=True)
class Line:
    """One line of a table.

    Attributes
    ----------
    place : Place
        Where it is.
    cells : list of str
        As they are written.
    """

    place: Place
    cells: list[str]

    @property
    def blank(self) -> bool:
        """Whether nothing is written in it."""
        return not any(cell.strip() for cell in self.cells)


@dataclass(frozen=True)
class Written:
    """The lines of a table that are neither blank nor comments, and the comments.

    Attributes
    ----------
    lines : tuple of Line
        The heading first.
    comments : tuple of str
        Without their sign.
    """

    lines: tuple[Line, ...]
    comments: tuple[str, ...] = ()


def written_sheets(path: Path) -> dict[str, Written]:
    """Return the lines of each sheet of a spreadsheet by its name, of another file by none.

    Parameters
    ----------
    path : Path
        CSV in UTF-8 with commas, semicolons or tabs; or a spreadsheet (``.xlsx``, ``.ods``).

    Raises
    ------
    TablesRefused
        When the file cannot be read, is not UTF-8, or has a quote that is not closed.
    """
    path = Path(path)
    if not path.exists():
        raise refused(
            Place(path.name), "it cannot be read: there is no such file", "check the name"
        )
    if path.suffix.lower() not in SHEETS:
        return {"": _written(_of_csv(path))}
    sheets = sheets_of(path)
    several = len(sheets) > 1
    return {
        name: _written(_of_sheet(rows, f"{path.name} sheet {name!r}" if several else path.name))
        for name, rows in sheets.items()
    }


def written_lines(path: Path) -> Written:
    """Return the lines of a table, of a spreadsheet those of the first sheet that is not empty.

    Parameters
    ----------
    path : Path
        As in `written_sheets`, which says what is refused.
    """
    return first_filled(written_sheets(path))


def first_filled(sheets: Mapping[str, Written]) -> Written:
    """Return the first of some sheets that is not empty."""
    return next((one for one in sheets.values() if one.lines), Written(()))


def _written(found: Iterable[Line]) -> Written:
    lines, comments = [], []
    for line in found:
        if _is_comment(line.cells):
            comments.append(" ".join(line.cells).lstrip("# ").strip())
        elif not line.blank:
            lines.append(line)
    return Written(tuple(lines), tuple(comments))


def _separators(line: str) -> int:
    return max(line.count(separator) for separator in ",;\t")


def _is_comment(cells: Sequence[str]) -> bool:
    return bool(cells) and cells[0].lstrip().startswith("# ")


def _of_sheet(rows: Sequence[Sequence[Any]], source: str) -> Iterator[Line]:
    for number, row in enumerate(rows, start=1):
        yield Line(Place(source, "row", number), [text_of(cell) for cell in row])


def _of_csv(path: Path) -> Iterator[Line]:
    content = content_of(path)
    text = content.decode("utf-8")
    first = [line for line in text.splitlines() if line.strip() and not line.startswith("# ")]
    # A title above the heading has few separators or none.
    heading = max(first[:TITLE_LINES], key=_separators, default="")
    reader = csv.reader(
        io.StringIO(text, newline=""), strict=True, delimiter=separator_of(heading.encode())
    )
    try:
        for cells in reader:
            yield Line(Place(path.name, "line", reader.line_num), cells)
    except csv.Error as error:
        raise refused(
            Place(path.name, "line", reader.line_num),
            str(error),
            "look for a quote that is not closed",
        ) from None
