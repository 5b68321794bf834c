"""The short phrases that the terminal, the sheets and the scenarios share."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from drift.degrees import in_fahrenheit, shown_degrees, shown_range
from drift.gig.cautions import DEFER
from drift.gig.pitch import Choice, Pitch
from drift.gig.retuning import Move, Setting
from drift.gig.timetable import Block, Entry
from drift.notes import shown

if TYPE_CHECKING:
    from drift.gig.plan import Plan

__all__ = [
    "TUNER_DECIDES",
    "again_lines",
    "aims",
    "assumed",
    "brief_cautions",
    "choice_cells",
    "choice_in_short",
    "day_of",
    "from_to",
    "hours_of",
    "left_over",
    "limit_words",
    "move_words",
    "place_of",
    "range_of",
    "sentence",
    "signed",
    "table",
    "warnings_of",
    "weather_of",
    "while_playing",
]

DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September",
          "October", "November", "December")  # fmt: skip
TUNER_DECIDES = "These are predictions. On the field, trust the tuner."


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
    millimetres = move.whole_mm
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
    worst = max(setting.remaining_cents.values(), key=abs)
    return signed(worst)


def while_playing(setting: Setting) -> str:
    """Return between which cents a section lies while it plays, one number where both are alike."""
    return range_of(setting.lowest_cents, setting.highest_cents)


def range_of(low: float, high: float) -> str:
    """Return two signed numbers as a range, one where both are alike.

    Examples
    --------
    >>> range_of(-17.2, -8.4), range_of(-13.3, -12.9)
    ('−17 to −8', '−13')
    """
    ends = dict.fromkeys((signed(low), signed(high)))
    return " to ".join(ends)


def aims(plan: Plan) -> str:
    """Return what all moves of a plan aim at."""
    return f"All moves aim at A4 = {plan.aim_a4_hz:.1f} Hz"


def limit_words(plan: Plan) -> str:
    """Return what the limit in cents is for."""
    limit = plan.assumptions.retune_cents
    return f"{limit:g} cents: the deviation at which to tune again, taken for this plan (--limit)"


def warnings_of(plan: Plan, fahrenheit: bool = False) -> list[str]:
    """Return what a reader must know."""
    return [in_fahrenheit(text) if fahrenheit else text for text in plan.warnings]


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


def place_of(plan: Plan, block: Block, fahrenheit: bool = False) -> str:
    """Return the playing that a tune has to serve, and how warm it is then."""
    entries = plan.schedule.entries
    played = plan.schedule.played_between(block.ready, block.end)
    served = played or [e for e in entries if e.start == block.tune_at]
    chosen = [entries[number] in served for number in plan.schedule.entry_at(plan.times)]
    there = plan.celsius[chosen]
    degrees = shown_range(float(there.min()), float(there.max()), fahrenheit)
    if not played:
        if block.end < plan.schedule.end:
            return f"towards the playing after {block.end:%H:%M}; tune again then"
        return f"for the tuning itself at {degrees}"
    when = ", ".join(hours_of(entry.start, entry.end) for entry in played)
    return f"for {when} at {degrees}"


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


def table(rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """Yield the rows as lines with aligned columns."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        yield ("  " + "  ".join(cells)).rstrip()


def choice_words(choice: Choice) -> str:
    """Return how a choice of pitch is called."""
    names = {"stay": f"stay at {choice.a4_hz:g}", "recommended": "recommended, for all"}
    return names.get(choice.name, choice.name)


def choice_in_short(pitch: Pitch) -> str:
    """Return the pitches to choose between: for all, and without those that limit it."""
    known = " whose reach is known" if pitch.not_known else ""
    chosen = f"A4 = {pitch.recommended_a4_hz:.1f} Hz for all{known}"
    others = [
        choice
        for choice in pitch.choices
        if choice.name.startswith("without ")
        and round(choice.a4_hz, 1) != round(pitch.recommended_a4_hz, 1)
    ]
    return chosen + "".join(f", or {other.a4_hz:.1f} Hz {other.name}" for other in others)


def choice_cells(choice: Choice) -> tuple[str, ...]:
    """Return name, pitch, what is left and what it costs against fixed pitch."""
    worst = f"{choice.worst_cents:.0f} cent" + "s" * (round(choice.worst_cents) != 1)
    if choice.worst_cents >= 0.5:
        worst += f" ({choice.worst_section})"
    return choice_words(choice), f"{choice.a4_hz:.1f} Hz", worst, fixed_words(choice)


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
