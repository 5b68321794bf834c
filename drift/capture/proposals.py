"""The microphone in the background: a plain list of proposed readings to keep or to drop."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Protocol, Self

from numpy.typing import ArrayLike

from drift.capture.heard import Declined, Heard, Wanted
from drift.capture.lately import Lately, Trace
from drift.capture.levels import Level, LevelWatch
from drift.capture.listening import hear
from drift.errors import InputError
from drift.logbook.records import Reading
from sensors.errors import SensorError
from sensors.frames import Frames
from sensors.reading import Clock
from sensors.tones import Reason, Refusal

__all__ = ["Proposal", "Proposals"]

_MOST = 50
_EVERYDAY = (Reason.SILENCE, Reason.NO_PITCH)


class LiveSound(Protocol):
    """What a microphone is: open it with ``with``, then iterate over blocks.

    Its sound gets a time that is `delay_s` later than it was heard [s].
    """

    rate: float
    delay_s: float

    def __iter__(self) -> Iterator[ArrayLike | None]:
        """Yield blocks of samples, and None at least once a second without any."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """A tone that was heard and waits to be kept or dropped.

    Attributes
    ----------
    number : int
        Counted from 1 in the order they were heard; never given twice.
    began : datetime
        When listening began, aware.
    heard : Heard
        The note with its cents.
    player, instrument : str
        Who was listened to; empty where nobody was named.
    """

    number: int
    began: datetime
    heard: Heard
    player: str = ""
    instrument: str = ""

    @property
    def time(self) -> datetime:
        """The middle of the tone."""
        tone = self.heard.tone
        return self.began + timedelta(seconds=(tone.start_s + tone.end_s) / 2)

    @property
    def text(self) -> str:
        """One line for a list."""
        from drift.words.listening import describe_proposal

        return describe_proposal(self)

    @property
    def words(self) -> str:
        """The reading alone."""
        from drift.words.listening import describe_heard

        return describe_heard(self.heard)

    def reading(
        self, *, rehearsal: str, player: str, instrument: str, a4_hz: float, side: str = ""
    ) -> Reading:
        """Return the reading that keeping it puts into the logbook; a side overrides the rule."""
        heard = replace(self.heard, side=side) if side else self.heard
        return heard.reading(
            began=self.began,
            rehearsal=rehearsal,
            player=player,
            instrument=instrument,
            a4_hz=a4_hz,
            remark=f"by microphone, spread {self.heard.tone.spread_cents:.1f} cents",
        )


class Proposals:
    """Listen in the background and hold what was heard until somebody decides.

    Parameters
    ----------
    microphone : context manager and iterable of blocks
        A `sensors.microphone.Microphone`, or anything of its shape.
    wanted : Wanted
        Who and what is listened for; may be set anew while listening, as players change.
    clock : Clock
        For the time that listening began.
    told : callable, optional
        Called in the background with each new `Proposal`, with the `Level` when it changes, and
        with the text of a failure.

    Notes
    -----
    Nothing is kept by itself. At most fifty proposals wait; the oldest are dropped.
    """

    def __init__(
        self,
        microphone: LiveSound,
        wanted: Wanted,
        clock: Clock,
        told: Callable[[Proposal | Level | str], None] = lambda news: None,
    ) -> None:
        self.wanted = wanted
        self.failure: str | None = None
        self.level = Level.GOOD
        self.refused: Refusal | Declined | None = None
        self._lately = Lately()
        self._microphone, self._clock, self._told = microphone, clock, told
        self.began = clock.now()
        self._waiting: dict[int, Proposal] = {}
        self._count = 0
        self._lock = threading.Lock()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._listen, name="microphone", daemon=True)
        self._open = ExitStack()

    def __enter__(self) -> Self:
        if isinstance(self._microphone, AbstractContextManager):
            self._open.enter_context(self._microphone)
        late = timedelta(seconds=self._microphone.delay_s)
        self.began = self._clock.now() - late
        self._thread.start()
        return self

    def __exit__(self, *error: object) -> None:
        self._stop.set()
        self._thread.join(timeout=5)
        self._open.close()

    @property
    def waiting(self) -> tuple[Proposal, ...]:
        """What waits to be kept or dropped, the oldest first."""
        with self._lock:
            return tuple(self._waiting.values())

    @property
    def trace(self) -> Trace:
        """The pitch of the last minutes, what was taken and what was refused."""
        return self._lately.trace(self.level)

    def take(self, number: int | None = None) -> Proposal:
        """Take a proposal off the list, to keep or to drop it.

        Parameters
        ----------
        number : int, optional
            Which one; the oldest without.

        Raises
        ------
        InputError
            When nothing waits, or not that number.
        """
        with self._lock:
            if number is None and self._waiting:
                number = min(self._waiting)
            if number not in self._waiting:
                raise self._none_waits(number)
            return self._waiting.pop(number)

    def give_back(self, proposal: Proposal) -> None:
        """Let a proposal that was taken wait again, where it was."""
        with self._lock:
            self._waiting = dict(sorted({**self._waiting, proposal.number: proposal}.items()))

    def _none_waits(self, number: int | None) -> InputError:
        if number is not None:
            return InputError(
                f"no proposed reading number {number} waits",
                "it was kept or dropped already, or never heard; choose from the list",
            )
        remedy = "hold a single note for two seconds"
        if self.refused:
            from drift.words.listening import describe_refusal

            remedy += f" (the last sound was not taken: {describe_refusal(self.refused)})"
        return InputError("no proposed reading waits", remedy)

    def _listen(self) -> None:
        try:
            rate = self._microphone.rate
            for item in hear(self._blocks(), rate, lambda: self.wanted, watch=self._watch):
                if isinstance(item, Heard):
                    self._lately.add(item)
                    self._propose(item)
                elif item is not None and item.reason not in _EVERYDAY:
                    self._lately.add(item)
                    self.refused = item
        except SensorError as error:
            self._fail(f"{error.problem}; {error.remedy}")
        except Exception as error:  # nobody above a thread would be told
            self._fail(str(error).partition("\n")[0] or type(error).__name__)

    def _watch(self, frames: Frames) -> None:
        self._lately.take(frames, self.wanted.a4_hz)

    def _fail(self, why: str) -> None:
        self.failure = why
        self._told(why)

    def _blocks(self) -> Iterator[ArrayLike | None]:
        watch = LevelWatch(self._microphone.rate)
        for block in self._microphone:
            if self._stop.is_set():
                return
            if block is not None and (level := watch.take(block)):
                self.level = level
                self._told(level)
            yield block

    def _propose(self, heard: Heard) -> None:
        with self._lock:
            self._count += 1
            who = self.wanted
            name = who.instrument.name if who.instrument else ""
            proposal = Proposal(self._count, self.began, heard, who.player, name)
            self._waiting[self._count] = proposal
            while len(self._waiting) > _MOST:
                del self._waiting[min(self._waiting)]
        self._told(proposal)
