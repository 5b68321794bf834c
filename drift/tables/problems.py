"""Everything that is wrong with the tables of a source, found before anything is refused."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple, TypeVar

import numpy as np
import numpy.typing as npt

from drift.errors import DriftError, InputError
from drift.tables.columns import Place, Rows, Table

__all__ = [
    "SHOWN",
    "Problem",
    "Problems",
    "TablesRefused",
    "alike",
    "every",
    "parts_of",
    "refused",
    "shown",
]

Item = TypeVar("Item")
Taken = TypeVar("Taken")

SHOWN = 20
"""So many problems are told one by one; the whole list is `TablesRefused.problems`."""

FEW, MANY = 5, 100
"""With more different numbers or times, or words, those of a column that have one remedy are told
as one: words that are wrong are slips of their own, numbers a column in another unit."""


class Problem(NamedTuple):
    """One thing that is wrong.

    Attributes
    ----------
    place : Place
        File and line.
    column, value : str
        Which cell; the column is empty where the row as a whole is meant.
    problem, remedy : str
        What was wrong, and what to do.
    at_once : bool
        Whether such a problem is one of many rows, and is told once for all of them.
    """

    place: Place
    column: str
    value: str
    problem: str
    remedy: str
    at_once: bool = False

    @property
    def told(self) -> str:
        """What was wrong, with its place where it has one."""
        return f"{self.place}: {self.problem}" if self.place.source else self.problem

    def to_json(self) -> dict[str, Any]:
        """Return the problem by name of its parts."""
        source, _, number = self.place
        rest = {"column": self.column, "value": self.value}
        return {"file": source, "line": number, **rest, "problem": self.problem,
                "remedy": self.remedy}  # fmt: skip


class TablesRefused(InputError):
    """Tables that cannot be taken; nothing of them was.

    Attributes
    ----------
    problems : tuple of Problem
        All of them, in order of file and line.
    """

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        self.problems = problems
        super().__init__(*_in_words(problems))


def refused(place: Place, problem: str, remedy: str) -> TablesRefused:
    """Return the refusal of a table as a whole, to be raised."""
    return TablesRefused((Problem(place, "", "", problem, remedy),))


def parts_of(refusal: DriftError) -> tuple[Problem, ...]:
    """Return each problem of a refusal; one that names no place has an empty one."""
    if isinstance(refusal, TablesRefused):
        return refusal.problems
    return (Problem(Place(""), "", "", refusal.problem, refusal.remedy),)


def every(
    items: Iterable[Item], take: Callable[[Item], Taken], known: Sequence[Problem] = ()
) -> list[Taken]:
    """Return what is taken from each item; where some are refused, all refusals at once.

    Parameters
    ----------
    items : iterable
        Such as rows, or files.
    take : callable
        Takes one of them, or raises `DriftError`.
    known : sequence of Problem
        Problems that were found before.

    Raises
    ------
    TablesRefused
        With every problem and its remedy.
    """
    found, problems = [], list(known)
    for item in items:
        try:
            found.append(take(item))
        except DriftError as refusal:
            problems += parts_of(refusal)
    if problems:
        raise TablesRefused(tuple(problems))
    return found


@dataclass(frozen=True)
class _Found:
    table: Table
    column: str
    rows: Rows
    say: Callable[[int], tuple[str, str, str]]
    at_once: bool = False

    def told(self) -> Iterator[Problem]:
        for row, place in zip(self.rows, self.table.place(self.rows), strict=True):
            yield Problem(place, self.column, *self.say(int(row)), self.at_once)


@dataclass
class Problems:
    """What is found while tables are checked."""

    _found: list[_Found] = field(default_factory=list)
    _loose: list[Problem] = field(default_factory=list)

    def add(
        self,
        table: Table,
        column: str,
        wrong: npt.NDArray[np.bool_] | Rows,
        say: Callable[[int], tuple[str, str, str]],
        *,
        at_once: bool = False,
    ) -> None:
        """Take note of rows that are wrong.

        Parameters
        ----------
        table : Table
            Which table.
        column : str
            Which column; empty for the row as a whole.
        wrong : array of bool of shape (n,), or of row numbers
            Which rows.
        say : callable
            Row to value, problem and remedy; called only for problems that are told.
        at_once : bool
            Whether it is told once for all rows.
        """
        rows = np.flatnonzero(wrong) if wrong.dtype == bool else wrong
        if len(rows):
            self._found.append(_Found(table, column, rows.astype(np.int64), say, at_once))

    def add_one(self, problem: Problem) -> None:
        """Take note of a problem that is not one of rows."""
        self._loose.append(problem)

    def __bool__(self) -> bool:
        return bool(self._found or self._loose)

    def all(self) -> tuple[Problem, ...]:
        """Return every problem, in order of file and line."""
        found = [*self._loose, *(problem for one in self._found for problem in one.told())]
        found = list(dict.fromkeys(found))  # a time is that of a reading and of its temperature
        return tuple(sorted(found, key=lambda one: (one.place.source, one.place.number)))

    def check(self) -> None:
        """Refuse the tables if anything is wrong.

        Raises
        ------
        TablesRefused
            With everything that is wrong.
        """
        if self:
            raise TablesRefused(self.all())


def _in_words(problems: tuple[Problem, ...]) -> tuple[str, str]:
    """Return what is wrong with tables, the first lines of it, and what to do."""
    if len(problems) == 1:
        (only,) = problems
        return only.told, only.remedy
    causes = alike(problems)
    lines = [f"{counted(causes)}; nothing was taken"]
    lines += [shown(those) for those in causes[:SHOWN]]
    if len(causes) > SHOWN:
        lines.append(f"and {len(causes) - SHOWN} more")
    return "\n".join(lines), "mend them all at the source, then try again"


def alike(problems: Sequence[Problem]) -> list[list[Problem]]:
    """Return problems of one cause together, in the order of the first of each."""
    values: dict[tuple[str, ...], set[str]] = {}
    for one in problems:
        values.setdefault(_column_of(one), set()).add(one.value)
    causes: dict[tuple[str, ...], list[Problem]] = {}
    for one in problems:
        column = _column_of(one)
        most = FEW if one.value.lstrip("+-−.")[:1].isdigit() else MANY
        alike = one.at_once or len(values[column]) > most
        cause = column if alike else (*column, one.value)
        causes.setdefault(cause, []).append(one)
    return list(causes.values())


def counted(causes: Sequence[Sequence[Problem]]) -> str:
    """Return how many problems there are, and of how many kinds where some are alike."""
    count, kinds = sum(map(len, causes)), len(causes)
    if kinds == count:
        return f"{count} {'problem' if count == 1 else 'problems'}"
    return f"{count} problems{', all alike' if kinds == 1 else f' of {kinds} kinds'}"


def _column_of(one: Problem) -> tuple[str, ...]:
    return one.place.source, one.column, one.remedy


def shown(those: Sequence[Problem]) -> str:
    """Return problems of one cause as a line: the first of them, and how many there are."""
    more = f" ({len(those)} rows alike)" if len(those) > 1 else ""
    return f"{those[0].told}{more}; {those[0].remedy}"
