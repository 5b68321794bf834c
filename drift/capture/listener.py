"""A thermometer in the background of a rehearsal, its samples into the logbook."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable
from contextlib import ExitStack
from queue import SimpleQueue
from typing import Self

from drift.errors import DriftError, InputError
from drift.logbook import records
from drift.logbook.book import Logbook
from drift.texts import harmless
from sensors.reading import Clock, Notice, Sample, Source

__all__ = ["Listener"]


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
        Called in the background with each notice, and with a logbook's refusal. What is wrong with
        a line is told once, and at the end how often it was.

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
        self._lines_refused: Counter[str] = Counter()
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
        for wrong, times in self._lines_refused.items():
            if times > 1:
                self._told(f"{self.name}: {wrong}, {times} times in all")

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
        if isinstance(item, Notice) and self._is_news(item):
            self._told(f"{item.source}: {item.text}" if item.source else item.text)
        if self._heard.qsize() + len(self._waiting) < self.WAITING:
            self._heard.put(self._record(item))
        else:
            self._lost += 1

    def _is_news(self, item: Notice) -> bool:
        """Return whether a notice says more than that one more line was refused for the same."""
        if item.kind != "refused":
            return True
        wrong = item.text.partition(":")[0].partition(" (and ")[0]
        self._lines_refused[wrong] += 1
        return self._lines_refused[wrong] == 1

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
