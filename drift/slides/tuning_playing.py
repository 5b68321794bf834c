"""What a tuning logs of playing: since when, by what is said and by the notes that are read."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

from drift.logbook.records import Event
from drift.pairing.playing import LEAD_MINUTES

__all__ = ["Played", "Playing"]

MINUTE = timedelta(minutes=1)
LEAD = LEAD_MINUTES * MINUTE
Row = Mapping[str, Any]


@dataclass(frozen=True)
class Played:
    """What is logged of playing.

    Attributes
    ----------
    records : tuple of Event
        That it began, or began again.
    instead_of : mapping of int to Event
        What holds no more, by its number in the logbook.
    """

    records: tuple[Event, ...] = ()
    instead_of: Mapping[int, Event] = field(default_factory=dict)


@dataclass(frozen=True)
class Playing:
    """The playing and the rests of a player that are logged in a rehearsal so far.

    Attributes
    ----------
    rehearsal, player : str
        Whose and where.
    rows : sequence of mapping
        They, in order of time.
    own : collection of int
        What the tuning logged itself, by its numbers: what is said later replaces it.
    outdated : mapping of int to Event
        What was said at an earlier tuning and is not counted; the next that is logged replaces it.
    """

    rehearsal: str
    player: str
    rows: Sequence[Row] = ()
    own: Collection[int] = ()
    outdated: Mapping[int, Event] = field(default_factory=dict)

    @classmethod
    def of(
        cls,
        events: Iterable[Row],
        rehearsal: str,
        player: str,
        own: Collection[int] = (),
        outdated: Collection[int] = (),
    ) -> Playing:
        """Return what the events of the rehearsal, in order of time, hold of the player."""
        rows = [
            row
            for row in events
            if row["event"] in ("play", "rest", "end") and row["player"] in ("", player)
        ]
        gone = _events(row for row in rows if row["entry_id"] in outdated)
        counted = [row for row in rows if row["entry_id"] not in gone]
        return cls(rehearsal, player, counted, own, gone)

    def after_a_note(self, time: datetime, minutes: float) -> Played:
        """Return what is logged when a note is read: who reads a note plays.

        Where no playing is logged, it is, for as long as was said [min]. A rest, or an end, that
        was logged is over shortly before the note.
        """
        return Played(self._first(time, minutes), self.outdated)

    def said(self, time: datetime, minutes: float, *, more: float | None = None) -> Played:
        """Return what is logged when the player says for how long; where the log does, nothing is.

        An instrument that was said to be warm already has no minutes.

        Parameters
        ----------
        time : datetime
            When it is said.
        minutes : float
            For how long this evening, in all [min].
        more : float, optional
            For how long since the answer before, where that was said [min]; after a rest it counts.
        """
        if not any(row["event"] == "play" for row in self.rows):
            return Played(self._first(time, minutes), self.outdated)
        rests = [row["time"] for row in self.rows if row["event"] != "play"]
        if rests:
            others, own = self._but_own(lambda moment: more is None and moment >= rests[-1])
            played = others._after_a_rest(rests[-1], time, minutes, more)
            return Played(played, {**self.outdated, **own})
        first, began = self.rows[0], time - minutes * MINUTE
        if first["already_warm"] or abs(first["time"] - began) <= LEAD:
            return Played(instead_of=self.outdated)
        others, own = self._but_own(lambda moment: moment < began - LEAD)
        known = any(row["time"] <= began + LEAD for row in others.rows)
        return Played(() if known else (self._play(began),), {**self.outdated, **own})

    def _but_own(self, when: Callable[[datetime], bool]) -> tuple[Playing, dict[int, Event]]:
        """Return all but what the tuning itself logged at some times, and that."""
        own = _events(row for row in self.rows if row["entry_id"] in self.own and when(row["time"]))
        return replace(self, rows=[row for row in self.rows if row["entry_id"] not in own]), own

    def _first(self, time: datetime, minutes: float) -> tuple[Event, ...]:
        if self.rows and self.rows[-1]["event"] == "play":
            return ()
        since = []
        if not any(row["event"] == "play" for row in self.rows):
            since.append(time - minutes * MINUTE)
        if self.rows:
            since.append(max(self.rows[-1]["time"], time - LEAD))
        return tuple(self._play(moment) for moment in since)

    def _after_a_rest(
        self, rest: datetime, time: datetime, minutes: float, more: float | None
    ) -> tuple[Event, ...]:
        """Return since when the player has played again, where that is longer than was logged."""
        since = [row["time"] for row in self.rows if row["time"] >= rest and row["event"] == "play"]
        begun = min(since, default=time)
        unlogged = minutes * MINUTE - self._logged(time)
        if more is not None:
            unlogged = more * MINUTE - (time - begun)
        if unlogged <= (LEAD if since else timedelta(0)):
            return ()
        return (self._play(max(rest, begun - unlogged)),)

    def _logged(self, time: datetime) -> timedelta:
        """Return for how long the player played until a moment, by the log."""
        moments = [*((row["time"], row["event"] == "play") for row in self.rows), (time, False)]
        spans = (then - since for (since, plays), (then, _) in pairwise(moments) if plays)
        return sum(spans, timedelta(0))

    def _play(self, time: datetime) -> Event:
        return Event(time, self.rehearsal, self.player, "play")


def _events(rows: Iterable[Row]) -> dict[int, Event]:
    """Return rows of the logbook as what they are, by their numbers."""
    return {
        row["entry_id"]: Event(**{name: value for name, value in row.items() if name != "entry_id"})
        for row in rows
    }
