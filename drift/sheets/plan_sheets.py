"""Sheets to print: one page for the director, and half a page for each section.

Laid out by ReportLab with measured text; tables break over pages, and the type never shrinks below
what is read at arm's length. Black on white, with nothing told by colour.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape

from reportlab.lib import pagesizes
from reportlab.lib.colors import black
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import (
    CondPageBreak,
    Flowable,
    HRFlowable,
    KeepTogether,
    PageBreak,
    Paragraph,
    SimpleDocTemplate,
    Spacer,
    Table,
    TableStyle,
)

from drift.errors import InputError
from drift.gig.retuning import Setting
from drift.gig.roster import Section
from drift.notes import shown
from drift.sheets.faces import BOLD, PLAIN, register_faces
from drift.words import gig_cards as card_words
from drift.words.gig import (
    exceptions,
    on_both_sides,
    pitch_headline,
    target_parts,
    timing_rows,
    tune_on_parts,
    why_this_pitch,
    written_note,
)
from drift.words.gig_cautions import brief_cautions, wood_of
from drift.words.gig_clock import as_timetable, clock, hours_of
from drift.words.gig_moves import (
    first_minutes,
    hints,
    instruction,
    no_millimetres,
    play_first,
    tell_the_leader,
)
from drift.words.gig_other_weather import other_weather
from drift.words.gig_phrases import day_of, tuner_decides, weather_of
from drift.words.letters import capital

if TYPE_CHECKING:
    from drift.gig.plan import Plan
    from drift.gig.scenarios import Scenarios

__all__ = ["PAPERS", "READING_SIZE", "director_sheet", "section_cards"]

PAPERS = {"a4": pagesizes.A4, "letter": pagesizes.letter}
MARGIN = 12 * mm
#: What the layout leaves free within the margins [points].
PADDING = 6
#: Points below which no type goes: read on a stand, at arm's length.
READING_SIZE = 10.5
#: What stays free beside the hours [points].
BESIDE_HOURS = 8
#: How wide the columns of a card are: when, the note, the tuner, and then.
CARD_SHARES = (0.25, 0.16, 0.22, 0.37)
#: The director's list of sections has a column for each of so many tunes at most.
MOST_TUNES = 6

BODY = ParagraphStyle("body", fontName=PLAIN, fontSize=11, leading=14.5, textColor=black)
CELL = ParagraphStyle("cell", BODY, fontSize=READING_SIZE, leading=13.5)
BOLD_CELL = ParagraphStyle("bold cell", CELL, fontName=BOLD)
#: A card is read on a stand, in the dark: what to do at least in this type, and as much larger as
#: half a page has room for [points].
CARD_SIZE, NOTE_SIZE, SHOW_SIZE = 12.0, 15.0, 17.0
LARGER = (1.5, 1.4, 1.3, 1.2, 1.1, 1.0)
#: What larger type leaves free between two cards, where they are cut [points].
CUT = 18
HEADING = ParagraphStyle(
    "heading", BODY, fontName=BOLD, fontSize=13, leading=17, spaceBefore=7, spaceAfter=2
)
TITLE = ParagraphStyle("title", BODY, fontName=BOLD, fontSize=20, leading=25)
RULES = TableStyle(
    [
        ("LINEBELOW", (0, 0), (-1, -1), 0.4, black),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 6),
        ("TOPPADDING", (0, 0), (-1, -1), 1.5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
    ]
)
#: Of a page that would not hold everything otherwise.
CLOSE_RULES = TableStyle(
    [("TOPPADDING", (0, 0), (-1, -1), 0.5), ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5)], RULES
)


@as_timetable
def director_sheet(
    plan: Plan,
    *,
    fahrenheit: bool = False,
    paper: str = "a4",
    scenarios: Scenarios | None = None,
) -> bytes:
    """Return the director's sheet as a PDF: pitch, weather, times, exceptions, cautions.

    Parameters
    ----------
    plan : Plan
        The plan of one pitch.
    fahrenheit : bool
        Whether temperatures are in °F.
    paper : str
        ``a4`` or ``letter``.
    scenarios : Scenarios, optional
        Other weather beside it: how far the targets hold then.

    Returns
    -------
    bytes
        One page; scenarios that it has no room for are overleaf, all of them. A very long evening
        goes on to the next, and no type shrinks.
    """
    register_faces()
    width, height = _room(paper)
    overleaf: list[Flowable] = []
    for rules, in_short in ((RULES, False), (CLOSE_RULES, False), (CLOSE_RULES, True)):
        weather = other_weather(plan, scenarios, fahrenheit, in_short=in_short)
        story = list(_director(plan, weather, width, fahrenheit, rules))
        if sum(_height(part, width) for part in story) <= height:
            break
    else:
        if scenarios is not None:
            story = list(_director(plan, [card_words.OVERLEAF], width, fahrenheit, CLOSE_RULES))
            overleaf = list(_overleaf(other_weather(plan, scenarios, fahrenheit)))
    sections = _what_to_show(plan, width)
    weather = [card_words.OVERLEAF] if overleaf else weather
    for closer in (rules, CLOSE_RULES):  # where the page has room for them
        with_room = list(_director(plan, weather, width, fahrenheit, closer))
        if sum(_height(part, width) for part in [*with_room, *sections]) <= height:
            at = 1 + next(n for n, part in enumerate(with_room) if isinstance(part, Table))
            story = [*with_room[:at], *sections, *with_room[at:]]
            break
    else:
        told = [*story[:-1], _cell(card_words.ON_THE_CARDS), story[-1]]
        story = told if sum(_height(part, width) for part in told) <= height else story
    return _pdf([*story, *overleaf], paper, f"Director, {pitch_headline(plan)}")


def _overleaf(weather: Sequence[str]) -> Iterator[Flowable]:
    """Yield what holds in other weather, for a page of its own."""
    yield PageBreak()
    yield _heading(card_words.OTHER_WEATHER)
    for text in weather:
        yield from (_cell(text, BODY), Spacer(1, 6))


def _director(
    plan: Plan, weather: Sequence[str], width: float, fahrenheit: bool, rules: TableStyle
) -> Iterator[Flowable]:
    """Yield what a director's sheet has, its times between rules as close as asked."""
    yield from _head(plan, "Director", fahrenheit)
    rows = [
        [_cell(hours_of(entry.start, entry.end), BOLD_CELL), _cell(what)]
        for entry, what in timing_rows(plan)
    ]
    yield _heading("Times")
    yield _table(rows, _hours_and_what(plan, width), width, rules)
    if found := exceptions(plan, fahrenheit):
        yield from (_heading("Exceptions"), *(_cell(text, BODY) for text in found))
    if cautions := brief_cautions(plan, fahrenheit):
        yield from (_heading("Take care"), *map(_cell, cautions))
    yield Spacer(1, 4)
    yield from map(_cell, filter(None, (*weather, card_words.left_out(plan))))
    yield _cell(tuner_decides(plan), BOLD_CELL)


