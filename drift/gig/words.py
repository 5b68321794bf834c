"""The plan in words: lines for a terminal, and the short phrases that sheets share with it."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from drift.degrees import shown_degrees, shown_range
from drift.gig.cautions import DEFER, Caution
from drift.gig.pitch import Choice, Pitch, Reach
from drift.gig.retuning import Move, Setting
from drift.gig.timetable import Block, Entry, Schedule
from drift.notes import shown

if TYPE_CHECKING:
    from drift.gig.plan import Plan

__all__ = [
    "TUNER_DECIDES",
    "again_lines",
    "assumed",
    "brief_cautions",
    "choice_lines",
    "day_of",
    "from_to",
    "hours_of",
    "left_over",
    "move_words",
    "place_of",
    "played_in",
    "sentence",
    "signed",
    "summary_of",
    "table",
    "weather_of",
    "whole_move",
]

WIDTH = 100
DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September",
          "October", "November", "December")  # fmt: skip
TUNER_DECIDES = "These are expectations. On the field, the tuner has the last word."


def signed(number: float, decimals: int = 0) -> str:
    """Return a number with its sign, a true minus, and no sign on zero.

    Examples
    --------
    >>> signed(-10.7), signed(3.2), signed(0.3)
    ('−11', '+3', '0')
    """
    text = f"{number:+.{decimals}f}"
    return "0" if float(text) == 0 else text.replace("-", "−")


def move_words(move: Move) -> str:
    """Return a move as a player hears it, in whole millimetres that fit `from_to`.

    Examples
    --------
    >>> move_words(Move("main", -8.1, -12.0, -3.3)), move_words(Move("main", 0.2, -1, 1))
    ('in 8', 'stay')
    >>> moved = Move("main", 2.2, 0.0, 4.0, from_mm=6.4, to_mm=8.6)
    >>> move_words(moved), from_to(moved)
    ('out 3', '6 → 9')
    """
    if move.stuck:
        return "stuck"
    millimetres = whole_move(move)
    if not millimetres:
        return "stay"
    return f"{'out' if millimetres > 0 else 'in'} {abs(millimetres)}"


def whole_move(move: Move) -> int:
    """Return a move in whole millimetres: between whole positions where those are known."""
    if move.from_mm is None or move.to_mm is None:
        return round(move.move_mm)
    return round(move.to_mm) - round(move.from_mm)


def from_to(move: Move) -> str:
    """Return where a slide stands and where it goes [mm], empty where that is not known."""
    if move.from_mm is None or move.to_mm is None:
        return ""
    start, end = round(move.from_mm), round(move.to_mm)
    return f"{start}" if start == end else f"{start} → {end}"


def left_over(setting: Setting) -> str:
    """Return what the moves leave, the worst side first, as ``0`` where nothing is left."""
    worst = max(setting.left_over_cents.values(), key=abs)
    return signed(worst)


def day_of(time: datetime) -> str:
    """Return a date as people say it, in English whatever the machine's language.

    Examples
    --------
    >>> day_of(datetime(2026, 10, 23, 18, 0))
    'Friday 23 October 2026'
    """
    return f"{DAYS[time.weekday()]} {time.day} {MONTHS[time.month - 1]} {time.year}"


def hours_of(start: datetime, end: datetime) -> str:
    """Return from when to when, the hour alone."""
    return f"{start:%H:%M}" if start == end else f"{start:%H:%M}–{end:%H:%M}"


def played_in(schedule: Schedule, block: Block) -> list[Entry]:
    """Return the playing that a tune has to serve."""
    return [
        entry
        for entry in schedule.entries
        if entry.activity == "play" and entry.end > block.ready and entry.start < block.end
    ]


def weather_of(plan: Plan, fahrenheit: bool = False) -> str:
    """Return the range of temperatures of a plan."""
    return shown_range(float(plan.celsius.min()), float(plan.celsius.max()), fahrenheit)


def assumed(plan: Plan, fahrenheit: bool = False) -> list[str]:
    """Return what the plan takes for granted, a sentence each."""
    take = plan.assumptions
    scale, unit = (1.8, "°F") if fahrenheit else (1.0, "°C")
    error = take.forecast_error_celsius * scale
    lines = [
        f"Tuned before at {shown_degrees(take.tuned.celsius, fahrenheit)} after "
        f"{take.tuned.minutes:g} minutes of playing, to A4 = {take.tuned.a4_hz:g} Hz.",
        f"The forecast is taken as right within ±{error:.3g} {unit} (95 %).",
    ]
    for offset in dict.fromkeys(e.offset_celsius for e in plan.schedule.entries):
        if offset:
            size = signed(offset * scale, 1)
            when = _spans([e for e in plan.schedule.entries if e.offset_celsius == offset])
            lines.append(f"Instruments {size} {unit} against the forecast: {when}.")
    for entry in plan.schedule.entries:
        if entry.celsius is not None:
            there = shown_degrees(entry.celsius, fahrenheit)
            lines.append(f"{there} as the schedule says: {hours_of(entry.start, entry.end)}.")
    return lines


def _spans(entries: Sequence[Entry]) -> str:
    """Return when entries are, those that follow each other joined."""
    spans: list[tuple[datetime, datetime]] = []
    for entry in entries:
        if spans and spans[-1][1] == entry.start:
            spans[-1] = (spans[-1][0], entry.end)
        else:
            spans.append((entry.start, entry.end))
    return ", ".join(hours_of(*span) for span in spans)


def again_lines(settings: Sequence[Setting], most: int = 100) -> list[str]:
    """Return when which sections are expected to pass the limit; more than some are counted."""
    late = [s for s in settings if s.retune_at and s.section.slides]
    lines = []
    for time in sorted({s.retune_at for s in late if s.retune_at}):
        names = [s.section.name for s in late if s.retune_at == time]
        who = ", ".join(names) if len(names) <= most else f"{len(names)} sections"
        lines.append(f"{time:%H:%M} {who}")
    return lines


def summary_of(plan: Plan, fahrenheit: bool = False) -> str:
    """Return the plan as text for a terminal.

    Parameters
    ----------
    plan : Plan
        The plan.
    fahrenheit : bool
        Whether temperatures are shown in °F.

    Returns
    -------
    str
        Lines of at most about a hundred characters.
    """
    start, end = plan.schedule.start, plan.schedule.end
    lines = [
        f"{day_of(start)}, {hours_of(start, end)} (UTC{start:%z}), "
        f"{weather_of(plan, fahrenheit)} at the instruments",
        f"Moves aim at A4 = {plan.aim_a4_hz:.1f} Hz; millimetres, in = push in, out = pull out.",
        *assumed(plan, fahrenheit),
    ]
    for block, settings in plan.blocks():
        lines += ["", *_tune_lines(plan, block, settings, fahrenheit)]
    lines += ["", *_pitch_lines(plan)]
    if plan.cautions:
        lines += ["", "Watch for"]
        lines += [line for caution in plan.cautions for line in _caution_lines(caution, fahrenheit)]
    if plan.warnings:
        lines += ["", "Know that"]
        lines += [line for warning in plan.warnings for line in _wrapped(warning)]
    return "\n".join([*lines, "", TUNER_DECIDES])


def _wrapped(text: str, first: str = "  - ") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent="    ")


def _caution_lines(caution: Caution, fahrenheit: bool) -> list[str]:
    value = caution.shown_value(fahrenheit)
    head = f"  {hours_of(caution.time, caution.until)}  {caution.kind} {value}".rstrip()
    return _wrapped(f"{caution.text} [{caution.source}]", f"{head}: ")


def place_of(plan: Plan, block: Block, fahrenheit: bool = False) -> str:
    """Return the playing that a tune has to serve, and how warm it is then."""
    played = played_in(plan.schedule, block)
    if not played:
        return "no playing follows"
    index = plan.schedule.entry_at(plan.times)
    chosen = [plan.schedule.entries[number] in played for number in index]
    there = plan.celsius[chosen]
    when = ", ".join(hours_of(entry.start, entry.end) for entry in played)
    return f"for {when} at {shown_range(float(there.min()), float(there.max()), fahrenheit)}"


def brief_cautions(plan: Plan, fahrenheit: bool = False) -> list[str]:
    """Return one sentence for each kind of caution, at its most extreme, and who decides."""
    sentences = []
    for kind in dict.fromkeys(caution.kind for caution in plan.cautions):
        alike = [caution for caution in plan.cautions if caution.kind == kind]
        # Bands of heat rise and bands of cold fall, away from the middle of the range of living.
        worst = max(alike, key=lambda caution: abs((caution.value or 0.0) - 18.0))
        when = hours_of(min(c.time for c in alike), max(c.until for c in alike))
        text = worst.text.replace(DEFER, "").strip()
        head = f"{when} {kind} {worst.shown_value(fahrenheit)}".rstrip()
        sentences.append(f"{head}: {text}")
    return [*sentences, DEFER] if sentences else []


def _tune_lines(
    plan: Plan, block: Block, settings: Sequence[Setting], fahrenheit: bool
) -> Iterator[str]:
    head = f"Tune at {block.tune_at:%H:%M}" if block.scheduled else "Set before playing"
    yield f"{head}, {place_of(plan, block, fahrenheit)}"
    header = ("section", "slide", "expected", "move", "(95 %)", "from → to", "left",
              "while playing", "based on")  # fmt: skip
    rows = [row for setting in settings for row in _setting_rows(setting)]
    yield from table([header, *rows])
    doubtful = [s.section.name for s in settings if s.within_uncertainty and s.section.slides]
    if doubtful:
        yield from _wrapped(
            f"≈ smaller than its own uncertainty, so ask the tuner first: {', '.join(doubtful)}"
        )
    if again := again_lines(settings):
        limit = f"{plan.assumptions.retune_cents:g} cents"
        yield from _wrapped(f"expected to pass {limit}: {'; '.join(again)}")


def _setting_rows(setting: Setting) -> Iterator[tuple[str, ...]]:
    """Yield one row a slide, or one for a section with nothing to move."""
    expected = _expected(setting)
    while_playing = f"{signed(setting.lowest_cents)} to {signed(setting.highest_cents)}"
    tail = left_over(setting), while_playing, setting.based_on
    name = setting.section.name
    if not setting.moves:
        yield name, "", expected, "–", "", "", *tail
    for move in setting.moves:
        words = move_words(move)
        mark = " ≈" if setting.within_uncertainty and words not in ("stuck", "stay") else ""
        mark += " (end)" if move.limited and not move.stuck else ""
        span = "" if move.stuck else f"{signed(move.low_mm)} to {signed(move.high_mm)}"
        yield name, move.slide, expected, words + mark, span, from_to(move), *tail
        name, expected, tail = "", "", ("", "", "")


def _expected(setting: Setting) -> str:
    found = dict.fromkeys(
        f"{signed(e.estimate)} ({signed(e.low)} to {signed(e.high)})"
        for e in setting.expected_cents.values()
    )
    return next(iter(found)) if len(found) == 1 else " / ".join(text.split()[0] for text in found)


def table(rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """Yield the rows as lines with aligned columns."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        yield ("  " + "  ".join(cells)).rstrip()


