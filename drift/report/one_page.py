"""One page for a player and a teacher: what to move next, the curve, the notes, what to measure."""

from __future__ import annotations

import io
from datetime import UTC, tzinfo
from typing import Any

from matplotlib.axes import Axes
from reportlab.lib.colors import HexColor
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Image, SimpleDocTemplate, Spacer
from reportlab.platypus import Table as Grid

from drift.charts.fitted import drift_against_temperature
from drift.charts.style import GREY, figure_of, legend_beside, new_axes, png, short
from drift.charts.tendencies import note_tendencies
from drift.degrees import fahrenheit_of_celsius
from drift.evidence import NoteTendency, PlayerEvidence
from drift.report.pdf import (
    BODY,
    CAPTION,
    CELL,
    HEAD,
    HEAD_NUMBER,
    HEADING,
    NUMBER,
    PAPERS,
    TITLE,
    paragraph,
)  # fmt: skip
from drift.sheets.faces import BOLD, register_faces
from drift.words import one_page as words
from drift.words import slide_table
from drift.words.cents import signed
from drift.words.zones import days_here

__all__ = ["one_page_pdf"]

MARGIN = 13 * mm
DOTS_PER_INCH = 200
POINTS_PER_INCH = 72.0
FRAME_POINTS = 6.0
"""ReportLab keeps so much free around what it lays out [pt]."""

TENDENCIES = ((10, True), (10, False), (8, False), (6, False), (4, False), (2, False))
"""So many notes, those that were read most often, and whether the habits of reading are named:
as far as there is room."""

SMALLEST_CURVE, LEAST_CURVE, MOST_CURVE = 34 * mm, 40 * mm, 92 * mm
"""The curve takes what the page leaves: notes give way to it first, then it gives way itself."""

MINUS, NO_BREAK = "\N{MINUS SIGN}", "\N{NO-BREAK SPACE}"
CLOSE = ParagraphStyle("close", BODY, fontSize=9, leading=12, spaceAfter=2)
CLOSE_BOLD = ParagraphStyle("close bold", CLOSE, fontName=BOLD, fontSize=10, leading=14)
SMALL = ParagraphStyle("small", CAPTION, fontSize=8, leading=10.5, spaceAfter=2)
ORDER = ParagraphStyle("order", BODY, fontName=BOLD, fontSize=12.5, leading=16.5, spaceAfter=2)
SECTION = ParagraphStyle("section", HEADING, fontSize=12, leading=15, spaceBefore=3, spaceAfter=3)
ROOM = ParagraphStyle("room", BODY, fontSize=11, leading=15, spaceAfter=2)
ROW = 5.6 * mm


def one_page_pdf(
    evidence: PlayerEvidence, *, about: str = "", zone: tzinfo = UTC, paper: str = "a4"
) -> bytes:
    """Return the page of one player as a PDF file, the same bytes for the same evidence.

    Parameters
    ----------
    evidence : PlayerEvidence
        As `drift.study.Study.player_report` gives it.
    about : str
        Where the readings come from, such as that they are simulated.
    zone : tzinfo
        The zone that dates are told in.
    paper : str
        ``a4`` or ``letter``.

    Returns
    -------
    bytes
        One page: what to move next, in millimetres, then the positions for other rooms, the
        curve, the tendency of each note and what to practise measuring.
    """
    register_faces()
    out = io.BytesIO()
    layout = SimpleDocTemplate(
        out,
        pagesize=PAPERS[paper],
        leftMargin=MARGIN,
        rightMargin=MARGIN,
        topMargin=MARGIN,
        bottomMargin=MARGIN,
        title=words.heading(evidence),
        author="",
        creator="",
        lang="en",
        invariant=1,  # no date and no random number in the file
    )
    width = layout.width - 2 * FRAME_POINTS
    above = [
        *_title(evidence, about, zone),
        *_answer(evidence, width, zone),
        *_positions(evidence, width),
    ]
    for count, habits in TENDENCIES:
        below = [*_notes(evidence, width, count), *_practice(evidence, habits)]
        left = layout.height - sum(_height(each, width) for each in (*above, *below)) - 5 * mm
        if left >= LEAST_CURVE:
            break
    curve = _curve(evidence, width, min(max(left, SMALLEST_CURVE), MOST_CURVE))
    layout.build([*above, curve, *below])
    return out.getvalue()


