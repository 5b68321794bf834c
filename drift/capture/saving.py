"""Readings of a recording into a logbook: each once, and anew where they were wrong."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any

from drift.logbook.book import Logbook
from drift.logbook.records import Reading

__all__ = ["Changed", "Marked", "Misplaced", "Saved", "misplaced", "save_readings"]

_SAME_TONE_S = 0.5
_SAME_CENTS = 0.02
_SAME_TIME = timedelta(milliseconds=200)


@dataclass(frozen=True, slots=True)
class Marked:
    """A reading with the recording that it comes from.

    Attributes
    ----------
    reading : Reading
        What is to be saved.
    recording : str
        The recording (`drift.capture.listening.fingerprint`).
    at_s : float
        Where its tone begins in the recording [s].
    """

    reading: Reading
    recording: str
    at_s: float

    @property
    def key(self) -> str:
        """What keeps the tone from being saved twice."""
        return f"{self.recording} {self.at_s:.1f} {self.reading.rehearsal} {self.reading.player}"


@dataclass(frozen=True, slots=True)
class Changed:
    """A tone that was saved otherwise before.

    Attributes
    ----------
    entry : int
        The entry that holds it.
    before : mapping
        Its columns.
    now : Marked
        What it would be now.
    """

    entry: int
    before: Mapping[str, Any]
    now: Marked


class Misplaced(StrEnum):
    """Where a reading cannot have been made."""

    OUTSIDE = "outside-rehearsal"
    REST = "in-a-rest"


@dataclass(frozen=True, slots=True)
class Saved:
    """What became of the readings of recordings.

    Attributes
    ----------
    new, already : int
        How many were saved for the first time, and how many were there as they are.
    changed : tuple of Changed
        Tones that were saved otherwise before.
    replaced : bool
        Whether the changed ones took their place; else they were left.
    others : tuple of str
        Players for whom readings of the same recordings were saved before.
    misplaced : mapping of Misplaced to int
        How many of the new ones were made at an odd time.
    """

    new: int
    already: int
    changed: tuple[Changed, ...]
    replaced: bool
    others: tuple[str, ...]
    misplaced: Mapping[Misplaced, int]


def save_readings(
    book: Logbook, readings: Sequence[Marked], time: datetime, *, replace: bool = False
) -> Saved:
    """Save the readings of recordings, all or none.

    A tone that is in the book as it is stays; one that is there with another time, side, note or
    pitch stays too, unless it is to be replaced: then the old entry is undone and the new one made
    in one transaction.

    Parameters
    ----------
    book : Logbook
        Where to.
    readings : sequence of Marked
        What was heard.
    time : datetime
        When entries are undone.
    replace : bool, default False
        Whether to replace what was saved otherwise.

    Returns
    -------
    Saved
    """
    known = list(_known(book, {one.recording for one in readings}))
    players = {one.reading.player for one in readings}
    new, changed, already = [], [], 0
    for one in readings:
        match = _match(one, known)
        if match is None:
            new.append(one)
        elif _is_same(one.reading, match[2]):
            already += 1
        else:
            changed.append(Changed(match[0], match[2], one))
    entries = [item.entry for item in changed] if replace else []
    instead = [(one.reading, one.key) for one in new]
    if replace:
        instead += [(one.now.reading, f"{one.now.key} after {one.entry}") for one in changed]
    if instead:
        book.take_back(entries, time, instead=instead)
    return Saved(
        new=len(new),
        already=already,
        changed=tuple(changed),
        replaced=replace,
        others=tuple(sorted({row["player"] for _, _, row in known} - players)),
        misplaced=misplaced(book, [reading for reading, _ in instead]),
    )


def misplaced(book: Logbook, readings: Iterable[Reading]) -> dict[Misplaced, int]:
    """Return how many readings lie in a rest, or outside their rehearsal as it was logged."""
    counts: dict[Misplaced, int] = {}
    events: dict[str, list[dict[str, Any]]] = {}
    for reading in readings:
        name = reading.rehearsal
        if name not in events:
            events[name] = list(book.rows("events", rehearsal=name))
        if where := _odd_place(reading, events[name]):
            counts[where] = counts.get(where, 0) + 1
    return counts


def _odd_place(reading: Reading, events: Sequence[Mapping[str, Any]]) -> Misplaced | None:
    times = {
        what: [row["time"] for row in events if row["event"] == what] for what in ("start", "end")
    }
    if times["start"] and reading.time < min(times["start"]):
        return Misplaced.OUTSIDE
    if times["end"] and reading.time > max(times["end"]):
        return Misplaced.OUTSIDE
    last = ""
    for row in events:
        mine = row["player"] in ("", reading.player)
        if mine and row["event"] in ("play", "rest") and row["time"] <= reading.time:
            last = row["event"]
    return Misplaced.REST if last == "rest" else None


def _known(book: Logbook, recordings: Iterable[str]) -> Iterator[tuple[int, float, dict[str, Any]]]:
    """Yield entry, place in the recording and columns of what was saved of recordings."""
    places: dict[int, float] = {}
    for recording in sorted(recordings):
        for entry, key in book.keys_from(f"{recording} "):
            places[entry] = float(key.split(" ")[1])
    if places:
        for row in book.rows("readings"):
            if row["entry_id"] in places:
                yield row["entry_id"], places[row["entry_id"]], row


def _match(
    one: Marked, known: Sequence[tuple[int, float, dict[str, Any]]]
) -> tuple[int, float, dict[str, Any]] | None:
    mine = [
        item
        for item in known
        if item[2]["player"] == one.reading.player
        and item[2]["rehearsal"] == one.reading.rehearsal
        and abs(item[1] - one.at_s) <= _SAME_TONE_S
    ]
    return min(mine, key=lambda item: abs(item[1] - one.at_s), default=None)


def _is_same(reading: Reading, row: Mapping[str, Any]) -> bool:
    exact = ("instrument", "side", "note", "a4_hz")
    return (
        all(row[name] == getattr(reading, name) for name in exact)
        and abs(row["cents"] - reading.cents) <= _SAME_CENTS
        and abs(row["time"] - reading.time) <= _SAME_TIME
    )
