"""The table of slide positions in words: heads, cells, legend."""

from __future__ import annotations

from drift.degrees import fahrenheit_of_celsius
from drift.notes import shown
from drift.quantities import in_inches
from drift.slides.caveats import About
from drift.slides.moves import MM_UNSEEN
from drift.slides.positions import PositionTable, shows
from drift.tonight.decision import NOTICED_CENTS, round_mm
from drift.words.cents import a4, air, slide_name, slide_noun
from drift.words.letters import capital
from drift.words.slides import moved_since, off_where_tuned
from drift.words.where_tuned import tuned_at, tuned_positions, tuned_to

__all__ = [
    "EXTRAPOLATED",
    "EXTRAPOLATED_IN_FULL",
    "REMAINING",
    "about_remaining",
    "cell",
    "cell_interval",
    "figure",
    "for_pitch",
    "head",
    "heading",
    "legend",
    "mark",
    "moved_since_tuning",
    "off_where_assumed",
    "remaining",
    "reminder",
    "started",
    "summary",
    "travel_unknown",
    "typed_travel",
    "what_figures_are",
]

EXTRAPOLATED, EXTRAPOLATED_IN_FULL = "*", "extrapolated"
FULLY_IN, STUCK, END, TOO_FAR = "fully in", "stuck", "end", "too far?"
STAY = "stay"
REMAINING = "remaining\n(cents)"
A_MOVE = "move"
HOW_TO_GIVE_TRAVEL = "--travel"


def reminder(table: PositionTable) -> str:
    """Return what to mind at the instrument."""
    held = "Set slides on open notes, no valve pressed. " if table.instrument.valves else ""
    habit = f"{capital(table.instrument.habit)}. " if table.instrument.habit else ""
    return f"{held}{habit}Never force a slide that is stuck."


def heading(table: PositionTable) -> str:
    """Return whose table it is, and for which pitch."""
    of = f", {table.player}" if table.player else ""
    return f"{shown(table.instrument.name)}{of}, {a4(table.corrections[0].a4_hz)}"


def for_pitch(table: PositionTable) -> str:
    """Return which instrument a card is for, and which pitch."""
    return f"{shown(table.instrument.name)}, {a4(table.corrections[0].a4_hz)}"


def head(table: PositionTable, slide: str, unit: str = "") -> str:
    """Return the head of a slide's column: whether it gives positions or moves."""
    move = "" if slide in table.corrections[0].at else A_MOVE
    inside = ", ".join(filter(None, (move, unit)))
    name = slide_name(slide, table.instrument.name)
    return f"{name} ({inside})" if inside else name


def cell(table: PositionTable, row: int, slide: str, *, inches: bool = False) -> str:
    """Return a cell for a slide: where it goes, and in a word or two what is special there."""
    return f"{figure(table, row, slide, inches=inches)} {mark(table, row, slide)}".rstrip()


def figure(table: PositionTable, row: int, slide: str, *, inches: bool = False) -> str:
    """Return a position, else a signed move, to what an eye can set."""
    move = table.move(row, slide)
    known = move.to_mm is not None
    value = move.move_mm if move.to_mm is None else move.to_mm
    if not known and not shows(move):
        return STAY
    if known and mark(table, row, slide) == FULLY_IN:
        return "0"
    step = table.instrument.step_mm
    text = in_inches(value) if inches else f"{round_mm(value, step):.{1 if step == 0.5 else 2}f}"
    return f"+{text}" if not known and value > 0 else text


def mark(table: PositionTable, row: int, slide: str) -> str:
    """Return what is special about a position: fully in, stuck, the end of its travel, too far."""
    move, notices = table.move(row, slide), table.corrections[row].notices
    if any(one.kind is About.STUCK and one.slide == slide for one in notices):
        return STUCK
    if move.to_mm is not None and move.to_mm < MM_UNSEEN:
        return FULLY_IN
    if move.at_end_of_travel:
        return END
    return TOO_FAR if table.beyond_usual(row, slide) else ""


def cell_interval(table: PositionTable, row: int, slide: str) -> str:
    """Return from where to where a position or a move may have to go [mm], where it is known.

    Empty where the interval is too short to be seen on the slide.
    """
    move = table.move(row, slide)
    if not shows(move) and move.to_mm is None:
        return ""
    if move.high_mm - move.low_mm < MM_UNSEEN:
        return ""
    base = 0.0 if move.to_mm is None else move.to_mm - move.move_mm
    step = table.instrument.step_mm
    low, high = (round_mm(base + end, step) for end in (move.low_mm, move.high_mm))
    if move.to_mm is None:
        return " to ".join(f"{end:+g}" if end else "0" for end in (low, high))
    return f"{max(low, 0.0):g} to {high:g}"


def remaining(table: PositionTable, row: int) -> str:
    """Return the remaining error [cents], where it can be heard, by side."""
    return ", ".join(
        f"{shown(side)} {cents:+.0f}".strip()
        for side, cents in table.corrections[row].remaining_cents.items()
        if abs(cents) >= 0.5
    )


def started(table: PositionTable, *, inches: bool = False) -> str:
    """Return from where the answers start: air, playing, and where the slides were."""
    tuned = table.corrections[0]
    slides = tuned_positions(tuned, inches=inches)
    return (
        f"tuned{tuned_to(tuned)} {tuned_at(tuned, air(tuned.tuned_celsius))}"
        f"{f', with {slides}' if slides else ''}"
    )


