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
NAME, ORDER, GOAL, KNOWN, STRONG, BODY = 20.0, 34.0, 18.0, 12.0, 14.0, 12.5
"""Type of the name of a slide, where it goes, its move, what is known of it, and the rest [pt]."""
SHARES = (1.0, 0.95, 0.9, 0.85, 0.8, 0.75, 0.7, 0.65, 0.6, 0.55, 0.5)
"""So much of these sizes is taken: the largest with which all of it is on the page."""
SMALLEST = 9.5
"""And never less than this [pt]."""
NAME_GAP = 8.0
"""Between the name of a slide and its move [pt]."""


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
    for share in SHARES:
        story = _story(table, inches, page_width, share)
        if height_of(story, page_width) <= page_height:
            break
    return story


def _story(table: PositionTable, inches: bool, page_width: float, share: float) -> list[Flowable]:
    there = table.corrections[0]
    strong, body = _style(STRONG * share, BOLD), _style(BODY * share)
    story: list[Flowable] = [Paragraph(words.where(table), WHERE)]
    if there.decision.action is Action.MOVE and table.slides:
        story += [Spacer(0, 2 * mm), _slides(table, inches, page_width, share), Spacer(0, 1 * mm)]
        valves = words.valve_slides(table, inches=inches)
        story += [Paragraph(escaped(text), body) for text in valves]
    else:
        story += [Paragraph(escaped(text), strong) for text in words.instead(table)]
    story += [Paragraph(escaped(text), strong) for text in words.remaining(table)]
    return story + [Paragraph(escaped(text), body) for text in words.to_know(table, inches=inches)]


def _slides(table: PositionTable, inches: bool, page_width: float, share: float) -> Table:
    """Return for each slide its name, where it goes, and below that its move."""
    names = [slide_name(slide, table.instrument.name) for slide in table.slides]
    orders = [words.order(table, slide, inches=inches) for slide in table.slides]
    for_names = max(width(name, NAME * share) for name in names) + NAME_GAP
    size = ORDER * share
    size *= min(1.0, *((page_width - for_names) / width(text, size, BOLD) for text in orders))
    rows = [
        [name, [Paragraph(text, _style(size, BOLD)), *_below(table, slide, inches, share)]]
        for slide, name, text in zip(table.slides, names, orders, strict=True)
    ]
    style: list[tuple[Any, ...]] = [
        ("FONT", (0, 0), (0, -1), PLAIN, NAME * share, 1.1 * size),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LINEBELOW", (0, 0), (-1, -1), 0.5, grey),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 5),
    ]
    return Table(rows, colWidths=[for_names, page_width - for_names], style=style)


def _below(table: PositionTable, slide: str, inches: bool, share: float) -> list[Paragraph]:
    """Return from where its place counts, how well it is known, and the move to it."""
    goal = words.goal(table, slide)
    known = words.known(table, slide, inches=inches)
    lines = ((goal, GOAL, BOLD), (known, KNOWN, PLAIN))
    return [Paragraph(text, _style(size * share, face)) for text, size, face in lines if text]


def _style(size: float, face: str = PLAIN) -> ParagraphStyle:
    size = max(size, SMALLEST)
    return ParagraphStyle(face, fontName=face, fontSize=size, leading=1.25 * size, spaceBefore=3)
