"""Sheets to print: one page for the clipboard, and a card for each section.

Black on white and large, with nothing told by colour alone; laid out in centimetres from the lower
left corner of the paper.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from drift.charts.style import figure_of, style
from drift.errors import InputError
from drift.gig.pitch import Pitch
from drift.gig.retuning import Move, Setting
from drift.gig.roster import Section
from drift.gig.words import (
    TUNER_DECIDES,
    again_lines,
    aims,
    assumed,
    brief_cautions,
    choice_cells,
    choice_in_short,
    day_of,
    from_to,
    hours_of,
    left_over,
    limit_words,
    move_words,
    place_of,
    sentence,
    weather_of,
    while_playing,
)
from drift.notes import shown

if TYPE_CHECKING:
    from drift.gig.plan import Plan

__all__ = ["PAPERS", "card_sheets", "clipboard_page", "save_pdf"]

#: Width and height [cm]: ISO 216, and the North American letter of 8.5 by 11 inch.
PAPERS = {"a4": (21.0, 29.7), "letter": (21.59, 27.94)}
CM_PER_INCH = 2.54
MARGIN = 1.2
NAMES = 5.4
#: Average width of a letter of DejaVu Sans, and height of a line, for each point of size [cm].
LETTER, LINE = 0.0188, 0.047
CARDS_ON_A_SHEET = 4
#: Where in the column of a tune positions begin, and where what is left ends.
PLACES, LEFT = 0.42, 0.94
#: With more rows than this the page keeps to what nobody can do without.
CROWDED_ROWS = 30
MARKS = (
    "Bold: in = push in, out = pull out, mm. Then from → to. Then the cents left over. "
    "? the 95 % interval of the move holds zero: ask the tuner first. * slide at its end."
)


def _sheet(paper: str) -> Axes:
    """Return axes that cover a sheet, one unit a centimetre."""
    if paper not in PAPERS:
        raise InputError(f"paper {paper!r} is not known", f"choose {' or '.join(PAPERS)}")
    width, height = PAPERS[paper]
    figure = Figure(figsize=(width / CM_PER_INCH, height / CM_PER_INCH))
    ax = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    ax.set_xlim(0, width)
    ax.set_ylim(0, height)
    ax.set_axis_off()
    return ax


def _write(ax: Axes, x: float, y: float, text: str, size: float, **how: Any) -> None:
    ax.text(x, y, text, fontsize=size, va="top", color="black", **how)


def _rule(ax: Axes, y: float, width: float = 0.8, x: tuple[float, float] | None = None) -> None:
    start, end = x or (MARGIN, ax.get_xlim()[1] - MARGIN)
    ax.plot([start, end], [y, y], color="black", linewidth=width)


def _wrap(text: str, size: float, width: float, weight: str = "") -> list[str]:
    letter = LETTER * size * (1.16 if weight == "bold" else 1.0)
    return textwrap.wrap(text, max(int(width / letter), 10))


@style()
def clipboard_page(plan: Plan, *, fahrenheit: bool = False, paper: str = "a4") -> Figure:
    """Draw the plan on one page for the clipboard.

    Parameters
    ----------
    plan : Plan
        The plan.
    fahrenheit : bool
        Whether temperatures are in °F.
    paper : str
        ``a4`` or ``letter``.

    Returns
    -------
    Figure
        One page; the more sections and tunes there are, the smaller the letters.
    """
    ax = _sheet(paper)
    crowded = sum(max(len(section.slides), 1) for section in plan.sections) > CROWDED_ROWS
    bottom = _foot(ax, plan, fahrenheit, crowded)
    top = _head(ax, plan, fahrenheit, brief=crowded)
    if not crowded:
        top = _strip(ax, plan, top)
    _moves_table(ax, plan, (top, bottom), fahrenheit, 0.75 if crowded else 1.0)
    return figure_of(ax)


def _head(ax: Axes, plan: Plan, fahrenheit: bool, brief: bool) -> float:
    """Write date, weather and pitch; return where the next line goes."""
    right, top = ax.get_xlim()[1] - MARGIN, ax.get_ylim()[1] - MARGIN
    start, end = plan.schedule.start, plan.schedule.end
    _write(ax, MARGIN, top, day_of(start), 19, fontweight="bold")
    _write(ax, right, top, hours_of(start, end), 19, fontweight="bold", ha="right")
    top -= 1.0
    _write(ax, MARGIN, top, aims(plan), 15, fontweight="bold")
    there = f"{weather_of(plan, fahrenheit)} at the instruments"
    _write(ax, right, top + 0.02, there, 13, ha="right")
    top -= 0.8
    pitch = plan.pitch
    told = [
        (10.0 if brief else 11.5, "bold", f"Pitch for the band: {choice_in_short(pitch)}"),
        (9.0 if brief else 10.0, "normal", sentence(pitch.reason)),
    ]
    for size, weight, text in told if pitch.limited_by else told[1:]:
        for line in _wrap(text, size, right - MARGIN, weight):
            _write(ax, MARGIN, top, line, size, fontweight=weight)
            top -= LINE * size
    return (top if brief else _choices(ax, pitch, top - 0.1)) - 0.15


def _choices(ax: Axes, pitch: Pitch, top: float) -> float:
    """Write the choices of pitch under each other with what each costs; return where they end."""
    right, size = ax.get_xlim()[1] - MARGIN, 9.5
    places = [MARGIN + part * (right - MARGIN) for part in (0.0, 0.12, 0.35, 0.6, 1.0)]
    for name, hertz, worst, fixed in map(choice_cells, pitch.choices):
        cells = (hertz, name, f"{worst} left", "" if fixed == "–" else fixed)
        for text, x, end in zip(cells, places, places[1:], strict=False):
            fitting = min(size, (end - x - 0.2) / (1.08 * LETTER * max(len(text), 1)))
            _write(ax, x, top, text, fitting)
        top -= LINE * size
    return top


def _strip(ax: Axes, plan: Plan, top: float) -> float:
    """Draw the schedule as a strip, tunes hatched, playing grey; return where it ends."""
    left, right = MARGIN, ax.get_xlim()[1] - MARGIN
    start, whole = plan.schedule.start, plan.schedule.end - plan.schedule.start
    low, high = top - 0.95, top - 0.45
    written = -math.inf
    for entry in plan.schedule.entries:
        x = left + (entry.start - start) / whole * (right - left)
        width = (entry.end - entry.start) / whole * (right - left)
        looks: dict[str, Any] = {
            "play": {"facecolor": "0.75"},
            "tune": {"facecolor": "white", "hatch": "/////"},
            "rest": {"facecolor": "white"},
        }[entry.activity]
        ax.add_patch(_box(x, low, width, high - low, looks))
        if entry.activity != "rest" and x - written > 1.35:
            _write(ax, min(x, right - 1.0), top, f"{entry.start:%H:%M}", 9)
            written = x
    _write(ax, left, low - 0.08, "grey: playing   hatched: tuning   white: waiting", 9)
    return low - 0.8


def _box(x: float, y: float, width: float, height: float, looks: dict[str, Any]) -> Any:
    from matplotlib.patches import Rectangle

    return Rectangle((x, y), width, height, edgecolor="black", linewidth=0.8, **looks)


def _moves_table(
    ax: Axes, plan: Plan, room: tuple[float, float], fahrenheit: bool, scale: float
) -> None:
    """Write one row a slide and one column a tune between two heights."""
    top, bottom = room
    blocks = list(plan.blocks())
    left = MARGIN + NAMES
    wide = min((ax.get_xlim()[1] - MARGIN - left) / len(blocks), 7.0)
    for number, (block, _) in enumerate(blocks):
        x = left + number * wide
        head = f"tune {block.tune_at:%H:%M}" if block.scheduled else "before playing"
        _write(ax, x, top, head, min(13.0, 2.9 * wide), fontweight="bold")
        served = _wrap(place_of(plan, block, fahrenheit), 8.5 * scale, wide - 0.2)[:3]
        for row, text in enumerate(served):
            _write(ax, x, top - 0.62 - 0.42 * scale * row, text, 8.5 * scale)
        size = min(8.5 * scale, 1.9 * wide)
        for place, text, side in ((0.0, "move", "left"), (PLACES, "from → to", "left"),
                                  (LEFT, "left", "right")):  # fmt: skip
            _write(
                ax, x + place * wide, top - 0.6 - 1.3 * scale, text, size, ha=side, style="italic"
            )
        if number:
            ax.plot([x - 0.12] * 2, [top, bottom], color="0.6", linewidth=0.5)
    top -= 0.6 + 1.8 * scale
    _rule(ax, top + 0.08, 1.6)
    by_section = {s.name: [t for t in plan.settings if t.section is s] for s in plan.sections}
    count = sum(max(len(s.slides), 1) for s in plan.sections)
    height = min(1.4, (top - bottom) / count)
    size = min(17.0, 2.5 * wide, height * (21.0 if height < 0.6 else 16.0))
    for settings in by_section.values():
        for row in range(max(len(settings[0].moves), 1)):
            line = top - (height - LINE * size) / 2
            _name_cell(ax, settings[0].section, row, line, size)
            for number, setting in enumerate(settings):
                _tune_cell(ax, setting, row, left + number * wide, line, wide, size)
            top -= height
        _rule(ax, top + 0.08, 0.4)


def _name_cell(ax: Axes, section: Section, row: int, top: float, size: float) -> None:
    slide = section.slides[row] if section.slides else ""
    if row == 0:
        room = NAMES - 0.5 - LETTER * 0.75 * size * len(slide)
        fitting = min(size, room / (1.35 * LETTER * len(section.name)))
        _write(ax, MARGIN, top, section.name, fitting, fontweight="bold")
    _write(ax, MARGIN + NAMES - 0.2, top, slide, 0.75 * size, ha="right")


def _tune_cell(
    ax: Axes, setting: Setting, row: int, x: float, top: float, wide: float, size: float
) -> None:
    """Write the move large, from and to, and what is left."""
    if setting.moves:
        move = setting.moves[row]
        _write(ax, x, top, _marked(move), size, fontweight="bold")
        if not move.stuck:
            _write(ax, x + PLACES * wide, top, from_to(move), 0.75 * size)
    else:
        _write(ax, x, top, "–", size)
    if row == 0:
        _write(ax, x + LEFT * wide, top, left_over(setting), 0.75 * size, ha="right")


def _marked(move: Move) -> str:
    """Return a move with the marks that the foot explains."""
    ended = move.limited and not move.stuck
    return move_words(move) + "?" * move.within_uncertainty + "*" * ended


def _foot(ax: Axes, plan: Plan, fahrenheit: bool, crowded: bool) -> float:
    """Write marks, cautions and what is taken for granted from below; return where it begins."""
    width = ax.get_xlim()[1] - 2 * MARGIN
    again = again_lines(plan.settings, most=4)
    limit = f"{plan.assumptions.retune_cents:g} cents"
    scale = 0.85 if crowded else 1.0
    parts: list[tuple[float, str, str]] = [
        (10.0 * scale, "", MARKS),
        *([(9.5, "bold", f"Expected to pass {limit}: {'; '.join(again)}.")] if again else []),
        *((9.5, "", text) for text in brief_cautions(plan, fahrenheit)),
        (9.0 * scale, "", f"{' '.join(assumed(plan, fahrenheit))} {limit_words(plan)}."),
        (9.5, "bold", TUNER_DECIDES),
    ]  # fmt: skip
    lines = [
        (size, weight, line)
        for size, weight, text in parts
        for line in _wrap(text, size, width, weight)
    ]
    y = MARGIN - 0.2
    for size, weight, line in reversed(lines):
        y += LINE * size
        _write(ax, MARGIN, y, line, size, fontweight=weight or "normal")
    _rule(ax, y + 0.12)
    return y + 0.4


@style()
def card_sheets(plan: Plan, *, paper: str = "a4") -> list[Figure]:
    """Draw a card for each section, four to a sheet, to be cut along the dashes.

    Parameters
    ----------
    plan : Plan
        The plan.
    paper : str
        ``a4`` or ``letter``.

    Returns
    -------
    list of Figure
        The sheets.
    """
    sheets = []
    for first in range(0, len(plan.sections), CARDS_ON_A_SHEET):
        ax = _sheet(paper)
        width, height = ax.get_xlim()[1] / 2, ax.get_ylim()[1] / 2
        for place, section in enumerate(plan.sections[first : first + CARDS_ON_A_SHEET]):
            x, top = (place % 2) * width, 2 * height - (place // 2) * height
            settings = [setting for setting in plan.settings if setting.section is section]
            _card(ax, plan, settings, x + 0.9, top - 0.9, width - 1.8, height - 1.8)
        for line in ([width, width], [0, 2 * height]), ([0, 2 * width], [height, height]):
            ax.plot(*line, color="0.4", linewidth=0.6, linestyle=(0, (6, 5)))
        sheets.append(figure_of(ax))
    return sheets


def _card(
    ax: Axes,
    plan: Plan,
    settings: Sequence[Setting],
    x: float,
    top: float,
    width: float,
    room: float,
) -> None:
    """Write one card: for each tune the moves, large, and what to expect."""
    section = settings[0].section
    _write(ax, x, top, section.name, 20 if len(section.name) < 18 else 14, fontweight="bold")
    players = f" · {section.players} players" if section.players > 1 else ""
    _write(ax, x, top - 0.95, shown(section.instrument.name) + players, 10)
    foot = _wrap(f"{aims(plan)}. {TUNER_DECIDES}", 8, width)
    for line, text in enumerate(reversed(foot)):
        _write(ax, x, top - room + 0.38 * (line + 1), text, 8)
    needed = sum(1.9 + 1.35 * max(len(setting.moves), 1) for setting in settings)
    scale = min(1.0, (room - 1.7 - 0.4 * len(foot)) / needed)
    y = top - 1.6
    for setting in settings:
        y = _card_tune(ax, setting, x, y, width, scale)


def _card_tune(ax: Axes, setting: Setting, x: float, y: float, width: float, scale: float) -> float:
    """Write one tune of a card; return where the next begins."""
    block = setting.block
    head = f"Tune {block.tune_at:%H:%M}" if block.scheduled else "Before playing"
    _rule(ax, y + 0.05, 0.8, (x, x + width))
    _write(ax, x, y - 0.08, head, 13 * scale, fontweight="bold")
    y -= 0.75 * scale
    for move in setting.moves:
        _write(ax, x, y, _told(move), 15.5 * scale, fontweight="bold")
        where = f"{move.slide} slide" if len(move.slide) < 5 else move.slide
        place = f"from {from_to(move).replace('→', 'to')} mm" if from_to(move) else ""
        if move.from_mm is not None and move.whole_mm == 0:
            place = f"at {from_to(move)} mm"
        if move.from_mm is None and move.whole_mm < 0:
            place = "check that it is out that far"
        elif move.limited and not move.stuck:
            place += ", its end"
        _write(ax, x + width, y + 0.02, where, 10.5 * scale, ha="right")
        _write(ax, x + width, y - 0.6 * scale, place, 10 * scale, ha="right")
        y -= 1.3 * scale
    if not setting.moves:
        _write(ax, x, y, "nothing to move", 15 * scale)
        y -= 0.9 * scale
    for line in _wrap(_expect(setting), 8.5 * scale, width):
        _write(ax, x, y, line, 8.5 * scale)
        y -= LINE * 8.5 * scale
    return y - 0.2 * scale


def _expect(setting: Setting) -> str:
    """Return what to expect after the moves, without what goes without saying."""
    left, playing = left_over(setting), while_playing(setting)
    told = [f"left over {left} cents"] if left != "0" else []
    if playing not in (left, "0"):
        when = "while playing" if setting.block.plays else "while tuning"
        told.append(f"{when} {playing} cents")
    if setting.within_uncertainty:
        told.append("doubtful: ask the tuner first")
    return "; ".join(told)


def _told(move: Move) -> str:
    """Return a move as it is told to a player."""
    if move.stuck:
        return "stuck: leave it"
    words = move_words(move)
    if words == "stay":
        return "leave it"
    way, millimetres = words.split()
    return f"{'push in' if way == 'in' else 'pull out'} {millimetres} mm"


def save_pdf(pages: Sequence[Figure], path: Path) -> None:
    """Write pages to one PDF file, without the date of writing."""
    with style(), PdfPages(path, metadata={"CreationDate": None, "Creator": "drift"}) as pdf:
        for page in pages:
            pdf.savefig(page)
