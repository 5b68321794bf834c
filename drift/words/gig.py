"""What a plan says to a section: what to tune on, what to show, about how far, and when."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from drift.gig.activities import names_stands, says_no_playing
from drift.gig.gaps import NOTHING_SCHEDULED
from drift.gig.pitch import PitchReason
from drift.gig.reach import REACH_CENTS
from drift.gig.retuning import Setting
from drift.gig.timetable import Entry
from drift.notes import hertz_of, shown
from drift.regression.results import Estimate
from drift.words.cents import deviation, interval
from drift.words.gig_clock import clock, hours_of
from drift.words.gig_moves import (
    OFF_CENTS,
    after_which,
    interval_left,
    left_after,
    most_left,
    play_first,
    right_by,
)
from drift.words.gig_phrases import range_of, sentence
from drift.words.gig_pitch import reason_words, within_cents
from drift.words.gig_warnings import warning_text
from drift.words.letters import capital
from drift.words.lists import joined
from drift.words.tuning_notes import read_as

if TYPE_CHECKING:
    from drift.gig.plan import Plan
    from drift.gig.timing import Watch

__all__ = [
    "EXCEPTIONAL",
    "exceptions",
    "on_both_sides",
    "pitch_headline",
    "show_briefly",
    "show_words",
    "shown_cents",
    "target_parts",
    "target_words",
    "timing_rows",
    "tune_on",
    "tune_on_parts",
    "why_this_pitch",
    "without_warm_air",
    "written_note",
]

#: Warnings that a director needs on the sheet.
EXCEPTIONAL = (
    "begins_outdoors", "gap_between_rooms", "not_planned", "no_room_to_tune",
    "plays_before_tuning", "tune_needs_permission",
)  # fmt: skip
#: A target nearer zero than this is zero on a tuner.
ZERO_CENTS = 1.5
#: Mouthpieces and mallets are kept warm below this (common practice) [°C].
KEEP_WARM_CELSIUS = 10.0
BY_ITS_CARD = "tune, each section by its card"
EN_DASH = "\N{EN DASH}"
#: Said of a section that is still more than 5 cents off when that playing ends.
STILL_OFF = ", more than 5 until it ends"
#: Two A4 nearer than this are one [Hz].
HERTZ_ALIKE = 0.05


def pitch_headline(plan: Plan) -> str:
    """Return the one pitch of a sheet."""
    return f"A4 = {plan.aim_a4_hz:.1f} Hz"


def why_this_pitch(plan: Plan) -> str:
    """Return whom the pitch of a sheet is for, and what tuners are set to where it is unusual."""
    aim = plan.aim_a4_hz
    unusual = abs(aim - hertz_of("A4")) >= HERTZ_ALIKE
    return f"{_reason(plan)} Set every tuner to {aim:.1f} Hz." if unusual else _reason(plan)


def _reason(plan: Plan) -> str:
    pitch, aim = plan.pitch, plan.aim_a4_hz
    if abs(aim - pitch.recommended_a4_hz) >= HERTZ_ALIKE and (beyond := pitch.out_of_reach(aim)):
        others = "the others can, as far as is known" if pitch.not_known else "all others can"
        return f"A pitch that {joined(beyond)} cannot reach within {REACH_CENTS:g} cents; {others}."
    if pitch.reason is PitchReason.NOT_ADJUSTABLE:
        return sentence(reason_words(pitch))
    if not pitch.limited_by and pitch.not_known:
        return "Not known of every slide whether it goes so far."
    if not pitch.limited_by:
        away = max(round(pitch.choices[0].average_cents), 1)
        near = f"within {away} cent{'s' if away > 1 else ''} of this pitch on average"
        return f"Over all its playing every section is {near}."
    worst = next(choice for choice in pitch.choices if choice.name == "recommended")
    limit = joined(pitch.limited_by)
    near = f"within {within_cents(worst)} cents on average"
    return f"Every section reaches this pitch {near}; {limit} set it."


def tune_on(setting: Setting) -> str:
    """Return the notes to tune on, one a side."""
    return ", ".join(filter(None, tune_on_parts(setting)))


def tune_on_parts(setting: Setting) -> tuple[str, str]:
    """Return the note to tune on, and below it its sides, or the notes of others."""
    firsts = _first_notes(setting)
    if on_both_sides(setting):
        return shown(next(iter(firsts.values()))), f"{' and '.join(map(shown, firsts))} side"
    if len(firsts) < 2:
        return shown(next(iter(firsts.values()), "")), ""
    first, *others = (f"{shown(note)} ({shown(side)} side)" for side, note in firsts.items())
    return first, ", ".join(others)


def on_both_sides(setting: Setting) -> bool:
    """Return whether several sides are tuned on one note."""
    firsts = _first_notes(setting)
    return len(firsts) > 1 and len(set(firsts.values())) == 1


def _first_notes(setting: Setting) -> dict[str, str]:
    return {side: notes[0] for side, notes in setting.tune_on.items() if notes}


def written_note(setting: Setting) -> str:
    """Return what a transposing instrument reads of its concert note, empty for all others."""
    firsts = dict.fromkeys(_first_notes(setting).values())
    return read_as(setting.section.instrument, firsts, brief=True)


def show_words(show: Estimate | None) -> str:
    """Return what the tuner should show, with its interval.

    Examples
    --------
    >>> show_words(Estimate(37.0, 18.0, 56.0)), show_words(Estimate(-0.4, -3.4, 2.6))
    ('37 sharp (+18 to +56)', '0 (−3 to +3)')
    """
    return " ".join(filter(None, show_parts(show)))


def show_parts(show: Estimate | None) -> tuple[str, str]:
    """Return what the tuner should show, and its interval in brackets."""
    if show is None:
        return "–", ""
    if not shown_cents(show):
        half = max(round((show.high - show.low) / 2.0), 3)
        return "0", f"(−{half} to +{half})"
    return deviation(show.estimate), f"({interval(show)})"


def shown_cents(show: Estimate) -> int:
    """Return what the tuner should show as it is printed: nothing where it is too little to see.

    Examples
    --------
    >>> shown_cents(Estimate(1.3, -1.7, 4.3)), shown_cents(Estimate(2.0, -1.0, 5.0))
    (0, 2)
    """
    return 0 if abs(show.estimate) < ZERO_CENTS else round(show.estimate)


def target_words(setting: Setting) -> str:
    """Return what the tuner should show at a tune; nothing where the slides wait for another."""
    return " ".join(filter(None, target_parts(setting)))


def target_parts(setting: Setting) -> tuple[str, str]:
    """Return what the tuner should show at a tune, as `target_words`, and its interval."""
    return show_parts(None if setting.waits else setting.show_cents)


def show_briefly(show: Estimate | None) -> str:
    """Return what the tuner should show without its interval, empty where nothing is tuned.

    Examples
    --------
    >>> show_briefly(Estimate(37.0, 18.0, 56.0)), show_briefly(Estimate(-0.4, -3.4, 2.6))
    ('37 sharp', '0')
    """
    return "" if show is None else show_parts(show)[0]


def _never_right(plan: Plan) -> dict[str, tuple[float, float]]:
    """Return between which sections lie that are never right while they play [cents], by name."""
    watched = {found.section for found in plan.watch}
    never = {}
    for section in plan.sections:
        played = [s for s in plan.settings if s.section == section and s.block.plays]
        low = min((setting.lowest_cents for setting in played), default=0.0)
        high = max((setting.highest_cents for setting in played), default=0.0)
        if section.name in watched and max(low, -high) > OFF_CENTS:
            never[section.name] = low, high
    return never


def _watched(plan: Plan) -> Iterator[str]:
    """Yield a line for each section that is never right, and for each beginning of playing."""
    never = _never_right(plan)
    alike: dict[str, list[str]] = {}
    for name, (low, high) in never.items():
        size = EN_DASH.join(dict.fromkeys(f"{c:.0f}" for c in sorted((abs(low), abs(high)))))
        way = "sharp" if low > 0 else "flat"
        alike.setdefault(f"{size} {way} throughout{_why(plan, name)}.", []).append(name)
    yield from (f"{capital(', '.join(names))}: {what}" for what, names in alike.items())
    by_start: dict[datetime, list[Watch]] = {}
    for found in plan.watch:
        if found.section not in never:
            by_start.setdefault(found.start, []).append(found)
    for start, them in by_start.items():
        ways_of: dict[str, list[str]] = {}
        for found in them:
            way = f"{deviation(found.cents)}{right_by(found) or STILL_OFF}"
            ways_of.setdefault(way, []).append(found.section)
        who = "; ".join(f"{', '.join(names)} {way}" for way, names in ways_of.items())
        yield f"Watch at {clock(start)}: {who}."


def _why(plan: Plan, name: str) -> str:
    """Return why a section is never right, as far as its slides are the reason."""
    own = [setting for setting in plan.settings if setting.section.name == name]
    if stuck := own[0].section.stuck:
        return f"; the {' and '.join(stuck)} slide is stuck"
    return "; the slide is at its end" if any(map(left_after, own)) else ""


def _all_wait(plan: Plan, entry: Entry) -> str:
    """Return when a band tunes for which a tune is too early for all, empty where it is not."""
    own = [s for s in plan.settings if s.block.tune_at == entry.start and s.show_cents]
    waits = entry.activity == "tune" and bool(own) and all(setting.waits for setting in own)
    return clock(own[0].block.end) if waits else ""


def _by_its_card(plan: Plan, entry: Entry) -> str:
    """Return that a band tunes, and until when it plays first."""
    first = {play_first(plan, s.block) for s in plan.settings if s.block.tune_at == entry.start}
    return capital(", then ".join(filter(None, (*first, BY_ITS_CARD))))


def timing_rows(plan: Plan) -> Iterator[tuple[Entry, str]]:
    """Yield the evening as the director runs it, and what to do; no gaps of the timetable."""
    texts = {
        "warm": "Blow warm air as if playing, no tone",
        "play": "Play",
        "stands": "In the stands, short playing",
    }
    entries = plan.schedule.entries
    for last, entry in zip(("", *(one.remark for one in entries)), entries, strict=False):
        if entry.activity == "rest":
            if entry.remark != NOTHING_SCHEDULED:
                yield entry, _resting(entry)
            continue
        if entry.warm_up and entry.remark:
            yield entry, capital(entry.remark)
            continue
        if until := _all_wait(plan, entry):
            texts["tune"] = f"Warm up; all slides stay as they are until {until}"
        else:
            texts["tune"] = _by_its_card(plan, entry)
        text = texts[entry.activity]
        if entry.activity == "tune" and entry.added:
            again = " again" if entry.start > plan.settings[0].block.tune_at else ""
            text = f"Tune{again}, four minutes (added)"
        told = entry.remark in ("", NOTHING_SCHEDULED)
        told |= entry.added and entry.remark == last
        beside = f": {entry.remark}" if "(" in entry.remark else f" ({entry.remark})"
        text = text if told else text + beside
        without = without_warm_air(plan, entry.end) if entry.activity == "warm" else ""
        yield entry, "; ".join(filter(None, (text, without)))


def _resting(entry: Entry) -> str:
    """Return what a rest is for; in the stands, where bands play, that nobody does."""
    text = capital(entry.remark) or "Rest"
    seated = names_stands(text) and not entry.occupied
    return f"{text} (no playing)" if seated and not says_no_playing(text) else text


def _keep_warm(plan: Plan) -> Iterator[str]:
    outdoors = [entry.celsius is None for entry in plan.schedule.entries]
    there = np.array(outdoors)[plan.schedule.entry_at(plan.times)]
    if there.any() and float(plan.celsius[there].min()) < KEEP_WARM_CELSIUS:
        first = int(np.flatnonzero(there & (plan.celsius < KEEP_WARM_CELSIUS))[0])
        entry = plan.schedule.entries[plan.schedule.entry_at(plan.times)[first]]
        # Nobody leaves off playing for it.
        start = entry.start if entry.activity in ("play", "tune") else plan.times[first]
        bars = any(section.instrument.fixed_pitch is not None for section in plan.sections)
        what = "mouthpieces and mallets" if bars else "mouthpieces"
        yield f"Keep {what} warm from {clock(start)} on."


def without_warm_air(plan: Plan, start: datetime) -> str:
    """Return where playing would begin without the warm air before it, empty for a little."""
    cents = plan.unblown.get(start, {}).values()
    if max(map(abs, cents), default=0.0) < OFF_CENTS:
        return ""
    return f"without it {range_of(min(cents), max(cents))} cents"


def _fixed_pitch(plan: Plan) -> Iterator[str]:
    """Yield how far bars are from the band while it plays, where that is more than a little."""
    alike: dict[str, list[str]] = {}
    for section in plan.sections:
        played = [s for s in plan.settings if s.section == section and s.block.plays]
        if section.instrument.fixed_pitch is None or not played:
            continue
        low = min(setting.lowest_cents for setting in played)
        high = max(setting.highest_cents for setting in played)
        if max(low, -high) >= OFF_CENTS:
            ends = sorted((abs(low), abs(high)))
            far = EN_DASH.join(dict.fromkeys(f"{cents:.0f}" for cents in ends))
            built = f"taken as built to {section.built_a4_hz:g} Hz"
            off = f"{far} {'sharp' if low > 0 else 'flat'} of the band while it plays"
            alike.setdefault(f"{off} ({built})", []).append(section.name)
    for far, names in alike.items():
        yield f"{capital(', '.join(names))}: fixed pitch, {far}."


def _in_the_stands(plan: Plan) -> Iterator[str]:
    """Yield how far sections are off in the stands, which no tune aims at."""
    entries = [e for e in plan.schedule.entries if e.activity == "stands"]
    inside = np.isin(
        plan.schedule.entry_at(plan.times),
        [n for n, entry in enumerate(plan.schedule.entries) if entry.activity == "stands"],
    ) & (plan.times >= pd.Timestamp(plan.settings[0].block.ready))
    cents = [
        side[inside]
        for section in plan.sections
        for side in plan.planned_cents[section.name].values()
        if section.instrument.fixed_pitch is None
    ]
    if cents and inside.any() and float(np.abs(cents).max()) >= OFF_CENTS:
        when = ", ".join(hours_of(entry.start, entry.end) for entry in entries)
        low, high = float(np.min(cents)), float(np.max(cents))
        yield f"No tune aims at the stands ({when}): {range_of(low, high)} cents there."


def exceptions(plan: Plan, fahrenheit: bool = False) -> list[str]:
    """Return what a director must know beside the times: whom to watch, and what cannot move."""
    lines = [*_keep_warm(plan), *_watched(plan)]
    told, never = {found.section for found in plan.watch}, _never_right(plan)
    for section in plan.sections:
        if section.stuck and section.name not in told:
            stuck = " and ".join(section.stuck)
            own = [s for s in plan.settings if s.section == section and s.block.plays]
            low = min((setting.lowest_cents for setting in own), default=0.0)
            high = max((setting.highest_cents for setting in own), default=0.0)
            off = f"; {range_of(low, high)} cents while it plays" if own else ""
            lines.append(f"{capital(section.name)}: the {stuck} slide is stuck{off}.")
    begins = {found.section for found in plan.watch if found.right_at}
    for name, setting in most_left(plan).items():
        if name not in never and not setting.section.stuck:
            mean = " on average" * (name in begins)
            left = f"{left_after(setting)}{mean} {interval_left(setting)}"
            when = after_which(plan, setting)
            lines.append(f"{capital(name)}: {left}{when}, the slide is at its end.")
    lines += [*_fixed_pitch(plan), *_in_the_stands(plan)]
    lines += [
        sentence(warning_text(one, fahrenheit)) for one in plan.warnings if one.kind in EXCEPTIONAL
    ]
    defaults = [s.name for s in plan.sections if s.from_catalogue]
    if defaults:
        lines.append(f"Slides taken from the instrument, not the roster: {', '.join(defaults)}.")
    return lines
