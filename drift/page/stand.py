"""What the page on the stand says: the rehearsal in words and tables, region by region."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

from drift.capture.listener import Listener
from drift.logbook.records import TYPED
from drift.notes import shown, written_of
from drift.page.live_entries import LiveEntries, Row
from drift.page.outlook import Known, Unknown
from drift.page.rendering import render, signed
from drift.page.room import Room
from drift.page.trace import show_trace
from drift.page.tuning import TuningDesk
from drift.quantities import METRIC, Units, in_inches
from drift.words.cents import degrees
from drift.words.entries import slides_text
from drift.words.letters import capital
from drift.words.now import rests_on
from drift.words.surprises import surprises
from drift.words.thermometers import called
from drift.words.tonight import after_the_move, not_used, progress_in_words, to_do
from sensors.notices import patience

__all__ = [
    "REGIONS",
    "Stand",
    "Told",
    "entries",
    "playing",
    "temperature",
    "thermometers",
    "to_tell",
]

#: The parts of the page that change while it is looked at; each has a template of its name.
REGIONS = (
    "temperature",
    "thermometers",
    "playing",
    "heard",
    "trace",
    "standing",
    "notices",
    "entries",
    "typing",
    "tuning",
)
#: How many entries the table shows; looking back shows all.
SHOWN_ENTRIES = 15
FAHRENHEIT = Units(fahrenheit=True)
#: A thermometer that said nothing for so long is silent, unless it usually takes its time.
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
    change_fahrenheit: str


@dataclass(frozen=True)
class Line:
    """One entry as a row of the table; ``imported`` where it was not entered here."""

    entry: int
    time: datetime
    player: str
    words: str
    celsius: float | None
    flagged: bool
    typed_celsius: float | None = None
    imported: bool = False


@dataclass(frozen=True)
class Told:
    """What one player is to do, as the page shows it: the most important words large.

    Of an instrument with sides that lie apart, each side has a line.
    """

    player: str
    instrument: str
    do: str
    surprises: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


class Stand:
    """The regions of the page as text, and which of them changed.

    Parameters
    ----------
    room : Room
        The rehearsal.
    """

    def __init__(self, room: Room) -> None:
        self.room, self.tuning = room, TuningDesk(room)
        self.standings: tuple[Known | Unknown, ...] | None = None
        self.notices: tuple[str, ...] = ()
        self.closing: tuple[str, ...] = ()
        #: Who entered something that the answer shown does not rest on yet.
        self.waiting: frozenset[str] = frozenset()
        self.version = 0
        self._last: dict[str, str] = {}
        self._one_at_a_time = threading.Lock()

    def regions(self) -> dict[str, str]:
        """Return every region as HTML."""
        live_entries = self.room.live_entries
        if live_entries is None:
            return {}
        now = self.room.clock.now()
        values: dict[str, Any] = {
            "air": temperature(live_entries, now),
            "thermometers": thermometers(self.room.listeners, live_entries, now),
            "playing": playing(live_entries, now),
            "hearing": self.room.desk.hearing if self.room.desk else None,
            "standings": self._told(),
            "notices": (*filter(None, [self.room.book.trouble]), *self.notices),
            "closing": self.closing,
            "waiting": self.waiting,
            "entries": entries(live_entries, self._semitones, self.room.units_of),
            "ended": live_entries.ended,
            "room": self.room,
            "tunings": self.tuning.shown(),
            "degrees": degrees,
        }
        drawn = {"trace": self._trace()}
        others = (region for region in REGIONS if region not in drawn)
        return drawn | {region: render(f"_{region}.html", **values) for region in others}

    def _trace(self) -> str:
        hearing = self.room.desk.hearing if self.room.desk else None
        return "" if hearing is None else show_trace(hearing.trace, hearing.began)

    def _told(self) -> tuple[Told, ...] | None:
        if self.standings is None:
            return None
        return tuple(self._tell(one) for one in self.standings)

    def _tell(self, one: Known | Unknown) -> Told:
        desk = self.room.desk
        if desk is None or isinstance(one, Unknown):
            return to_tell(one)
        units = desk.units_of(one.now.player)
        return to_tell(one, units, desk.semitones(one.now.pitch.instrument, one.now.player))

    def changed(self) -> dict[str, str]:
        """Read the book on and return the regions that are not as they were."""
        with self._one_at_a_time:
            if self.room.live_entries is not None:
                self.room.live_entries.read_on()
            regions = self.regions()
            news = {name: text for name, text in regions.items() if self._last.get(name) != text}
            self._last = regions
            return news

    def _semitones(self, row: Row) -> int:
        """Return by how many semitones the note of a reading is written higher, if shown so."""
        if self.room.desk is None:
            return 0
        return self.room.desk.semitones(row["instrument"], row["player"])


def to_tell(one: Known | Unknown, units: Units = METRIC, semitones: int = 0) -> Told:
    """Return what a player is to do, and what that rests on, in words.

    Parameters
    ----------
    one : Known or Unknown
        How a player is.
    units : Units
        Of the player.
    semitones : int
        How much higher than they sound the player reads the notes.
    """
    if isinstance(one, Unknown):
        return Told(one.player, one.instrument, f"{capital(one.problem)}: {one.remedy}.")
    now = one.now
    progress = None if now.pitch.asks else one.progress
    known = after_the_move(now.pitch)
    known += [f"{capital(slides_text(one.slides, units))}."] if one.slides else []
    known += [] if progress is None else [progress_in_words(progress)]
    known += [*not_used(now.pitch.not_used), f"Expected from {rests_on(now)}."]
    if now.extrapolated:
        known.append("Outside the temperatures measured so far: extrapolated.")
    return Told(
        now.player,
        now.pitch.instrument,
        "\n".join(to_do(now.pitch, units=units, semitones=semitones)),
        tuple(surprises(now.pitch, now.time, units, semitones)),
        tuple(known),
    )


def temperature(live_entries: LiveEntries, now: datetime) -> Air | None:
    """Return the temperature now, or None when none was read yet.

    What was typed hides no thermometer that goes on measuring.
    """
    hour = live_entries.last_hour(now)
    if not live_entries.temperatures:
        return None
    probes = {row["source"] for row in hour} - {TYPED}
    patience = {name: _patience(hour, name) for name in probes}
    live = [
        row for row in hour
        if row["source"] != TYPED and now - row["time"] <= patience[row["source"]]
    ]  # fmt: skip
    last = live[-1] if live else live_entries.temperatures[-1]
    same = [row for row in hour if row["source"] == last["source"]]
    holds = timedelta(minutes=30) if last["source"] == TYPED else SILENT
    return Air(
        float(last["celsius"]),
        last["time"],
        last["source"] if last["source"] == TYPED else called(last["source"]),
        last["humidity_percent"],
        now - last["time"] > patience.get(last["source"], holds),
        *(_change(same, now, units) for units in (METRIC, FAHRENHEIT)),
    )


def _patience(rows: Sequence[Row], source: str) -> timedelta:
    """Return after how long without a temperature a thermometer is silent."""
    times = [row["time"] for row in rows if row["source"] == source][-6:]
    pauses = ((later - earlier).total_seconds() for earlier, later in pairwise(times))
    return timedelta(seconds=patience(pauses, SILENT.total_seconds()))


def _change(rows: Sequence[Row], now: datetime, units: Units) -> str:
    if len(rows) < 2:
        return ""
    first, last = rows[0], rows[-1]
    minutes = (now - first["time"]).total_seconds() / 60.0
    if minutes < 1.0:
        return ""
    rise = last["celsius"] - first["celsius"]
    if abs(rise) < STEADY_CELSIUS:
        return f"the same as {minutes:.0f} min ago"
    by = abs(rise) * (1.8 if units.fahrenheit else 1.0)
    return (
        f"{by:.1f} {units.degrees} {'warmer' if rise > 0 else 'colder'} than {minutes:.0f} min ago"
    )


def thermometers(
    listeners: Sequence[Listener], live_entries: LiveEntries, now: datetime
) -> list[tuple[str, str]]:
    """Return each thermometer and how it is, in words; nothing where the only one is well.

    Its temperature is shown large already.
    """
    states = [(called(one.name), _state(one, live_entries, now)) for one in listeners]
    names = [name for name, _ in states]
    told = [
        (f"{name} {place}" if names.count(name) > 1 else name, state)
        for place, (name, state) in enumerate(states, 1)
    ]
    well = all(state.endswith(("°C", "min ago")) for _, state in told)
    return [] if well and len(told) < 2 else told


def _state(listener: Listener, live_entries: LiveEntries, now: datetime) -> str:
    if listener.failure:
        return f"stopped: {listener.failure}"
    said = [row for row in live_entries.notices if row["source"] == listener.name]
    away = next((row for row in reversed(said) if row["kind"] in ("away", "back")), None)
    if away is not None and away["kind"] == "away":
        return f"offline since {_clock(away['time'])}: {away['text']}"
    if listener.latest is None:
        return "no reading yet"
    age = now - listener.latest.time
    if age > _patience(live_entries.last_hour(now), listener.name):
        return f"silent since {_clock(listener.latest.time)}"
    old = f", {age / SILENT:.0f} min ago" if age > SILENT else ""
    return f"{listener.latest.celsius:.1f} °C{old}"


def playing(live_entries: LiveEntries, now: datetime) -> str:
    """Return whether everyone plays or rests, and since when, in words."""
    everyone = [row for row in live_entries.events if not row["player"]]
    last = next((row for row in reversed(everyone) if row["event"] in ("play", "rest")), None)
    if live_entries.ended:
        end = max(row["time"] for row in everyone if row["event"] == "end")
        return f"The rehearsal ended at {_clock(end)}."
    if last is None:
        return _playing_alone(live_entries, now)
    word = "Playing" if last["event"] == "play" else "Resting"
    warm = " (already warm)" if last["already_warm"] else ""
    return f"{word} {_since(last, now)}{warm}."


def _playing_alone(live_entries: LiveEntries, now: datetime) -> str:
    """Return who plays or rests, where it was logged only for players of their own."""
    own = {}
    for row in live_entries.events:
        if row["player"] and row["event"] in ("play", "rest"):
            own[row["player"]] = row
    told = [f"{player} {row['event']}s {_since(row, now)}" for player, row in own.items()]
    if not told:
        return "Playing has not been logged yet. Press “Everyone plays”."
    return f"{'; '.join(told)}. The others: press “Everyone plays” when they begin."


def _since(event: Row, now: datetime) -> str:
    minutes = max(0.0, (now - event["time"]).total_seconds() / 60.0)
    return f"since {_clock(event['time'])}, {minutes:.0f} min"


def entries(
    live_entries: LiveEntries,
    semitones_of: Callable[[Row], int] = lambda _: 0,
    units_of: Callable[[str], Units] = lambda _: METRIC,
) -> list[Line]:
    """Return what people entered last, in order of time, the newest first."""
    # What was entered later than it happened must not be out of sight at once.
    entered = live_entries.by_hand()[-SHOWN_ENTRIES:]
    begun = live_entries.begun_here
    rows = sorted(entered, key=lambda row: (row["time"], row["entry_id"]), reverse=True)
    return [
        Line(
            row["entry_id"],
            row["time"],
            row.get("player", ""),
            _words(row, semitones_of, units_of(row.get("player", ""))),
            None if "celsius" in row else live_entries.celsius_at(row["time"]),
            bool(row.get("flagged")),
            row.get("celsius"),
            row["entry_id"] < begun,
        )
        for row in rows
    ]


def _words(row: Row, semitones_of: Callable[[Row], int], units: Units) -> str:
    if "note" in row:
        note = written_of(row["note"], semitones_of(row))
        side = f", {shown(row['side'])} side" if row["side"] else ""
        remark = f" ({row['remark']})" if row["remark"] else ""
        return f"{shown(note)} {signed(row['cents'])} cents{side}{remark}"
    if "celsius" in row:
        return f"{degrees(row['celsius'], units)}, typed"
    if row["event"] == "slide":
        slide = f"{shown(row['slide'])} slide at"
        if units.inches:
            return f"{slide} {in_inches(row['position_mm'], 32)} inch"
        return f"{slide} {row['position_mm']:g} mm"
    if row["event"] == "remark":
        return f"remark: {row['remark']}"
    if row["event"] == "tuned":
        return f"tuned, {shown(row['side'])} side" if row["side"] else "tuned"
    word = {"play": "plays", "rest": "rests"}[row["event"]]
    who = "" if row["player"] else "everyone "
    return f"{who}{word}{', already warm' if row['already_warm'] else ''}"


def _clock(time: datetime) -> str:
    return f"{time.astimezone():%H:%M}"
