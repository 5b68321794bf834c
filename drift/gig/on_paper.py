"""Readings of one evening as a staff writes them down: by section, in any order, hours alone."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pandas as pd

from drift.degrees import celsius_of_fahrenheit
from drift.errors import DriftError, InputError
from drift.gig.days import Days
from drift.gig.roster import Section
from drift.gig.rows import Row, read_rows
from drift.gig.timetable import Schedule
from drift.gig.unpitched import has_no_pitch
from drift.instruments import Catalogue, find
from drift.notes import canonical_note
from drift.quantities import FAHRENHEIT, HERTZ, TEMPERATURE
from drift.tables.columns import Place
from drift.tables.problems import Problem, TablesRefused
from drift.tables.spelled_times import clock_of

__all__ = ["read_paper"]

_WHO = ("section", "player", "instrument")
_OTHERS = ("date", "side", "note", "a4_hz", "celsius", "fahrenheit", "rehearsal", "flagged",
           "remark", "cents_sd", "pair_probability")  # fmt: skip
_YES = ("yes", "true", "1", "x")
#: No reading of a band that tunes is further off [cents].
FURTHEST_CENTS = 200.0
#: A reading this long before or after the schedule belongs to it.
_AROUND, _HALF_A_DAY, _DAY = timedelta(hours=1), timedelta(hours=12), timedelta(days=1)


def read_paper(
    path: Path,
    sections: Sequence[Section],
    schedule: Schedule,
    columns: Mapping[str, str] | None = None,
    catalogue: Catalogue | None = None,
    order: str | None = None,
) -> pd.DataFrame:
    """Return readings that were written down during an evening.

    Parameters
    ----------
    path : Path
        A table with ``time`` and ``cents``, and ``section``, ``player`` or ``instrument``; if
        wanted ``date``, ``note``, ``side``, ``a4_hz`` and the air beside it, ``celsius`` or
        ``fahrenheit``. Rows stand in any order.
    sections : sequence of Section
        The roster.
    schedule : Schedule
        Gives times of day their date and their zone.
    columns : mapping of str to str, optional
        Names of columns by what is written over them.
    catalogue : Catalogue, optional
        The instruments that are known.
    order : str, optional
        ``day-first`` or ``month-first``, where the dates of the file do not show it.

    Returns
    -------
    DataFrame
        ``time, section, instrument, player, side, note, cents, a4_hz, celsius, flagged, written,
        not_planned``; A4 and temperature are NaN where none is given, ``written`` is the line and
        its time, ``not_planned`` whether it is of drums or cymbals.

    Raises
    ------
    TablesRefused
        With everything that cannot be taken, each with line and value.
    """
    rows = read_rows(path, ["time", "cents"], [*_WHO, *_OTHERS], columns)
    if not set(_WHO) & set(rows.columns):
        nobody = f"no column {', '.join(_WHO[:-1])} or {_WHO[-1]}"
        raise TablesRefused((Problem(Place(rows.file), "", "", nobody, "add one of them"),))
    midnight = schedule.start.replace(hour=0, minute=0, second=0, microsecond=0)
    _, days = rows.days_for(["time"], schedule.zone, midnight, order)

    def take(row: Row) -> tuple[object, ...]:
        time = _time(row, days, schedule)
        aside = _not_planned(row, schedule)
        section = None if aside else _section(row, sections, catalogue)
        cents = row.number("cents", -FURTHEST_CENTS, FURTHEST_CENTS)
        if cents is None and not row.problems:
            row.note("cents is empty", "write what the tuner showed, flat as -12", "cents")
        a4 = row.number("a4_hz", 380, 480, HERTZ)
        name, instrument = (section.name, section.instrument.name) if section else ("", "")
        flagged = row.text("flagged").casefold() in _YES
        texts = row.text("player"), row.text("side"), _note(row)
        known = (np.nan if value is None else value for value in (a4, _celsius(row)))
        return time, name, instrument, *texts, cents, *known, flagged, _written(row), aside

    names = ["time", "section", "instrument", "player", "side", "note", "cents", "a4_hz",
             "celsius", "flagged", "written", "not_planned"]  # fmt: skip
    found = pd.DataFrame(rows.taken(take), columns=names)
    found["time"] = pd.to_datetime(found["time"], utc=True)
    return found.sort_values("time", ignore_index=True)


def _note(row: Row) -> str:
    """Return the note of a row, empty where none is written or it is not one, which is noted."""
    try:
        return canonical_note(row.text("note")) if row.text("note") else ""
    except InputError as refusal:
        row.note(f"note {refusal.problem}", f"{refusal.remedy}; or leave the cell empty", "note")
        return ""


def _written(row: Row) -> str:
    """Return where a row is in its file and which time it has, as it is written."""
    when = " ".join(filter(None, (row.text("date"), row.text("time"))))
    return f"{row.where}, {when}"


def _celsius(row: Row) -> float | None:
    if (fahrenheit := row.number("fahrenheit", -76, 140, FAHRENHEIT)) is not None:
        return float(celsius_of_fahrenheit(fahrenheit))
    return row.number("celsius", -60, 60, TEMPERATURE)


def _time(row: Row, days: Days, schedule: Schedule) -> datetime | None:
    """Return when a reading was taken; an hour alone is the one that lies in the evening."""
    text = row.text("time")
    found = row.instant("time", days)
    if found is None or clock_of(text) is None:
        return found
    ways = [found, found + _DAY]
    if not re.search(r"[ap]\.?m", text, re.IGNORECASE) and found.hour < 12:
        ways.insert(1, found + _HALF_A_DAY)
    around = schedule.start - _AROUND, schedule.end + _AROUND
    return next((time for time in ways if around[0] <= time <= around[1]), found)


def _not_planned(row: Row, schedule: Schedule) -> bool:
    """Return whether a row is of what the roster has and no plan tunes, or of drums by its name."""
    passed = [found for found in schedule.notices if found.kind == "not_planned"]
    drums = {str(name).casefold() for found in passed for name, _ in found.values["sections"]}
    names = [row.text(column) for column in ("section", "instrument")]
    return any(name.casefold() in drums or has_no_pitch(name) for name in names if name)


def _section(row: Row, sections: Sequence[Section], catalogue: Catalogue | None) -> Section | None:
    """Return the section of a row, None where nobody plays it, which is noted."""
    for column in _WHO[:2]:
        name = row.text(column).casefold()
        own = [one for one in sections if one.name.casefold() == name]
        own += [one for one in sections if row.text(column) in one.names]
        if name and own:
            return own[0]
    column = next((column for column in reversed(_WHO) if row.text(column)), "section")
    try:
        instrument = find(row.text(column), catalogue)
    except DriftError:
        instrument = None
    found = next((one for one in sections if one.instrument == instrument), None)
    if found is None:
        row.note(
            f"{column} {row.text(column)!r} is not on the roster",
            f"write one of {', '.join(one.name for one in sections)}",
            column,
        )
    return found
