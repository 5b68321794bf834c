"""A rehearsal being logged: typed entries and thermometers into the logbook."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Mapping
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from types import MappingProxyType, TracebackType
from typing import Self

from drift import records
from drift.entries import Choose, Entry, Note, Play, Remark, Slide, Temperature, Word, parse_entry
from drift.errors import DriftError, InputError, LogbookError
from drift.instruments import find
from drift.logbook import Logbook
from drift.notes import shown, sounding_of
from drift.vocabulary import check_names
from sensors.errors import SensorError
from sensors.reading import Notice, Source
from sensors.reading import Temperature as Sample

__all__ = ["Answer", "Desk", "Listener"]


@dataclass(frozen=True)
class Answer:
    """What is answered to one entry.

    Attributes
    ----------
    kept : bool
        Whether the entry is in the book, on the disk.
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
    instruments : Path, optional
        A file with instruments beside the shipped catalogue.
    """

    def __init__(
        self,
        book: Logbook,
        rehearsal: str,
        *,
        a4_hz: float = 440.0,
        written: bool = False,
        instruments: Path | None = None,
    ) -> None:
        if not rehearsal.strip():
            raise InputError("the rehearsal has no name", "name it, such as 2026-10-03 hall")
        self.book, self.rehearsal = book, rehearsal.strip()
        self.a4_hz, self.written, self.instruments = a4_hz, written, instruments
        self.resumed = self.rehearsal in book.interrupted()

    def start(self, time: datetime, *, player: str = "", instrument: str = "") -> None:
        """Begin or resume the rehearsal, with a player and an instrument where they are known."""
        if instrument:
            instrument = find(instrument, self.instruments).name
        self.book.start(self.rehearsal, time)
        if player:
            self.book.choose(self.rehearsal, time, "player", player)
        if instrument:
            self.book.choose(self.rehearsal, time, "instrument", instrument)

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
        return Answer(True, f"kept undo: {_said(undone)} is taken back")

    def _word(self, word: str, time: datetime, once: str | None) -> Answer:
        if word == "undo":
            return self._take_back(time, once, None)
        if word == "end":
            self.book.end(self.rehearsal, time, once=once)
            return Answer(True, f"kept end of {self.rehearsal}", "end")
        return Answer(False, "", word)

    def _keep(self, entry: Entry, time: datetime, once: str | None, seat: Mapping[str, str]) -> str:
        if isinstance(entry, Choose):
            name = entry.name
            if entry.what == "instrument":
                name = find(name, self.instruments).name
            self.book.choose(self.rehearsal, time, entry.what, name, once=once)
            return f"{entry.what} {shown(name)}"
        record = self._record(entry, time, seat)
        check_names(record, self.instruments)
        self.book.keep(record, once=once)
        return _told(record)

    def _record(self, entry: Entry, time: datetime, seat: Mapping[str, str]) -> records.Record:
        here = self.rehearsal
        if isinstance(entry, Note):
            return self._reading(entry, time, *self.chosen(seat))
        if isinstance(entry, Temperature):
            return records.Temperature(time, here, entry.celsius, source=records.TYPED)
        if isinstance(entry, Play):
            word = "play" if entry.playing else "rest"
            remark = records.ALREADY_WARM if entry.warm else ""
            return records.Event(time, here, entry.player, word, remark=remark)
        if isinstance(entry, Slide):
            player, instrument = self.chosen(seat)
            return records.Event(
                time, here, player, "slide", entry.slide, entry.millimetres, "", instrument
            )
        assert isinstance(entry, Remark)
        player = seat.get("player", self.player)
        return records.Event(time, here, player, "remark", remark=entry.text)

    def _reading(self, entry: Note, time: datetime, player: str, name: str) -> records.Reading:
        semitones = find(name, self.instruments).written_semitones if self.written else 0
        note = sounding_of(entry.note, semitones) if semitones else entry.note
        cents = entry.cents_at(self.a4_hz, semitones)
        return records.Reading(
            time, self.rehearsal, player, name, entry.side, note, cents, self.a4_hz, entry.remark
        )

    def chosen(self, seat: Mapping[str, str] = _NOBODY) -> tuple[str, str]:
        """Return the player and the instrument, those named in a seat before those chosen.

        Raises
        ------
        InputError
            When one of them was not named yet.
        """
        chosen = {**self.book.choices(self.rehearsal), **seat}
        for what in ("player", "instrument"):
            if what not in chosen:
                raise InputError(f"no {what} was named", f"type {what} and a name first")
        return chosen["player"], chosen["instrument"]


def _told(record: records.Record) -> str:
    """Return a record in the words of the one who made it."""
    if isinstance(record, records.Reading):
        side = f" on the {shown(record.side)} side" if record.side else ""
        flag = ", flagged" if record.remark.startswith("!") else ""
        return f"{shown(record.note)} {record.cents:+.1f} cents{side}{flag}"
    if isinstance(record, records.Temperature):
        return f"temp {record.celsius:.1f} °C"
    assert isinstance(record, records.Event)
    if record.event == "slide":
        return f"slide {shown(record.slide)} {record.millimetres:g} mm"
    if record.event == "remark":
        return f"remark {record.remark}"
    return " ".join(filter(None, [record.event, record.player, record.remark]))


def _said(row: Mapping[str, object]) -> str:
    if row["kind"] == "choice":
        return f"{row['what']} {row['name']}"
    names = ("note", "cents", "celsius", "event", "slide", "millimetres", "remark")
    return " ".join(str(row[name]) for name in names if row.get(name) not in (None, ""))


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
    told : callable, optional
        Called in the background with each notice, and with a logbook's refusal.

    Notes
    -----
    A sample waits at most `BATCH_SECONDS` for its batch. While the logbook refuses (a full
    disk), samples wait in memory, up to `WAITING` of them, and are kept when it takes them again.
    """

    BATCH_SECONDS = 0.2
    WAITING = 100_000

    def __init__(
        self,
        source: Source,
        book: Logbook,
        rehearsal: str,
        monotonic: Callable[[], float],
        told: Callable[[str], None] = lambda text: None,
    ) -> None:
        self.name = source.name
        self.latest: Sample | None = None
        self.failure: str | None = None
        self._source, self._book, self._rehearsal = source, book, rehearsal
        self._monotonic, self._told = monotonic, told
        self._waiting: deque[records.Record] = deque(maxlen=self.WAITING)
        self._stop = threading.Event()
        self._thread = threading.Thread(
            target=self._run, name=f"thermometer {self.name}", daemon=True
        )
        self._open = ExitStack()

    def __enter__(self) -> Self:
        self._open.enter_context(self._source)
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._stop.set()
        self._thread.join(timeout=5.0)
        self._open.close()
        self._flush()

    def _run(self) -> None:
        due = self._monotonic() + self.BATCH_SECONDS
        try:
            for item in self._source:
                if item is not None:
                    self._waiting.append(self._record(item))
                if self._stop.is_set():
                    return
                if self._monotonic() >= due or item is None:
                    self._flush()
                    due = self._monotonic() + self.BATCH_SECONDS
        except (SensorError, OSError) as error:
            self.failure = str(error).splitlines()[0]
            self._told(f"thermometer {self.name or ''}: {self.failure}")
        self._flush()

    def _record(self, item: Sample | Notice) -> records.Record:
        if isinstance(item, Sample):
            sample = records.Temperature(
                item.time, self._rehearsal, item.celsius, item.humidity_percent,
                item.pressure_hpa, item.source,
            )  # fmt: skip
            try:
                kept = records.checked(sample)
            except InputError as refusal:
                return self._notice(
                    Notice(item.time, "refused", refusal.problem, item.source, item.raw)
                )
            self.latest = item
            return kept
        self._told(item.text)
        return self._notice(item)

    def _notice(self, item: Notice) -> records.Notice:
        text = f"{item.text} ({item.raw})" if item.raw else item.text
        plain = "".join(c if c.isprintable() else "�" for c in text)
        return records.Notice(item.time, self._rehearsal, item.source, item.kind, plain)

    def _flush(self) -> None:
        batch = list(self._waiting)
        if not batch:
            return
        try:
            self._book.keep_all(batch)
        except LogbookError as refusal:
            self._told(f"{refusal.problem}; {len(batch)} samples wait")
            return
        for _ in batch:
            self._waiting.popleft()
