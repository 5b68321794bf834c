"""What is taken of a gap in a timetable: a rest, in the air of the rows around it or outdoors.

Two rows in one room leave the band, or at least its instruments, in that room, however long the
gap. Between two rooms nobody knows where it is: outdoors, which a notice names.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

import pandas as pd

from drift.findings import Finding
from drift.gig.activities import ACTIVITY_WORDS, ROOM, TITLE_TEMPERATURE

if TYPE_CHECKING:
    from drift.gig.course import Outdoors
    from drift.gig.timetable import Entry

__all__ = ["GAP_KINDS", "NOTHING_SCHEDULED", "rest_between", "with_air"]

#: What stands beside a rest that the timetable does not name.
NOTHING_SCHEDULED = "nothing scheduled"
#: A gap, and one between two rooms, which a director must know of.
GAP_KINDS = ("nothing_scheduled", "gap_between_rooms")

_VEHICLE = re.compile(r"\b(bus|buses|coach|train|ride|drive|travel)\b", re.IGNORECASE)
_BEFORE_A_NAME = re.compile(r".*\b(?:in|at|to|into|from|the|a|an|of|on)\s+", re.IGNORECASE)
#: ``Tuning band hall`` is in the band hall, but ``concert hall`` is a name.
_ACTIVITY = re.compile(
    rf"^(?:{'|'.join(map(re.escape, ACTIVITY_WORDS))})\b\W*(?=\w)(?!{ROOM.pattern})", re.IGNORECASE
)


def rest_between(before: Entry, after: Entry) -> tuple[Entry, Finding]:
    """Return the rest between two rows that do not follow each other, and what to know of it.

    Parameters
    ----------
    before, after : Entry
        The rows, the second later than the first ends.

    Returns
    -------
    tuple of Entry and Finding
        In the same room at its temperature, the middle where the rows give two; with the offset
        from the forecast where both rows outdoors have the same; otherwise as the forecast.
    """
    indoors = [entry.celsius for entry in (before, after) if entry.celsius is not None]
    place = _place_of_both(before, after) if len(indoors) == 2 else None
    there = place is not None
    alike = before.offset_celsius == after.offset_celsius
    rest = replace(
        before,
        start=before.end,
        end=after.start,
        activity="rest",
        celsius=sum(map(_celsius, (before, after))) / 2.0 if there else None,
        offset_celsius=before.offset_celsius if alike and not indoors else 0.0,
        remark=NOTHING_SCHEDULED,
        share=None,
        added=False,
        occupied="",
        warm_up=False,
    )
    kind = GAP_KINDS[len(indoors) == 2 and not there]
    values = {
        "start": rest.start.isoformat(),
        "end": rest.end.isoformat(),
        "celsius": rest.celsius,
        "place": place or "",
        "beside_a_room": bool(indoors),
    }
    return rest, Finding(kind, values)


def with_air(notices: Iterable[Finding], outdoors: Outdoors) -> Iterator[Finding]:
    """Yield notices of a schedule, those of gaps outdoors with the air that was taken there."""
    for found in notices:
        if found.kind not in GAP_KINDS or found.values["celsius"] is not None:
            yield found
            continue
        ends = (pd.Timestamp(found.values[name]) for name in ("start", "end"))
        first, beyond = (int(outdoors.times.searchsorted(end)) for end in ends)
        there = outdoors.celsius[first : max(beyond, first + 1)]
        air = {"low_celsius": float(there.min()), "high_celsius": float(there.max())}
        yield replace(found, values={**found.values, **air})


def _celsius(entry: Entry) -> float:
    return (entry.celsius or 0.0) + entry.offset_celsius


def _place_of_both(before: Entry, after: Entry) -> str | None:
    """Return the name of the place where both rows are (empty: has none), None for two places."""
    first, second = (_named_rooms(entry.remark) for entry in (before, after))
    if first and second:
        pairs = ((one, other) for one in first for other in second)
        same = [min(pair, key=len) for pair in pairs if _one_room(*pair)]
        return same[0] if same else None
    parts = {part.casefold() for part in _parts(before.remark)}
    if parts.intersection(part.casefold() for part in _parts(after.remark)):
        return ""
    return "" if _celsius(before) == _celsius(after) else None


def _one_room(one: str, other: str) -> bool:
    """Return whether two names mean one room: one has all words of the other.

    Examples
    --------
    >>> _one_room("Concert hall", "hall"), _one_room("band hall", "concert hall")
    (True, False)
    """
    words = [set(re.findall(r"\w+", name.casefold())) for name in (one, other)]
    return words[0] <= words[1] or words[1] <= words[0]


def _named_rooms(remark: str) -> list[str]:
    """Return the names of rooms and vehicles in a remark.

    Examples
    --------
    >>> _named_rooms("Tune in the concert hall 22 C, air conditioning"), _named_rooms("Mozart")
    (['concert hall'], [])
    """
    named = []
    for part in _parts(TITLE_TEMPERATURE.sub("", remark)):
        found = ROOM.search(part) or _VEHICLE.search(part)
        if found:
            head = _BEFORE_A_NAME.sub("", part[: found.start()])
            named.append(_ACTIVITY.sub("", head + part[found.start() :]))
    return named


def _parts(remark: str) -> list[str]:
    return [part.strip() for part in re.split(r"[,;()]", remark) if part.strip()]
