"""What one run of the page holds, and how news of it reaches everyone who listens."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import secrets
from collections.abc import AsyncIterator, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import asynccontextmanager
from dataclasses import replace
from datetime import UTC, datetime
from functools import partial
from typing import Any, cast

from starlette.concurrency import run_in_threadpool

from drift.capture.entries import Target, parse_entry
from drift.errors import DriftError, InputError, ProgramFault
from drift.evidence import NoteTendency, evenings_of
from drift.page.devices import Devices
from drift.page.events import Broadcast
from drift.page.faults import answered_anyway
from drift.page.outlook import Unknown, standings
from drift.page.pictures import Asked, notes_of, on_stand
from drift.page.room import Room
from drift.page.stand import Stand, playing
from drift.page.typed import Reply, Typed
from drift.playing_ahead import when_and_where
from drift.reminders import Due, next_reading
from drift.study import Study
from drift.words.after_rehearsal import summary
from drift.words.noticed import sentences
from drift.words.now import in_words, target_lines

__all__ = ["State"]

#: How often the book is looked at for what thermometers brought [s].
LOOK_SECONDS = 1.0
#: After an entry, where pitch stands is worked out at once; this long after it was at the
#: earliest [s], and never more than half of the time, so that a book of many seasons does not keep
#: the machine busy.
OUTLOOK_SECONDS = 2.0
#: While nothing is entered, temperature and playing time still go on [s].
OUTLOOK_ANYWAY_SECONDS = 30.0


class State:
    """The room, what the stand says of it, and everyone who listens.

    Parameters
    ----------
    room : Room
        The rehearsal.
    devices : Devices, optional
        The devices let in, where the page is open to the network.
    watched : mapping of str to callable, optional
        ``reading, progress`` of `Study.open`: what shows how far the book is read and fitted.
    """

    def __init__(
        self, room: Room, devices: Devices | None = None,
        watched: Mapping[str, Any] | None = None,
    ) -> None:  # fmt: skip
        self.room, self.devices, self._watched = room, devices, dict(watched or {})
        self.stand = Stand(room)
        self.study: Study | None = None
        self.broadcast = Broadcast(secrets.token_hex(4))
        self._drawings: dict[tuple[str, str, str, str, bool, int], str] = {}
        self._wanted: dict[tuple[str, str, str], tuple[float, ...]] = {}
        self._summed_up = False
        self._telling = asyncio.Lock()
        self._again = asyncio.Event()
        self._entered: set[str] = set()  # who entered something since that was last begun
        # Drawing and fitting wait for each other here, and nobody else waits for them.
        self._slow = ThreadPoolExecutor(1, thread_name_prefix="outlook")

    @asynccontextmanager
    async def lifespan(self, app: object) -> AsyncIterator[None]:
        """Look at the book and work out the pitch for as long as the page is served."""
        tasks = [asyncio.create_task(self._look()), asyncio.create_task(self._think())]
        try:
            yield
        finally:
            for task in tasks:
                task.cancel()
            for task in tasks:
                with contextlib.suppress(asyncio.CancelledError):
                    await task
            self._slow.shutdown(wait=True, cancel_futures=True)

    async def enter(self, typed: Typed) -> Reply:
        """Save an entry, tell everyone, and return the answer."""
        reply = await run_in_threadpool(self.room.enter, typed)
        if reply.answer.asks in ("now", "target"):
            text = await self.slowly(self._answer, typed)
            return replace(reply, looked_up=text)
        if reply.answer.saved:
            self._waits(reply.player)
            await self.tell(said=reply.text, always=True)
        return reply

    async def begin_tuning(self, player: str, instrument: str, **options: Any) -> str:
        """Begin to tune, as `TuningDesk.begin` does, and tell everyone; or return why not."""
        try:
            study, now = await self.look_up(), self.room.now()
            begun = partial(self.stand.tuning.begin, study, player, instrument, now, **options)
            await self.slowly(begun)
        except DriftError as refusal:
            return f"{refusal.problem}; {refusal.remedy}"
        await self.tell()
        return ""

    async def go_on_tuning(self, player: str, instrument: str, number: int, line: str) -> str:
        """Take the answer to a step, and tell everyone; or return why it is none."""
        now, answer = self.room.now(), self.stand.tuning.answer
        refusal = await run_in_threadpool(answer, player, instrument, number, line, now)
        self._waits("" if refusal else player)
        await self.tell()
        return refusal

    async def begin(self, rehearsal: str, **seat: Any) -> None:
        """Begin a rehearsal or resume it, with what `Room.begin` takes, and tell everyone."""
        await run_in_threadpool(partial(self.room.begin, rehearsal, **seat))
        self.stand.standings, self.stand.closing = None, ()
        await self.tell(always=True)
        self._again.set()

    async def everything(self) -> dict[str, Any]:
        """Return all that a browser needs that knows nothing yet."""
        regions = await run_in_threadpool(self.stand.regions)
        return self._message(regions) | {"charts": self.stand.version}

    async def tell(self, *, said: str = "", always: bool = False, charts: bool = False) -> None:
        """Tell everyone which regions changed; one at a time, so that none goes back."""
        async with self._telling:
            regions = await run_in_threadpool(self.stand.changed)
            if not (regions or always or charts):
                return
            message = self._message(regions)
            if said:
                message["said"] = said
            if charts:
                message["charts"] = self.stand.version
            self.broadcast.publish(message)

    async def look_up(self) -> Study:
        """Return the study of the whole logbook as it is now."""
        return cast(Study, await self.slowly(self._look_up))

    async def draw(self, name: str, player: str, instrument: str, *, narrow: bool = False) -> str:
        """Return a chart of the stand; drawn once however many browsers ask for it."""
        return cast(str, await self.slowly(self._draw, name, player, instrument, narrow))

    async def notes(self, player: str, instrument: str) -> tuple[NoteTendency, ...]:
        """Return how the notes of a player lie against each other."""
        return cast(tuple[NoteTendency, ...], await self.slowly(self._notes, player, instrument))

    async def due(self, player: str, instrument: str) -> Due | None:
        """Return when a player's next reading is due; None where that cannot be known yet."""
        return cast("Due | None", await self.slowly(self._due, player, instrument))

    async def slowly(self, work: Any, *arguments: Any) -> Any:
        """Do something slow beside everything else; a fault of the program becomes a refusal."""
        loop = asyncio.get_running_loop()
        return await loop.run_in_executor(self._slow, _answered, work, *arguments)

    def _message(self, regions: dict[str, str]) -> dict[str, Any]:
        live_entries = self.room.live_entries
        entry = live_entries.seen if live_entries else 0
        return {
            "rehearsal": self.room.rehearsal,
            "typed": self.room.notes_by_player,
            "units": self.room.units_by_player,
            "entry": entry,
            "regions": regions,
        }

    async def _look(self) -> None:
        while True:
            await asyncio.sleep(LOOK_SECONDS)
            with _going_on_anyway():
                await self.tell()

    def _waits(self, player: str) -> None:
        """Work out soon where pitch stands, and say meanwhile that this player waits for it."""
        self._entered |= {player} - {""}
        self.stand.waiting |= self._entered
        self._again.set()

    async def _think(self) -> None:
        """Work out where pitch stands, soon after an entry and now and then without one."""
        loop = asyncio.get_running_loop()
        while True:
            began = loop.time()
            took = 0.0
            self._again.clear()
            self._entered = set()
            if self.room.going_on or self.stand.standings is None or not self._summed_up:
                with _going_on_anyway():
                    await self.slowly(self._work_out, self.room.now())
                    took = loop.time() - began
                    self.stand.waiting = frozenset(self._entered)
                    await self.tell(charts=True)
                    if not self._again.is_set():  # an answer that somebody waits for comes first
                        await self.slowly(self._look_for_faults, self.room.now())
                        await self.tell()
            self.stand.waiting = frozenset(self._entered)
            await asyncio.sleep(max(OUTLOOK_SECONDS - took, took))
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(OUTLOOK_ANYWAY_SECONDS):
                    await self._again.wait()

    def _work_out(self, now: datetime) -> None:
        if self.room.live_entries is None:
            return
        try:
            _answered(self._stand_at, now)
        except DriftError as refusal:  # else the page would say for ever that it works it out
            self.stand.standings = (Unknown("", "", refusal.problem, refusal.remedy),)
        self._summed_up = not self.room.going_on
        self.stand.version += 1
        self._drawings.clear()

    def _stand_at(self, now: datetime) -> None:
        """Work out where pitch stands, and after the end what the rehearsal came to."""
        study, room = self._look_up(), self.room
        a4_hz = room.desk.a4_hz if room.desk else None
        self.stand.standings = standings(study, room.rehearsal, now, a4_hz)
        if not room.going_on:
            evenings = evenings_of(study.rehearsals, study.paired, room.rehearsal)
            self.stand.closing = tuple(summary(evenings))

    def _look_for_faults(self, now: datetime) -> None:
        """Look for what is spoilt tonight; after the outlook, which must not wait for it."""
        if self.study is None:
            return
        study = self.study
        zone = now.astimezone().tzinfo or UTC
        told = sentences(study.spoilt, study.notices, self.room.rehearsal, zone)
        self.stand.notices = tuple(dict.fromkeys(told))  # of two sides alike, it is said once

    def _notes(self, player: str, instrument: str) -> tuple[NoteTendency, ...]:
        if self.study is None:
            return ()
        asked = Asked(self.room.rehearsal, player, instrument, self.room.now())
        return notes_of(self.study, asked)

    def _due(self, player: str, instrument: str) -> Due | None:
        """Return when the next reading is due; which are wanted is worked out once an evening."""
        study, now = self._look_up(), self.room.now()
        key = self.room.rehearsal, player, instrument
        try:
            found = next_reading(study, *key, now, wanted=self._wanted.get(key))
            self._wanted.setdefault(key, found.wanted)
        except DriftError:
            return None
        return found

    def _draw(self, name: str, player: str, instrument: str, narrow: bool) -> str:
        if self.study is None:
            return ""
        units, semitones = self.room.units_of(player), self.room.semitones(instrument, player)
        key = name, player, instrument, units.spelling, narrow, semitones
        if key not in self._drawings:
            now = self.room.now()
            asked = Asked(self.room.rehearsal, player, instrument, now, units, narrow, semitones)
            self._drawings[key] = on_stand(name, self.study, asked)
        return self._drawings[key]

    def _answer(self, typed: Typed) -> str:
        """Return what the terminal prints to the same question of the same player."""
        try:
            return cast(str, _answered(self._looked_up, typed))
        except DriftError as refusal:
            return f"{refusal.problem}; {refusal.remedy}"

    def _looked_up(self, typed: Typed) -> str:
        desk, now = self.room.desk, self.room.now().astimezone()
        if desk is None:
            raise InputError("no rehearsal has begun", "begin one first")
        seat = {"player": typed.player, "instrument": typed.instrument}
        who = desk.chosen({what: name for what, name in seat.items() if name})
        units = desk.units_of(who[0])
        asked, study = parse_entry(typed.line, units), self._look_up()
        shown_as = units, desk.semitones(who[1], who[0])
        if not isinstance(asked, Target):
            known = study.now(desk.rehearsal, *who, now, desk.a4_hz)
            return "\n".join([*self._over(now), *in_words(known, *shown_as)])
        at, celsius = when_and_where(asked, now, self.room.plan, units.fahrenheit)
        found = study.target(desk.rehearsal, *who, now, at=at, celsius=celsius)
        return "\n".join(target_lines(found, at, celsius, *shown_as))

    def _over(self, now: datetime) -> list[str]:
        """Return that the rehearsal ended, where it has."""
        live_entries = self.room.live_entries
        return [playing(live_entries, now)] if live_entries and live_entries.ended else []

    def _look_up(self) -> Study:
        room = self.room
        self.study = (
            Study.open(room.path, catalogue=room.catalogue, **self._watched)
            if self.study is None
            else self.study.refreshed()
        )
        return self.study


def _answered(work: Any, *arguments: Any) -> Any:
    with answered_anyway():
        return work(*arguments)


@contextlib.contextmanager
def _going_on_anyway() -> Iterator[None]:
    """Report what went wrong and go on: the stand must not freeze while the band plays."""
    try:
        yield
    except ProgramFault:
        pass  # it was reported
    except Exception:
        logging.getLogger(__name__).exception("the page could not be brought up to date")
