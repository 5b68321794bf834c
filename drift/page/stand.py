"""What the page on the stand says: the rehearsal in words and tables, region by region."""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from drift.capture.listener import Listener
from drift.instruments import find
from drift.logbook.records import TYPED
from drift.notes import shown, written_of
from drift.page.ledger import Ledger, Row
from drift.page.outlook import Unknown
from drift.page.rendering import render, signed
from drift.page.room import Room
from drift.words.now import around
from drift.words.tonight import answer

if TYPE_CHECKING:
    from drift.slides.player_now import PlayerNow

__all__ = ["REGIONS", "Stand", "entries", "playing", "temperature", "thermometers"]

#: The parts of the page that change while it is looked at; each has a template of its name.
REGIONS = ("temperature", "thermometers", "playing", "heard", "standing", "notices", "entries")
#: How many entries the table shows; looking back shows all.
SHOWN_ENTRIES = 15
#: A thermometer that said nothing for so long is said to be silent.
SILENT = timedelta(minutes=1)
#: Below this the air is said to have kept its temperature [°C].
STEADY_CELSIUS = 0.2


@dataclass(frozen=True)
class Air:
    """The temperature now, and how it came there."""

    celsius: float
    time: datetime
    source: str
    humidity_percent: float | None
    old: bool
    change: str


@dataclass(frozen=True)
class Line:
    """One entry as a row of the table."""

    entry: int
    time: datetime
    player: str
    words: str
    celsius: float | None
    flagged: bool


class Stand:
    """The regions of the page as text, and which of them changed.

    Parameters
    ----------
    room : Room
        The rehearsal.
    """

    def __init__(self, room: Room) -> None:
        self.room = room
        self.standings: tuple[PlayerNow | Unknown, ...] | None = None
        self.basis = ""
        self.notices: tuple[str, ...] = ()
        self.version = 0
        self._last: dict[str, str] = {}
        self._one_at_a_time = threading.Lock()

    def regions(self) -> dict[str, str]:
        """Return every region as HTML."""
        ledger = self.room.ledger
        if ledger is None:
            return {}
        now = self.room.clock.now()
        values: dict[str, Any] = {
            "air": temperature(ledger, now),
            "thermometers": thermometers(self.room.listeners, ledger, now),
            "playing": playing(ledger, now),
            "hearing": self.room.desk.hearing if self.room.desk else None,
            "standings": self.standings,
            "answer": answer,
            "around": around,
            "basis": self.basis,
            "notices": self.notices,
            "entries": entries(ledger, self._read_as())[:SHOWN_ENTRIES],
            "ended": ledger.ended,
        }
        return {region: render(f"_{region}.html", **values) for region in REGIONS}

    def changed(self, *, anew: bool = False) -> dict[str, str]:
        """Read the book on and return the regions that are not as they were."""
        with self._one_at_a_time:
            if self.room.ledger is not None:
                self.room.ledger.read_on(anew=anew)
            regions = self.regions()
            news = {name: text for name, text in regions.items() if self._last.get(name) != text}
            self._last = regions
            return news

    def _read_as(self) -> Mapping[str, int]:
        """Return by how many semitones each instrument's notes are written higher, if shown so."""
        if not self.room.written or self.room.ledger is None:
            return {}
        names = {row["instrument"] for row in self.room.ledger.readings}
        return {name: find(name, self.room.catalogue).written_semitones for name in names}


def temperature(ledger: Ledger, now: datetime) -> Air | None:
    """Return the temperature now, or None when none was read yet."""
    hour = ledger.last_hour(now)
    if not ledger.temperatures:
        return None
    last = ledger.temperatures[-1]
    same = [row for row in hour if row["source"] == last["source"]]
    return Air(
        float(last["celsius"]),
        last["time"],
        last["source"],
        last["humidity_percent"],
        now - last["time"] > (timedelta(minutes=30) if last["source"] == TYPED else SILENT),
        _change(same, now) if len(same) > 1 else "",
    )


def _change(rows: Sequence[Row], now: datetime) -> str:
    first, last = rows[0], rows[-1]
    minutes = (now - first["time"]).total_seconds() / 60.0
    if minutes < 1.0:
        return ""
    rise = last["celsius"] - first["celsius"]
    if abs(rise) < STEADY_CELSIUS:
        return f"the same as {minutes:.0f} min ago"
    return f"{abs(rise):.1f} °C {'warmer' if rise > 0 else 'colder'} than {minutes:.0f} min ago"


def thermometers(
    listeners: Sequence[Listener], ledger: Ledger, now: datetime
) -> list[tuple[str, str]]:
    """Return each thermometer and how it is, in words."""
    return [
        (listener.name or "thermometer", _state(listener, ledger, now)) for listener in listeners
    ]


def _state(listener: Listener, ledger: Ledger, now: datetime) -> str:
    if listener.failure:
        return f"given up: {listener.failure}"
    said = [row for row in ledger.notices if row["source"] == listener.name]
    away = next((row for row in reversed(said) if row["kind"] in ("away", "back")), None)
    if away is not None and away["kind"] == "away":
        return f"away since {_clock(away['time'])}: {away['text']}"
    if listener.latest is None:
        return "nothing heard yet"
    if now - listener.latest.time > SILENT:
        return f"silent since {_clock(listener.latest.time)}"
    return f"{listener.latest.celsius:.1f} °C"


def playing(ledger: Ledger, now: datetime) -> str:
    """Return whether everyone plays or rests, and since when, in words."""
    everyone = [row for row in ledger.events if not row["player"]]
    last = next((row for row in reversed(everyone) if row["event"] in ("play", "rest")), None)
    if ledger.ended:
        end = max(row["time"] for row in everyone if row["event"] == "end")
        return f"The rehearsal ended at {_clock(end)}."
    if last is None:
        return "Nobody has said yet when the playing began."
    minutes = max(0.0, (now - last["time"]).total_seconds() / 60.0)
    word = "Playing" if last["event"] == "play" else "Resting"
    warm = " (already warm)" if last["already_warm"] else ""
    return f"{word} since {_clock(last['time'])}, {minutes:.0f} min{warm}."


def entries(ledger: Ledger, read_as: Mapping[str, int]) -> list[Line]:
    """Return what people entered, the newest first."""
    return [
        Line(
            row["entry_id"],
            row["time"],
            row.get("player", ""),
            _words(row, read_as),
            None if "celsius" in row else ledger.celsius_at(row["time"]),
            bool(row.get("flagged")),
        )
        for row in ledger.by_hand()
    ]


def _words(row: Row, read_as: Mapping[str, int]) -> str:
    if "note" in row:
        note = written_of(row["note"], read_as.get(row["instrument"], 0))
        side = f", {shown(row['side'])} side" if row["side"] else ""
        words = row["remark"] or ("flagged" if row["flagged"] else "")
        remark = f" ({words})" if words else ""
        return f"{shown(note)} {signed(row['cents'])} cents{side}{remark}"
    if "celsius" in row:
        return f"{row['celsius']:.1f} °C, read off"
    if row["event"] == "slide":
        return f"{shown(row['slide'])} slide at {row['position_mm']:g} mm"
    if row["event"] == "remark":
        return f"remark: {row['remark']}"
    word = {"play": "plays", "rest": "rests"}[row["event"]]
    who = "" if row["player"] else "everyone "
    return f"{who}{word}{', already warm' if row['already_warm'] else ''}"


def _clock(time: datetime) -> str:
    return f"{time.astimezone():%H:%M}"
