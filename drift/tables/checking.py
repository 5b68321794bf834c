"""The rules of a table of any source: of values, then of rows, every problem before a refusal."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, tzinfo
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from drift.errors import InputError
from drift.instruments import Catalogue
from drift.logbook.records import Column as Rule
from drift.tables.columns import Column, Floats, Place, Table, Texts
from drift.tables.former import said_in_columns
from drift.tables.headers import columns_of
from drift.tables.in_hertz import in_hertz, refused_as_hertz
from drift.tables.problems import Problem, Problems
from drift.tables.rules import ROW_RULES, Checked
from drift.tables.spelled_times import ORDERS
from drift.tables.values import Judged, flags_of, floats_of, instants_of, texts_of

__all__ = ["Conventions", "checked_values", "conventions"]

_FAHRENHEIT = Rule(
    "fahrenheit", "number", "temperature of the air", "°F", required=True, lowest=-40, highest=140
)


class Conventions(NamedTuple):
    """How tables are read.

    Attributes
    ----------
    catalogue : Catalogue or None
        The instruments that are known; the shipped ones where it is None.
    zone : tzinfo or None
        Where times without an offset are told.
    dates : str or None
        ``day-first`` or ``month-first``, for dates that do not tell by themselves.
    wide : bool
        Whether readings have a column for each note, with the cents in it.
    """

    catalogue: Catalogue | None = None
    zone: tzinfo | None = None
    dates: str | None = None
    wide: bool = False


def conventions(
    catalogue: Catalogue | None = None,
    *,
    zone: str | tzinfo | None = None,
    dates: str | None = None,
    wide: bool = False,
) -> Conventions:
    """Return how tables are to be read.

    Raises
    ------
    InputError
        When there is no such time zone, or no such order of day and month.

    Examples
    --------
    >>> conventions(zone="Europe/Berlin").zone.key
    'Europe/Berlin'
    """
    if dates is not None and dates not in ORDERS:
        raise InputError(f"dates {dates!r} is not an order", f"say {' or '.join(ORDERS)}")
    if isinstance(zone, tzinfo):
        return Conventions(catalogue, zone, dates, wide)
    try:
        return Conventions(catalogue, ZoneInfo(zone) if zone else None, dates, wide)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise InputError(
            f"there is no time zone {zone!r}", "give an IANA name, such as Europe/Berlin"
        ) from None


def checked_values(
    table: Table,
    problems: Problems,
    how: Conventions,
    progress: Callable[[int, int], None] = lambda done, of: None,
) -> dict[str, Any]:
    """Return the values of a table by column: texts, numbers, microseconds since 1970.

    Parameters
    ----------
    table : Table
        As its source gave it.
    problems : Problems
        Takes whatever is wrong; the values mean something only where nothing is.
    how : Conventions
        The instruments, and how times without an offset are told.
    progress : callable
        Called after each column with how many are done, and how many there are.
    """
    values: dict[str, Any] = {}
    wrong: dict[str, Any] = {}
    how = how._replace(zone=table.zone or how.zone)
    columns = said_in_columns(table.name, table.columns)
    rules = columns_of(table.name)
    for done, rule in enumerate(rules, start=1):
        judged = _judged(table, columns, rule, how, problems)
        if judged.wrong.any():
            _refuse(table, rule, columns.get(rule.name), judged, values, problems)
            wrong[rule.name] = judged.wrong
        values[rule.name] = judged.values
        progress(done, len(rules))
    usable = np.logical_not(np.logical_or.reduce([*wrong.values(), np.zeros(table.rows, bool)]))
    checked = Checked(
        table.name, values, usable, table.keeps_order, how.catalogue, wrong, how.zone or UTC
    )
    if table.rows:
        for row_rule in ROW_RULES:
            if table.name in row_rule.tables:
                for rows, say in row_rule.broken(checked):
                    problems.add(table, "", rows, say)
    return values


def _refuse(
    table: Table, rule: Rule, column: Column | None, judged: Judged, values: Mapping[str, Any],
    problems: Problems,
) -> None:  # fmt: skip
    """Take note of the rows in which a value is wrong, of those with one cause as one."""
    wrong = judged.wrong
    if (table.name, rule.name) == ("readings", "cents") and column is not None:
        notes = values["note"]
        hertz = in_hertz(column, notes, wrong)

        def say(row: int) -> tuple[str, str, str]:
            return refused_as_hertz(column, notes, row)

        problems.add(table, rule.name, hertz, say, at_once=True)
        wrong = wrong & ~hertz
    problems.add(table, rule.name, wrong, judged.say)


def _judged(
    table: Table, columns: dict[str, Column], rule: Rule, how: Conventions, problems: Problems
) -> Judged:
    column = columns.get(rule.name)
    if rule.name == "celsius" and column is None and "fahrenheit" in columns:
        found = floats_of(_FAHRENHEIT, columns["fahrenheit"])
        return found._replace(values=(found.values - 32.0) / 1.8)
    if column is None:
        column = Texts(np.zeros(table.rows, dtype=np.int64), [""])
    if rule.kind == "time":
        try:
            return instants_of(rule, column, zone=how.zone, dates=how.dates)
        except InputError as refusal:  # of the file as a whole
            place = Place(table.source, "line", 1)
            problems.add_one(Problem(place, rule.name, "", refusal.problem, refusal.remedy))
            return Judged(np.zeros(table.rows, np.int64), np.zeros(table.rows, bool), _nothing)
    if rule.is_number:
        return floats_of(rule, column)
    if rule.kind == "boolean":
        return flags_of(rule, column)
    if isinstance(column, Floats) and np.isnan(column.values).all():
        column = Texts(np.zeros(table.rows, dtype=np.int64), [""])
    return texts_of(rule, column)


def _nothing(row: int) -> tuple[str, str, str]:
    raise AssertionError(f"nothing is wrong with row {row}")
