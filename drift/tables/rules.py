"""What must hold between the columns and the rows of a table: one list, which the tests read too.

What a single value must be stands in `drift.logbook.records`. A rule here names the tables it is
for, what it asks in words, and a function that finds the rows in which it does not hold.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, tzinfo
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from drift.errors import DriftError, InputError
from drift.instruments import Catalogue
from drift.logbook.records import RECORDS, checked
from drift.logbook.vocabulary import check_names
from drift.tables.columns import Packed, Rows, Texts
from drift.tables.values import Say
from drift.times import from_microseconds, shown_time

__all__ = ["ROW_RULES", "Checked", "RowRule"]

Flags = npt.NDArray[np.bool_]
_SAMPLE = from_microseconds(0)


class Checked(NamedTuple):
    """The columns of a table whose single values are right, and which rows those are.

    Attributes
    ----------
    table : str
        Its name.
    values : mapping of str to Texts or array
        By column: texts by dictionary, numbers, or microseconds since 1970.
    usable : array of bool, shape (n,)
        Rows in which every value can be taken.
    keeps_order : bool
        Whether the rows must be in order, as those of a file must.
    catalogue : Catalogue or None
        The instruments that are known; the shipped ones where it is None.
    wrong : mapping of str to array of bool
        By column, rows in which its value cannot be taken; none where a column is not named.
    zone : tzinfo
        Where times are told.
    """

    table: str
    values: Mapping[str, Any]
    usable: Flags
    keeps_order: bool
    catalogue: Catalogue | None
    wrong: Mapping[str, Flags] = {}  # nobody writes it
    zone: tzinfo = UTC

    def right(self, columns: list[str]) -> Flags:
        """Return in which rows the values of some columns can be taken, whatever the others."""
        found = np.ones(len(self.usable), dtype=bool)
        for name in columns:
            if name in self.wrong:
                found &= ~self.wrong[name]
        return found


class RowRule(NamedTuple):
    """A rule for whole rows.

    Attributes
    ----------
    code : str
        Its name, for documents and tests.
    tables : tuple of str
        Which tables it is for.
    asks : str
        What must hold, in words.
    broken : callable
        Yields the rows in which it does not, and what to say of one of them.
    """

    code: str
    tables: tuple[str, ...]
    asks: str
    broken: Callable[[Checked], Iterator[tuple[Rows, Say]]]


def _groups(columns: list[Texts], rows: Flags) -> tuple[Rows, Rows, Rows]:
    """Return a number for each combination of texts, the combinations there are, a row of each."""
    code = np.zeros(len(columns[0].codes), dtype=np.int64)
    for column in columns:
        code = code * max(len(column.known), 1) + column.codes
    present, first = np.unique(code[rows], return_index=True)
    return code, present, np.flatnonzero(rows)[first]


def _names(table: Checked) -> Iterator[tuple[Rows, Say]]:
    """Yield names the catalogue does not have; each combination is asked once."""
    named = [name for name in ("instrument", "side", "slide") if name in table.values]
    usable = table.right(named)  # a name is asked though another value of the row is wrong
    code, present, first = _groups([table.values[name] for name in named], usable)
    wrong: dict[int, tuple[str, DriftError]] = {}
    for number, row in zip(present.tolist(), first.tolist(), strict=True):
        texts = {name: table.values[name].at(row) for name in named}
        try:
            check_names(_record(table.table, texts), table.catalogue)
        except DriftError as refusal:
            wrong[number] = next(filter(None, reversed(texts.values())), ""), refusal
    if wrong:
        rows = np.flatnonzero(usable & np.isin(code, list(wrong)))

        def say(row: int) -> tuple[str, str, str]:
            value, refusal = wrong[int(code[row])]
            return value, refusal.problem, refusal.remedy

        yield rows, say


def _record(table: str, texts: Mapping[str, Any]) -> Any:
    """Return a record with these values and harmless others, to ask a scalar rule."""
    blank = {"time": _SAMPLE, "rehearsal": "x", "player": "x", "note": "A4", "event": "slide"}
    numbers = {"cents": 0.0, "cents_per_mm": -1.0, "celsius": 20.0}
    names = [column.name for column in RECORDS[table].columns]
    given = {**dict.fromkeys(names), **dict.fromkeys(("side", "slide", "instrument"), "")}
    values = {**given, **blank, **numbers, **texts}
    return RECORDS[table](**{name: values[name] for name in names})


def _whole_record(table: Checked) -> Iterator[tuple[Rows, Say]]:
    """Yield events that `checked` refuses as a whole; each combination is asked once."""
    values = table.values
    columns = RECORDS["events"].columns
    given = [
        Texts(_missing(values[column.name]).astype(np.int64), ["given", ""])
        for column in columns
        if column.is_number or column.kind == "boolean"
    ]
    texts = ("event", "slide", "side", "state")
    flags = [_filled(values[name]) if name != "event" else values[name] for name in texts]
    code, present, first = _groups([*flags, *given], table.usable)
    wrong: dict[int, DriftError] = {}
    for number, row in zip(present.tolist(), first.tolist(), strict=True):
        try:
            checked(_event(table, row))
        except DriftError as refusal:
            wrong[number] = refusal
    if wrong:
        rows = np.flatnonzero(table.usable & np.isin(code, list(wrong)))

        def say(row: int) -> tuple[str, str, str]:
            try:
                checked(_event(table, row))
            except DriftError as refusal:
                return str(table.values["event"].at(row)), refusal.problem, refusal.remedy
            raise AssertionError(f"row {row} was refused and can be taken")

        yield rows, say


def _missing(values: Any) -> Flags:
    return np.asarray(~values if values.dtype == bool else np.isnan(values))


def _filled(column: Texts) -> Texts:
    """Return whether a text is given, as a column of two texts."""
    given = np.array([text != "" for text in column.known], dtype=np.int64)
    return Texts(given[column.codes] if len(given) else column.codes, ["", "given"])


def _event(table: Checked, row: int) -> Any:
    found: dict[str, Any] = {}
    for column in RECORDS[table.table].columns:
        value = table.values[column.name]
        if isinstance(value, Texts | Packed):
            found[column.name] = value.at(row)
        elif column.kind == "time":
            found[column.name] = _SAMPLE
        elif column.kind == "boolean":
            found[column.name] = bool(value[row])
        else:
            found[column.name] = None if np.isnan(value[row]) else float(value[row])
    return RECORDS[table.table](**found)


def _together(table: Checked) -> Iterator[tuple[Rows, Say]]:
    """Yield rows of a rehearsal below rows of another that came after it."""
    rows = np.flatnonzero(table.usable)
    rehearsal = table.values["rehearsal"]
    codes = rehearsal.codes[rows]
    if not table.keeps_order or not len(rows):
        return
    begins = np.flatnonzero(np.concatenate([[True], codes[1:] != codes[:-1]]))
    _, first = np.unique(codes[begins], return_index=True)
    again = np.delete(begins, first)
    before = {int(rows[at]): rehearsal.known[codes[at - 1]] for at in again}

    def say(row: int) -> tuple[str, str, str]:
        name = rehearsal.at(row)
        problem = f"rehearsal {name!r} goes on after rows of {before[row]!r}"
        return name, problem, "keep the rows of one rehearsal together"

    yield rows[again], say


def _in_order(table: Checked) -> Iterator[tuple[Rows, Say]]:
    """Yield rows whose time is before that of the row above."""
    rows = np.flatnonzero(table.usable)
    if not table.keeps_order or len(rows) < 2:
        return
    codes, times = table.values["rehearsal"].codes[rows], table.values["time"][rows]
    early = np.flatnonzero((times[1:] < times[:-1]) & (codes[1:] == codes[:-1])) + 1
    before = {int(rows[at]): int(times[at - 1]) for at in early}
    own = table.values["time"]

    def say(row: int) -> tuple[str, str, str]:
        both = (from_microseconds(time) for time in (int(own[row]), before[row]))
        here, above = (shown_time(time, table.zone) for time in both)
        remedy = "put the rows of a rehearsal in order of time, or mend the clock that wrote them"
        return here, f"time {here} is before the row above ({above})", remedy

    yield rows[early], say


def _one_place(table: Checked) -> Iterator[tuple[Rows, Say]]:
    """Yield the first reading of a player in a rehearsal that overlaps another."""
    rows = np.flatnonzero(table.usable)
    if not len(rows):
        return
    player, rehearsal = table.values["player"], table.values["rehearsal"]
    code = player.codes[rows].astype(np.int64) * len(rehearsal.known) + rehearsal.codes[rows]
    keys, begins, ends = _spans(code, table.values["time"][rows])
    players = keys // len(rehearsal.known)
    order = np.lexsort((ends, begins, players))
    keys, players, begins, ends = keys[order], players[order], begins[order][1:], ends[order][:-1]
    overlaps = np.flatnonzero((players[1:] == players[:-1]) & (begins < ends))
    if not len(overlaps):
        return
    by_code = np.argsort(code, kind="stable")
    firsts = by_code[np.searchsorted(code, keys[overlaps + 1], sorter=by_code)]
    for at, first in zip(overlaps, firsts, strict=True):
        one, other = (int(keys[at + step]) % len(rehearsal.known) for step in (0, 1))
        row = rows[[first]]
        refusal = InputError(
            f"readings of player {player.at(int(row[0]))!r} in {rehearsal.known[one]!r} and "
            f"{rehearsal.known[other]!r} overlap: "
            f"{shown_time(from_microseconds(int(begins[at])), table.zone)} is before "
            f"{shown_time(from_microseconds(int(ends[at])), table.zone)}",
            "give the rows of one rehearsal one name, or mend the clock that wrote them",
        )
        yield row, _saying(player.at(int(row[0])), refusal)


def _spans(code: Rows, times: Rows) -> tuple[Rows, Rows, Rows]:
    """Return the codes there are, and the earliest and the latest time of each."""
    keys = np.arange(code.max() + 1)
    if len(keys) > 4 * len(code):  # too many that do not occur
        keys, code = np.unique(code, return_inverse=True)
    begins = np.full(len(keys), np.iinfo(np.int64).max)
    ends = np.full(len(keys), np.iinfo(np.int64).min)
    np.minimum.at(begins, code, times)
    np.maximum.at(ends, code, times)
    there = begins <= ends
    return keys[there], begins[there], ends[there]


def _saying(value: str, refusal: DriftError) -> Say:
    return lambda row: (value, refusal.problem, refusal.remedy)


TIMED = tuple(name for name in RECORDS if name != "calibrations")

ROW_RULES: tuple[RowRule, ...] = (
    RowRule(
        "names", ("readings", "events", "calibrations"),
        "the catalogue has the instrument, the instrument has the side and the slide", _names,
    ),
    RowRule(
        "event", ("events",),
        "a slide event names a slide and its position, other events name neither", _whole_record,
    ),
    RowRule("together", TIMED, "the rows of one rehearsal are together in a file", _together),
    RowRule("order", TIMED, "the rows of a rehearsal are in order of time in a file", _in_order),
    RowRule("one place", ("readings",), "no player is in two rehearsals at once", _one_place),
)  # fmt: skip
