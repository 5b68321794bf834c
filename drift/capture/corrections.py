"""What an entry puts right: the side of a reading without one, a slide entered wrongly."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import fields
from datetime import datetime
from typing import TYPE_CHECKING, Any

from drift.errors import InputError
from drift.logbook import records
from drift.notes import shown

if TYPE_CHECKING:
    from drift.capture.earlier import ClockTime

__all__ = ["as_record", "sides_wanting", "superseded", "with_side"]

Row = Mapping[str, Any]


def sides_wanting(
    readings: Iterable[Row], player: str, time: datetime, clock: ClockTime | None
) -> list[Row]:
    """Return the readings of a player that a side is for.

    Parameters
    ----------
    readings : iterable of mapping
        The readings of the rehearsal.
    player : str
        Whose.
    time : datetime
        The moment that was typed, else now.
    clock : ClockTime or None
        As it was typed: all readings of that minute that have no side. None: the reading that
        was entered last.

    Raises
    ------
    InputError
        When there is none.
    """
    own = [row for row in readings if row["player"] == player]
    if clock is not None:
        found = [row for row in own if clock.shows(time, row["time"]) and not row["side"]]
        if not found:
            raise InputError(
                f"{player} has no reading without a side at {clock}",
                "type the minute in which it was saved: at 20:10 side Bb",
            )
        return found
    last = max(own, key=lambda row: int(row["entry_id"]), default=None)
    if last is None or last["side"]:
        on = f", {shown(last['note'])}, is on the {shown(last['side'])} side" if last else ""
        raise InputError(
            f"the last reading{on} already" if on else f"{player} has not read a note yet",
            "at 20:10 side Bb gives an earlier reading its side; side Bb holds from now on",
        )
    return [last]


def with_side(row: Row, side: str) -> records.Reading:
    """Return a reading of the logbook with its side."""
    named = {one.name: row[one.name] for one in fields(records.Reading)}
    return records.Reading(**{**named, "side": side})


def superseded(events: Iterable[Row], moved: records.Event, clock: ClockTime) -> Row | None:
    """Return the entry of the same slide that one with a time of day puts right, if there is one.

    A time of day names a minute, or a second, and the entry that is put right was made within it:
    it would be the later of the two, and hold on. One that names no instrument, as tables may, is
    meant too.
    """
    same = moved.player, moved.slide
    found = (
        row
        for row in reversed(list(events))
        if row["event"] == moved.event == "slide"
        and (row["player"], row["slide"]) == same
        and row["instrument"] in ("", moved.instrument)
        and clock.shows(moved.time, row["time"])
    )
    return next(found, None)


def as_record(row: Row) -> records.Reading | records.Event:
    """Return a reading or an event of the logbook as it was entered."""
    kind = records.Reading if "note" in row else records.Event
    return kind(**{one.name: row[one.name] for one in fields(kind)})