def _pitch_lines(plan: Plan) -> Iterator[str]:
    pitch = plan.pitch
    yield f"Pitch for the band: A4 = {pitch.recommended_a4_hz:.1f} Hz recommended"
    yield from _wrapped(sentence(pitch.reason))
    header = ("choice", "A4", "left over at worst", "fixed pitch at worst")
    yield from table([header, *map(_choice_row, pitch.choices)])
    if pitch.reach:
        reach = ", ".join(map(_reach_words, pitch.reach))
        yield from _wrapped(f"reach of the slides at every tune [Hz]: {reach}")


def _reach_words(reach: Reach) -> str:
    low, high = reach.lowest_a4_hz, reach.highest_a4_hz
    if low > high:
        return f"{reach.section} none in common"
    if low == 0 and high > 1e6:
        return f"{reach.section} no limit known"
    ends = (f"{end:.1f}" if 0 < end < 1e6 else "…" for end in (low, high))
    return f"{reach.section} {'–'.join(ends)}"


def choice_words(choice: Choice) -> str:
    """Return how a choice of pitch is called."""
    return f"stay at {choice.a4_hz:g}" if choice.name == "stay" else choice.name


def _choice_row(choice: Choice) -> tuple[str, ...]:
    worst = f"{choice.worst_cents:.0f} cents"
    if choice.worst_cents >= 0.5:
        worst += f" ({choice.worst_section})"
    return choice_words(choice), f"{choice.a4_hz:.1f} Hz", worst, fixed_words(choice)


def choice_lines(pitch: Pitch) -> list[str]:
    """Return what each choice of pitch leaves and costs, a line each."""
    lines = []
    for choice in pitch.choices:
        name, hertz, worst, fixed = _choice_row(choice)
        cost = f"; {fixed}" if choice.fixed_section else ""
        lines.append(f"{hertz} ({name}): {worst} left at worst{cost}")
    return lines


def sentence(text: str) -> str:
    """Return a text that begins and ends as a sentence does, names as they are."""
    return f"{text[:1].upper()}{text[1:]}."


def fixed_words(choice: Choice) -> str:
    """Return what a choice of pitch costs against fixed pitch."""
    if not choice.fixed_section:
        return "–"
    return (
        f"{choice.fixed_section} {signed(choice.fixed_cents)} cents: "
        f"{choice.beats_per_second:.1f} beats/s on {shown(choice.fixed_note)}"
    )