def _title(evidence: PlayerEvidence, about: str, zone: tzinfo) -> list[Flowable]:
    times = evidence.rows["time"]
    span = days_here(times.min(), times.max(), zone)
    told = f"{short(about.rstrip('.'), 96)}. " if about else ""
    return [
        paragraph(short(words.heading(evidence), 60), TITLE),
        paragraph(f"{told}{span}: {words.how_known(evidence)}", CAPTION),
    ]


def _answer(evidence: PlayerEvidence, width: float, zone: tzinfo) -> list[Flowable]:
    """Return what to move next, framed, in the largest letters of the page."""
    inside = [
        paragraph(words.next_room(evidence), ROOM),
        *(paragraph(text, ORDER) for text in words.to_do(evidence)),
        *_remains(evidence),
        *(paragraph(text, CLOSE) for text in words.warming(evidence)),
        *(paragraph(text, CLOSE) for text in words.expected(evidence)),
        *(paragraph(text, CLOSE) for text in words.to_look_at(evidence, zone)),
    ]
    frame: Any = [
        ("BOX", (0, 0), (-1, -1), 1.2, HexColor(GREY)),
        ("LEFTPADDING", (0, 0), (-1, -1), 8),
        ("RIGHTPADDING", (0, 0), (-1, -1), 8),
        ("TOPPADDING", (0, 0), (-1, -1), 6),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 4),
    ]
    return [Grid([[inside]], colWidths=[width], style=frame), Spacer(0, 3 * mm)]


def _remains(evidence: PlayerEvidence) -> list[Flowable]:
    """Return what remains in bold letters, and below it what to do about it."""
    lines = words.remains(evidence)
    return [paragraph(text, CLOSE if row else CLOSE_BOLD) for row, text in enumerate(lines)]


def _positions(evidence: PlayerEvidence, width: float) -> list[Flowable]:
    """Return the positions of the slides for other rooms, a column each."""
    table = evidence.table
    if not table.slides:
        return []
    rows = range(len(table.corrections))
    marks = ["*" if far else "" for far in table.extrapolated]
    lines = [
        ["air", *(f"{one.celsius:g} °C{marks[n]}" for n, one in enumerate(table.corrections))],
        ["", *(f"{fahrenheit_of_celsius(one.celsius):.0f} °F" for one in table.corrections)],
        *(
            [
                slide_table.head(table, slide, "mm"),
                *(_cell(slide_table.figure(table, row, slide),
                        slide_table.mark(table, row, slide)) for row in rows),
            ]
            for slide in table.slides
        ),
    ]  # fmt: skip
    errors = [_together(slide_table.remaining(table, row)) for row in rows]
    if any(errors):
        lines.append([slide_table.REMAINING.replace("\n", " "), *errors])
    first = 22 * mm
    widths = [first, *[(width - first) / len(rows)] * len(rows)]
    legend = paragraph(words.table_legend(evidence), SMALL)
    return [_grid(lines, widths, heads=2), Spacer(0, 1.2 * mm), legend]


def _cell(figure: str, mark: str) -> str:
    """Return a position and what is special about it, broken between the two if at all."""
    return f"{figure.replace('-', MINUS)} {mark.replace(' ', NO_BREAK)}".rstrip()


def _together(errors: str) -> str:
    """Return the errors of a column, each on one line with its side."""
    return errors.replace("-", MINUS).replace(" ", NO_BREAK).replace(f",{NO_BREAK}", ", ")


