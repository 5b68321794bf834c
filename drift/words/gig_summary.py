"""A plan as lines for a terminal, in the words of its sheets."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from drift.words.gig import (
    EXCEPTIONAL,
    exceptions,
    pitch_headline,
    target_words,
    tune_on,
    why_this_pitch,
    without_warm_air,
)
from drift.words.gig_basis import basis_text
from drift.words.gig_cautions import caution_text, reached, source_of
from drift.words.gig_clock import as_timetable, clock, hours_of
from drift.words.gig_moves import first_minutes, instruction, play_first
from drift.words.gig_phrases import (
    assumed,
    day_of,
    place_of,
    range_of,
    sentence,
    table,
    tuner_decides,
    weather_of,
)
from drift.words.gig_pitch import choice_cells, choice_in_short, reason_words, told_choices
from drift.words.gig_warnings import warning_text

if TYPE_CHECKING:
    from drift.gig.cautions import Caution
    from drift.gig.pitch import Reach
    from drift.gig.plan import Plan
    from drift.gig.retuning import Setting
    from drift.gig.timetable import Block, Entry

__all__ = ["summary_of"]

WIDTH, TEXT_WIDTH = 100, 42


@as_timetable
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
        f"{pitch_headline(plan)}. {why_this_pitch(plan)}",
        *assumed(plan, fahrenheit),
    ]
    for block, settings in plan.blocks():
        lines += ["", *_tune_lines(plan, block, settings, fahrenheit)]
    lines += _part("Times", _timing_lines(plan))
    lines += _part(
        "Exceptions", (line for text in exceptions(plan, fahrenheit) for line in _wrapped(text))
    )
    lines += ["", *_pitch_lines(plan)]
    lines += _part("Take care", (x for c in plan.cautions for x in _caution_lines(c, fahrenheit)))
    told = (
        warning_text(found, fahrenheit, plan.schedule.zone)
        for found in plan.warnings
        if found.kind not in EXCEPTIONAL
    )
    lines += _part("Good to know", (line for text in told for line in _wrapped(text)))
    return "\n".join([*lines, "", tuner_decides(plan)])


def _part(head: str, lines: Iterator[str]) -> list[str]:
    """Return a part with its heading, nothing where it has no lines."""
    found = list(lines)
    return ["", head, *found] if found else []


def _wrapped(text: str, first: str = "  - ") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent="    ")


def _caution_lines(caution: Caution, fahrenheit: bool) -> list[str]:
    value = reached(caution, fahrenheit)
    head = f"  {hours_of(caution.time, caution.until)}  {caution.kind} {value}".rstrip()
    return _wrapped(f"{caution_text(caution)} [{source_of(caution)}]", f"{head}: ")


def _tune_lines(
    plan: Plan, block: Block, settings: Sequence[Setting], fahrenheit: bool
) -> Iterator[str]:
    head = f"Tune at {clock(block.tune_at)}" if block.scheduled else "Set before playing"
    if first := play_first(plan, block):
        head += f" ({first}, then the tuner)"
    if any(entry.added and entry.start == block.tune_at for entry in plan.schedule.entries):
        head += " (added)"
    yield f"{head}, {place_of(plan, block, fahrenheit)}"
    header = (
        "section",
        "tune on (concert)",
        "let the tuner show",
        "and then",
        "while playing",
        "based on",
    )
    yield from table([header, *(row for s in settings for row in _setting_rows(plan, s))])


def _setting_rows(plan: Plan, setting: Setting) -> Iterator[tuple[str, ...]]:
    """Yield the row of a section, and more where there is more to write than fits one."""
    then = instruction(plan, setting)
    if first := first_minutes(plan, setting):
        then.append(first)
    first_line, *more = textwrap.wrap(" ".join(then), TEXT_WIDTH) or [""]
    on = tune_on(setting) if setting.show_cents and not setting.waits else "–"
    played = setting.lowest_cents, setting.highest_cents
    playing = "–" if setting.waits else range_of(*played)  # the tune it waits for is for playing
    show = target_words(setting)
    yield setting.section.name, on, show, first_line, playing, basis_text(setting.based_on)
    for line in more:
        yield "", "", "", line, "", ""


def _timing_lines(plan: Plan) -> Iterator[str]:
    """Yield when to blow warm air, and which tunes were added."""
    entries = plan.schedule.entries
    if warm := [_warm(plan, e) for e in entries if e.activity == "warm" and e.added]:
        yield from _wrapped(f"Blow warm air, no tone, from {', '.join(warm)}.")
    tunes = [
        f"{clock(tune.start)} before {after.remark or hours_of(after.start, after.end)}"
        for tune, after in pairwise(entries)
        if tune.activity == "tune" and tune.added
    ]
    if tunes:
        yield from _wrapped(f"Tunes added: {', '.join(tunes)}.")


def _warm(plan: Plan, entry: Entry) -> str:
    """Return from when on warm air is blown, and what it is worth."""
    without = without_warm_air(plan, entry.end)
    return f"{clock(entry.start)} ({without})" if without else clock(entry.start)


def _pitch_lines(plan: Plan) -> Iterator[str]:
    pitch = plan.pitch
    yield f"Pitch for the band: {choice_in_short(pitch)}"
    yield from _wrapped(sentence(reason_words(pitch)))
    header = (
        "choice",
        "A4",
        "average error while playing, at worst",
        "fixed pitch from it at worst",
    )
    yield from table([header, *map(choice_cells, told_choices(pitch))])
    known = [found for found in pitch.reach if found.section not in pitch.not_known]
    if known:
        ranges = ", ".join(map(_reach_words, known))
        yield from _wrapped(f"Pitches that slides reach in full at every tune [Hz]: {ranges}")
    if pitch.not_known:
        yield from _wrapped(f"Not known how far: {', '.join(pitch.not_known)}")


def _reach_words(reach: Reach) -> str:
    low, high = reach.lowest_a4_hz, reach.highest_a4_hz
    if low > high:
        return f"{reach.section} none in common"
    if low == 0 and high > 1e6:
        return f"{reach.section} any"
    ends = (f"{end:.1f}" if 0 < end < 1e6 else "…" for end in (low, high))
    return f"{reach.section} {'–'.join(ends)}"
