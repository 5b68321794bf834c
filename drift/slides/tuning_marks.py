"""What marks the entries of one tuning in the logbook, so that it can go on where it stopped."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from drift.logbook.book import Logbook
from drift.logbook.records import Record
from drift.times import from_microseconds, to_microseconds

__all__ = ["Marks", "marked", "tunings_of"]

WORD = "tuning"


@dataclass(frozen=True)
class Marks:
    """The key under which a tuning keeps its entries.

    Attributes
    ----------
    book : Logbook
        Open for writing.
    began : datetime
        When the tuning began.
    whose : str
        Rehearsal, player and instrument.
    """

    book: Logbook
    began: datetime
    whose: str

    @classmethod
    def new(
        cls, book: Logbook, rehearsal: str, player: str, instrument: str, time: datetime
    ) -> Marks:
        """Return the marks of a tuning that begins now."""
        return cls(book, time, _whose(rehearsal, player, instrument))

    @property
    def entries(self) -> frozenset[int]:
        """The numbers of all that was kept with the mark, undone or not."""
        return frozenset(entry for entry, _ in self.book.keys_from(self._key))

    def keep(self, records: Sequence[Record]) -> tuple[int, ...]:
        """Keep records with the mark, and return their numbers."""
        return tuple(
            self.book.keep(record, once=key)
            for record, key in zip(records, self._keys(records), strict=True)
        )

    def keep_instead(
        self, records: Sequence[Record], entries: Collection[int], time: datetime
    ) -> tuple[int, ...]:
        """Keep records with the mark in place of entries, all or none; return their numbers."""
        keys = self._keys(records)
        self.book.take_back(entries, time, zip(records, keys, strict=True))
        number = {key: entry for entry, key in self.book.keys_from(self._key)}
        return tuple(number[key] for key in keys)

    @property
    def _key(self) -> str:
        return f"{WORD} {to_microseconds(self.began)} {self.whose} "

    def _keys(self, records: Sequence[Record]) -> list[str]:
        first = len(self.entries)
        return [f"{self._key}{number}" for number in range(first, first + len(records))]


def marked(
    book: Logbook, rehearsal: str, player: str, instrument: str
) -> tuple[Marks, frozenset[int]] | None:
    """Return the marks of the latest tuning and its entries, None where there was none.

    Parameters
    ----------
    book : Logbook
        The logbook.
    rehearsal, player, instrument : str
        Who tunes what where.
    """
    whose = _whose(rehearsal, player, instrument)
    kept = {entry: began for entry, began, of in _kept(book) if of == whose}
    if not kept:
        return None
    latest = max(kept.values())
    entries = frozenset(entry for entry, began in kept.items() if began == latest)
    return Marks(book, latest, whose), entries


def tunings_of(book: Logbook, rehearsal: str, player: str) -> dict[int, datetime]:
    """Return what tunings of a player kept, by its number, and when each of them began.

    Parameters
    ----------
    book : Logbook
        The logbook.
    rehearsal, player : str
        Who tuned where, on whichever instrument.
    """
    whose = _whose(rehearsal, player, "")
    return {entry: began for entry, began, of in _kept(book) if of.startswith(whose)}


def _kept(book: Logbook) -> Iterator[tuple[int, datetime, str]]:
    """Yield the number of each entry of a tuning, when that began, and whose it was."""
    for entry, key in book.keys_from(f"{WORD} "):
        began, _, rest = key.removeprefix(f"{WORD} ").partition(" ")
        yield entry, from_microseconds(int(began)), rest.rpartition(" ")[0]


def _whose(rehearsal: str, player: str, instrument: str) -> str:
    return "\t".join((rehearsal, player, instrument))
