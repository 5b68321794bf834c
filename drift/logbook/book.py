"""The logbook: one crash-safe SQLite file that only grows.

Every entry is one transaction, written through to the disk before it is answered. Nothing is
changed or deleted afterwards: taking an entry back is an entry of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any, Self

from drift.errors import InputError, LogbookError
from drift.logbook.blocks import Columns
from drift.logbook.connection import Connection
from drift.logbook.file import copy_to, damage_of
from drift.logbook.records import RECORDS, TYPED, Column, Event, Record, check_value, checked
from drift.logbook.schema import (
    BEGUN_HERE,
    CHOICES,
    INSTRUMENT_OF,
    INTERRUPTED,
    KEYS_FROM,
    LAST_BY_HAND,
    LAST_TIME,
    PLAYERS,
    TAKEN_BACK_BY,
    rows_query,
)
from drift.logbook.seats import player_among, seats_after
from drift.logbook.writer import writer_of
from drift.times import from_microseconds, to_microseconds

__all__ = ["Logbook"]

_TABLE = {name: name.removesuffix("s") for name in RECORDS}


class Logbook:
    """An open logbook.

    Parameters
    ----------
    path : Path or str
        The file. It is made when it does not exist and the book is opened for writing.
    writer : str or None
        Who writes (shown to a second writer). None opens the book for reading only.

    Raises
    ------
    LogbookError
        When the file is no logbook, is damaged, was made by a newer version, or cannot be
        written.
    LogbookBusy
        When another process is writing it.
    """

    def __init__(self, path: Path | str, *, writer: str | None = None) -> None:
        self.path = Path(path)
        if writer is None and not self.path.exists():
            raise LogbookError(
                f"there is no logbook {self.path}", "check the name, or import a folder into it"
            )
        self._file = Connection(self.path, writer)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *error: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the book and let go of the right to write it."""
        self._file.close()

    def keep(self, record: Record, *, once: str | None = None) -> int:
        """Keep one record and return its number, after it is on the disk.

        Parameters
        ----------
        record : Record
            What to keep.
        once : str or None
            A key of the caller's. A second entry with the same key is not kept again; the number
            of the first is returned.

        Raises
        ------
        InputError
            When a value is beyond its limits.
        LogbookError
            When it could not be written; then nothing of it is kept.
        """
        checked_record = checked(record)
        with self._file.transaction():
            return self._insert(checked_record, once)

    def keep_all(self, records: Sequence[Record]) -> int:
        """Keep many records, all or none, and return how many they are."""
        with self._file.transaction():
            for record in records:
                self._insert(checked(record), None)
        return len(records)

    def start(self, rehearsal: str, time: datetime) -> int:
        """Begin (or resume) logging a rehearsal; it counts as interrupted until it is ended."""
        event = checked(Event(time, rehearsal, "", "start"))
        with self._file.transaction():
            entry = self._insert(event, None)
            self._file.execute(
                "INSERT INTO session (rehearsal_id, start_id) VALUES (?, ?)",
                (self._rehearsal_id(rehearsal), entry),
            )
        return entry

    def end(self, rehearsal: str, time: datetime, *, once: str | None = None) -> int:
        """Say that a rehearsal is over."""
        return self.keep(Event(time, rehearsal, "", "end"), once=once)

    def choose(
        self, rehearsal: str, time: datetime, what: str, name: str, *, once: str | None = None
    ) -> int:
        """Keep the choice of a player, an instrument, a side or an A4 that holds from now on."""
        name = check_value(Column(what, "text", f"name of the {what}", required=True), name.strip())
        with self._file.transaction():
            if known := self._known(once):
                return known
            entry = self._new_entry("choice", self._rehearsal_id(rehearsal), time, once)
            self._file.execute("INSERT INTO choice VALUES (?, ?, ?)", (entry, what, name))
        return entry

    def undo(
        self,
        rehearsal: str,
        time: datetime,
        *,
        once: str | None = None,
        entry: int | None = None,
    ) -> Mapping[str, Any]:
        """Take back the last entry a person made in a rehearsal, or the one of that number.

        The book keeps both: what was entered, and that it was taken back.

        Returns
        -------
        mapping
            The entry taken back: ``kind`` and its columns.

        Raises
        ------
        InputError
            When there is nothing left to take back.
        """
        with self._file.transaction():
            known = self._known(once)
            last = LAST_BY_HAND, (rehearsal, TYPED, entry)
            row = self._file.execute(*((TAKEN_BACK_BY, (known,)) if known else last)).fetchone()
            if row is None:
                raise InputError("there is nothing to undo", "the logbook is unchanged")
            undone, kind = row
            if not known:
                self._take_back(undone, rehearsal, time, once)
        return {"kind": kind, **self._row(kind, undone)}

    def take_back(
        self,
        entries: Iterable[int],
        time: datetime,
        instead: Iterable[tuple[Record, str | None]] = (),
    ) -> None:
        """Take back entries by their numbers and keep others in their place, all or none.

        Parameters
        ----------
        entries, time : iterable of int, datetime
            Their numbers, each of which must still stand, and when they are taken back.
        instead : iterable of (Record, str or None)
            What is kept instead, each with a key as in `keep`.
        """
        with self._file.transaction():
            for entry in entries:
                self._take_back(entry, None, time)
            for record, key in instead:
                self._insert(checked(record), key)

    def pseudonyms(self, players: Iterable[str]) -> dict[str, str]:
        """Return a lasting pseudonym for each player; the key stays in this book."""
        known = dict(self._file.select("SELECT player, pseudonym FROM pseudonym"))
        new = [player for player in sorted(set(players)) if player and player not in known]
        if new:
            with self._file.transaction():
                for name in new:
                    known[name] = f"player {len(known) + 1}"
                    self._file.execute("INSERT INTO pseudonym VALUES (?, ?)", (name, known[name]))
        return known

    @property
    def last_entry(self) -> int:
        """The number of the newest entry; 0 in an empty book."""
        return int(self._file.select("SELECT coalesce(max(entry_id), 0) FROM entry")[0][0])

    def undone_since(self, entry: int) -> bool:
        """Return whether anything was undone after an entry."""
        return bool(self._file.select("SELECT 1 FROM undo WHERE entry_id > ? LIMIT 1", (entry,)))

    def has(self, once: str) -> bool:
        """Return whether an entry was kept with a key of the caller's."""
        return bool(self._file.select("SELECT 1 FROM entry WHERE once = ?", (once,)))

    def keys_from(self, beginning: str) -> list[tuple[int, str]]:
        """Return the entries that were kept with keys of a beginning, with their keys."""
        return self._file.select(KEYS_FROM, (beginning, beginning + "\U0010ffff"))

    def rehearsals(self) -> list[str]:
        """Return the names of the rehearsals in the order they were first kept."""
        found = self._file.select("SELECT name FROM rehearsal ORDER BY rehearsal_id")
        return [name for (name,) in found]

    def rows(
        self, table: str, *, rehearsal: str | None = None, undone: bool = False, after: int = 0,
        held: bool = True,
    ) -> Iterator[dict[str, Any]]:  # fmt: skip
        """Yield the rows of a table, in order of time within each rehearsal.

        Parameters
        ----------
        table : str
            ``readings``, ``temperatures``, ``events``, ``calibrations`` or ``notices``.
        rehearsal : str or None
            Only this one.
        undone : bool
            The rows that were taken back instead of those that stand; they carry
            ``undone_time``.
        after : int
            Only entries with a higher number.
        held : bool
            Read all of them first; without, only `at_one_moment` gives one state of the book.

        Yields
        ------
        dict
            ``entry_id`` and the columns of the table; ``time`` an aware datetime.
        """
        columns = [c for c in RECORDS[table].columns if c.name not in ("time", "rehearsal")]
        names = [column.name for column in columns]
        booleans = [column.name for column in columns if column.kind == "boolean"]
        read = self._file.select if held else self._file.each
        found = read(rows_query(_TABLE[table], names), (undone, after, rehearsal, rehearsal))
        for entry, time, name, undone_time, *values in found:
            row = {"entry_id": entry, "time": from_microseconds(time), "rehearsal": name}
            if undone:
                row["undone_time"] = from_microseconds(undone_time)
            row |= zip(names, values, strict=True)
            yield row | {name: bool(row[name]) for name in booleans}

    def choices(self, rehearsal: str) -> dict[str, str]:
        """Return who plays what at which A4 in a rehearsal, as far as it was chosen.

        With a player who is chosen after another comes back the instrument which that player had
        last, as `instrument_of` finds it; nobody takes over the instrument of another.
        """
        chosen, _ = seats_after(self._file.select(CHOICES, (rehearsal,)))
        if "player" in chosen and "instrument" not in chosen:
            instrument = self.instrument_of(chosen["player"], rehearsal)
            chosen |= {"instrument": instrument} if instrument else {}
        return chosen

    def instrument_of(self, player: str, rehearsal: str) -> str:
        """Return what a player had last in a rehearsal, else in others; empty when unknown."""
        _, had = seats_after(self._file.select(CHOICES, (rehearsal,)))
        if player in had:
            return had[player]
        found = self._file.select(INSTRUMENT_OF, (player, player, rehearsal))
        return str(found[0][0]) if found else ""

    def players(self) -> list[str]:
        """Return the players of the whole book, in the order they came."""
        return [player for (player,) in self._file.select(PLAYERS)]

    def player_called(self, name: str) -> str:
        """Return the player of that name, or of one alike in letters; else the name itself."""
        return player_among(self.players(), name)

    def interrupted(self) -> list[str]:
        """Return the rehearsals whose logging began here and has no end."""
        return [name for (name,) in self._file.select(INTERRUPTED)]

    def begun_here(self, rehearsal: str) -> int:
        """Return the entry from which a rehearsal was logged here; 0 where it was not."""
        return int(self._file.select(BEGUN_HERE, (rehearsal,))[0][0])

    def last_time(self, rehearsal: str) -> datetime | None:
        """Return the time of the latest thing kept in a rehearsal; None when there is nothing."""
        ((time,),) = self._file.select(LAST_TIME, (rehearsal,))
        return None if time is None else from_microseconds(time)

    def being_written_by(self) -> str | None:
        """Return who is writing the book now, or None."""
        return writer_of(self.path)

    @property
    def trouble(self) -> str:
        """Why nothing can be saved now, in words; empty where nothing is known to be wrong."""
        return self._file.trouble

    @contextmanager
    def at_one_moment(self) -> Iterator[Logbook]:
        """Give the book to read as it stands now, whoever goes on writing it.

        It is read through a connection of its own: a long look sees all tables at the same
        moment, and keeps no writer waiting.
        """
        with Logbook(self.path) as reader:
            with reader._file.alone() as sqlite:
                sqlite.execute("BEGIN")
            yield reader

    @contextmanager
    def in_bulk(self) -> Iterator[Connection]:
        """Give the open file within a transaction, for what is saved many rows at a time."""
        with self._file.transaction():
            yield self._file

    def sound_blocks(self) -> Iterator[dict[str, Columns]]:
        """Yield all that was saved as columns (`digests.sound_blocks`), or raise DamagedError."""
        return self._file.sound_blocks()

    def check(self, progress: Callable[[int, int], None] = lambda done, of: None) -> None:
        """Raise DamagedError when anything is not as it was saved."""
        newest = self.last_entry
        for block in self._file.sound_blocks():
            progress(max(block["entry"]["entry_id"], default=0), newest)

    def damage(self) -> list[str]:
        """Return what SQLite finds wrong with the file; an empty list when it is whole."""
        with self._file.alone() as sqlite:
            return damage_of(sqlite)

    def mend(self) -> None:
        """Rebuild the indexes, which hold nothing that the tables do not hold."""
        with self._file.alone() as sqlite:
            sqlite.execute("REINDEX")

    def backup(self, path: Path | str) -> None:
        """Copy the whole book to another file while it may be written."""
        with self.at_one_moment() as reader, reader._file.alone() as sqlite:
            copy_to(sqlite, Path(path))

    def _insert(self, record: Record, once: str | None) -> int:
        values = record.values()
        time, rehearsal = values.pop("time"), values.pop("rehearsal", None)
        if known := self._known(once):
            return known
        kind = _TABLE[record.table]
        rehearsal_id = self._rehearsal_id(rehearsal) if rehearsal else None
        entry = self._new_entry(kind, rehearsal_id, time, once)
        self._file.execute(
            f"INSERT INTO {kind} (entry_id, {', '.join(values)}) VALUES (?{', ?' * len(values)})",
            (entry, *values.values()),
        )
        return entry

    def _known(self, once: str | None) -> int | None:
        """Return the entry that was kept with a key before."""
        if once is None:
            return None
        row = self._file.execute("SELECT entry_id FROM entry WHERE once = ?", (once,)).fetchone()
        return int(row[0]) if row else None

    def _take_back(
        self, undone: int, rehearsal: str | None, time: datetime, once: str | None = None
    ) -> None:
        rehearsal_id = self._rehearsal_id(rehearsal) if rehearsal else None
        entry = self._new_entry("undo", rehearsal_id, time, once)
        self._file.execute("INSERT INTO undo VALUES (?, ?)", (entry, undone))

    def _new_entry(
        self, kind: str, rehearsal_id: int | None, time: datetime, once: str | None
    ) -> int:
        return int(
            self._scalar(
                "INSERT INTO entry (kind, rehearsal_id, time_us, once) VALUES (?, ?, ?, ?) "
                "RETURNING entry_id",
                (kind, rehearsal_id, to_microseconds(time), once),
            )
        )

    def _rehearsal_id(self, name: str) -> int:
        self._file.execute("INSERT OR IGNORE INTO rehearsal (name) VALUES (?)", (name,))
        return int(self._scalar("SELECT rehearsal_id FROM rehearsal WHERE name = ?", (name,)))

    def _row(self, kind: str, entry: int) -> dict[str, Any]:
        cursor = self._file.execute(f"SELECT * FROM {kind} WHERE entry_id = ?", (entry,))
        names = [column[0] for column in cursor.description]
        return dict(zip(names, cursor.fetchone(), strict=True))

    def _scalar(self, query: str, values: tuple[Any, ...] = ()) -> Any:
        return self._file.execute(query, values).fetchone()[0]