def legend(
    table: PositionTable,
    *,
    inches: bool = False,
    give_travel: str = HOW_TO_GIVE_TRAVEL,
    far: str = EXTRAPOLATED,
    start: bool = True,
) -> list[str]:
    """Return how to read the table, a line each.

    Parameters
    ----------
    table : PositionTable
        The table.
    inches : bool
        Whether it is in inches.
    give_travel : str
        Where the program takes how far slides come out; empty to say only what is marked.
    far : str
        What marks a temperature outside those measured so far.
    start : bool
        Whether to name where it was tuned; a page that says so elsewhere does not repeat it.
    """
    if not table.instrument.slides:
        return [f"Nothing on it can be moved; cents against where it was {started(table)}."]
    tuned = table.corrections[0]
    what = what_figures_are(table, inches=inches)
    lines = [f"{what}{f'; {started(table, inches=inches)}' if start else ''}."]
    if set(table.slides) - set(tuned.at):
        lines.append(f"({A_MOVE}): how far from where it was tuned, + out, - in.")
    lines += moved_since_tuning(table, inches=inches) if start else []
    lines += off_where_assumed(table, inches=inches) if start else []
    if any(table.extrapolated):
        outside = "outside the temperatures measured so far"
        in_full = far == EXTRAPOLATED_IN_FULL
        lines.append(
            f"{capital(far)}: {outside}." if in_full else f"{far} {outside}: extrapolated."
        )
    rows = range(len(table.corrections))
    if any(mark(table, row, slide) == END for row in rows for slide in table.slides):
        lines.append(f"“{END}”: the end of its travel.")
    return lines + travel_unknown(table, give_travel) + about_remaining(table)


def what_figures_are(table: PositionTable, *, inches: bool = False) -> str:
    """Return what the large figures are, and their unit."""
    what = "Positions from fully in" if table.corrections[0].at else "Moves"
    return f"{what}, {'inches' if inches else 'millimetres'}"


def about_remaining(table: PositionTable) -> list[str]:
    """Return what to do where an error remains that listeners notice; nothing where none does."""
    worst = [max(map(abs, one.remaining_cents.values()), default=0) for one in table.corrections]
    if max(worst) < NOTICED_CENTS:
        return []
    brass = table.instrument.family == "brass"
    return [
        f"Where {NOTICED_CENTS:g} cents or more remain, tell the director before the band tunes, "
        f"and {'take the rest with the lip' if brass else 'tune by ear'}."
    ]


def moved_since_tuning(
    table: PositionTable, *, inches: bool = False, instead: str = "set it as the table says"
) -> list[str]:
    """Return which slides are no longer where they were tuned, and what to do about it."""
    tuned = table.corrections[0]
    return [
        f"{capital(moved_since(notice, tuned, inches))}: {instead}."
        for notice in tuned.notices
        if notice.kind is About.MOVED_SINCE
    ]


def off_where_assumed(table: PositionTable, *, inches: bool = False) -> list[str]:
    """Return that readings contradict the tuning that is assumed, where they do."""
    tuned = table.corrections[0]
    return [
        f"{capital(off_where_tuned(notice, tuned, inches))}."
        for notice in tuned.notices
        if notice.kind is About.OFF_WHERE_TUNED
    ]


def travel_unknown(table: PositionTable, give_travel: str = HOW_TO_GIVE_TRAVEL) -> list[str]:
    """Return in a line that nobody told the program how far slides come out, and how to."""
    slides = table.travel_unknown
    if not slides:
        return []
    if not give_travel:
        return _too_far(table)
    given = ",".join(f"{slide}=MM" for slide in slides)
    where = f"{give_travel} {given}" if give_travel == HOW_TO_GIVE_TRAVEL else give_travel
    names = " and the ".join(slide_noun(slide, table.instrument.name) for slide in slides)
    return [
        f"How far the {names} can come out is not known: give it with {where}.",
        *_too_far(table),
    ]


def typed_travel(table: PositionTable) -> str:
    """Return what to type so that the program knows how far slides come out."""
    given = ",".join(f"{slide}=MM" for slide in table.travel_unknown)
    return f"“drift slides {HOW_TO_GIVE_TRAVEL} {given}” in the terminal"


def _too_far(table: PositionTable) -> list[str]:
    """Return what the mark means that a position has further out than most models go."""
    rows, horn = range(len(table.corrections)), table.instrument
    usual = ", ".join(
        f"{slide_name(slide, horn.name)} about {horn.slide(slide).usual_travel_mm:g} mm"
        for slide in table.travel_unknown
        if any(mark(table, row, slide) == TOO_FAR for row in rows)
    )
    return [f"“{TOO_FAR}”: further out than most models go ({usual})."] if usual else []


def summary(table: PositionTable, *, inches: bool = False) -> str:
    """Return the table as text."""
    header = ["°C", "°F", *(head(table, slide) for slide in table.slides), "remaining (cents)"]
    rows = [header] + [
        [
            f"{one.celsius:g}{EXTRAPOLATED if table.extrapolated[row] else ''}",
            f"{fahrenheit_of_celsius(one.celsius):.0f}",
            *(cell(table, row, slide, inches=inches) for slide in table.slides),
            remaining(table, row),
        ]
        for row, one in enumerate(table.corrections)
    ]
    widths = [max(len(row[column]) for row in rows) for column in range(len(header))]
    lines = [
        "  ".join(text.rjust(width) for text, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]
    return "\n".join([heading(table), *lines, *legend(table, inches=inches)])
