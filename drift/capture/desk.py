"""A rehearsal being logged: typed entries and thermometers into the logbook."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from contextlib import ExitStack
from datetime import datetime
from queue import SimpleQueue
from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple, Self

from drift.capture.entries import (
    Choose,
    Decide,
    Entry,
    Note,
    Play,
    Remark,
    Slide,
    Temperature,
    Word,
    parse_entry,
)
from drift.capture.wording import chosen_in_words, doubts, said, told
from drift.errors import DriftError, InputError
from drift.instruments import Catalogue, find, known_name
from drift.logbook import records
from drift.logbook.book import Logbook
from drift.logbook.vocabulary import check_names
from drift.notes import sounding_of
from drift.texts import harmless
from drift.times import shown_time
from sensors.reading import Clock, Notice, Source
from sensors.reading import Temperature as Sample

if TYPE_CHECKING:
    from drift.capture.proposer import Proposer

__all__ = ["Answer", "Desk", "Listener"]


class Answer(NamedTuple):
    """What is answered to one entry.

    Attributes
    ----------
    kept : bool
        Whether the entry is in the book, on the disk (or did what it says, if it is none to keep).
    text : str
        One line, beginning ``kept`` or ``not kept:``; for ``now`` and ``help`` empty, since the
        one who asked shows them.
    asks : str
        ``now``, ``help`` or ``end`` when that was typed, else empty.
    """

    kept: bool
    text: str
    asks: str = ""


_NOBODY: Mapping[str, str] = MappingProxyType({})


class Desk:
    """Where entries are made during one rehearsal.

    Parameters
    ----------
    book : Logbook
        Open for writing.
    rehearsal : str
        Its name; one that was interrupted is resumed where it was, player and instrument too.
    a4_hz : float
        The pitch that cents are counted from [Hz].
    written : bool
        Whether notes are typed as the player of the instrument reads them.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.
    """

    def __init__(
        self,
        book: Logbook,
        rehearsal: str,
        *,
        a4_hz: float = 440.0,
        written: bool = False,
        catalogue: Catalogue | None = None,
    ) -> None:
        if not rehearsal.strip():
            raise InputError("the rehearsal has no name", "name it, such as 2026-10-03 hall")
        self.book = book
        self.rehearsal: str = records.check_value(records.REHEARSAL, rehearsal.strip())
        self.a4_hz, self.written, self.catalogue = a4_hz, written, catalogue
        self.resumed = self.rehearsal in book.interrupted()
        self.hearing: Proposer | None = None

    def start(self, time: datetime, *, player: str = "", instrument: str = "") -> None:
        """Begin or resume the rehearsal, with a player and an instrument where they are known."""
        if instrument:
            instrument = known_name(instrument, self.catalogue)
        last = self.book.last_time(self.rehearsal)
        self.book.start(self.rehearsal, time)
        if last and time < last:
            behind = f"the computer's clock is {(last - time).total_seconds():.0f} s behind"
            text = f"{behind} the last entry of {self.rehearsal}, {shown_time(last)}"
            self.book.keep(records.Notice(time, self.rehearsal, "clock", "step", text))
        player = self.book.player_called(player.strip())
        for what, name in (("player", player), ("instrument", instrument)):
            # Named again on going on, it is no new choice: undo means what was typed last.
            if name and name != self.book.choices(self.rehearsal).get(what):
                self.book.choose(self.rehearsal, time, what, name)

    @property
    def player(self) -> str:
        """Who plays now; empty when nobody was named."""
        return self.book.choices(self.rehearsal).get("player", "")

    @property
    def instrument(self) -> str:
        """What is played now; empty when no instrument was named."""
        return self.book.choices(self.rehearsal).get("instrument", "")

    def enter(
        self,
        line: str,
        time: datetime,
        *,
        once: str | None = None,
        player: str = "",
        instrument: str = "",
    ) -> Answer:
        """Keep one typed entry and say so after it is on the disk, or say why not.

        Parameters
        ----------
        line : str
            As typed.
        time : datetime
            When.
        once : str, optional
            A key; an entry that comes again with the same key is kept only once.
        player, instrument : str, optional
            Who plays what in this entry alone, where several people enter at one desk; else as
            last chosen.
        """
        named = {"player": player, "instrument": instrument}
        seat = {what: name for what, name in named.items() if name}
        try:
            entry = parse_entry(line)
            if isinstance(entry, Word):
                return self._word(entry.word, time, once)
            if isinstance(entry, Decide):
                return Answer(True, self._decide(entry, time, once, seat))
            return Answer(True, f"kept {self._keep(entry, time, once, seat)}")
        except DriftError as refusal:
            return Answer(False, f"not kept: {refusal.problem}; {refusal.remedy}")

    def take_back(self, entry: int, time: datetime, *, once: str | None = None) -> Answer:
        """Take back one entry by its number, where several people enter at one desk."""
        try:
            return self._take_back(time, once, entry)
        except DriftError as refusal:
            return Answer(False, f"not kept: {refusal.problem}; {refusal.remedy}")

    def _take_back(self, time: datetime, once: str | None, entry: int | None) -> Answer:
        undone = self.book.undo(self.rehearsal, time, once=once, entry=entry)
        self._follow()
        return Answer(True, f"kept undo: {said(undone)} is taken back")

    def _follow(self) -> None:
        if self.hearing is not None:
            self.hearing.follow()

    def _word(self, word: str, time: datetime, once: str | None) -> Answer:
        if word == "undo":
            return self._take_back(time, once, None)
        if word == "end":
            self.book.end(self.rehearsal, time, once=once)
            return Answer(True, f"kept end of {self.rehearsal}", "end")
        return Answer(False, "", word)

    def _decide(
        self, entry: Decide, time: datetime, once: str | None, seat: Mapping[str, str]
    ) -> str:
        if once and self.book.has(once):
            return "kept already"
        if self.hearing is None:
            raise InputError("no microphone is listening", "start with --microphone, or type F4 +6")
        return self.hearing.decide(entry, time, once, seat)

    def _keep(self, entry: Entry, time: datetime, once: str | None, seat: Mapping[str, str]) -> str:
        if isinstance(entry, Choose):
            if entry.what == "instrument":
                name = known_name(entry.name, self.catalogue)
            else:
                name = self.book.player_called(entry.name)
            self.book.choose(self.rehearsal, time, entry.what, name, once=once)
            self._follow()
            return chosen_in_words(entry, name, self.instrument)
        record = self._record(entry, time, seat)
        check_names(record, self.catalogue)
        self.book.keep(record, once=once)
        return told(record) + doubts(record, self.catalogue)

    def _record(self, entry: Entry, time: datetime, seat: Mapping[str, str]) -> records.Record:
        here = self.rehearsal
        if isinstance(entry, Note):
            return self._reading(entry, time, *self.chosen(seat))
        if isinstance(entry, Temperature):
            return records.Temperature(time, here, entry.celsius, source=records.TYPED)
        if isinstance(entry, Play):
            word = "play" if entry.playing else "rest"
            player = entry.player and self.book.player_called(entry.player)
            return records.Event(time, here, player, word, already_warm=entry.warm)
        if isinstance(entry, Slide):
            player, instrument = self.chosen(seat)
            return records.Event(
                time, here, player, "slide", entry.slide, entry.position_mm, "", instrument
            )
        assert isinstance(entry, Remark)
        player = seat.get("player", self.player)
        return records.Event(time, here, player, "remark", remark=entry.text)

    def _reading(self, entry: Note, time: datetime, player: str, name: str) -> records.Reading:
        semitones = find(name, self.catalogue).written_semitones if self.written else 0
        note = sounding_of(entry.note, semitones) if semitones and entry.note else entry.note
        note, side = (note, entry.side) if note else self._read_last(player, entry.side)
        cents = entry.cents_at(self.a4_hz, semitones)
        return records.Reading(
            time, self.rehearsal, player, name, side, note, cents, self.a4_hz, entry.remark,
            flagged=entry.flagged,
        )  # fmt: skip

    def _read_last(self, player: str, side: str) -> tuple[str, str]:
        """Return the note that a player read last in this rehearsal, and on which side."""
        own = [row for row in self.book.rows("readings", rehearsal=self.rehearsal)
               if row["player"] == player]  # fmt: skip
        if not own:
            raise InputError(f"{player} has not read a note yet", "type it as F4 +6")
        return str(own[-1]["note"]), side or str(own[-1]["side"])

    def chosen(self, seat: Mapping[str, str] = _NOBODY) -> tuple[str, str]:
        """Return the player and the instrument, those named in a seat before those chosen.

        Raises
        ------
        InputError
            When one of them was not named yet; nobody takes over the instrument of another.
        """
        chosen = self.book.choices(self.rehearsal)
        if seat.get("player", chosen.get("player")) != chosen.get("player"):
            own = self.book.instrument_of(seat["player"], self.rehearsal)
            chosen = {"instrument": own} if own else {}
        chosen |= seat
        for what in ("player", "instrument"):
            if what not in chosen:
                raise InputError(f"no {what} was named", f"type {what} and a name first")
        return chosen["player"], chosen["instrument"]


class Listener:
    """A thermometer in the background, its samples kept in batches.

    Parameters
    ----------
    source : Source
        The thermometer.
    book : Logbook
        Open for writing.
    rehearsal : str
        The rehearsal that its samples belong to.
    clock : Clock
        For the time of what the listener itself has to say.
    told : callable, optional
        Called in the background with each notice, and with a logbook's refusal.

    Notes
    -----
    One thread reads and does nothing slow, so that no line is lost while the disk is busy; another
    keeps what was read, every `BATCH_SECONDS`. While the logbook refuses (a full disk), samples
    wait in memory, up to `WAITING` of them, and are kept when it takes them again.
    """

    BATCH_SECONDS = 0.2
    BATCH = 1000
    WAITING = 100_000

    def __init__(
        self,
        source: Source,
        book: Logbook,
        rehearsal: str,
        clock: Clock,
        told: Callable[[str], None] = lambda text: None,
    ) -> None:
        if source.name == records.TYPED or not source.name.isprintable():
            raise InputError(
                f"a thermometer cannot be called {source.name!r}",
                "give it another name with name= in its address",
            )
        self.name = source.name
        self.latest: Sample | None = None
        self.failure: str | None = None
        self._source, self._book, self._rehearsal = source, book, rehearsal
        self._clock, self._told = clock, told
        self._heard: SimpleQueue[records.Record] = SimpleQueue()
        self._waiting: list[records.Record] = []
        self._lost = self._lost_told = 0
        self._refused = ""
        self._keeping = threading.Lock()
        self._stop = threading.Event()
        self._threads = [
            threading.Thread(target=work, name=f"thermometer {self.name}, {what}", daemon=True)
            for what, work in (("heard", self._hear), ("kept", self._keep_on))
        ]
        self._open = ExitStack()

    def __enter__(self) -> Self:
        self._open.enter_context(self._source)
        for thread in self._threads:
            thread.start()
        return self

    def __exit__(self, *error: object) -> None:
        self._stop.set()
        for thread in self._threads:
            thread.join(timeout=5.0)
        self._open.close()
        self._flush()
        if unkept := len(self._waiting) + self._lost - self._lost_told:
            self._told(f"{unkept} samples of {self.name or 'the thermometer'} were not kept")
        self._waiting.clear()

    def _hear(self) -> None:
        try:
            for item in self._source:
                if item is not None:
                    self._take(item)
                if self._stop.is_set():
                    return
        except Exception as error:  # nobody above a thread would be told
            self.failure = str(error).partition("\n")[0] or type(error).__name__
            self._take(Notice(self._clock.now(), "away", self.failure, self.name))

    def _take(self, item: Sample | Notice) -> None:
        if isinstance(item, Notice):
            self._told(f"{item.source}: {item.text}" if item.source else item.text)
        if self._heard.qsize() + len(self._waiting) < self.WAITING:
            self._heard.put(self._record(item))
        else:
            self._lost += 1

    def _record(self, item: Sample | Notice) -> records.Record:
        if isinstance(item, Notice):
            text = f"{item.text} ({item.raw})" if item.raw else item.text
            plain = harmless(text, keep="").strip()
            return records.Notice(item.time, self._rehearsal, self.name, item.kind, plain)
        sample = records.Temperature(
            item.time, self._rehearsal, item.celsius, item.humidity_percent,
            item.pressure_hpa, self.name,
        )  # fmt: skip
        try:
            kept = records.checked(sample)
        except InputError as refusal:
            return self._record(Notice(item.time, "refused", refusal.problem, self.name, item.raw))
        self.latest = item
        return kept

    def _keep_on(self) -> None:
        while not self._stop.wait(self.BATCH_SECONDS):
            self._flush()

    def _flush(self) -> None:
        """Keep what was heard, or let it wait for a logbook that can take it."""
        with self._keeping:
            while not self._heard.empty():
                self._waiting.append(self._heard.get())
            try:
                self._keep()
            except DriftError as refusal:
                if refusal.problem != self._refused:
                    self._told(f"{refusal.problem}; samples wait until it can be written")
                self._refused = refusal.problem
                return
            if self._refused:
                self._told("the logbook is written again; the samples that waited are kept")
                self._refused = ""

    def _keep(self) -> None:
        while batch := self._waiting[: self.BATCH]:
            self._book.keep_all(batch)
            del self._waiting[: self.BATCH]
        if (lost := self._lost) > self._lost_told:
            text = f"{lost - self._lost_told} samples were lost: too many waited for the logbook"
            self._book.keep(self._record(Notice(self._clock.now(), "lost", text, self.name)))
            self._lost_told = lost
