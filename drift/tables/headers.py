"""What the columns of a table are called: our names, and the usual others."""

from __future__ import annotations

import re
from collections.abc import Container, Sequence
from contextlib import suppress
from typing import NamedTuple

from drift.errors import DriftError
from drift.logbook.records import RECORDS
from drift.logbook.records import Column as Rule
from drift.notes import canonical_note
from drift.spelling import near
from drift.tables.columns import Place
from drift.tables.headings import heading_name, without_zone
from drift.tables.problems import refused
from drift.tables.spelled_times import clock_of

__all__ = [
    "ANY_NAME",
    "FILES",
    "PACKAGE",
    "REHEARSAL",
    "TURN_ROUND",
    "UNDONE",
    "Renamed",
    "by_times",
    "cells_among",
    "columns_of",
    "holds_readings",
    "note_of",
    "our_name",
    "recognised",
    "times_among",
]

BESIDE = "drift fit --beside FILE, or drift.pair(logged, beside=table)"

#: The tables of a folder; the first two must be there.
FILES = (*RECORDS, "undone")
#: Beside those of a logbook that was exported: a Frictionless Data Package.
PACKAGE = "datapackage.json"

#: The columns of the table that holds what was taken back.
UNDONE = (
    Rule("undone_time", "time", "when the entry was taken back", required=True),
    Rule("table", "text", "the table it stood in", required=True, choices=tuple(RECORDS)),
    Rule("entry", "text", "the entry as it stood, a JSON object", required=True),
)

#: What people leave out where the sheet holds one evening, or a day says which it is.
REHEARSAL = "rehearsal"
ANY_NAME = "any name for the evening, the same in all its rows"

TURN_ROUND = (
    "one row for each reading: a column for each time must be turned round, or be read with --wide "
    "(wide=True) beside a column Date"
)

#: Columns that only a paired table has.
PAIRED = {"reference_cents", "playing_minutes", "minutes_into_spell"}

# How spreadsheets and loggers name a column besides `drift.tables.headings`, folded: small letters,
# without spaces and signs. Indoors a number of °F is most often beyond the limits of °C.
_OTHER_NAMES = {
    **dict.fromkeys(("date", "datetime", "timestamp", "dateandtime"), "time"),
    **dict.fromkeys(("session", "eventname"), "rehearsal"),
    **dict.fromkeys(("name", "musician", "student"), "player"),
    "horn": "instrument",
    **dict.fromkeys(("pitch", "tone"), "note"),
    **dict.fromkeys(("cent", "deviation", "deviationcents", "offset", "centsoff"),
                    "cents"),
    **dict.fromkeys(("a4", "a4hz", "reference", "concertpitch"), "a4_hz"),
    "notetext": "remark",
    **dict.fromkeys(("temp", "tempc", "temperature", "temperaturec", "t", "degc"), "celsius"),
    **dict.fromkeys(("tempf", "temperaturef", "degf"), "fahrenheit"),
    "humidityrh": "humidity_percent",
    "pressurembar": "pressure_hpa",
    **dict.fromkeys(("sensor", "thermometer", "probe"), "source"),
}  # fmt: skip


class Renamed(NamedTuple):
    """A column of a file that was taken under another name."""

    source: str
    given: str
    name: str


class Unread(NamedTuple):
    """A sheet of a spreadsheet that is called as no table is."""

    source: str
    sheet: str


def columns_of(table: str) -> tuple[Rule, ...]:
    """Return the rules of a table's columns, those of ``undone`` too."""
    return UNDONE if table == "undone" else RECORDS[table].columns


def recognised(
    place: Place,
    table: str,
    given: Sequence[str],
    cells: Container[str] = (),
    *,
    by_day: bool = False,
) -> tuple[list[str], list[Renamed]]:
    """Return the names of a table's columns by the names it gives them.

    Parameters
    ----------
    place : Place
        Where the header is.
    table : str
        Which table.
    given : sequence of str
        The header.
    cells : container of str
        What of it stays as it is: the notes of a wide table, which then needs no ``note`` and
        no ``cents``, or its times of day, and then no ``time`` and no ``cents``.
    by_day : bool
        Whether a table without ``rehearsal`` is taken: each day then is one.

    Returns
    -------
    names : list of str
        One of our names for each. Readings may have temperatures beside them, and two columns of
        time, one called ``Date``, are ``day`` and ``time``; see `drift.tables.one_sheet`.
    renamed : list of Renamed
        Those that were given another, each to be mentioned once.

    Raises
    ------
    TablesRefused
        When a column is unknown, missing or there twice, or there is none.
    """
    rules = columns_of(table)
    ours = [rule.name for rule in rules]
    if table == "temperatures":
        ours.append("fahrenheit")
    if not any(text.strip() for text in given):
        raise refused(
            place, "the table is empty", f"its first row names the columns: {_list(ours)}"
        )
    beside = [*ours, "celsius", "fahrenheit"] if table == "readings" else ours
    names = [text if text in cells else our_name(text, beside) for text in given]
    called = [text for text in given if text in cells]
    by_clock = bool(times_among(called))
    if names.count("time") == (1 if by_clock else 2) and sum(map(_is_day, given)) == 1:
        names[next(at for at, text in enumerate(given) if _is_day(text))] = "day"
    wide = ("time" if by_clock else "note", "cents") if called else ()
    _check(place, table, given, names, ours, (*wide, REHEARSAL) if by_day else wide)
    renamed = [
        Renamed(place.source, text, name)
        for text, name in zip(given, names, strict=True)
        if name is not None and text != name
    ]
    return [name or "" for name in names], renamed


