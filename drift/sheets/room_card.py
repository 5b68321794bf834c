"""The card for one room alone: a line for each slide, in letters to be read at arm's length."""

from __future__ import annotations

from typing import Any

from reportlab.lib.colors import grey
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Paragraph, Spacer, Table

from drift.sheets.faces import BOLD, PLAIN, escaped, height_of, width
from drift.slides.positions import PositionTable
from drift.tonight.decision import Action
from drift.words import room_card as words
from drift.words.cents import slide_name

__all__ = ["room_story"]

WHERE = ParagraphStyle("where", fontName=BOLD, fontSize=15, leading=20, spaceAfter=2)
BODY = ParagraphStyle("body", fontName=PLAIN, fontSize=10, leading=13.5, spaceBefore=4)
STRONG = ParagraphStyle("strong", BODY, fontName=BOLD, fontSize=11.5, leading=15)
BESIDE = ParagraphStyle("beside", fontName=PLAIN, fontSize=10.5, leading=14)

LARGEST, SMALLEST = 40.0, 20.0
"""Type of a position [pt]: the fewer slides, the larger."""
BESIDE_GAP = 10.0
"""On either side of a position [pt]."""
FOR_SLIDES = (150.0, 120.0, 95.0, 75.0)
"""So much of the page is for the slides [pt]: the most that leaves room for the words."""


def room_story(
    table: PositionTable, inches: bool, page_width: float, page_height: float
) -> list[Flowable]:
    """Return what the card of one room says, from where it goes to what to mind.

    Parameters
    ----------
    table : PositionTable
        Of one temperature.
    inches : bool
        Sixteenths of an inch instead of millimetres.
    page_width, page_height : float
        What is free [pt].
    """
    for points in FOR_SLIDES:
        story = _story(table, inches, page_width, points)
        if height_of(story, page_width) <= page_height:
            break
    return story


def _story(table: PositionTable, inches: bool, page_width: float, points: float) -> list[Flowable]:
    there = table.corrections[0]
    story: list[Flowable] = [Paragraph(words.where(table), WHERE)]
    if there.decision.action is Action.MOVE and table.slides:
        story += [Spacer(0, 2 * mm), _slides(table, inches, page_width, points), Spacer(0, 1 * mm)]
    else:
        story += [Paragraph(escaped(text), STRONG) for text in words.instead(table)]
    story += [Paragraph(escaped(text), STRONG) for text in words.remaining(table)]
    return story + [Paragraph(escaped(text), BODY) for text in words.to_know(table, inches=inches)]


def _slides(table: PositionTable, inches: bool, page_width: float, points: float) -> Table:
    """Return a line for each slide: its name, where it goes, and what is special there."""
    widths = [0.2 * page_width, 0.36 * page_width, 0.44 * page_width]
    names = [slide_name(slide, table.instrument.name) for slide in table.slides]
    figures = [words.figure(table, slide, inches=inches) for slide in table.slides]
    size = min(max(points / len(table.slides), SMALLEST), LARGEST)
    size *= min(1.0, *((widths[1] - 2 * BESIDE_GAP) / width(text, size, BOLD) for text in figures))
    small = 0.5 * size
    small *= min(1.0, *((widths[0] - BESIDE_GAP / 2) / width(name, small, PLAIN) for name in names))
    rows = [
        [
            name,
            text,
            [Paragraph(line, BESIDE) for line in words.beside(table, slide, inches=inches)],
        ]
        for slide, name, text in zip(table.slides, names, figures, strict=True)
    ]
    style: list[tuple[Any, ...]] = [
        ("FONT", (0, 0), (0, -1), PLAIN, small, size),
        ("FONT", (1, 0), (1, -1), BOLD, size, 1.15 * size),
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
        ("ALIGN", (1, 0), (1, -1), "RIGHT"),
        ("RIGHTPADDING", (1, 0), (1, -1), BESIDE_GAP),
        ("LINEBELOW", (0, 0), (-1, -1), 0.5, grey),
        ("LEFTPADDING", (0, 0), (0, -1), 0),
        ("RIGHTPADDING", (0, 0), (0, -1), 0),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 5),
    ]
    return Table(rows, colWidths=widths, style=style)
