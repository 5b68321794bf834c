"""A report as a PDF file: selectable text, charts as pictures, laid out by ReportLab."""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator
from itertools import chain
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib import pagesizes
from reportlab.lib.colors import HexColor
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import (
    CondPageBreak,
    Flowable,
    Image,
    KeepTogether,
    Paragraph,
    SimpleDocTemplate,
    Spacer,
)
from reportlab.platypus import Table as Grid

from drift.charts.style import GREY, INK, png, short
from drift.report.document import Block, Document, Items, Picture, Table, Words
from drift.sheets.faces import BOLD, PLAIN, register_faces
from drift.sheets.faces import width as text_width

__all__ = ["PAPERS", "to_pdf"]

PAPERS = {"a4": pagesizes.A4, "letter": pagesizes.letter}

MARGIN = 18 * mm
DOTS_PER_INCH = 200
MOST_LETTERS = 600
"""A cell with more letters than this might not fit on a page."""

BODY = ParagraphStyle(
    "body", fontName=PLAIN, fontSize=9.5, leading=14, textColor=HexColor(INK), spaceAfter=5
)
TITLE = ParagraphStyle("title", BODY, fontName=BOLD, fontSize=19, leading=24)
HEADING = ParagraphStyle("heading", BODY, fontName=BOLD, fontSize=13, leading=17, spaceBefore=12)
ITEM = ParagraphStyle("item", BODY, leftIndent=12, bulletIndent=2, bulletFontName=PLAIN)
CAPTION = ParagraphStyle("caption", BODY, fontSize=8.5, leading=12, textColor=HexColor(GREY))
CELL = ParagraphStyle("cell", BODY, fontSize=8, leading=10.5, spaceAfter=0)
NUMBER = ParagraphStyle("number", CELL, alignment=TA_RIGHT)
HEAD = ParagraphStyle("head", CELL, fontName=BOLD)
HEAD_NUMBER = ParagraphStyle("head number", HEAD, alignment=TA_RIGHT)


def to_pdf(document: Document, paper: str = "a4") -> bytes:
    """Return a report as a PDF file, the same bytes for the same report.

    Parameters
    ----------
    document : Document
        The report.
    paper : str
        ``a4`` or ``letter``.

    Returns
    -------
    bytes
        The file; its letters are embedded, and its text can be selected and searched.

    Examples
    --------
    >>> to_pdf(Document("Autumn", "", ()))[:5]
    b'%PDF-'
    """
    register_faces()
    out = io.BytesIO()
    layout = SimpleDocTemplate(
        out,
        pagesize=PAPERS[paper],
        leftMargin=MARGIN,
        rightMargin=MARGIN,
        topMargin=MARGIN,
        bottomMargin=MARGIN + 4 * mm,
        title=document.title,
        subject=document.subtitle,
        author="",
        creator="",
        lang="en",
        invariant=1,  # no date and no random number in the file
    )
    story: list[Flowable] = [
        paragraph(document.title, TITLE),
        paragraph(document.subtitle, CAPTION),
    ]
    for section in document.sections:
        story.append(CondPageBreak(45 * mm))
        flows: list[Flowable] = [paragraph(section.heading, HEADING)]
        for blocks in _together(section.blocks):
            flows += chain.from_iterable(_flow(block, layout.width) for block in blocks)
            story.append(KeepTogether(flows))
            flows = []
        story += flows

    def foot(canvas: Any, pages: Any) -> None:
        canvas.setFont(PLAIN, 8)
        canvas.setFillColor(HexColor(GREY))
        canvas.drawString(MARGIN, MARGIN - 4 * mm, document.title[:90])
        canvas.drawRightString(
            PAPERS[paper][0] - MARGIN, MARGIN - 4 * mm, f"page {canvas.getPageNumber()}"
        )

    layout.build(story, onFirstPage=foot, onLaterPages=foot)
    return out.getvalue()


def _together(blocks: Iterable[Block]) -> Iterator[list[Block]]:
    """Yield the blocks that stay on a page: words with what they announce, as the first do."""
    group: list[Block] = []
    first = True
    for block in blocks:
        group.append(block)
        if not isinstance(block, Words) or not (first or block.text.endswith(":")):
            yield group
            group, first = [], False
    if group:
        yield group


def paragraph(text: str, style: ParagraphStyle) -> Paragraph:
    return Paragraph(escape(text), style)


def _flow(block: Block, width: float) -> list[Flowable]:
    """Return a block as what the layout takes."""
    if isinstance(block, Words):
        return [paragraph(block.text, BODY)]
    if isinstance(block, Items):
        return [Paragraph(escape(item), ITEM, bulletText="–") for item in block.items]
    if isinstance(block, Picture):
        return [_image(block, width), paragraph(block.caption, CAPTION)]
    return [paragraph(block.caption, CAPTION), _grid(block, width), Spacer(1, 4 * mm)]


def _image(picture: Picture, width: float) -> Image:
    inches_wide, inches_high = picture.figure.get_size_inches()
    data = io.BytesIO(png(picture.figure, DOTS_PER_INCH))
    return Image(data, width=width, height=width * inches_high / inches_wide)


def _grid(table: Table, width: float) -> Grid:
    """Return a table whose columns are as wide as their contents ask for, within the page."""
    cells = [
        [
            paragraph(short(cell, MOST_LETTERS), styles[0] if column < table.texts else styles[1])
            for column, cell in enumerate(row)
        ]
        for row, styles in [
            (table.header, (HEAD, HEAD_NUMBER)),
            *((row, (CELL, NUMBER)) for row in table.rows),
        ]
    ]
    lines: Any = [
        ("LINEBELOW", (0, 0), (-1, 0), 1.0, HexColor(GREY)),
        ("LINEBELOW", (0, 1), (-1, -1), 0.3, HexColor(GREY)),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 2),
        ("RIGHTPADDING", (0, 0), (-1, -1), 5),
        ("TOPPADDING", (0, 0), (-1, -1), 2.5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
    ]
    return Grid(cells, colWidths=_widths(table, width), repeatRows=1, style=lines, hAlign="LEFT")


def _widths(table: Table, width: float) -> list[float]:
    """Share the width of the page: what each column asks for, the widest giving way first."""
    wanted = []
    for column in range(len(table.header)):
        texts = [(table.header[column], BOLD)]
        texts += [(row[column], PLAIN) for row in table.rows]
        wanted.append(10 + max(text_width(text, 8, face) for text, face in texts))
    limit = max(wanted)
    while sum(min(each, limit) for each in wanted) > width:
        limit *= 0.95
    return [min(each, limit) for each in wanted]
