"""The card of slide positions: large type on A5, to keep in the case."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

from reportlab.lib import pagesizes
from reportlab.lib.colors import black, grey
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Paragraph, SimpleDocTemplate, Spacer, Table

from drift.degrees import fahrenheit_of_celsius
from drift.notes import shown
from drift.sheets.faces import BOLD, PLAIN, register_faces, width
from drift.slides.positions import PositionTable
from drift.words import slide_table as words
from drift.writing import written_file

__all__ = ["card_pdf", "save_card"]

MARGIN = 10 * mm
TITLE = ParagraphStyle("title", fontName=BOLD, fontSize=20, leading=25)
PLAYER = ParagraphStyle("player", fontName=PLAIN, fontSize=13, leading=18)
SMALL = ParagraphStyle("small", fontName=PLAIN, fontSize=9, leading=12.5)
CARE = ParagraphStyle("care", SMALL, fontName=BOLD)

LARGEST, SMALLEST = 18.0, 10.0
"""Type of the positions [pt]: as large as the page is wide enough for, and never smaller."""
HEAD_SIZE, BESIDE_SIZE, INTERVAL_SIZE = 10.5, 11.0, 9.0
GAP = 9.0
"""Between two columns, at least [pt]."""


def card_pdf(table: PositionTable, *, inches: bool = False) -> bytes:
    """Return the card of a position table as a PDF.

    Parameters
    ----------
    table : PositionTable
        The positions.
    inches : bool
        Sixteenths of an inch instead of millimetres.

    Returns
    -------
    bytes
        A5, black on white: the columns as wide as their widest text, the rows continued on
        another page where one is not enough.
    """
    register_faces()
    out = io.BytesIO()
    layout = SimpleDocTemplate(
        out,
        pagesize=pagesizes.A5,
        leftMargin=MARGIN,
        rightMargin=MARGIN,
        topMargin=MARGIN,
        bottomMargin=MARGIN,
        title=f"Slide positions: {words.heading(table)}",
        author="",
        creator="",
        lang="en",
        invariant=1,  # no date: the same table gives the same file
    )
    story: list[Flowable] = [
        Paragraph(shown(table.instrument.name), TITLE),
        Paragraph(_escaped(table.player) or "slide positions", PLAYER),
        Spacer(0, 3 * mm),
        _grid(table, inches, layout.width),
        Spacer(0, 3 * mm),
        *(Paragraph(line, SMALL) for line in words.legend(table, inches=inches)),
        *([] if inches or not table.slides else [Paragraph(words.SMALL_NUMBERS, SMALL)]),
        Spacer(0, 2 * mm),
        Paragraph(words.reminder(table), CARE),
    ]
    layout.build(story)
    return out.getvalue()


def save_card(table: PositionTable, path: Path, *, inches: bool = False) -> None:
    """Write the card as a PDF.

    Parameters
    ----------
    table : PositionTable
        The positions.
    path : Path
        The PDF.
    inches : bool
        Sixteenths of an inch instead of millimetres.
    """
    with written_file(path) as unfinished:
        unfinished.write_bytes(card_pdf(table, inches=inches))


def _grid(table: PositionTable, inches: bool, page_width: float) -> Table:
    """Return the table: the largest type in which all its columns are as wide as their texts."""
    head, rows = _texts(table, inches)
    positions = range(2, 2 + len(table.slides))
    size = LARGEST
    while sum(_widths(head, rows, positions, size)) > page_width and size > SMALLEST:
        size -= 0.5
    needed = _widths(head, rows, positions, size)
    if sum(needed) > page_width:  # many slides with long names: the heads break into lines
        head = [text.replace(" ", "\n") for text in head]
        needed = _widths(head, rows, positions, size)
    spare = max(page_width - sum(needed), 0.0) / len(needed)
    return Table(
        [head, *rows],
        colWidths=[one + spare for one in needed],
        repeatRows=1,
        style=_style(positions, size, len(rows)),
    )


def _texts(table: PositionTable, inches: bool) -> tuple[list[str], list[list[str]]]:
    """Return the head and the rows as texts, two for each temperature: positions and intervals.

    The remaining error only where there is any.
    """
    remaining = [words.remaining(table, row) for row in range(len(table.corrections))]
    head = ["°C", "°F", *(words.head(table, slide) for slide in table.slides)]
    head += ["remaining\n(cents)"] if any(remaining) else []
    rows = []
    for row, one in enumerate(table.corrections):
        far = words.EXTRAPOLATED if table.extrapolated[row] else ""
        cells = [f"{round(one.celsius, 1):g}{far}", f"{fahrenheit_of_celsius(one.celsius):.0f}"]
        cells += [words.cell(table, row, slide, inches=inches) for slide in table.slides]
        cells += [remaining[row].replace(", ", "\n")] if any(remaining) else []
        below = ["", "", *(_interval(table, row, slide, inches) for slide in table.slides)]
        below += [""] * (len(cells) - len(below))
        rows += [[text.replace("-", "\N{MINUS SIGN}") for text in line] for line in (cells, below)]
    return head, rows


def _interval(table: PositionTable, row: int, slide: str, inches: bool) -> str:
    return "" if inches else words.cell_interval(table, row, slide)


def _widths(head: list[str], rows: list[list[str]], positions: range, size: float) -> list[float]:
    """Return the width each column needs [pt], the gap between columns included."""
    found = []
    for column, title in enumerate(head):
        large = column in positions or not column
        type_size, face = (size, BOLD) if large else (BESIDE_SIZE, PLAIN)
        texts = [width(line, HEAD_SIZE) for line in title.split("\n")]
        texts += [
            width(line, *((type_size, face) if row % 2 == 0 else (INTERVAL_SIZE, PLAIN)))
            for row, cells in enumerate(rows)
            for line in cells[column].split("\n")
        ]
        found.append(max(texts) + GAP)
    return found


def _style(positions: range, size: float, rows: int) -> list[tuple[Any, ...]]:
    first, last = (positions[0], positions[-1]) if positions else (0, 0)
    return [
        ("FONT", (0, 0), (-1, -1), PLAIN, BESIDE_SIZE),
        ("FONT", (0, 0), (-1, 0), PLAIN, HEAD_SIZE, HEAD_SIZE + 2),
        ("FONT", (0, 1), (0, -1), PLAIN, size, size + 2),
        *([("FONT", (first, 1), (last, -1), BOLD, size, size + 2)] if positions else []),
        ("ALIGN", (0, 0), (-1, -1), "RIGHT"),
        ("VALIGN", (0, 1), (-1, -1), "MIDDLE"),
        ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
        ("LEFTPADDING", (0, 0), (-1, -1), GAP / 2),
        ("RIGHTPADDING", (0, 0), (-1, -1), GAP / 2),
        ("LINEBELOW", (0, 0), (-1, 0), 1.4, black),
        *(rule for row in range(1, rows + 1, 2) for rule in _pair(row)),
    ]


def _pair(row: int) -> list[tuple[Any, ...]]:
    """Return the style of a temperature: its positions, and below them their intervals, small."""
    return [
        ("NOSPLIT", (0, row), (-1, row + 1)),
        ("TOPPADDING", (0, row), (-1, row), 3),
        ("BOTTOMPADDING", (0, row), (-1, row), 1),
        ("FONT", (0, row + 1), (-1, row + 1), PLAIN, INTERVAL_SIZE, INTERVAL_SIZE + 1),
        ("TOPPADDING", (0, row + 1), (-1, row + 1), 0),
        ("BOTTOMPADDING", (0, row + 1), (-1, row + 1), 4),
        ("LINEBELOW", (0, row + 1), (-1, row + 1), 0.5, grey),
    ]


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
