"""The card of slide positions: large type on A5, to keep in the case."""

from __future__ import annotations

import io
from datetime import date
from pathlib import Path
from typing import Any

from reportlab.lib import pagesizes
from reportlab.lib.colors import black, grey
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Paragraph, SimpleDocTemplate, Spacer, Table

from drift.degrees import fahrenheit_of_celsius
from drift.sheets.faces import BOLD, PLAIN, escaped, height_of, register_faces, width
from drift.sheets.room_card import room_story
from drift.slides.positions import PositionTable
from drift.words import slide_table as words
from drift.words.intervals import small_figures
from drift.words.warming import counts_on, warm_up_briefly
from drift.writing import written_file

__all__ = ["card_pdf", "save_card"]

MARGIN = 10 * mm
TITLE = ParagraphStyle("title", fontName=BOLD, fontSize=20, leading=25)
PLAYER = ParagraphStyle("player", fontName=PLAIN, fontSize=13, leading=18)
FIGURES = ParagraphStyle("figures", fontName=BOLD, fontSize=12, leading=16)
SMALL = ParagraphStyle("small", fontName=PLAIN, fontSize=9, leading=11.5)
CARE = ParagraphStyle("care", SMALL, fontName=BOLD)

LARGEST, SMALLEST = 18.0, 10.0
"""Type of the positions [pt]: as large as the page is wide enough for, and never smaller."""
HEAD_SIZE, BESIDE_SIZE, INTERVAL_SIZE = 10.5, 11.0, 9.0
FRAME_POINTS = 6.0
"""ReportLab keeps so much free around what it lays out [pt]."""
GAP = 9.0
"""Between two columns, at least [pt]."""


