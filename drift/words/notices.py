"""What the regression notices, in words: what was seen, a likely cause, and what to do."""

from __future__ import annotations

from contextlib import suppress
from datetime import UTC, tzinfo

from drift.errors import InstrumentError
from drift.instruments import find
from drift.notes import shown
from drift.regression.notices import Notice, NoticeKind
from drift.regression.unlogged import LIKELY
from drift.words.cents import slide_noun
from drift.words.zones import by_which_clock, clock_here, clock_within, day_of

__all__ = ["notice_in_words", "to_look_at"]

UNLOGGED = "slides that were set and not logged"
BEFORE = ", and where instruments were before playing"
LOG_THEM = "Log where they were"
LOG_OR_APART = f"{LOG_THEM}, or keep that rehearsal in a logbook of its own."


def notice_in_words(found: Notice, zone: tzinfo | None = UTC) -> str:
    """Return one notice as a few sentences.

    Parameters
    ----------
    found : Notice
        What was noticed.
    zone : tzinfo or None
        Where times of day are told; None: where this computer is.

    Examples
    --------
    >>> print(notice_in_words(Notice(NoticeKind.A4, 0.9, 40.0, "7 May", size=442.0, cents=-7.9)))
    All on 7 May lie 8 cents low, like A4 = 442. Check the tuner's setting.
    """
    text = _SENTENCES[found.kind](found, zone)
    return f"{text} It may also be {_CAUSES[found.second]}." if found.second else text


def to_look_at(text: str) -> str:
    """Return the line of what looks spoilt.

    Examples
    --------
    >>> to_look_at("All on 7 May lie 8 cents low, like A4 = 442.")
    'to look at: All on 7 May lie 8 cents low, like A4 = 442.'
    """
    return f"to look at: {text}"


def _slide(found: Notice, zone: tzinfo | None) -> str:
    which = slide_noun(_slide_of(found), found.instrument)
    way = "out" if found.size > 0 else "in"
    return (
        f"On {_day_of(found, zone)} from {_clock(found, zone)} ({_readings(found)}) {found.player} "
        f"is {_cents(found)} {'lower' if found.cents < 0 else 'higher'}, like {which} {way} by "
        f"{abs(found.size):.0f} mm. If it moved, log it{_how(found, zone)}."
    )


def _how(found: Notice, zone: tzinfo | None) -> str:
    """Return what to type in the log of the rehearsal."""
    if found.since is None:
        return ""
    when = f"{found.since.astimezone(zone):%Y-%m-%d %H:%M}"
    typed = f": “at {when} slide {_slide_of(found)}” and its millimetres"
    return typed + by_which_clock(found.since, zone)


def _slide_of(found: Notice) -> str:
    """Return the slide that tunes what was moved: all sides, or one."""
    if found.side:
        return found.side
    with suppress(InstrumentError):
        if slides := find(found.instrument).slides:
            return slides[0].name
    return "main"


def _day(found: Notice, zone: tzinfo | None) -> str:
    was = f"{found.player} was {_cents(found)} {_high(found)} all of {found.rehearsal}"
    if found.unlogged_slides == LIKELY:
        air = _other_air(found.cents)
        return f"{was}, {air}: {UNLOGGED}, mouthpiece or tuner? {LOG_THEM}, or add a remark."
    if found.unlogged_slides:
        return f"{was}: mouthpiece, tuner, or {UNLOGGED}? {LOG_THEM}, or add a remark."
    return f"{was}: mouthpiece, slide or tuner? If known, add a remark."


def _a4(found: Notice, zone: tzinfo | None) -> str:
    where = f"{found.rehearsal} and {found.other}" if found.other else found.rehearsal
    readings = (
        f" {shown(found.instrument)} readings" if found.instrument and not found.player else ""
    )
    all_lie = f"All{readings} on {where} lie {_cents(found)} {_high(found)}"
    if found.unlogged_slides == LIKELY:
        return (
            f"{all_lie}, {_other_air(found.cents)}: {UNLOGGED} do that. {LOG_OR_APART} If none was "
            f"set, check the tuner: it is like A4 = {found.size:g}."
        )
    return f"{all_lie}, like A4 = {found.size:g}. Check the tuner's setting{_or_slides(found)}."


def _swap(found: Notice, zone: tzinfo | None) -> str:
    return (
        f"Since {found.rehearsal} {found.player}'s notes lie differently, like another instrument "
        "or a slide that was moved. If so, name the one, or log the other, from there."
    )


def _sign(found: Notice, zone: tzinfo | None) -> str:
    if not found.rehearsal:
        whose = f"All of {found.player}'s" if found.player else "All"
        if found.instrument and not found.player:
            whose += f" {shown(found.instrument)}"
        return (
            f"{whose} readings, in every rehearsal, fit with signs turned: flatter as it warms. "
            "If flat was entered as sharp, turn them."
        )
    whose = f"{found.player}'s" if found.player else "All"
    return (
        f"{whose} readings of {found.rehearsal} fit with signs turned. If a minus was forgotten, "
        "turn them."
    )


