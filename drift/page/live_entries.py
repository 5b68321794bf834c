"""What stands in one rehearsal, at hand without reading the whole book each second."""

from __future__ import annotations

import threading
from bisect import bisect_right
from collections.abc import Mapping
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from drift.logbook.book import Logbook
from drift.logbook.records import TYPED

__all__ = ["LiveEntries", "Row"]

Row = Mapping[str, Any]

TABLES = ("readings", "temperatures", "events", "notices")
#: A temperature says something about a reading within this time (as in pairing).
NEAR = timedelta(minutes=10)


class LiveEntries:
    """The rows of one rehearsal that stand, read on as the book grows.

    It reads through a connection of its own, so that it sees only what is on the disk.

    Parameters
    ----------
    path : Path
        The logbook.
    rehearsal : str
        Its name.
    """

    def __init__(self, path: Path, rehearsal: str) -> None:
        self.rehearsal = rehearsal
        self._book = Logbook(path)
        self._one_at_a_time = threading.Lock()
        self._seen = self._begun_here = 0
        self._rows: dict[str, list[Row]] = {table: [] for table in TABLES}

    def close(self) -> None:
        """Close the connection."""
        with self._one_at_a_time:
            self._book.close()

    def read_on(self) -> None:
        """Read what came since the last time; everything, when anybody took something back."""
        with self._one_at_a_time:
            newest = self._book.last_entry
            if newest == self._seen:
                return
            anew = self._book.undone_since(self._seen)
            after = 0 if anew else self._seen
            for table in TABLES:
                old = [] if anew else self._rows[table]
                new = list(self._book.rows(table, rehearsal=self.rehearsal, after=after))
                # Entries typed while the server was away come late, with the time they had.
                self._rows[table] = sorted(
                    [*old, *(row for row in new if row["entry_id"] <= newest)],
                    key=lambda row: row["time"],
                )
            self._begun_here = self._book.begun_here(self.rehearsal)
            self._seen = newest

    @property
    def seen(self) -> int:
        """The newest entry that was read."""
        return self._seen

    @property
    def readings(self) -> list[Row]:
        """The readings, in order of time."""
        return self._rows["readings"]

    @property
    def temperatures(self) -> list[Row]:
        """The temperatures, in order of time."""
        return self._rows["temperatures"]

    @property
    def events(self) -> list[Row]:
        """The events, in order of time."""
        return self._rows["events"]

    @property
    def notices(self) -> list[Row]:
        """What the thermometers had to say."""
        return self._rows["notices"]

    @property
    def ended(self) -> bool:
        """Whether the rehearsal is over: the last of its starts and ends is an end."""
        marks = [
            row for row in self.events if row["event"] in ("start", "end") and not row["player"]
        ]
        return bool(marks) and max(marks, key=lambda row: row["entry_id"])["event"] == "end"

    def by_hand(self) -> list[Row]:
        """Return what people entered, as it was entered; each can be taken back."""
        rows = [
            *self.readings,
            *(row for row in self.events if row["event"] not in ("start", "end")),
            *(row for row in self.temperatures if row["source"] == TYPED),
        ]
        return sorted(rows, key=lambda row: int(row["entry_id"]))

    @property
    def begun_here(self) -> int:
        """The entry from which this rehearsal was logged here; what is older was imported."""
        return self._begun_here

    def celsius_at(self, time: datetime) -> float | None:
        """Return the last temperature before a moment [°C], if it is near enough."""
        rows = self.temperatures
        place = bisect_right(rows, time, key=lambda row: row["time"])
        if not place or time - rows[place - 1]["time"] > NEAR:
            return None
        return float(rows[place - 1]["celsius"])

    def last_hour(self, now: datetime) -> list[Row]:
        """Return the temperatures of the last hour."""
        since = now - timedelta(hours=1)
        return self.temperatures[bisect_right(self.temperatures, since, key=lambda r: r["time"]) :]
