"""From an entry to what it saves in the logbook, and what it puts right there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING, NamedTuple

from drift.capture.corrections import as_record, sides_wanting, superseded, with_side
from drift.capture.entries import (
    Note,
    Play,
    Remark,
    SideOf,
    Slide,
    Slides,
    Timed,
    TypedTemperature,
)
from drift.errors import InputError
from drift.instruments import find
from drift.logbook import records
from drift.logbook.vocabulary import known_side
from drift.notes import sounding_of

if TYPE_CHECKING:
    from drift.capture.desk import Desk
    from drift.capture.earlier import ClockTime

__all__ = ["Saved", "records_of"]

Seat = Mapping[str, str]


class Saved(NamedTuple):
    """A record to save, and the number and the record of the entry that is undone for it."""

    record: records.Record
    undone: int | None = None
    instead: records.Record | None = None


def records_of(
    desk: Desk, entry: Timed, time: datetime, seat: Seat, clock: ClockTime | None = None
) -> list[Saved]:
    """Return what an entry saves, each with the entry that is undone for it, if there is one.

    Parameters
    ----------
    desk : Desk
        Where it is entered.
    entry : Timed
        What was typed.
    time : datetime
        When it happened.
    seat : mapping of str to str
        Who plays what on which side in this entry alone.
    clock : ClockTime, optional
        The time it was typed with, if it happened earlier.
    """
    if isinstance(entry, SideOf):
        player, instrument = desk.chosen(seat)
        side = known_side(instrument, entry.side, desk.catalogue)
        readings = desk.book.rows("readings", rehearsal=desk.rehearsal)
        rows = sides_wanting(readings, player, time, clock)
        return [Saved(with_side(row, side), row["entry_id"], as_record(row)) for row in rows]
    entries = entry.slides if isinstance(entry, Slides) else (entry,)
    events = list(desk.book.rows("events", rehearsal=desk.rehearsal)) if clock else []
    saved = []
    for one in entries:
        record = _record(desk, one, time, seat)
        wrong = None
        if clock and isinstance(record, records.Event):
            wrong = superseded(events, record, clock)
        if wrong and wrong["time"] > record.time:  # others of that minute may lie before it
            record = replace(record, time=wrong["time"])
        saved.append(Saved(record, *((wrong["entry_id"], as_record(wrong)) if wrong else ())))
    return saved


def _record(
    desk: Desk, entry: Note | TypedTemperature | Slide | Play | Remark, time: datetime, seat: Seat
) -> records.Record:
    here = desk.rehearsal
    if isinstance(entry, Note):
        return _reading(desk, entry, time, seat)
    if isinstance(entry, TypedTemperature):
        return records.Temperature(time, here, entry.celsius, source=records.TYPED)
    if isinstance(entry, Play):
        word = "play" if entry.playing else "rest"
        player = entry.player and desk.book.player_called(entry.player)
        return records.Event(time, here, player, word, already_warm=entry.warm)
    if isinstance(entry, Slide):
        player, instrument = desk.chosen(seat)
        tuning = entry.slide.casefold() == "tuning"  # as it is called on a trombone
        slide = "main" if tuning else entry.slide
        return records.Event(time, here, player, "slide", slide, entry.position_mm, "", instrument)
    player = seat.get("player", desk.player)
    return records.Event(time, here, player, "remark", remark=entry.text)


def _reading(desk: Desk, entry: Note, time: datetime, seat: Seat) -> records.Reading:
    player, name = desk.chosen(seat)
    semitones = desk.semitones(name, player)
    note = sounding_of(entry.note, semitones) if semitones and entry.note else entry.note
    typed = known_side(name, entry.side, desk.catalogue) if entry.side else ""
    note, side = (note, typed) if note else _read_last(desk, player, typed, time)
    side = side or _chosen_side(desk, player, name, seat)
    cents = entry.cents_at(desk.a4_hz, semitones)
    return records.Reading(
        time, desk.rehearsal, player, name, side, note, cents, desk.a4_hz, entry.remark,
        flagged=entry.flagged,
    )  # fmt: skip


def _chosen_side(desk: Desk, player: str, instrument: str, seat: Seat) -> str:
    """Return the side that a player chose for now; empty where none was chosen."""
    chosen = desk.book.choices(desk.rehearsal)
    same = (chosen.get("player"), chosen.get("instrument")) == (player, instrument)
    side = seat.get("side") or (chosen.get("side", "") if same else "")
    return side if side in {one.name for one in find(instrument, desk.catalogue).sides} else ""


def _read_last(desk: Desk, player: str, side: str, time: datetime) -> tuple[str, str]:
    """Return the note that a player had read last in this rehearsal, and on which side."""
    own = [row for row in desk.book.rows("readings", rehearsal=desk.rehearsal)
           if row["player"] == player]  # fmt: skip
    if not own:
        raise InputError(f"{player} has not read a note yet", "type it as F4 +6")
    last = [row for row in own if row["time"] <= time][-1:] or own[-1:]
    return str(last[0]["note"]), side or str(last[0]["side"])