def _hours_and_what(plan: Plan, width: float) -> tuple[float, float]:
    """Return the shares of the width of hours, which stay on one line, and of what is done."""
    told = (hours_of(entry.start, entry.end) for entry, _ in timing_rows(plan))
    longest = max(stringWidth(hours, BOLD, READING_SIZE) for hours in told) + BESIDE_HOURS
    share = max(0.22, longest / width)
    return share, 1.0 - share


def _what_to_show(plan: Plan, width: float) -> list[Flowable]:
    """Return the sections and what each is to show at each tune."""
    rows = card_words.shows(plan)
    tunes = len(rows[0]) - 1
    if len(rows) == 1 or tunes > MOST_TUNES:
        return []
    cells = [
        [
            _cell(text, BOLD_CELL if not (row and column) else CELL)
            for column, text in enumerate(line)
        ]
        for row, line in enumerate(rows)
    ]
    shares = (0.28, *(0.72 / tunes for _ in range(tunes)))
    return [_heading(card_words.SHOWS), _table(cells, shares, width)]


@as_timetable
def section_cards(plan: Plan, *, fahrenheit: bool = False, paper: str = "a4") -> bytes:
    """Return the section cards as a PDF, half a page each.

    Parameters
    ----------
    plan : Plan
        The plan of one pitch.
    fahrenheit : bool
        Whether temperatures are in °F.
    paper : str
        ``a4`` or ``letter``.

    Returns
    -------
    bytes
        Two cards a page; one that needs more than half a page has it.
    """
    register_faces()
    width, height = _room(paper)
    half = height / 2 - 1
    story: list[Flowable] = []
    for section in plan.sections:
        for larger in LARGER:
            card = list(_card(plan, section, width, fahrenheit, larger))
            used = sum(_height(part, width) for part in card)
            if used <= half - CUT:
                break
        if used <= half:
            story.append(KeepTogether([*card, Spacer(1, half - used)]))
        else:
            story += [CondPageBreak(2 * half - 1), *card, CondPageBreak(2 * half - 1)]
    return _pdf(story, paper, f"Section cards, {pitch_headline(plan)}")


def _head(plan: Plan, who: str, fahrenheit: bool) -> Iterator[Flowable]:
    start, end = plan.schedule.start, plan.schedule.end
    when = f"{day_of(start)}, {hours_of(start, end)}, {weather_of(plan, fahrenheit)}"
    yield _cell(f"{capital(who)} · {pitch_headline(plan)}", TITLE)
    yield _cell(when, BODY)
    yield _cell(why_this_pitch(plan).replace(" Hz", "\N{NO-BREAK SPACE}Hz"), BODY)
    yield HRFlowable(width="100%", thickness=1.2, color=black, spaceBefore=3, spaceAfter=3)


