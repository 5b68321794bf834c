"""The plan as lines for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from drift.gig.cautions import Caution
from drift.gig.pitch import Reach
from drift.gig.retuning import Setting
from drift.gig.timetable import Block
from drift.gig.words import (
    TUNER_DECIDES,
    again_lines,
    aims,
    assumed,
    choice_cells,
    choice_in_short,
    day_of,
    from_to,
    hours_of,
    left_over,
    limit_words,
    move_words,
    place_of,
    range_of,
    sentence,
    signed,
    table,
    warnings_of,
    weather_of,
    while_playing,
)
from drift.notes import shown

if TYPE_CHECKING:
    from drift.gig.plan import Plan

__all__ = ["summary_of"]

WIDTH = 100


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
        f"{aims(plan)}; millimetres, in = push in, out = pull out.",
        *assumed(plan, fahrenheit),
    ]
    for block, settings in plan.blocks():
        lines += ["", *_tune_lines(plan, block, settings, fahrenheit)]
    if timing := list(_timing_lines(plan)):
        lines += ["", "Timing", *timing]
    lines += ["", *_legend(plan)]
    lines += ["", *_pitch_lines(plan)]
    if plan.cautions:
        lines += ["", "Watch for"]
        lines += [line for caution in plan.cautions for line in _caution_lines(caution, fahrenheit)]
    if plan.warnings:
        lines += ["", "Know that"]
        lines += [line for warning in warnings_of(plan, fahrenheit) for line in _wrapped(warning)]
    return "\n".join([*lines, "", TUNER_DECIDES])


def _wrapped(text: str, first: str = "  - ") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent="    ")


def _caution_lines(caution: Caution, fahrenheit: bool) -> list[str]:
    value = caution.shown_value(fahrenheit)
    head = f"  {hours_of(caution.time, caution.until)}  {caution.kind} {value}".rstrip()
    return _wrapped(f"{caution.text} [{caution.source}]", f"{head}: ")


def _tune_lines(
    plan: Plan, block: Block, settings: Sequence[Setting], fahrenheit: bool
) -> Iterator[str]:
    head = f"Tune at {block.tune_at:%H:%M}" if block.scheduled else "Set before playing"
    yield f"{head}, {place_of(plan, block, fahrenheit)}"
    header = ("section", "tune on", "tuner shows", "slide", "move", "(95 %)", "from → to",
              "left", "while playing", "based on")  # fmt: skip
    rows = [row for setting in settings for row in _setting_rows(setting)]
    yield from table([header, *rows])
    if doubtful := [s.section.name for s in settings if s.interval_includes_zero]:
        yield from _wrapped(f"≈ ask the tuner first: {', '.join(doubtful)}")
    if again := again_lines(settings):
        limit = f"{plan.assumptions.retune_cents:g} cents"
        yield from _wrapped(f"expected to pass {limit}: {'; '.join(again)}")


def _legend(plan: Plan) -> Iterator[str]:
    """Yield what the marks of the tables mean, those that are used."""
    moves = [move for setting in plan.settings for move in setting.moves]
    if any(move.interval_includes_zero for move in moves):
        yield "≈ the 95 % interval of the move holds zero: ask the tuner first"
    if any(move.at_end_of_travel and not move.stuck for move in moves):
        yield "(end) the slide is at the end of its travel then and would go further if it could"
    yield "left: cents that stay on the mean of the playing; + sharp, − flat"
    yield from _wrapped(limit_words(plan), first="")


def _setting_rows(setting: Setting) -> Iterator[tuple[str, ...]]:
    """Yield one row a slide, or one for a section with nothing to move."""
    notes = dict.fromkeys(shown(on[0]) for on in setting.tune_on.values() if on)
    on = " / ".join(notes) if setting.show_cents else "–"
    head = setting.section.name, on, _show(setting)
    tail = left_over(setting), while_playing(setting), setting.based_on
    if not setting.moves:
        yield *head, "", "–", "", "", *tail
    for move in setting.moves:
        words = move_words(move)
        mark = " ≈" if move.interval_includes_zero else ""
        mark += " (end)" if move.at_end_of_travel and not move.stuck else ""
        span = "" if move.stuck else range_of(move.low_mm, move.high_mm)
        yield *head, move.slide, words + mark, span, from_to(move), *tail
        head, tail = ("", "", ""), ("", "", "")


def _show(setting: Setting) -> str:
    show = setting.show_cents
    if show is None:
        return "–"
    return f"{signed(show.estimate)} ({signed(show.low)} to {signed(show.high)})"


def _timing_lines(plan: Plan) -> Iterator[str]:
    """Yield when to blow warm air, which tunes were added, and whom to watch."""
    entries = plan.schedule.entries
    if warm := [f"{e.start:%H:%M}" for e in entries if e.activity == "warm" and e.added]:
        yield from _wrapped(f"blow warm air, no tone, from {', '.join(warm)}")
    if tunes := [f"{e.start:%H:%M}" for e in entries if e.activity == "tune" and e.added]:
        yield from _wrapped(f"tunes added on the field at {', '.join(tunes)}")
    for found in plan.watch:
        right = f", right by {found.right_at:%H:%M}" if found.right_at else ""
        yield from _wrapped(
            f"watch {found.section}: {signed(found.cents)} at {found.start:%H:%M}{right}"
        )


def _pitch_lines(plan: Plan) -> Iterator[str]:
    pitch = plan.pitch
    yield f"Pitch for the band: {choice_in_short(pitch)}"
    yield from _wrapped(sentence(pitch.reason))
    header = ("choice", "A4", "remaining error at worst", "fixed pitch at worst")
    yield from table([header, *map(choice_cells, pitch.choices)])
    if pitch.reach:
        reach = ", ".join(
            f"{r.section} not known" if r.section in pitch.not_known else _reach_words(r)
            for r in pitch.reach
        )
        yield from _wrapped(f"reach of the slides at every tune [Hz]: {reach}")


def _reach_words(reach: Reach) -> str:
    low, high = reach.lowest_a4_hz, reach.highest_a4_hz
    if low > high:
        return f"{reach.section} none in common"
    if low == 0 and high > 1e6:
        return f"{reach.section} no limit known"
    ends = (f"{end:.1f}" if 0 < end < 1e6 else "…" for end in (low, high))
    return f"{reach.section} {'–'.join(ends)}"