def card_pdf(
    table: PositionTable, *, inches: bool = False, title: str = "", printed: date | None = None
) -> bytes:
    """Return the card of a position table as a PDF.

    Parameters
    ----------
    table : PositionTable
        The positions.
    inches : bool
        Sixteenths of an inch instead of millimetres.
    title : str
        What the card is for, such as the name of a gig; may be empty.
    printed : date, optional
        The date on the card.

    Returns
    -------
    bytes
        A5, black on white. Of one temperature a line for each slide in large type; of several
        a table, its columns as wide as their widest text, the rows continued on another page
        where one is not enough.
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
    story = _heading(table, title, printed)
    wide = layout.width - 2 * FRAME_POINTS
    left = layout.height - 2 * FRAME_POINTS - height_of(story, wide)
    of_rooms = room_story if len(table.corrections) == 1 else _several_rooms
    story += of_rooms(table, inches, wide, left)
    layout.build(story)
    return out.getvalue()


def save_card(
    table: PositionTable,
    path: Path,
    *,
    inches: bool = False,
    title: str = "",
    printed: date | None = None,
) -> None:
    """Write the card as a PDF.

    Parameters
    ----------
    table : PositionTable
        The positions.
    path : Path
        The PDF.
    inches, title, printed
        As in `card_pdf`.
    """
    with written_file(path) as unfinished:
        unfinished.write_bytes(card_pdf(table, inches=inches, title=title, printed=printed))


def _heading(table: PositionTable, title: str, printed: date | None) -> list[Flowable]:
    """Return whose card it is, what for, and from when."""
    whose = table.player or "slide positions"
    dated = f"printed {printed:%Y-%m-%d}" if printed else ""
    return [
        Paragraph(words.for_pitch(table), TITLE),
        Paragraph(escaped(", ".join(filter(None, (whose, title, dated)))), PLAYER),
        Spacer(0, 3 * mm),
    ]


def _several_rooms(
    table: PositionTable, inches: bool, page_width: float, page_height: float
) -> list[Flowable]:
    """Return the table, and below it what to know: in a smaller type where that asks for room."""
    there = table.corrections[0]
    lines = [
        *([] if inches or not table.slides else [small_figures(table)]),
        *words.legend(table, inches=inches, give_travel="", far=words.EXTRAPOLATED_IN_FULL),
        *([warm_up_briefly(there), counts_on(there)] if table.instrument.slides else []),
    ]
    below = [
        Spacer(0, 2 * mm),
        Paragraph(escaped(" ".join(filter(None, lines))), SMALL),
        Paragraph(words.reminder(table), CARE),
    ]
    above = [Paragraph(words.what_figures_are(table, inches=inches), FIGURES)]
    above = above if table.instrument.slides else []
    left = page_height - height_of([*above, *below], page_width)
    return [*above, _grid(table, inches, page_width, left), *below]


def _grid(table: PositionTable, inches: bool, page_width: float, page_height: float) -> Table:
    """Return the table: the largest type in which it is as wide as its texts and fits the page."""
    head, rows = _texts(table, inches)
    positions = range(2, 2 + len(table.slides))
    size = LARGEST
    while size > SMALLEST and (
        sum(_widths(head, rows, positions, size)) > page_width
        or _height(head, rows, size) > page_height
    ):
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
        style=_style(positions, size, len(rows), words.REMAINING in head),
    )


def _height(head: list[str], rows: list[list[str]], size: float) -> float:
    """Return how high the table is in a type [pt]."""
    style = _style(range(2, len(head)), size, len(rows), words.REMAINING in head)
    parts = Table([head, *rows], style=style)
    return float(parts.wrap(10_000.0, 10_000.0)[1])


def _texts(table: PositionTable, inches: bool) -> tuple[list[str], list[list[str]]]:
    """Return the head and the rows as texts, two for each temperature: positions and intervals.

    The remaining error only where there is any.
    """
    remaining = [words.remaining(table, row) for row in range(len(table.corrections))]
    head = ["°C", "°F", *(words.head(table, slide) for slide in table.slides)]
    head += [words.REMAINING] if any(remaining) else []
    rows = []
    for row, one in enumerate(table.corrections):
        cells = [f"{round(one.celsius, 1):zg}", f"{fahrenheit_of_celsius(one.celsius):z.0f}"]
        cells += [words.figure(table, row, slide, inches=inches) for slide in table.slides]
        cells += [remaining[row].replace(", ", "\n")] if any(remaining) else []
        far = words.EXTRAPOLATED_IN_FULL if table.extrapolated[row] else ""
        below = [far, "", *(_below(table, row, slide, inches) for slide in table.slides)]
        below += [""] * (len(cells) - len(below))
        rows += [[text.replace("-", "\N{MINUS SIGN}") for text in line] for line in (cells, below)]
    return head, rows


def _below(table: PositionTable, row: int, slide: str, inches: bool) -> str:
    """Return what is special about a position, else its interval, to be set small below it."""
    special = words.mark(table, row, slide)
    return special if special or inches else words.cell_interval(table, row, slide)


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
            if column or row % 2 == 0  # what is below a temperature reaches below the next column
        ]
        found.append(max(texts) + GAP)
    return found


def _style(
    positions: range, size: float, rows: int, remaining: bool = False
) -> list[tuple[Any, ...]]:
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
        *(rule for row in range(1, rows + 1, 2) for rule in _pair(row, remaining)),
    ]


def _pair(row: int, remaining: bool) -> list[tuple[Any, ...]]:
    """Return the style of a temperature: its positions, and below them their intervals, small."""
    return [
        ("NOSPLIT", (0, row), (-1, row + 1)),
        ("SPAN", (0, row + 1), (1, row + 1)),
        *([("SPAN", (-1, row), (-1, row + 1))] if remaining else []),
        ("TOPPADDING", (0, row), (-1, row), 2),
        ("BOTTOMPADDING", (0, row), (-1, row), 1),
        ("FONT", (0, row + 1), (-1, row + 1), PLAIN, INTERVAL_SIZE, INTERVAL_SIZE + 1),
        ("TOPPADDING", (0, row + 1), (-1, row + 1), 0),
        ("BOTTOMPADDING", (0, row + 1), (-1, row + 1), 2.5),
        ("LINEBELOW", (0, row + 1), (-1, row + 1), 0.5, grey),
    ]
