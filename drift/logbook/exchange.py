"""Between logbook and folder, without loss."""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from drift.logbook.book import Logbook
from drift.logbook.folders import Folder
from drift.logbook.records import RECORDS, Event, Record

__all__ = ["export_folder", "for_spreadsheets", "import_folder", "with_pseudonyms"]

#: With these a spreadsheet takes a cell for a formula, or for what one may begin with.
_BEGINS_A_FORMULA = tuple("=+-@\t\r\uff1d\uff0b\uff0d\uff20")


def import_folder(book: Logbook, folder: Folder) -> int:
    """Keep everything a folder holds, all or nothing, and return how many entries were new.

    A row that was imported before is known again and not kept twice.
    """
    undone = [record for record, _ in folder.undone]
    times: list[datetime | None] = [None] * len(folder.records)
    times += [time for _, time in folder.undone]
    return book.keep_all(
        [*folder.records, *undone],
        once=list(_fingerprints([*folder.records], "import"))
        + list(_fingerprints(undone, "undone")),
        undone_times=times,
    )


def export_folder(book: Logbook, *, rehearsal: str | None = None) -> Folder:
    """Return everything a logbook holds, or one rehearsal, as a folder."""
    records: list[Record] = []
    undone: list[tuple[Record, datetime]] = []
    with book.at_one_moment() as reader:
        reader.sound_blocks()
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


def _as_in_version_0_1(record: Record) -> dict[str, Any]:
    """Return a row as the first version wrote it, so that what it imported is known again."""
    values = record.values()
    new = ("cents_sd", "pair_probability", "flagged", "already_warm", "state", "position_mm")
    said = {name: values.pop(name) for name in new if name in values}
    if said.get("flagged"):
        values["remark"] = f"! {values['remark']}".strip()
    if said.get("already_warm"):
        values["remark"] = f"already warm {values['remark']}".strip()
    if isinstance(record, Event):
        values["millimetres"] = said["position_mm"]
        if not values["side"]:
            del values["side"]
    first = ("flagged", "already_warm", "position_mm")
    return values | {k: v for k, v in said.items() if k not in first and v not in (None, "")}


def _fingerprints(records: Iterable[Record], word: str) -> Iterator[str]:
    """Yield a key for each record; equal rows of one folder get different keys."""
    seen: Counter[str] = Counter()
    for record in records:
        text = repr((record.table, sorted(_as_in_version_0_1(record).items())))
        key = hashlib.sha256(text.encode()).hexdigest()[:32]
        seen[key] += 1
        yield f"{word}:{key}:{seen[key]}"