def note_of(header: str) -> str | None:
    """Return the note that a column is called by, None where it is called otherwise.

    Examples
    --------
    >>> note_of("B♭3"), note_of("player")
    ('Bb3', None)
    """
    try:
        return canonical_note(header.strip())
    except DriftError:
        return None


def times_among(header: Sequence[str]) -> list[str]:
    """Return those of the names of columns that are times of day."""
    return [text for text in header if clock_of(text)]


def cells_among(header: Sequence[str]) -> frozenset[str]:
    """Return those of the names of columns that are notes; where none is, the times of day."""
    notes = frozenset(text for text in header if note_of(text))
    return notes or frozenset(times_among(header))


def holds_readings(header: Sequence[str], *, wide: bool = False) -> bool:
    """Return whether names of columns are those of readings, whatever their table is called.

    Examples
    --------
    >>> holds_readings(["Time", "Tone", "Cents off"]), holds_readings(["Time", "Temp", "Note"])
    (True, False)
    """
    if by_times(header) or (wide and any(map(note_of, header))):
        return True
    return {"note", "cents"} <= {our_name(text, ["note", "cents"]) for text in header}


def by_times(row: Sequence[str]) -> bool:
    """Return whether a row heads a table with a row for each player and a column for each time.

    Examples
    --------
    >>> by_times(["Name", "Note", "18:05", "18:20"]), by_times(["Wren", "F4", "4", "6"])
    (True, False)
    """
    who = {"player", "instrument"}
    return len(times_among(row)) > 1 and any(our_name(text, [*who]) for text in row)


def _is_day(text: str) -> bool:
    return without_zone(text)[0].strip().casefold() == "date"


def our_name(text: str, ours: Sequence[str]) -> str | None:
    """Return which of some columns of ours a name of a column means, None where none."""
    if text in ours:
        return text
    folded = re.sub(r"[^a-z0-9]", "", text.lower())
    by_fold = {re.sub(r"[^a-z0-9]", "", name): name for name in ours}
    name = by_fold.get(folded) or _OTHER_NAMES.get(folded)
    if name in ours:
        return name
    plain, zone = without_zone(text)
    if zone is not None and our_name(plain, ours) == "time":
        return "time"
    with suppress(DriftError):  # a unit that is not given
        return heading_name(text, ours)
    return None


def _check(
    place: Place,
    table: str,
    given: Sequence[str],
    names: Sequence[str | None],
    ours: Sequence[str],
    dispensable: Sequence[str],
) -> None:
    remedy = f"the columns are {_list(ours)}"
    unknown = [text for text, name in zip(given, names, strict=True) if name is None]
    if unknown:
        close = near(unknown[0].casefold(), ours, 1)
        hint = f"did you mean {close[0]}? " if close else ""
        shown = ", ".join(map(repr, unknown))
        if table == "readings" and set(given) >= PAIRED:
            raise refused(
                place,
                "this is a table of drift.pair, no readings as they were logged",
                "fit it with --engine dask, or in Python with drift.fit(pandas.read_parquet(FILE))",
            )
        if table == "readings" and all(note_of(text) for text in unknown):
            remedy = "a table with a column for each note is read with --wide, or wide=True"
        elif table == "readings" and not close:
            remedy += f"; columns of your own go into a table beside: {BESIDE}"
        if table == "readings" and (elsewhere := _elsewhere(unknown)):
            hint, remedy = "", "; ".join(elsewhere)
        if not any(names):
            remedy = f"if this is a title above the heading, delete its line; {remedy}"
        raise refused(place, f"unknown column {shown}", f"{hint}{remedy}")
    known = [name for name in names if name is not None]
    twice = sorted({name for name in known if known.count(name) > 1})
    if twice:
        raise refused(place, f"column {twice[0]!r} is there twice", remedy)
    required = [
        rule.name for rule in columns_of(table) if rule.required and rule.name not in dispensable
    ]
    stand_in = {"celsius": "fahrenheit"}
    missing = [name for name in required if name not in known and stand_in.get(name) not in known]
    if missing:
        if missing[0] == REHEARSAL:
            remedy = f"{ANY_NAME}; {remedy}"
        raise refused(place, f"no column {missing[0]!r}", remedy)
    if {"celsius", "fahrenheit"} <= set(known):
        raise refused(place, "celsius and fahrenheit are both there", remedy)


def _elsewhere(unknown: Sequence[str]) -> list[str]:
    """Return what to do with columns beside readings that belong elsewhere."""
    found = [TURN_ROUND] if times_among(unknown) else []
    events = [rule.name for rule in RECORDS["events"].columns]
    slides = [text for text in unknown if our_name(text, events) in ("slide", "position_mm")]
    if slides:
        found.append(
            f"{', '.join(map(repr, slides))}: where slides are goes into the table events, a row "
            "for each slide (time, rehearsal, player, event slide, slide, position_mm)"
        )
    return found


def _list(names: Sequence[str]) -> str:
    return ", ".join(names)
