"""A logbook as a folder, without loss, and as it may be shared."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import chain
from typing import Any, TypeVar

from drift.logbook.book import Logbook
from drift.logbook.folders import Contents, Folder
from drift.logbook.records import RECORDS, Record

__all__ = [
    "Streamed",
    "export_folder",
    "for_spreadsheets",
    "players_of",
    "streamed",
    "with_pseudonyms",
]

Whole = TypeVar("Whole", "Folder", "Streamed")

#: With these a spreadsheet takes a cell for a formula, or for what one may begin with.
_BEGINS_A_FORMULA = tuple("=+-@\t\r\uff1d\uff0b\uff0d\uff20")


def export_folder(book: Logbook, *, rehearsal: str | None = None) -> Folder:
    """Return everything a logbook holds, or one rehearsal, as a folder."""
    with streamed(book, rehearsal=rehearsal) as found:
        records = (record for table in RECORDS for record in found.of(table))
        return Folder(tuple(records), tuple(found.undone))


@dataclass(frozen=True)
class Streamed:
    """Records that are read while they are written, so that memory need not hold them.

    Parameters
    ----------
    book : Logbook
        As it stands at one moment.
    rehearsal : str, optional
        Only this one.
    change : callable
        What is done to each record.
    """

    book: Logbook
    rehearsal: str | None = None
    change: Callable[[Record], Record] = lambda record: record

    def of(self, table: str) -> Iterator[Record]:
        """Yield the records of one table that stand."""
        for row in self.book.rows(table, rehearsal=self.rehearsal, held=False):
            yield self.change(_record(table, row))

    @property
    def undone(self) -> Iterator[tuple[Record, datetime]]:
        """The records that were taken back, and when."""
        for table in RECORDS:
            for row in self.book.rows(table, rehearsal=self.rehearsal, undone=True, held=False):
                yield self.change(_record(table, row)), row["undone_time"]


@contextmanager
def streamed(book: Logbook, *, rehearsal: str | None = None) -> Iterator[Streamed]:
    """Give everything a logbook holds, or one rehearsal, a record at a time, at one moment."""
    with book.at_one_moment() as reader:
        reader.check()
        yield Streamed(reader, rehearsal)


def with_pseudonyms(folder: Whole, pseudonyms: Mapping[str, str]) -> Whole:
    """Return a folder with every player's name replaced, in remarks and notices too.

    Parameters
    ----------
    folder : Folder or Streamed
        What is to be shared.
    pseudonyms : mapping of str to str
        A pseudonym for each player.
    """
    names = sorted((name for name in pseudonyms if name), key=len, reverse=True)
    pattern = re.compile(rf"(?<!\w)({'|'.join(map(re.escape, names))})(?!\w)", re.IGNORECASE)
    folded = {name.casefold(): pseudonyms[name] for name in names}

    def replaced(text: str) -> str:
        return pattern.sub(lambda match: folded[match[0].casefold()], text) if names else text

    def renamed(record: Record) -> Record:
        changes: dict[str, Any] = {
            column: replaced(getattr(record, column))
            for column in ("rehearsal", "remark", "text")
            if hasattr(record, column)
        }
        if hasattr(record, "player"):
            changes["player"] = pseudonyms.get(record.player, record.player)
        return replace(record, **changes)

    return _changed(folder, renamed)


def for_spreadsheets(folder: Whole) -> Whole:
    """Return a folder in which no text can be taken for a formula.

    Parameters
    ----------
    folder : Folder or Streamed
        What is to be opened in a spreadsheet.

    Returns
    -------
    Folder or Streamed
        Texts that begin like a formula begin with an apostrophe instead, which spreadsheets take
        for "this is text". Numbers and times stay as they are.

    Notes
    -----
    A plain export is lossless and leaves such texts alone: the format has no other spelling for
    them. The apostrophe is common practice.
    """

    def disarmed(record: Record) -> Record:
        changes: dict[str, Any] = {
            column.name: f"'{text}"
            for column in record.columns
            if isinstance(text := getattr(record, column.name), str)
            and text.lstrip().startswith(_BEGINS_A_FORMULA)
        }
        return replace(record, **changes)

    return _changed(folder, disarmed)


def _changed(folder: Whole, change: Callable[[Record], Record]) -> Whole:
    if isinstance(folder, Streamed):
        before = folder.change
        return replace(folder, change=lambda record: change(before(record)))
    return replace(
        folder,
        records=tuple(map(change, folder.records)),
        undone=tuple((change(record), time) for record, time in folder.undone),
    )


def players_of(folder: Contents) -> set[str]:
    """Return the names of all players in a folder."""
    records = chain(
        (record for table in RECORDS for record in folder.of(table)),
        (record for record, _ in folder.undone),
    )
    return {record.player for record in records if hasattr(record, "player") and record.player}


def _record(table: str, row: Mapping[str, Any]) -> Record:
    kind = RECORDS[table]
    return kind(**{column.name: row[column.name] for column in kind.columns})
