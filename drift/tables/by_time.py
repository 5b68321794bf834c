"""Rows that name no rehearsal: each is of the one whose readings were made at its time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from drift.errors import InputError
from drift.tables.checking import Conventions
from drift.tables.columns import Rows, Table, Texts, coded, rows_of
from drift.tables.headers import REHEARSAL, columns_of
from drift.tables.one_sheet import by_day
from drift.tables.problems import Problems
from drift.tables.understood import ByTime
from drift.tables.values import Judged, instants_of

__all__ = ["FARTHEST_HOURS", "REACH_MINUTES", "named_by_time"]

REACH_MINUTES = 60
"""A thermometer's record is taken so long before the first reading of a rehearsal and after its
last. The air counts from when playing began, and a probe settles within half of it."""

FARTHEST_HOURS = 14
"""Other tables reach so far, and temperatures that within `REACH_MINUTES` hardly lie beside the
readings: by as much a clock in another time zone can be off, which then can be named."""

MARGIN_MINUTES = 10
"""So far around it, a temperature lies beside a reading."""

_MINUTE = 60_000_000
Flags = npt.NDArray[np.bool_]


class _Blocks(NamedTuple):
    """Rehearsals by the time of their readings, in order; those that overlap are one block.

    Attributes
    ----------
    begins, ends : array of int
        When the first and the last reading was made, in microseconds since 1970.
    names : list of tuple of str
        The rehearsals of each block.
    """

    begins: Rows
    ends: Rows
    names: list[tuple[str, ...]]


def named_by_time(
    table: Table, readings: Mapping[str, Any], how: Conventions, problems: Problems
) -> tuple[Table, ByTime]:
    """Return a table with the rehearsal of each row by its time.

    Parameters
    ----------
    table : Table
        Without a column ``rehearsal``.
    readings : mapping of str to Texts or array
        ``rehearsal, time`` of one reading at least, all of which can be taken.
    how : Conventions
        How times without an offset are told.
    problems : Problems
        Takes the rows at whose time two rehearsals go on.

    Returns
    -------
    table : Table
        Without such rows, and without the temperatures far from any reading. Other rows far from
        any keep their day as the rehearsal: a slide that was moved at home holds on.
    understood : ByTime

    Raises
    ------
    InputError
        When the times of the table contradict each other.
    TablesRefused
        When a row keeps its day and no day can be read.
    """
    rule = next(rule for rule in columns_of(table.name) if rule.kind == "time")
    judged = instants_of(rule, table.columns["time"], zone=table.zone or how.zone, dates=how.dates)
    blocks = _blocks(readings[REHEARSAL], readings["time"])
    which, minutes = _nearest(blocks, judged)
    near = minutes <= FARTHEST_HOURS * 60
    if table.name == "temperatures":
        beside = near & (minutes <= REACH_MINUTES)
        near = beside | (near & _hardly_beside(blocks, which, judged, beside)[which])
    several = np.array([len(names) > 1 for names in blocks.names])
    shared = near & several[which] & ~judged.wrong
    problems.add(table, REHEARSAL, shared, lambda row: _two_at_once(blocks.names[which[row]]))
    # A time that is wrong is refused later, with its place.
    kept = np.flatnonzero(~shared & (near | judged.wrong | (table.name != "temperatures")))
    found = rows_of(table, kept)
    names = [those[0] for those in blocks.names]
    codes = which[kept]
    if not near[kept].all():
        days = by_day(found, how.dates)
        codes = np.where(near[kept], codes, len(names) + days.codes)
        names += days.known
    one_code = coded(names)  # a day may be the name of a rehearsal
    columns = found.columns | {REHEARSAL: Texts(one_code.codes[codes], one_code.known)}
    left_out = int(table.rows - len(kept) - shared.sum())
    return replace(found, columns=columns), ByTime(table.source, table.rows, left_out)


def _blocks(rehearsal: Texts, times: Rows) -> _Blocks:
    one_code = coded(rehearsal.known)
    codes = one_code.codes[rehearsal.codes]
    begins = np.full(len(one_code.known), np.iinfo(np.int64).max)
    ends = np.full(len(one_code.known), np.iinfo(np.int64).min)
    np.minimum.at(begins, codes, times)
    np.maximum.at(ends, codes, times)
    order = np.argsort(begins, kind="stable")
    order = order[begins[order] <= ends[order]]
    begins, ends = begins[order], np.maximum.accumulate(ends[order])
    first = np.flatnonzero(np.concatenate([[True], begins[1:] > ends[:-1]]))
    last = np.append(first[1:], len(order))
    names = [
        tuple(one_code.known[code] for code in order[start:stop])
        for start, stop in zip(first, last, strict=True)
    ]
    return _Blocks(begins[first], ends[last - 1], names)


def _nearest(blocks: _Blocks, judged: Judged) -> tuple[Rows, npt.NDArray[np.float64]]:
    """Return the block that is nearest to each time, and how many minutes off it is."""
    times = np.where(judged.wrong, 0, judged.values)
    before = np.clip(np.searchsorted(blocks.begins, times, side="right") - 1, 0, None)
    after = np.minimum(before + 1, len(blocks.begins) - 1)
    off = [
        np.maximum(np.maximum(blocks.begins[at] - times, times - blocks.ends[at]), 0) / _MINUTE
        for at in (before, after)
    ]
    return np.where(off[0] <= off[1], before, after), np.minimum(*off)


def _hardly_beside(blocks: _Blocks, which: Rows, judged: Judged, beside: Flags) -> Flags:
    """Return the blocks of which temperatures span less than half."""
    margin = MARGIN_MINUTES * _MINUTE
    begins, ends = blocks.begins - margin, blocks.ends + margin
    rows = np.flatnonzero(beside & ~judged.wrong)
    first, last = ends.copy(), begins.copy()
    np.minimum.at(first, which[rows], judged.values[rows])
    np.maximum.at(last, which[rows], judged.values[rows])
    spanned = np.minimum(last, ends) - np.maximum(first, begins)
    return np.asarray(2 * spanned < ends - begins)


def _two_at_once(names: tuple[str, ...]) -> tuple[str, str, str]:
    one, other, *more = names
    others = f" (and {len(more)} more)" if more else ""
    refusal = InputError(
        f"{one!r} and {other!r}{others} go on at the same time",
        "add a column rehearsal that gives in which of them each row was measured",
    )
    return f"{one}, {other}", refusal.problem, refusal.remedy
