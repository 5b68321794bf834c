"""What was understood in tables that are not written our way."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import zip_longest
from typing import TYPE_CHECKING

from drift.logbook.records import RECORDS
from drift.notes import shown
from drift.tables.by_time import REACH_MINUTES
from drift.tables.headers import Renamed, Unread
from drift.tables.understood import (
    Alike,
    ByTime,
    Commas,
    Daily,
    FarOut,
    Gaps,
    Hot,
    Repeated,
    Rounded,
    Several,
    Understood,
)

if TYPE_CHECKING:
    from drift.tables.taking import TakenTables

__all__ = ["all_understood", "not_compared", "rows_of", "understood", "without_positions"]

MOST_NAMES = 5
_SEPARATORS = {";": "semicolons", "\t": "tabs", ",": "commas"}


def all_understood(found: Iterable[Understood]) -> list[str]:
    """Return how tables were understood, each thing once, the columns of a file in one line.

    Examples
    --------
    >>> both = Renamed("log.csv", "Time", "time"), Renamed("log.csv", "Tone", "note")
    >>> all_understood(both)
    ["log.csv: columns are read so: 'Time' as time, 'Tone' as note"]
    """
    once = list(dict.fromkeys(found))
    columns: dict[str, list[Renamed]] = {}
    for one in once:
        if isinstance(one, Renamed):
            columns.setdefault(one.source, []).append(one)
    lines = []
    for source, renamed in columns.items():
        each = ", ".join(f"{one.given!r} as {one.name}" for one in renamed)
        several = f"{source}: columns are read so: {each}"
        lines.append(several if len(renamed) > 1 else understood(renamed[0]))
    return lines + [understood(one) for one in once if not isinstance(one, Renamed)]


def understood(found: Understood) -> str:
    """Return in a line how a table was understood.

    Examples
    --------
    >>> understood(Renamed("readings.csv", "Temp (C)", "celsius"))
    "readings.csv: column 'Temp (C)' is read as celsius"
    >>> understood(Commas("readings.csv", "cents"))
    'readings.csv: in cents a comma stands before the decimals'
    >>> understood(Repeated("readings.csv", 2, "readings.csv line 12"))
    'readings.csv: 2 rows equal an earlier one, first readings.csv line 12; each counts'
    >>> understood(Rounded("readings.csv", 17))
    'readings.csv: 17 times are finer than a microsecond, and rounded to it'
    >>> understood(Gaps("hall.csv", 16, "hall.csv line 1009"))
    'hall.csv: 16 rows without a temperature, first hall.csv line 1009, are passed over'
    >>> understood(ByTime("hall.csv", 66)).partition("rehearsal, ")[2]
    'each row belongs to the rehearsal whose readings were made at its time'
    >>> understood(Several("readings.csv", "hall", ("hall 2026-10-05", "hall 2026-10-12")))
    "readings.csv: 'hall' stands for 2 evenings, taken as 'hall 2026-10-05' and 'hall 2026-10-12'"
    >>> understood(Alike("readings.csv", ("Wren", "Wren.")))
    "readings.csv: 'Wren' and 'Wren.' are taken as different players"
    >>> understood(Hot("hall.csv", 55.0, 59.5))
    'hall.csv: temperatures from 55 to 59.5 look like °F; if they are, call the column fahrenheit'
    >>> understood(Hot("hall.csv", 55.0, 59.5, ("7 May",))).partition(";")[0]
    'hall.csv: temperatures of 7 May from 55 to 59.5 look like °F'
    >>> understood(FarOut("events.csv line 7", "main", 140.0))
    'events.csv line 7: main at 140 mm is farther out than a slide goes; give mm from fully in'
    """
    if isinstance(found, FarOut):
        more = f" (and {found.more} more)" if found.more else ""
        return (
            f"{found.place}: {shown(found.slide)} at {found.position_mm:g} mm is farther out than "
            f"a slide goes{more}; give mm from fully in"
        )
    if isinstance(found, Commas):
        return f"{found.source}: in {found.column} a comma stands before the decimals"
    if isinstance(found, Repeated):
        rows = "1 row equals" if found.rows == 1 else f"{found.rows} rows equal"
        return f"{found.source}: {rows} an earlier one, first {found.first}; each counts"
    if isinstance(found, Rounded):
        times = "1 time is" if found.rows == 1 else f"{found.rows} times are"
        return f"{found.source}: {times} finer than a microsecond, and rounded to it"
    if isinstance(found, Gaps):
        rows = "1 row" if found.rows == 1 else f"{found.rows} rows"
        over = f"first {found.first}, are" if found.rows > 1 else f"{found.first}, is"
        return f"{found.source}: {rows} without a temperature, {over} passed over"
    if isinstance(found, Daily):
        return f"{found.source}: without a column rehearsal, each day is one"
    if isinstance(found, ByTime):
        return f"{found.source}: {_by_time(found)}"
    if isinstance(found, Several):
        first, *_, last = found.evenings
        to = "and" if len(found.evenings) == 2 else "to"
        evenings = f"{len(found.evenings)} evenings, taken as {first!r} {to} {last!r}"
        return f"{found.source}: {found.name!r} stands for {evenings}"
    if isinstance(found, Alike):
        places = (place.removeprefix(found.source).strip() for place in found.places)
        named = zip_longest(found.names, places, fillvalue="")
        one, *others = (f"{name!r} ({place})" if place else repr(name) for name, place in named)
        return f"{found.source}: {one} and {', '.join(others)} are taken as different players"
    if isinstance(found, Hot):
        names = found.rehearsals[:MOST_NAMES]
        more = " and others " if len(found.rehearsals) > MOST_NAMES else " "
        of = f"of {', '.join(names)}{more}" if names else ""
        return (
            f"{found.source}: temperatures {of}from {found.low:g} to {found.high:g} look like °F; "
            "if they are, call the column fahrenheit"
        )
    if isinstance(found, Unread):
        known = ", ".join(RECORDS)
        return f"{found.source}: the sheet {found.sheet!r} was not read; sheets are called {known}"
    if isinstance(found, Renamed):
        return f"{found.source}: column {found.given!r} is read as {found.name}"
    return f"{found.source}: fields are separated by {_SEPARATORS[found.separator]}"


def _by_time(found: ByTime) -> str:
    how = (
        "without a column rehearsal, each row belongs to the rehearsal whose readings were made at "
        "its time"
    )
    if not found.left_out:
        return how
    far = f"{found.left_out} of {found.rows} rows"
    return f"{how}; {far}, more than {REACH_MINUTES} minutes from any reading, are left out"


def rows_of(taken: TakenTables) -> str:
    """Return how many rows each table has."""
    rows = {name: table.rows for name, table in taken.tables.items()}
    return ", ".join(f"{count} {name}" for name, count in rows.items() if count) or "no rows"


def not_compared(readings: int, most: int) -> str:
    """Return that rows were looked at one by one alone.

    Examples
    --------
    >>> not_compared(250_000, 100_000)  # doctest: +NORMALIZE_WHITESPACE
    'Rows were not compared with each other (clocks, thermometers, copies, slides, names): 250000
    readings are more than 100000.'
    """
    return (
        "Rows were not compared with each other (clocks, thermometers, copies, slides, names): "
        f"{readings} readings are more than {most}."
    )


def without_positions(rehearsals: Sequence[str]) -> str:
    """Return that readings came without the positions of slides, which others have.

    Examples
    --------
    >>> without_positions(["13 June"])  # doctest: +NORMALIZE_WHITESPACE
    'no slide position for 13 June: if slides were set there, log where they were, or what they did
    counts as drift'
    """
    more = len(rehearsals) - MOST_NAMES
    named = ", ".join(rehearsals[:MOST_NAMES]) + (f" and {more} more" if more > 0 else "")
    return (
        f"no slide position for {named}: if slides were set there, log where they were, or what "
        "they did counts as drift"
    )
