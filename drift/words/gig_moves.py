"""What a section does at one tune beside the tuner: about how far, what stays, and when again."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from enum import StrEnum
from typing import TYPE_CHECKING

from drift.gig.basis import BasisKind
from drift.gig.reach import real_slopes
from drift.gig.retuning import Setting
from drift.gig.timetable import Block
from drift.gig.timing import RIGHT_CENTS, Watch
from drift.notes import shown
from drift.slides.moving import Move
from drift.words.cents import deviation, interval, slide_noun
from drift.words.gig_clock import clock
from drift.words.gig_phrases import range_of, sentence
from drift.words.lists import joined

if TYPE_CHECKING:
    from drift.gig.plan import Plan
    from drift.gig.roster import Section

__all__ = [
    "OFF_CENTS",
    "REMAINS_CENTS",
    "after_which",
    "at_its_end",
    "first_minutes",
    "hints",
    "instruction",
    "interval_left",
    "left_after",
    "left_at_tunes",
    "most_left",
    "move_range",
    "no_millimetres",
    "play_first",
    "right_by",
    "tell_the_leader",
]

#: What a slide at its end leaves below this is not spoken of [cents].
REMAINS_CENTS = 3.0
#: Playing that is less off is not spoken of [cents].
OFF_CENTS = 5.0
#: A player within this of the target leaves the slide alone: it costs nothing [cents].
LEAVE_CENTS = 5.0
#: A slide may stop this short of its move, where five cents are not less [mm].
SHORT_MM = 3
#: What stays after more tunes than this is told as a range.
MOST_NAMED = 2
NO_MILLIMETRES = "Follow the tuner: acoustics alone gives no millimetres, own rehearsals do."


class Known(StrEnum):
    """What is known of a move, and the words for it where it is no millimetres."""

    STUCK = "stuck"
    STAY = "stay"
    BY_THE_TUNER = "by the tuner"
    MILLIMETRES = ""


def known_of(setting: Setting, move: Move) -> Known:
    """Return what is known of a move."""
    if move.slide in setting.section.stuck:
        return Known.STUCK
    if not round(move.move_mm):
        return Known.STAY
    if move.interval_includes_zero:
        return Known.BY_THE_TUNER
    return Known.MILLIMETRES


def move_range(setting: Setting, move: Move) -> str:
    """Return about how far a slide goes, as far as that is known.

    Parameters
    ----------
    setting : Setting
        Whose move.
    move : Move
        The move.

    Returns
    -------
    str
        Such as ``in 12–16``, ``in up to 8``, ``by the tuner`` where the way is not sure, ``stay``
        or ``stuck``.
    """
    known = known_of(setting, move)
    if known is not Known.MILLIMETRES:
        return known.value
    way = "out" if move.move_mm > 0 else "in"
    near, far = sorted((round(abs(move.low_mm)), round(abs(move.high_mm))))
    if near == far:
        return f"{way} {far}"
    return f"{way} up to {far}" if not near else f"{way} {near}–{far}"


def hints(setting: Setting) -> str:
    """Return about how far the slides of a section go, empty where no millimetres are worth it."""
    if setting.check_again:
        return ""
    known = [move for move in setting.moves if known_of(setting, move) is Known.MILLIMETRES]
    if not known:
        return ""
    several = len(setting.moves) > 1
    found = ", ".join(
        f"{shown(move.slide) if several else _verb(setting, move)} {move_range(setting, move)}"
        for move in known
    )
    far = ", or as far as it goes" if setting.at_end else ""
    return f"{found} mm{far}, then the tuner"


def _verb(setting: Setting, move: Move) -> str:
    """Return pull or push, and what where that is no main slide: a barrel, a mouthpiece."""
    verb = "pull" if move.move_mm > 0 else "push"
    part = _part(setting, [move])
    return verb if part == slide_noun("main") else f"{verb} the {part}"


def _part(setting: Setting, moves: Sequence[Move]) -> str:
    """Return what a player calls the slide of some moves, ``slide`` for several."""
    parts = {slide_noun(move.slide, setting.section.instrument.name) for move in moves}
    return parts.pop() if len(parts) == 1 else "slide"


def tell_the_leader(settings: Sequence[Setting]) -> str:
    """Return when a player tells the leader that a push is too short, empty where none can be.

    Parameters
    ----------
    settings : sequence of Setting
        All tunes of one section.
    """
    pushed = [
        (setting, move)
        for setting in settings
        if hints(setting)
        for move in setting.moves
        if move.move_mm < 0 and known_of(setting, move) is Known.MILLIMETRES
    ]
    short = min((_short_mm(setting, move) for setting, move in pushed), default=0)
    if not any(round(-move.low_mm) > short for _, move in pushed):
        return ""
    part = _part(pushed[0][0], [move for _, move in pushed])
    return f"If your {part} stops more than {short} mm short, tell your leader."


def _short_mm(setting: Setting, move: Move) -> int:
    """Return how many millimetres of a slide are five cents, at least one [mm]."""
    slopes = real_slopes(setting.section.instrument)
    steepest = max(abs(slope) for (slide, _), slope in slopes.items() if slide == move.slide)
    return min(max(round(LEAVE_CENTS / steepest), 1), SHORT_MM)


def no_millimetres(settings: Sequence[Setting]) -> str:
    """Return why a card gives no millimetres, empty where it gives some or needs none.

    Parameters
    ----------
    settings : sequence of Setting
        All tunes of one section.
    """
    moved = [setting for setting in settings if setting.show_cents and not setting.waits]
    # Where a slide goes all the way, the card says which way, and what that leaves.
    unsure = [
        (setting.block.tune_at, move)
        for setting in moved
        for move in setting.moves
        if known_of(setting, move) is Known.BY_THE_TUNER and not at_its_end(setting)[1]
    ]
    if any(map(hints, moved)) or not unsure:
        return ""
    acoustics = (BasisKind.ACOUSTICS, BasisKind.FEW_READINGS)
    if moved[0].based_on.kind in acoustics:
        return NO_MILLIMETRES
    part = _part(moved[0], [move for _, move in unsure])
    times = list(dict.fromkeys(clock(at) for at, _ in unsure))
    when = f" at {joined(times)}" * (len(times) < len(moved))
    return f"Follow the tuner{when}: whether the {part} goes in or out is not sure."


def left_after(setting: Setting) -> str:
    """Return what stays although the slides have gone as far as they do, empty for little."""
    left = setting.worst_left
    if abs(left.estimate) < REMAINS_CENTS or not setting.section.slides:
        return ""
    covers = "trombone" in setting.section.instrument.name
    how = "; the hand slide covers it" if covers and left.estimate > 0 else ""
    return f"{deviation(left.estimate)} remains{how}"


def most_left(plan: Plan) -> dict[str, Setting]:
    """Return the tune after which most stays of each section whose slide ends too early."""
    most: dict[str, Setting] = {}
    for setting in plan.settings:
        if setting.block.plays and left_after(setting):
            before = most.setdefault(setting.section.name, setting)
            if abs(setting.worst_left.estimate) > abs(before.worst_left.estimate):
                most[setting.section.name] = setting
    return most


def left_at_tunes(plan: Plan, section: Section) -> str:
    """Return what stays of a section after each of its tunes, empty where little ever does."""
    own = [s for s in plan.settings if s.section == section and s.block.plays]
    times: dict[str, list[str]] = {}
    for setting in own:
        times.setdefault(left_after(setting), []).append(clock(setting.block.tune_at))
    if len(times) <= 1:
        return next(iter(times), "")
    if len(times.keys() - {""}) > MOST_NAMED:
        left = [s.worst_left.estimate for s in own if left_after(s)]
        most = max(own, key=lambda setting: abs(setting.worst_left.estimate))
        far = range_of(min(left), max(left))
        return f"{far} cents remain, most after {clock(most.block.tune_at)}"
    return ", ".join(f"{far} after {joined(at)}" for far, at in times.items() if far)


def after_which(plan: Plan, setting: Setting) -> str:
    """Return after which tune something stays, empty where as much does after every one."""
    own = [s for s in plan.settings if s.section == setting.section and s.block.plays]
    alike = {left_after(other) for other in own}
    return f" after {clock(setting.block.tune_at)}" if len(alike) > 1 else ""


def interval_left(setting: Setting) -> str:
    """Return the interval of what stays, as it is printed."""
    return f"({interval(setting.worst_left)})"


def first_minutes(plan: Plan, setting: Setting) -> str:
    """Return how far off the first minutes are and until when, empty where they are right."""
    if setting.show_cents is None or setting.waits:
        return ""  # what remains, or the tune that it waits for, says it
    for found in plan.watch:
        served = setting.block.ready <= found.start < setting.block.end
        if found.section == setting.section.name and served:
            return f"From {clock(found.start)} about {deviation(found.cents)}{right_by(found)}."
    return ""


def right_by(found: Watch) -> str:
    """Return from when the first minutes are nearly right, empty where they never are."""
    return f", within {RIGHT_CENTS:g} by {clock(found.right_at)}" if found.right_at else ""


def play_first(plan: Plan, block: Block) -> str:
    """Return until when to play before the tuner is read, empty where at once is as good."""
    until = plan.play_until(block)
    return f"play until {clock(until)}" if until else ""


def instruction(plan: Plan, setting: Setting) -> list[str]:
    """Return what one section does at one tune beside the tuner, each a short sentence."""
    if setting.section.instrument.fixed_pitch is not None:
        return ["Fixed pitch."]
    lines = []
    later = _later_tune(plan, setting)
    if setting.show_cents is None:
        lines.append("No slide can be moved.")
    elif setting.waits:
        return [f"Warm up, and leave the slides: you tune in the air you play in, at {later}."]
    else:
        if text := hints(setting):
            lines.append(sentence(text))
        elif not (later and setting.check_again):
            lines.append(_leave(setting))
        if later:
            outside = " outside" * _outside(plan, setting.block.end)
            lines.append(f"Move here; check again{outside} at {later}.")
    if left := left_after(setting):
        end, way = at_its_end(setting)
        shows = f"{way} it shows {end}: " if way else ""
        lines.append(sentence(f"{shows}{left}"))
    return lines


def _outside(plan: Plan, start: datetime) -> bool:
    """Return whether what begins then is in the air of the forecast, and not in a room."""
    return any(e.start == start and e.celsius is None for e in plan.schedule.entries)


def at_its_end(setting: Setting) -> tuple[str, str]:
    """Return what the tuner shows with a slide at its end, and which end that is.

    Both are empty where the target is reached but for a little.
    """
    if setting.show_cents is None or not setting.at_end or not left_after(setting):
        return "", ""
    worst = setting.worst_left.estimate
    way = "all the way in" if worst < 0 else "all the way out"
    return deviation(setting.show_cents.estimate + worst), way


def _leave(setting: Setting) -> str:
    """Return within what a player need not move: the printed interval, or five cents."""
    show = setting.show_cents
    wide = show is not None and (show.high - show.low) / 2.0 > LEAVE_CENTS + 0.5
    near = f"Within {LEAVE_CENTS:g} of that" if wide else "Within that"
    far = ", perhaps to the end" if setting.at_end and not left_after(setting) else ""
    return f"{near}, leave it; else move{far}."


def _later_tune(plan: Plan, setting: Setting) -> str:
    """Return when the section tunes again before the playing that a tune is for, if it does."""
    if setting.block.plays or setting.block.end >= plan.schedule.end:
        return ""
    return clock(setting.block.end)
