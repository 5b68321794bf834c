"""Warnings of a plan in words: about its forecast, its schedule, its sections and its fit."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Any

from drift.degrees import shown_degrees, shown_range
from drift.findings import Finding
from drift.gig.gaps import GAP_KINDS
from drift.words import fit
from drift.words.gig_clock import clock
from drift.words.gig_phrases import NOT_PLANNED
from drift.words.numbers import some
from drift.words.spoilt import beginning_assumed

__all__ = ["at_start", "warning_text"]

LONG_GAP = timedelta(hours=1)
"""Nobody is surprised that a band stays in a room for less."""

PLAIN = {
    "rows_without_temperature": "{file}: {missing} of {rows} rows have no temperature",
    # What was read as °C stays °C here: it may be the other unit.
    "perhaps_fahrenheit": "{file}: {low_celsius:g} to {high_celsius:g} is read as °C; if it is °F, "
    "name the column fahrenheit",
}
"""Warnings that name no time and no list, by kind."""


def warning_text(found: Finding, fahrenheit: bool = False, zone: tzinfo | None = UTC) -> str:
    """Return one warning of a plan in words.

    Parameters
    ----------
    found : Finding
        One of `Plan.warnings`.
    fahrenheit : bool
        Whether temperatures are shown in °F.
    zone : tzinfo or None
        Where times of readings are told; None: where this computer is.

    Examples
    --------
    >>> warning_text(Finding("no_slide", {"sections": ["second trumpets"]}))
    'no slide on the roster, so nothing is moved: second trumpets'
    """
    value = found.values
    if value.get("of_rehearsals") and found.kind not in WORDED:
        return f"of the rehearsals: {fit.warning_text(found, fahrenheit, zone)}"
    if found.kind in PLAIN:
        return PLAIN[found.kind].format(**value)
    if found.kind in GAP_KINDS:
        return _gap(value, fahrenheit)
    if found.kind == "one_tune_for_room_and_field":
        return _room_and_field(value, fahrenheit)
    worded = WORDED.get(found.kind)
    return worded(value) if worded else fit.warning_text(found, fahrenheit, zone)


def at_start(start: datetime) -> str:
    """Return what is taken for granted of instruments that a timetable begins with outdoors."""
    return (
        f"the instruments are taken to be as warm as the air at {clock(start)}, as if they had "
        "been outside for long; if they come from a room, begin the timetable in it, with its "
        "temperature"
    )


def _begins_outdoors(value: Mapping[str, Any]) -> str:
    return at_start(datetime.fromisoformat(value["time"]))


def _no_tune(value: Mapping[str, Any]) -> str:
    if value["added_at"] is None:
        return "the schedule has no tune: the moves are for slides set just before the band plays"
    return (
        f"the schedule has no tune: one was added at {_hour(value['added_at'])}, before the first "
        "playing on the field"
    )


def _no_room(value: Mapping[str, Any]) -> str:
    return (
        f"nobody can tune in the air of the playing at {_hour(value['time'])}: end the row before "
        f"it ({value['way']}) when the band is there, four minutes or more before it plays"
    )


def _permission(value: Mapping[str, Any]) -> str:
    start, end = _hour(value["tune_at"]), _hour(value["time"])
    before = f" ({value['playing']})" if value["playing"] else ""
    return (
        f"no tune before the playing at {end}{before}, which needs one: the timetable says that "
        f"nobody plays then; ask whether the band may sound from {start} to {end}, and write a "
        "tune there if it may"
    )


def _room(value: Mapping[str, Any]) -> str:
    entries = ", ".join(f"{_hour(start)} ({remark})" for start, remark in value["entries"])
    return (
        f"taken to be as cold as the forecast: {entries}; if it is indoors, give its temperature, "
        "such as celsius 21 in the schedule or 21 C in the title of a calendar entry"
    )


def _room_and_field(value: Mapping[str, Any], fahrenheit: bool) -> str:
    coldest, warmest = sorted((value["room_celsius"], value["field_celsius"]))
    degrees = shown_range(coldest, warmest, fahrenheit).replace(" to ", " and at ")
    return (
        f"the one tune at {_hour(value['tune_at'])} serves playing at {degrees}: it is right for "
        "neither; schedule a tune in between"
    )


def _early(value: Mapping[str, Any]) -> str:
    return (
        f"the band plays from {_hour(value['time'])}, before its first tune at "
        f"{_hour(value['tune_at'])}: nothing corrects that"
    )


def _gap(value: Mapping[str, Any], fahrenheit: bool = False) -> str:
    """Return in which air the band is taken to be while nothing is scheduled."""
    start, end = (datetime.fromisoformat(value[name]) for name in ("start", "end"))
    head = f"nothing is scheduled from {clock(start)} to {clock(end)}: taken as rest"
    if (celsius := value["celsius"]) is not None:
        place = f" ({value['place']})" if value["place"] else ""
        long = "; if the band goes elsewhere, add a row" if end - start >= LONG_GAP else ""
        return f"{head} in the same place at {shown_degrees(celsius, fahrenheit)}{place}{long}"
    air = ", as forecast"
    if "low_celsius" in value:
        air = f" at {shown_range(value['low_celsius'], value['high_celsius'], fahrenheit)}"
    inside = "; if the band stays inside, add a row with the temperature there"
    return f"{head} outdoors{air}{inside if value['beside_a_room'] else ''}"


def _left_out(value: Mapping[str, Any]) -> str:
    columns = ", ".join(value["columns"])
    return f"{value['file']}: columns that nothing here needs were left out: {columns}"


def _sheets(value: Mapping[str, Any]) -> str:
    return f"{value['file']}: sheets not read: {', '.join(value['sheets'])}"


def _held(value: Mapping[str, Any]) -> str:
    return (
        f"{value['file']} covers {_clock(value['start'])} to {_clock(value['end'])} only: its "
        "nearest temperature is held beyond that"
    )


def _bridged(value: Mapping[str, Any]) -> str:
    return (
        f"{value['file']} has no temperature between {_clock(value['start'])} and "
        f"{_clock(value['end'])} ({value['hours']:.0f} hours): a straight line is taken"
    )


def _no_slide(value: Mapping[str, Any]) -> str:
    return f"no slide on the roster, so nothing is moved: {', '.join(value['sections'])}"


def _not_planned(value: Mapping[str, Any]) -> str:
    return f"{NOT_PLANNED}: {_numbered(value['sections'])}"


def _numbered(sections: list[list[Any]]) -> str:
    return ", ".join(f"{name} ({players})" for name, players in sections)


def _all_day(value: Mapping[str, Any]) -> str:
    return f"entries for a whole day were left out: {', '.join(value['entries'])}"


def _no_position(value: Mapping[str, Any]) -> str:
    return (
        "no position_mm, so before a push check that the slide is out that far: "
        f"{_slides(value['slides'])}"
    )


def _no_position_no_travel(value: Mapping[str, Any]) -> str:
    return (
        "slide travel unknown (travel_mm is empty), assumed long enough, and no position_mm, so "
        f"before a push check that the slide is out that far: {_slides(value['slides'])}"
    )


def _no_travel(value: Mapping[str, Any]) -> str:
    slides = _slides(value["slides"])
    return f"slide travel unknown (travel_mm is empty), assumed long enough: {slides}"


def _nearly_read(value: Mapping[str, Any]) -> str:
    each = (
        f"{name} ({section}) was not read and is planned as somebody unknown, but {like} was"
        for section, name, like in value["names"]
    )
    return f"{'; '.join(each)}: if they are one, write the name on the roster as in the readings"


def _slides_unlogged(value: Mapping[str, Any]) -> str:
    return (
        f"the pitch of {some(value['rehearsals'])} is that of slides set for the air, and none was "
        "logged: if slides were set, the targets here are too small. Log where they were, or keep "
        "that rehearsal in a logbook of its own"
    )


def _playing_assumed(value: Mapping[str, Any]) -> str:
    return (
        f"{beginning_assumed(value['rehearsals'])}. Where people had played for longer, the "
        "warm-up here is too small, and the numbers are surer than they should be; add a row play, "
        "with its time, to the events"
    )


WORDED = {
    "playing_assumed": _playing_assumed,
    "slides_unlogged": _slides_unlogged,
    "columns_left_out": _left_out,
    "sheets_not_read": _sheets,
    "begins_outdoors": _begins_outdoors,
    "no_tune": _no_tune,
    "no_room_to_tune": _no_room,
    "tune_needs_permission": _permission,
    "room_without_temperature": _room,
    "plays_before_tuning": _early,
    "temperature_held": _held,
    "temperature_bridged": _bridged,
    "no_slide": _no_slide,
    "name_nearly_read": _nearly_read,
    "not_planned": _not_planned,
    "all_day_left_out": _all_day,
    "no_position_no_travel": _no_position_no_travel,
    "no_position": _no_position,
    "no_travel": _no_travel,
}


def _slides(pairs: list[list[str]]) -> str:
    return ", ".join(f"{section} ({slide})" for section, slide in pairs)


def _hour(time: str) -> str:
    return clock(datetime.fromisoformat(time))


def _clock(time: str) -> str:
    return f"{datetime.fromisoformat(time):%Y-%m-%d %H:%M}"