def _names(found: Notice, zone: tzinfo | None) -> str:
    since = f" from {_clock(found, zone)}" if found.first else ""
    day = _day_of(found, zone) if since else found.rehearsal
    return (
        f"On {day}{since} {found.player}'s and {found.other}'s readings fit exchanged. "
        "Check the names."
    )


def _wrong_note(found: Notice, zone: tzinfo | None) -> str:
    of_one = found.first and found.first == found.last
    where = (
        f"at {_clock(found, zone)} on {_day_of(found, zone)}" if of_one else f"of {found.rehearsal}"
    )
    return (
        f"{found.player}'s {shown(found.note)} {where} fits as {shown(found.other)}. "
        "Check the note."
    )


def _thermometer(found: Notice, zone: tzinfo | None) -> str:
    way = "warmer" if found.size > 0 else "colder"
    fits = f"fits air {abs(found.size):.1f} °C {way} than was measured"
    if found.unlogged_slides == LIKELY:
        return (
            f"The pitch of {found.rehearsal}, {_other_air(found.cents)}, {fits}: {UNLOGGED} do "
            f"that. {LOG_OR_APART} If none was set, check where the thermometer was{BEFORE}."
        )
    return (
        f"The pitch of {found.rehearsal} {fits}. Check where the thermometer was{BEFORE}"
        f"{_or_slides(found)}."
    )


def _watches(found: Notice, zone: tzinfo | None) -> str:
    share = "half" if 0.4 <= found.size <= 0.6 else f"{100.0 * found.size:.0f} %"
    return (
        f"{found.player} drifts {share} as much as expected. If {found.player} watches the tuner, "
        "let somebody else read."
    ).replace("% as much as", "% of what is")


def _rest(found: Notice, zone: tzinfo | None) -> str:
    before = _clock(found, zone)
    if found.since is not None:
        before = clock_within(found.rehearsal, found.since, zone)
    return (
        f"The pitch of {found.rehearsal} fits a rest of about {found.size:.0f} minutes before "
        f"{before} that was not logged. If there was one, log it."
    )


def _outlier(found: Notice, zone: tzinfo | None) -> str:
    return (
        f"{found.player}'s {shown(found.note)} at {_clock(found, zone)} on {_day_of(found, zone)} "
        f"lies {_cents(found)} too {_high(found)}. Check what was entered."
    )


def _other_air(cents: float) -> str:
    """Return in which air slides are set so that readings are so far off."""
    return f"in {'warmer' if cents < 0.0 else 'colder'} air than the other rehearsals"


def _or_slides(found: Notice) -> str:
    """Return that no slide was logged, where it was not."""
    return f". If slides were set, {LOG_THEM.lower()}: none was logged" * bool(
        found.unlogged_slides
    )


def _cents(found: Notice) -> str:
    return f"{abs(found.cents):.0f} cents"


def _high(found: Notice) -> str:
    return "high" if found.cents > 0 else "low"


def _clock(found: Notice, zone: tzinfo | None) -> str:
    if found.since is None:
        return f"reading {found.first or 1}"
    return clock_here(found.since, zone)


def _day_of(found: Notice, zone: tzinfo | None) -> str:
    """Return the rehearsal for beside `_clock`."""
    if found.since is None:
        return found.rehearsal
    return day_of(found.rehearsal, found.since, zone)


def _readings(found: Notice) -> str:
    return f"readings {found.first}–{found.last}"


_SENTENCES = {
    NoticeKind.SLIDE: _slide,
    NoticeKind.DAY: _day,
    NoticeKind.A4: _a4,
    NoticeKind.SWAP: _swap,
    NoticeKind.SIGN: _sign,
    NoticeKind.NAMES: _names,
    NoticeKind.WRONG_NOTE: _wrong_note,
    NoticeKind.THERMOMETER: _thermometer,
    NoticeKind.WATCHES: _watches,
    NoticeKind.REST: _rest,
    NoticeKind.OUTLIER: _outlier,
}

_CAUSES = {
    NoticeKind.SLIDE: "a slide that moved",
    NoticeKind.DAY: "a day that is off as a whole",
    NoticeKind.A4: "another A4 on the tuner",
    NoticeKind.SWAP: "another instrument",
    NoticeKind.SIGN: "a forgotten minus",
    NoticeKind.NAMES: "two players' names exchanged",
    NoticeKind.WRONG_NOTE: "a note entered as another",
    NoticeKind.THERMOMETER: "a thermometer that was not where the players were",
    NoticeKind.WATCHES: "a player who watches the tuner",
    NoticeKind.REST: "a rest that was not logged",
    NoticeKind.OUTLIER: "a single reading that is wrong",
}
