"""The plan in words: lines for a terminal, and the short phrases that sheets share with it."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime

from drift.cautions import Caution
from drift.degrees import shown_degrees, shown_range
from drift.gig_plan import Plan
from drift.notes import shown
from drift.pitch import Choice
from drift.retuning import Move, Setting
from drift.timetable import Block, Entry, Schedule

__all__ = [
    "TUNER_DECIDES",
    "assumed",
    "day_of",
    "from_to",
    "hours_of",
    "left_over",
    "move_words",
    "played_in",
    "signed",
    "summary_of",
    "weather_of",
]

WIDTH = 100
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
    """Return a move as a player hears it, in whole millimetres.

    Examples
    --------
    >>> move_words(Move("main", -8.1, -12.0, -3.3)), move_words(Move("main", 0.2, -1, 1))
    ('in 8', 'stay')
    """
    if move.stuck:
        return "stuck"
    millimetres = round(move.move_mm)
    if not millimetres:
        return "stay"
    return f"{'out' if millimetres > 0 else 'in'} {abs(millimetres)}"


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
    days = "Monday Tuesday Wednesday Thursday Friday Saturday Sunday".split()
    months = (
        "January February March April May June July August September October November December"
    ).split()
    return f"{days[time.weekday()]} {time.day} {months[time.month - 1]} {time.year}"


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
    error = take.forecast_error_celsius * (1.8 if fahrenheit else 1.0)
    lines = [
        f"Tuned before at {shown_degrees(take.tuned.celsius, fahrenheit)} after "
        f"{take.tuned.minutes:g} minutes of playing, to A4 = {take.tuned.a4_hz:g} Hz.",
        f"The forecast is taken as right within ±{error:.3g} {'°F' if fahrenheit else '°C'} (95 %).",
    ]
    offsets = dict.fromkeys(e.offset_celsius for e in plan.schedule.entries if e.offset_celsius)
    for offset in offsets:
        when = ", ".join(
            hours_of(e.start, e.end) for e in plan.schedule.entries if e.offset_celsius == offset
        )
        size = signed(offset * (1.8 if fahrenheit else 1.0), 1)
        lines.append(
            f"Instruments {size} {'°F' if fahrenheit else '°C'} against the forecast: {when}."
        )
    for entry in plan.schedule.entries:
        if entry.celsius is not None:
            there = shown_degrees(entry.celsius, fahrenheit)
            lines.append(f"{there} as the schedule says: {hours_of(entry.start, entry.end)}.")
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


def tune_heading(plan: Plan, block: Block, fahrenheit: bool = False) -> str:
    """Return the heading of a tune: when, and the playing it has to serve."""
    played = played_in(plan.schedule, block)
    head = f"Tune at {block.tune_at:%H:%M}" if block.scheduled else "Set before playing"
    if not played:
        return f"{head}: no playing follows"
    index = plan.schedule.entry_at(plan.times)
    chosen = [plan.schedule.entries[number] in played for number in index]
    there = plan.celsius[chosen]
    when = ", ".join(hours_of(entry.start, entry.end) for entry in played)
    return f"{head}, for {when} at {shown_range(there.min(), there.max(), fahrenheit)}"


def _tune_lines(
    plan: Plan, block: Block, settings: Sequence[Setting], fahrenheit: bool
) -> Iterator[str]:
    yield tune_heading(plan, block, fahrenheit)
    header = ("section", "slide", "expected", "move", "(95 %)", "from → to", "left",
              "while playing", "based on")  # fmt: skip
    rows = [row for setting in settings for row in _setting_rows(setting)]
    yield from _table([header, *rows])
    doubtful = [s.section.name for s in settings if s.within_uncertainty and s.section.slides]
    if doubtful:
        yield from _wrapped(
            f"≈ smaller than its own uncertainty, so ask the tuner first: {', '.join(doubtful)}"
        )
    for setting in settings:
        if setting.retune_at and setting.section.slides:
            yield from _wrapped(
                f"{setting.section.name}: expected to pass "
                f"{plan.assumptions.retune_cents:g} cents at {setting.retune_at:%H:%M}"
            )


def _setting_rows(setting: Setting) -> Iterator[tuple[str, ...]]:
    """Yield one row a slide, or one for a section with nothing to move."""
    expected = _expected(setting)
    while_playing = f"{signed(setting.lowest_cents)} to {signed(setting.highest_cents)}"
    tail = left_over(setting), while_playing, setting.based_on
    name = setting.section.name
    if not setting.moves:
        yield name, "", expected, "–", "", "", *tail
    for move in setting.moves:
        mark = " ≈" if setting.within_uncertainty and not move.stuck else ""
        mark += " (end)" if move.limited and not move.stuck else ""
        span = "" if move.stuck else f"{signed(move.low_mm)} to {signed(move.high_mm)}"
        yield name, move.slide, expected, move_words(move) + mark, span, from_to(move), *tail
        name, expected, tail = "", "", ("", "", "")


def _expected(setting: Setting) -> str:
    found = dict.fromkeys(
        f"{signed(e.estimate)} ({signed(e.low)} to {signed(e.high)})"
        for e in setting.expected_cents.values()
    )
    return next(iter(found)) if len(found) == 1 else " / ".join(text.split()[0] for text in found)


def _table(rows: Sequence[Sequence[str]]) -> Iterator[str]:
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        yield ("  " + "  ".join(cells)).rstrip()


def _pitch_lines(plan: Plan) -> Iterator[str]:
    pitch = plan.pitch
    yield f"Pitch for the band: A4 = {pitch.recommended_a4_hz:.1f} Hz recommended"
    yield from _wrapped(f"{pitch.reason}.")
    header = ("choice", "A4", "left over at worst", "fixed pitch at worst")
    yield from _table([header, *map(_choice_row, pitch.choices)])
    reach = [f"{r.section} {_hertz(r.lowest_a4_hz)}–{_hertz(r.highest_a4_hz)}" for r in pitch.reach]
    if reach:
        yield from _wrapped(f"reach of the slides [Hz]: {', '.join(reach)}")


def _hertz(value: float) -> str:
    return f"{value:.1f}" if 0 < value < 1e6 else "…"


def choice_words(choice: Choice) -> str:
    """Return how a choice of pitch is called."""
    return f"stay at {choice.a4_hz:g}" if choice.name == "stay" else choice.name


def _choice_row(choice: Choice) -> tuple[str, ...]:
    worst = f"{choice.worst_cents:.0f} cents"
    if choice.worst_cents >= 0.5:
        worst += f" ({choice.worst_section})"
    return choice_words(choice), f"{choice.a4_hz:.1f} Hz", worst, fixed_words(choice)


def fixed_words(choice: Choice) -> str:
    """Return what a choice of pitch costs against fixed pitch."""
    if not choice.fixed_section:
        return "–"
    return (
        f"{choice.fixed_section} {signed(choice.fixed_cents)} cents: "
        f"{choice.beats_per_second:.1f} beats/s on {shown(choice.fixed_note)}"
    )


def joined(texts: Iterable[str], between: str = " · ") -> str:
    """Return the texts that are not empty, side by side."""
    return between.join(text for text in texts if text)
