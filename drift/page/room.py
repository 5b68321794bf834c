"""The rehearsal that the page keeps: one logbook, one desk, its thermometers."""

from __future__ import annotations

import hashlib
import threading
from collections import deque
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Self

from drift.capture.another_day import of_another_day
from drift.capture.answers import Answer, Chosen
from drift.capture.desk import Desk
from drift.capture.entries import Choose, parse_entry
from drift.capture.last_used import units_last_used
from drift.capture.listener import Listener
from drift.capture.thermometers import thermometers
from drift.errors import DriftError, InputError
from drift.instruments import Catalogue, find
from drift.logbook.book import Logbook
from drift.logbook.vocabulary import known_side
from drift.page.live_entries import LiveEntries
from drift.page.typed import LONGEST_NAME, Reply, Typed
from drift.quantities import Units
from sensors.clock_steps import ClockSteps
from sensors.errors import SensorError
from sensors.ports import Port, serial_ports
from sensors.reading import Clock, Source

if TYPE_CHECKING:
    from drift.capture.proposals import LiveSound

__all__ = ["Room"]

#: A rehearsal interrupted less than this ago goes on by itself when the program starts again.
GOES_ON_WITHIN = timedelta(hours=3)
#: Entries that come in one after the other and were typed within so much keep their order.
TOGETHER = timedelta(seconds=1)
#: Of one window they do in any case: a browser waits for an answer hardly longer than this.
ON_ITS_WAY = timedelta(seconds=30)
#: What one browser chooses for its own entries; other choices are everyone's.
SEAT = ("player", "instrument", "side")


