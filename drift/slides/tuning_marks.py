"""What marks the entries of one tuning in the logbook, so that it can go on where it stopped."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from drift.logbook.book import Logbook
from drift.logbook.records import Record
from drift.times import from_microseconds, to_microseconds

__all__ = ["Marks", "marked"]

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

    def keep(self, records: Sequence[Record]) -> tuple[int, ...]:
        """Keep records with the mark, and return their numbers."""
        key = f"{WORD} {to_microseconds(self.began)} {self.whose} "
        next_one = len(self.book.keys_from(key))
        return tuple(
            self.book.keep(record, once=f"{key}{number}")
            for number, record in enumerate(records, next_one)
        )


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
    tunings: dict[int, set[int]] = {}
    for entry, key in book.keys_from(f"{WORD} "):
        began, _, rest = key.removeprefix(f"{WORD} ").partition(" ")
        if rest.rpartition(" ")[0] == whose:
            tunings.setdefault(int(began), set()).add(entry)
    if not tunings:
        return None
    latest = max(tunings)
    return Marks(book, from_microseconds(latest), whose), frozenset(tunings[latest])


def _whose(rehearsal: str, player: str, instrument: str) -> str:
    return "\t".join((rehearsal, player, instrument))
