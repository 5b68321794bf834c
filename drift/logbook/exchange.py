"""A logbook as a folder, without loss, and as it may be shared."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from drift.logbook.book import Logbook
from drift.logbook.folders import Folder
from drift.logbook.records import RECORDS, Record

__all__ = ["export_folder", "for_spreadsheets", "players_of", "with_pseudonyms"]

#: With these a spreadsheet takes a cell for a formula, or for what one may begin with.
_BEGINS_A_FORMULA = tuple("=+-@\t\r\uff1d\uff0b\uff0d\uff20")


def export_folder(book: Logbook, *, rehearsal: str | None = None) -> Folder:
    """Return everything a logbook holds, or one rehearsal, as a folder."""
    records: list[Record] = []
    undone: list[tuple[Record, datetime]] = []
    with book.at_one_moment() as reader:
        reader.check()
        for table in RECORDS:
            records.extend(_record(table, row) for row in reader.rows(table, rehearsal=rehearsal))
            undone.extend(
                (_record(table, row), row["undone_time"])
                for row in reader.rows(table, rehearsal=rehearsal, undone=True)
            )
    return Folder(tuple(records), tuple(undone))


def with_pseudonyms(folder: Folder, pseudonyms: Mapping[str, str]) -> Folder:
    """Return a folder with every player's name replaced, in remarks and notices too.

    Parameters
    ----------
    folder : Folder
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

    return Folder(
        tuple(renamed(record) for record in folder.records),
        tuple((renamed(record), time) for record, time in folder.undone),
    )


def for_spreadsheets(folder: Folder) -> Folder:
    """Return a folder in which no text can be taken for a formula.

    Parameters
    ----------
    folder : Folder
        What is to be opened in a spreadsheet.

    Returns
    -------
    Folder
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

    return Folder(
        tuple(disarmed(record) for record in folder.records),
        tuple((disarmed(record), time) for record, time in folder.undone),
    )


def players_of(folder: Folder) -> set[str]:
    """Return the names of all players in a folder."""
    records = [*folder.records, *(record for record, _ in folder.undone)]
    return {record.player for record in records if hasattr(record, "player") and record.player}


def _record(table: str, row: Mapping[str, Any]) -> Record:
    kind = RECORDS[table]
    return kind(**{column.name: row[column.name] for column in kind.columns})
