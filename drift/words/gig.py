"""What a plan says to a section: what to tune on, what to show, about how far, and when."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np

from drift.gig.retuning import Move, Setting
from drift.gig.timetable import Entry
from drift.instruments.anatomy import Instrument
from drift.notes import shown
from drift.regression.results import Estimate
from drift.words.cents import deviation, interval

if TYPE_CHECKING:
    from drift.gig.plan import Plan
    from drift.gig.timing import Watch

__all__ = [
    "conical",
    "exceptions",
    "first_minutes",
    "hint",
    "instruction",
    "left_after",
    "pitch_headline",
    "show_words",
    "timing_rows",
    "tune_on",
    "why_this_pitch",
]

#: A target nearer zero than this is zero on a tuner; what remains below this is not spoken of.
ZERO_CENTS, REMAINS_CENTS = 2.5, 5.0
#: First minutes are spoken of where they begin further off than this.
FIRST_CENTS = 5.0
#: Mouthpieces and mallets are kept warm below this (common practice) [°C].
KEEP_WARM_CELSIUS = 10.0
#: Two A4 nearer than this are one [Hz].
HERTZ_ALIKE = 0.05


def pitch_headline(plan: Plan) -> str:
    """Return the one pitch of a sheet."""
    return f"A4 = {plan.aim_a4_hz:.1f} Hz"


def why_this_pitch(plan: Plan) -> str:
    """Return whom the pitch of a sheet is for, in a sentence."""
    pitch, aim = plan.pitch, plan.aim_a4_hz
    limit = " and ".join(pitch.limited_by)
    if not limit:
        return "Every section reaches this pitch."
    if abs(aim - pitch.recommended_a4_hz) < HERTZ_ALIKE:
        worst = next(choice for choice in pitch.choices if choice.name == "recommended")
        within = max(round(worst.worst_cents), 5)
        return f"The pitch that every section reaches within {within} cents; {limit} set it."
    return f"The pitch of the band without {limit}, who cannot reach it."


def conical(instrument: Instrument) -> bool:
    """Return whether an instrument is a conical woodwind, whose moves are given in cents.

    Examples
    --------
    >>> from drift.instruments import find
    >>> [conical(find(name)) for name in ("alto saxophone", "flute", "Bb clarinet", "Bb trumpet")]
    [True, False, False, False]
    """
    slides = {slide.name for slide in instrument.slides}
    straight = "head" in slides or any(side.quarter_wave for side in instrument.sides)
    return instrument.family == "woodwind" and not straight


def tune_on(setting: Setting) -> str:
    """Return the notes to tune on, one a side."""
    firsts = {side: notes[0] for side, notes in setting.tune_on.items() if notes}
    if len(set(firsts.values())) == 1:
        note = shown(next(iter(firsts.values())))
        return note if len(firsts) == 1 else f"{note}, {' and '.join(map(shown, firsts))} side"
    return ", ".join(f"{shown(note)} ({shown(side)} side)" for side, note in firsts.items())


def show_words(show: Estimate | None) -> str:
    """Return what the tuner should show, with its interval.

    Examples
    --------
    >>> show_words(Estimate(37.0, 18.0, 56.0)), show_words(Estimate(-0.4, -3.4, 2.6))
    ('37 sharp (18 to 56)', '0 (−3 to +3)')
    """
    if show is None:
        return "–"
    if abs(show.estimate) < ZERO_CENTS:
        half = max(round((show.high - show.low) / 2.0), 3)
        return f"0 (−{half} to +{half})"
    return f"{deviation(show.estimate)} ({interval(show)})"


def hint(setting: Setting, move: Move) -> str:
    """Return about how far a slide goes, empty where no millimetres are worth giving."""
    if move.stuck:
        return f"{shown(move.slide)} slide stuck: leave it"
    unsure = move.interval_includes_zero or setting.check_again
    if unsure or conical(setting.section.instrument) or not move.whole_mm:
        return ""
    way = "out" if move.move_mm > 0 else "in"
    near, far = sorted((round(abs(move.low_mm)), round(abs(move.high_mm))))
    end = ", then it is at its end" if move.at_end_of_travel else ""
    name = f"{shown(move.slide)}: " if len(setting.moves) > 1 else ""
    return f"{name}{way} {near}–{far} mm{end}" if near != far else f"{name}{way} {near} mm{end}"


def left_after(setting: Setting) -> str:
    """Return what stays although the slides have gone as far as they do, empty for little."""
    worst = max(setting.remaining_cents.values(), key=abs, default=0.0)
    if abs(worst) < REMAINS_CENTS or not setting.section.slides:
        return ""
    covers = "trombone" in setting.section.instrument.name
    how = "; the hand slide covers it" if covers and worst > 0 else ""
    return f"{deviation(worst)} stays{how}"


def first_minutes(plan: Plan, setting: Setting) -> str:
    """Return how far off the first minutes are and until when, empty where they are right."""
    for found in plan.watch:
        served = setting.block.ready <= found.start < setting.block.end
        if found.section == setting.section.name and served:
            return _until(found)
    return ""


def _until(found: Watch) -> str:
    right = f" until {found.right_at:%H:%M}" if found.right_at else ""
    return f"from {found.start:%H:%M} about {deviation(found.cents)}{right}"


def _watched(plan: Plan) -> Iterator[str]:
    """Yield one line for each beginning of playing, with everybody who is off pitch then."""
    by_start: dict[datetime, list[Watch]] = {}
    for found in plan.watch:
        by_start.setdefault(found.start, []).append(found)
    for start, them in by_start.items():
        ways: dict[str, list[str]] = {}
        for found in them:
            right = f", right by {found.right_at:%H:%M}" if found.right_at else ""
            ways.setdefault(f"{deviation(found.cents)}{right}", []).append(found.section)
        who = "; ".join(f"{', '.join(names)} {way}" for way, names in ways.items())
        yield f"Watch at {start:%H:%M}: {who}."


def instruction(setting: Setting) -> list[str]:
    """Return what one section does at one tune, each a short sentence."""
    lines = []
    if setting.show_cents is None:
        lines.append("No slide can be moved.")
    elif setting.check_again:
        lines.append("Check again outside before you play.")
    elif hints := [text for move in setting.moves if (text := hint(setting, move))]:
        lines.append(f"About {'; '.join(hints)} from yours; then the tuner.")
    elif abs(setting.show_cents.estimate) < ZERO_CENTS:
        lines.append("Leave it if inside.")
    if left := left_after(setting):
        lines.append(f"{left[0].upper()}{left[1:]}.")
    return lines


def timing_rows(plan: Plan) -> Iterator[tuple[Entry, str]]:
    """Yield the evening as the director runs it: each entry but the rests, and what to do."""
    texts = {
        "warm": "Everybody blows warm air, no tone",
        "play": "Play",
        "stands": "In the stands, short playing",
        "tune": "Tune, each section by its card",
    }
    for entry in plan.schedule.entries:
        if entry.activity == "rest":
            continue
        text = texts[entry.activity]
        if entry.activity == "tune" and entry.added:
            text = "Tune again on the field, four minutes (added)"
        remark = f" ({entry.remark})" if entry.remark and not entry.added else ""
        yield entry, f"{text}{remark}"


def _keep_warm(plan: Plan) -> Iterator[str]:
    outdoors = [entry.celsius is None for entry in plan.schedule.entries]
    there = np.array(outdoors)[plan.schedule.entry_at(plan.times)]
    if there.any() and float(plan.celsius[there].min()) < KEEP_WARM_CELSIUS:
        first = plan.times[there & (plan.celsius < KEEP_WARM_CELSIUS)][0]
        yield f"Mouthpieces and mallets are kept warm from {first:%H:%M} on."


def exceptions(plan: Plan) -> list[str]:
    """Return what a director must know beside the times: whom to watch, and what cannot move."""
    lines = [*_keep_warm(plan), *_watched(plan)]
    for section in plan.sections:
        if section.stuck:
            lines.append(f"{section.name}: the {' and '.join(section.stuck)} slide is stuck.")
    ends: dict[str, str] = {}
    for setting in plan.settings:
        if setting.block.plays and (left := left_after(setting)) and not setting.section.stuck:
            ends.setdefault(setting.section.name, left)
    lines += [f"{name}: {left}, the slide is at its end." for name, left in ends.items()]
    defaults = [s.name for s in plan.sections if s.from_catalogue]
    if defaults:
        lines.append(f"Slides taken from the instrument, not the roster: {', '.join(defaults)}.")
    return lines