class Room:
    """The rehearsal that the page keeps, one at a time.

    Parameters
    ----------
    path : Path
        The logbook; it is held open for writing while the room is open.
    clock : Clock
        Gives the time of each entry.
    writer : str
        What a second program is told about who writes the book.
    thermometers : sequence of str
        Their addresses; they are listened to while a rehearsal goes on.
    a4_hz : float, optional
        The pitch that cents are counted from [Hz]; by default as it was last in the rehearsal.
    written : bool, optional
        Whether notes are typed and shown as the player of the instrument reads them; by default
        as it was last in the rehearsal.
    units : Units, optional
        What numbers are typed and shown in; by default as they were chosen last in the book.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.
    watched : Clock, optional
        The computer's clock, of which it is recorded when somebody sets it.
    microphone : callable, optional
        Gives a microphone for each rehearsal, whose readings are proposed to everyone.
    notes : frozenset of int
        MIDI numbers of the only notes to propose; empty: all.
    plan : Path, optional
        A folder with the schedule and the forecast of an evening, for targets at the tuner.
    """

    def __init__(
        self,
        path: Path,
        clock: Clock,
        *,
        writer: str = "drift page",
        thermometers: Sequence[str] = (),
        a4_hz: float | None = None,
        written: bool | None = None,
        units: Units | None = None,
        catalogue: Catalogue | None = None,
        watched: Clock | None = None,
        microphone: Callable[[], LiveSound] | None = None,
        notes: frozenset[int] = frozenset(),
        plan: Path | None = None,
    ) -> None:
        self.path, self.clock, self._watched = path, clock, watched
        self.plan = plan
        self._a4_hz, self._written, self._units = a4_hz, written, units
        self.catalogue = Catalogue.shipped() if catalogue is None else catalogue
        self.desk: Desk | None = None
        self.live_entries: LiveEntries | None = None
        self.listeners: list[Listener] = []
        self.microphone, self._notes = microphone, notes
        self._writer, self._addresses = writer, thermometers
        self._latest = datetime.min.replace(tzinfo=UTC)
        self._typed_at = deque[tuple[str, datetime]](maxlen=1000)
        self._one_at_a_time = threading.RLock()
        self._open = ExitStack()
        self._rehearsal_open = ExitStack()

    def __enter__(self) -> Self:
        """Open the book."""
        self.book = self._open.enter_context(Logbook(self.path, writer=self._writer))
        self._open.callback(self._leave)
        try:
            self.book.check()
        except DriftError:
            self._open.close()
            raise
        return self

    def __exit__(self, *error: object) -> None:
        """Stop listening and close the book; a rehearsal without an end can go on later."""
        self._open.close()

    @property
    def key(self) -> str:
        """What tells this book from others that were open at the same address."""
        return hashlib.sha256(str(self.path.resolve()).encode()).hexdigest()[:16]

    @property
    def thermometer_names(self) -> list[str]:
        """The thermometers that were given, without where they are plugged in."""
        return [
            address.partition("name=")[2].partition("&")[0] or "connected"
            for address in self._addresses
        ]

    @property
    def thermometers_found(self) -> list[Port]:
        """The ports where a thermometer may be; none to choose from where one was given."""
        return [] if self._addresses else list(serial_ports())

    @property
    def written(self) -> bool:
        """Whether those who did not choose type and see notes as the player reads them."""
        return self.notes_by_player[""] == "written"

    @property
    def notes_by_player(self) -> dict[str, str]:
        """How notes are typed by each player who chose it; by all others without a name."""
        usual = {"": "written" if self._written else "sounding"}
        return self.desk.own_notes() if self.desk else usual

    @property
    def units(self) -> Units:
        """What numbers are typed and shown in by those who did not choose for themselves."""
        return self.units_of("")

    def units_of(self, player: str) -> Units:
        """Return what a player types and is shown numbers in."""
        if self.desk:
            return self.desk.units_of(player)
        return self._units or units_last_used(self.book, player)

    @property
    def units_by_player(self) -> dict[str, str]:
        """How numbers are typed by each player who chose it; by all others without a name."""
        own = self.desk.own_units() if self.desk else {"": self.units}
        return {player: units.spelling for player, units in own.items()}

    def semitones(self, instrument: str, player: str) -> int:
        """Return how much higher than they sound a player reads the notes of an instrument."""
        if self.desk is None or instrument not in self.catalogue:
            return 0
        return self.desk.semitones(instrument, player)

    @property
    def rehearsal(self) -> str:
        """The name of the rehearsal; empty before one has begun."""
        return self.desk.rehearsal if self.desk else ""

    def begin(
        self,
        rehearsal: str,
        *,
        player: str = "",
        instrument: str = "",
        a4_hz: float | None = None,
        written: bool | None = None,
        units: Units | None = None,
        thermometer: str = "",
    ) -> None:
        """Begin a rehearsal, or resume one that was interrupted.

        Parameters
        ----------
        rehearsal, player, instrument : str
            Names, as far as they are known.
        a4_hz : float, optional
            Pitch of A4 [Hz] (default: that of the program, else as it was last).
        written : bool, optional
            Whether notes are typed as the player reads them (default: as the program began).
        units : Units, optional
            What numbers are typed and shown in (default: as the program began).
        thermometer : str, optional
            The port of one of `thermometers_found`.

        Raises
        ------
        InputError, InstrumentError
            When the name is empty, or the catalogue has no such instrument.
        SensorError
            When a thermometer cannot be opened.
        """
        with self._one_at_a_time:
            if self.going_on and self.rehearsal == rehearsal.strip():
                return
            if self.going_on:
                raise InputError(
                    f"{self.rehearsal} is still going on", "end it first, then begin another"
                )
            self._written = self._written if written is None else written
            self._a4_hz = self._a4_hz if a4_hz is None else a4_hz
            self._units = self._units if units is None else units
            desk = self._desk(rehearsal)
            sources = thermometers(self._chosen_addresses(thermometer), self.clock)
            self._leave()
            if instrument:
                find(instrument, self.catalogue)
            with ExitStack() as opening:
                # First: what cannot be opened leaves nothing begun, and nothing open.
                listeners = self._listen(opening, desk, sources)
                desk.start(self.clock.now(), player=player, instrument=instrument)
                live_entries = LiveEntries(self.path, desk.rehearsal)
                opening.callback(live_entries.close)
                live_entries.read_on()
                self._rehearsal_open = opening.pop_all()
            self.desk, self.live_entries, self.listeners = desk, live_entries, listeners

    def _chosen_addresses(self, thermometer: str) -> Sequence[str]:
        """Return what to listen to: a browser may choose among the ports found, nothing else."""
        if not thermometer or self._addresses:
            return self._addresses
        if thermometer not in [port.device for port in self.thermometers_found]:
            raise InputError(
                f"no thermometer is connected at {thermometer!r} now", "choose another, or none"
            )
        return [f"serial:{thermometer}"]

    def _listen(self, opening: ExitStack, desk: Desk, sources: Sequence[Source]) -> list[Listener]:
        if of_another_day(desk.last, self.clock.now()):  # only what was forgotten is entered in it
            return []
        if self.microphone:
            from drift.capture.hearing import Hearing

            sound = self.microphone()
            opening.enter_context(Hearing(sound, desk, self.clock, notes=self._notes, anyone=True))
        listeners = [
            opening.enter_context(Listener(source, self.book, desk.rehearsal, self.clock))
            for source in sources
        ]
        if self._watched:
            steps = ClockSteps(self._watched, self.clock)
            opening.enter_context(Listener(steps, self.book, desk.rehearsal, self.clock))
        return listeners

    def go_on(self) -> bool:
        """Go on with the rehearsal that was interrupted a little while ago, if there is one."""
        for rehearsal in reversed(self.book.interrupted()):
            last = max(
                row["time"]
                for table in ("readings", "temperatures", "events")
                for row in self.book.rows(table, rehearsal=rehearsal)
            )
            if timedelta() <= self.clock.now() - last < GOES_ON_WITHIN:
                self.begin(rehearsal)
                return True
        return False

    @property
    def going_on(self) -> bool:
        """Whether a rehearsal has begun and is not over."""
        return self.live_entries is not None and not self.live_entries.ended

    def enter(self, typed: Typed) -> Reply:
        """Save one entry, and answer after it is on the disk, or say why not."""
        with self._one_at_a_time:
            try:
                return self._enter(typed)
            except (DriftError, SensorError) as refusal:
                return Reply(Answer(False, refusal))

    def _enter(self, typed: Typed) -> Reply:
        desk = self._desk_of(typed.rehearsal)
        time = self._when(typed)
        once = f"page:{typed.once}"
        if typed.line == "undo" and typed.entry:
            answer = self._take_back(desk, typed, time, once)
        elif chosen := _chosen(typed.line):
            return self._sit(typed, chosen)
        else:
            answer = desk.enter(
                typed.line, time, once=once,
                player=typed.player, instrument=typed.instrument, side=typed.side,
            )  # fmt: skip
        if self.live_entries is not None:
            self.live_entries.read_on()
            if not self.going_on:
                self._stop_listening()
        return Reply(answer, typed.player, typed.instrument, typed.side)

    def now(self) -> datetime:
        """Return the moment: entries that came at once reach a little beyond what the clock says.

        What is asked of the moment must not leave out the latest of them.
        """
        time = self.clock.now()
        return self._latest if timedelta() < self._latest - time < TOGETHER else time

    def _when(self, typed: Typed) -> datetime:
        """Return when an entry was typed; one after another, however long each was on its way."""
        time = self.clock.now() - timedelta(seconds=typed.waited_seconds)
        if timedelta() <= self._latest - time < TOGETHER:
            time = self._latest + timedelta(microseconds=1)
        # What was on its way while the program was busy came late, and how late nobody knows.
        before = dict(self._typed_at).get(typed.after)
        if before is not None and timedelta() <= before - time < ON_ITS_WAY:
            time = before + timedelta(microseconds=1)
        self._latest = time
        self._typed_at.append((typed.once, time))
        return time

    def _take_back(self, desk: Desk, typed: Typed, time: datetime, once: str) -> Answer:
        """Take back what its window typed before an undo, where that was not shown yet."""
        before = self.book.keys_from(f"page:{typed.after}") if typed.after else []
        for entry in (*(entry for entry, _ in before if entry > typed.entry), typed.entry):
            if (answer := desk.take_back(entry, time, once=once)).saved:
                break
        return answer

    def _sit(self, typed: Typed, chosen: Choose) -> Reply:
        """Let a browser enter for another player: its entries name them, the book needs nothing."""
        if chosen.what == "instrument":
            seat = replace(typed, instrument=find(chosen.name, self.catalogue).name, side="")
        elif chosen.what == "side":
            seat = replace(typed, side=known_side(typed.instrument, chosen.name, self.catalogue))
        else:
            name = self.book.player_called(chosen.name)
            same = typed.player in ("", chosen.name, name)
            own = (typed.instrument if same else "") or self.book.instrument_of(
                name, typed.rehearsal
            )
            seat = replace(typed, player=name, instrument=own, side=typed.side if same else "")
        name = getattr(seat, chosen.what)
        done = Chosen(chosen.what, name, chosen.name, seat.instrument, here=True)
        return Reply(Answer(True, done), seat.player, seat.instrument, seat.side)

    def _desk_of(self, rehearsal: str) -> Desk:
        """Return the desk of the rehearsal that an entry was typed in, which may be over."""
        if self.desk and rehearsal == self.rehearsal:
            return self.desk
        if rehearsal not in self.book.rehearsals():
            raise InputError(
                f"this logbook has no rehearsal {rehearsal!r}",
                "the entry belongs to another book; open the page of that one",
            )
        return self._desk(rehearsal)

    def _desk(self, rehearsal: str) -> Desk:
        if len(rehearsal) > LONGEST_NAME:
            raise InputError("the name of the rehearsal is too long", "choose a shorter one")
        return Desk(
            self.book,
            rehearsal,
            a4_hz=self._a4_hz,
            written=self._written,
            units=self._units,
            catalogue=self.catalogue,
        )

    def _stop_listening(self) -> None:
        while self.listeners:
            self.listeners.pop().__exit__(None, None, None)
        if self.desk and self.desk.hearing:
            self.desk.hearing.__exit__(None, None, None)

    def _leave(self) -> None:
        self.desk = self.live_entries = None
        self.listeners.clear()
        self._rehearsal_open.close()


def _chosen(line: str) -> Choose | None:
    try:
        entry = parse_entry(line)
    except DriftError:
        return None
    return entry if isinstance(entry, Choose) and entry.what in SEAT else None