def _card(
    plan: Plan, section: Section, width: float, fahrenheit: bool, larger: float
) -> Iterator[Flowable]:
    body = _sized(CARD_SIZE * larger)
    name = shown(section.instrument.name)
    own_name = section.name == section.instrument.name
    players = capital(name) if own_name else f"{section.players} × {name}"
    yield from _head(plan, name if own_name else section.name, fahrenheit)
    settings = [setting for setting in plan.settings if setting.section == section]
    if settings and on_both_sides(settings[0]):
        players = f"{players}{card_words.BOTH_SIDES}"
    if section.instrument.fixed_pitch is not None:
        low = min(setting.lowest_cents for setting in settings)
        high = max(setting.highest_cents for setting in settings)
        yield _cell(card_words.fixed_pitch(players, section), BODY)
        yield Spacer(1, 8)
        yield _cell(card_words.from_the_band(low, high), _sized(SHOW_SIZE * larger, BOLD))
        yield Spacer(1, 4)
        yield _cell(card_words.MALLETS, body)
        return
    yield _cell(card_words.untouched(players, plan, section), BODY)
    *head, then = card_words.HEAD
    then += card_words.FROM_NOW if any(map(hints, settings)) else ""
    rows: list[list[Any]] = [[_cell(text, BOLD_CELL) for text in (*head, then)]]
    rows += [_setting_row(plan, setting, larger) for setting in settings]
    yield Spacer(1, 4)
    yield _table(rows, CARD_SHARES, width)
    yield Spacer(1, 4)
    if leader := tell_the_leader(settings):
        yield _cell(leader, body)
    if doubt := no_millimetres(settings):
        yield _cell(doubt, body)
    if section.stuck:
        yield _cell(card_words.STUCK, body)
    if warm := card_words.warm_air_before_playing(plan):
        yield _cell(warm, body)
    if wood := wood_of(plan, section):
        yield _cell(wood, BODY)
    yield _cell(f"{tuner_decides(plan)} {card_words.based_on(section, settings)}", BOLD_CELL)


def _setting_row(plan: Plan, setting: Setting, larger: float) -> list[list[Paragraph]]:
    body, note_cell, show_cell = (
        _sized(CARD_SIZE * larger),
        _sized(NOTE_SIZE * larger, BOLD),
        _sized(SHOW_SIZE * larger, BOLD),
    )
    block = setting.block
    warm = [e for e in plan.schedule.entries if e.activity == "warm" and e.end == block.tune_at]
    when = [_cell(clock(block.tune_at), note_cell)]
    when += [_cell(card_words.warm_air(entry.start), BODY) for entry in warm]
    tunes = setting.show_cents and not setting.waits
    if tunes and (first := play_first(plan, block)):
        when.append(_cell(first, body))
    note, sides = tune_on_parts(setting) if tunes else ("–", "")
    if on_both_sides(setting):  # said once, above the table
        sides = ""
    under = ", ".join(filter(None, (sides, written_note(setting) if tunes else "")))
    show, interval = target_parts(setting)
    then = [*instruction(plan, setting), first_minutes(plan, setting)]
    return [
        when,
        [_cell(note, note_cell), *([_cell(under, body)] if under else [])],
        [_cell(show, show_cell), _cell(interval, body)],
        [_cell(" ".join(filter(None, then)), body)],
    ]


def _cell(text: str, style: ParagraphStyle = CELL) -> Paragraph:
    return Paragraph(escape(text), style)


def _sized(size: float, face: str = PLAIN) -> ParagraphStyle:
    """Return a style for a card."""
    return ParagraphStyle(face, BODY, fontName=face, fontSize=size, leading=1.22 * size)


def _heading(text: str) -> Paragraph:
    return _cell(text, HEADING)


def _table(
    rows: Sequence[Sequence[Any]], shares: Sequence[float], width: float, rules: TableStyle = RULES
) -> Table:
    widths = [share * width for share in shares]
    return Table([list(row) for row in rows], colWidths=widths, style=rules)


def _height(part: Flowable, width: float) -> float:
    return float(part.wrap(width, 10_000)[1]) + part.getSpaceBefore() + part.getSpaceAfter()


def _paper(paper: str) -> tuple[float, float]:
    if paper not in PAPERS:
        raise InputError(f"paper {paper!r} is not known", f"choose {' or '.join(PAPERS)}")
    width, height = PAPERS[paper]
    return float(width), float(height)


def _room(paper: str) -> tuple[float, float]:
    """Return the width and the height within the margins [points]."""
    width, height = _paper(paper)
    return width - 2 * (MARGIN + PADDING), height - 2 * (MARGIN + PADDING)


def _pdf(story: list[Flowable], paper: str, title: str) -> bytes:
    out = io.BytesIO()
    layout = SimpleDocTemplate(
        out,
        pagesize=_paper(paper),
        leftMargin=MARGIN,
        rightMargin=MARGIN,
        topMargin=MARGIN,
        bottomMargin=MARGIN,
        title=title,
        author="",
        creator="",
        lang="en",
        invariant=1,  # no date and no random number in the file
    )
    layout.build(story)
    return out.getvalue()