def _curve(evidence: PlayerEvidence, width: float, height: float) -> Image:
    ax = new_axes(width / POINTS_PER_INCH, height / POINTS_PER_INCH)
    name, player = evidence.instrument.name, evidence.player
    drawn = drift_against_temperature(
        evidence.fit,
        ax,
        instrument=name,
        player=player,
        fahrenheit=False,
        answer_celsius=evidence.correction.celsius,
    )
    drawn.set_ylabel(words.DRIFT)  # the usual words are longer than a low picture is high
    drawn.set_xlabel(words.AIR)
    drawn.set_title("", loc="left")  # the page has one
    legend_beside(drawn)
    return _image(drawn)


def _notes(evidence: PlayerEvidence, width: float, most: int) -> list[Flowable]:
    """Return the tendencies of the notes: a table, and beside it the same as a picture."""
    shown_here = _most_read(evidence, most)
    if not shown_here:
        return []
    lines = [[*words.NOTES_HEADER]]
    lines += [
        [
            words.note(each, evidence),
            signed(each.cents.estimate),
            f"{signed(each.cents.low)} to {signed(each.cents.high)}",
            str(each.readings),
        ]
        for each in shown_here
    ]
    wide = 0.56 * width
    shares = [wide - 50 * mm, 13 * mm, 20 * mm, 17 * mm]
    high = ROW * (len(lines) + 2)
    picture = new_axes((width - wide) / POINTS_PER_INCH, high / POINTS_PER_INCH)
    both = Grid(
        [[_grid(lines, shares, heads=1), _image(note_tendencies(shown_here, picture))]],
        colWidths=[wide, width - wide],
        style=[("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0),
               ("RIGHTPADDING", (0, 0), (-1, -1), 0), ("TOPPADDING", (0, 0), (-1, -1), 0),
               ("BOTTOMPADDING", (0, 0), (-1, -1), 0)],
    )  # fmt: skip
    heading = words.read_notes(len(shown_here), len(evidence.tendencies))
    return [paragraph(heading, SECTION), both]


def _most_read(evidence: PlayerEvidence, most: int) -> list[NoteTendency]:
    """Return so many notes, those read most often, in their own order."""
    ranked = sorted(evidence.tendencies, key=lambda each: -each.readings)[:most]
    return [each for each in evidence.tendencies if each in ranked]


def _practice(evidence: PlayerEvidence, habits: bool) -> list[Flowable]:
    said = words.practice(evidence) + ([words.HABITS] if habits else [])
    return [
        paragraph(words.MEASURE_NEXT, SECTION),
        *(paragraph(text, CLOSE) for text in said),
    ]


def _grid(lines: list[list[str]], widths: list[float], heads: int) -> Grid:
    cells = [
        [paragraph(text, _style(row < heads, column > 0)) for column, text in enumerate(line)]
        for row, line in enumerate(lines)
    ]
    style: Any = [
        ("LINEBELOW", (0, heads - 1), (-1, heads - 1), 1.0, HexColor(GREY)),
        ("LINEBELOW", (0, heads), (-1, -1), 0.3, HexColor(GREY)),
        ("LEFTPADDING", (0, 0), (-1, -1), 2),
        ("RIGHTPADDING", (0, 0), (-1, -1), 3),
        ("TOPPADDING", (0, 0), (-1, -1), 2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
    ]
    return Grid(cells, colWidths=widths, style=style, hAlign="LEFT")


def _style(head: bool, right: bool) -> ParagraphStyle:
    if head:
        return HEAD_NUMBER if right else HEAD
    return NUMBER if right else CELL


def _image(ax: Axes) -> Image:
    figure = figure_of(ax)
    wide, high = (POINTS_PER_INCH * inches for inches in figure.get_size_inches())
    return Image(io.BytesIO(png(figure, DOTS_PER_INCH)), width=wide, height=high)


def _height(part: Flowable, width: float) -> float:
    """Return how high a part is, with the space around it [pt]."""
    around = part.getSpaceBefore() + part.getSpaceAfter()
    return float(part.wrap(width, 10_000.0)[1] + around)
