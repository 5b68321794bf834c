"""What `drift check` found in a logbook, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, tzinfo
from typing import TYPE_CHECKING, Any

from drift.findings import Finding
from drift.notes import shown
from drift.words.zones import by_which_clock, clock_within, moment_here

if TYPE_CHECKING:
    from drift.pairing.examination import Examination

__all__ = ["finding_text", "summary_of"]

PLAIN = {
    "damage": "{found}",
    "lost": "{rehearsal}: {notice}",
    "step": "{rehearsal}: {notice}",
    "all at once": "{rehearsal}: all {count} readings were taken in the first {seconds:g} s of "
    "playing, so they cannot show warm-up",
    "several evenings": "{rehearsal}: {count} evenings, from {first} to {last}, are one rehearsal, "
    "and playing counts on from the first; export the logbook, give each evening a name of its own "
    "in the column rehearsal, and import it into a new one",
    "beyond travel": "{rehearsal}: {slide} at {position_mm:g} mm, its travel is {travel_mm:g} mm",
    "unknown instrument": "{problem}",
    "stuck": "{where}: {celsius:.2f} °C without a change for {minutes:.0f} minutes from {time}",
    "refused": "{where}: {count} notices of lines that are no temperature, such as: {example}",
}
"""One sentence each, by kind."""


def finding_text(found: Finding, zone: tzinfo | None = UTC) -> str:
    """Return one finding of an examination in words.

    Parameters
    ----------
    found : Finding
        What was found.
    zone : tzinfo or None
        Where times are told; None: where this computer is.

    Examples
    --------
    >>> finding_text(Finding("jump", {"rehearsal": "May 5", "source": "stage", "more": 3}))
    'May 5, stage: and 3 more'
    """
    value = found.values
    if found.kind == "interrupted":
        return _interrupted(value)
    where = f"{value.get('rehearsal')}, {value.get('source') or 'thermometer'}"
    if found.kind == "jump":
        return f"{where}: {_jump(value, zone)}"
    if found.kind == "no temperature":
        return f"{value['rehearsal']}: {_without_temperature(value, zone)}"
    if found.kind == "other rehearsal":
        return f"{value['rehearsal']}: {_other_rehearsal(value, zone)}"
    if found.kind == "beyond compass":
        return _beyond_compass(value, zone)
    if found.kind == "side not stated":
        return _side_not_stated(value, zone)
    if found.kind == "far out":
        return _far_out(value, zone)
    if found.kind == "offline":
        return f"{where}: {_offline(value, zone)}"
    told = {name: _moment(value[name], zone) for name in ("time", "first", "last") if name in value}
    return PLAIN[found.kind].format(**{**value, **told}, where=where)


def summary_of(
    found: Examination, others: Sequence[tuple[str, str]] = (), zone: tzinfo | None = UTC
) -> str:
    """Return the findings of an examination, a line each, or that there are none.

    Parameters
    ----------
    found : Examination
    others : sequence of (str, str)
        Kind and text of what else there is to look at.
    zone : tzinfo or None
        Where times are told; None: where this computer is.
    """
    rehearsals = f"{found.rehearsals} rehearsal" + ("" if found.rehearsals == 1 else "s")
    entries = f"{found.entries} entr" + ("y" if found.entries == 1 else "ies")
    head = f"{found.book}: {rehearsals}, {entries}"
    lines = [f"{one.kind}: {finding_text(one, zone)}" for one in found.findings]
    lines += [f"{kind}: {text}" for kind, text in others]
    if not lines:
        return f"{head}\nfile intact; no suspicious values"
    state = "file intact" if found.intact else "file damaged"
    return "\n".join([head, f"{state}; to look at: {len(lines)}", *lines])


def _interrupted(value: Mapping[str, Any]) -> str:
    writing = value["writing"]
    now = f"{writing} writes now" if writing else "drift log goes on with it"
    return f"{value['rehearsal']} has no end; {now}"


def _jump(value: Mapping[str, Any], zone: tzinfo | None) -> str:
    if "more" in value:
        return f"and {value['more']} more"
    when = _moment(value["time"], zone)
    return f"{value['from_celsius']:.1f} to {value['to_celsius']:.1f} °C at {when}"


def _without_temperature(value: Mapping[str, Any], zone: tzinfo | None) -> str:
    first = datetime.fromisoformat(value["first"])
    return (
        f"{_readings(value, zone)} with no temperature within "
        f"{value['minutes']:g} minutes; add what was read then: "
        f"at {first.astimezone(zone):%H:%M} temp and the degrees{by_which_clock(first, zone)}"
    )


def _other_rehearsal(value: Mapping[str, Any], zone: tzinfo | None) -> str:
    return (
        f"{_readings(value, zone)} with no temperature in this rehearsal, though "
        f"{value['other']} has one then; if both are one, give them one name in the tables and "
        "import these into a new logbook"
    )


def _beyond_compass(value: Mapping[str, Any], zone: tzinfo | None) -> str:
    if "more" in value:
        return f"and {value['more']} more"
    low, high = shown(value["low"]), shown(value["high"])
    return (
        f"{value['rehearsal']}: {value['player']}, {shown(value['note'])}, "
        f"{_readings(value, zone)}; the {shown(value['instrument'])} sounds {low} to {high}: "
        "look whether note or instrument was mistyped"
    )


def _side_not_stated(value: Mapping[str, Any], zone: tzinfo | None) -> str:
    which = "it was" if value["count"] == 1 else "they were"
    return (
        f"{value['rehearsal']}: {value['player']}, {_readings(value, zone)}; slides were moved, "
        f"so on which side {which} played cannot be inferred and no answer uses "
        f"{'it' if value['count'] == 1 else 'them'}: name the side with each (F4 +6 Bb)"
    )


def _readings(value: Mapping[str, Any], zone: tzinfo | None) -> str:
    """Return how many readings, and when they were taken."""
    named = value["rehearsal"]
    first, last = (
        clock_within(named, datetime.fromisoformat(value[end]), zone) for end in ("first", "last")
    )
    when = f"at {first}" if first == last else f"from {first} to {last}"
    return f"{value['count']} reading{'' if value['count'] == 1 else 's'} {when}"


def _moment(time: str, zone: tzinfo | None) -> str:
    return moment_here(datetime.fromisoformat(time), zone)


def _far_out(value: Mapping[str, Any], zone: tzinfo | None) -> str:
    if "more" in value:
        return f"and {value['more']} more"
    whose = f"{value['player']}, " if value["player"] else ""
    time = datetime.fromisoformat(value["time"])
    return (
        f"{value['rehearsal']}: {whose}{shown(value['slide'])} at {value['position_mm']:g} mm is "
        f"farther out than a slide goes; enter it right in drift log with its time: "
        f"at {time.astimezone(zone):%Y-%m-%d %H:%M} slide {value['slide']} and the mm"
        f"{by_which_clock(time, zone)}"
    )


def _offline(value: Mapping[str, Any], zone: tzinfo | None) -> str:
    since = f"from {_moment(value['time'], zone)} ({value['notice']})"
    if value["minutes"] is None:
        return f"{since}, and did not come back"
    return f"for {value['minutes']:.1f} minutes {since}"
