"""Tuning step by step on the page: one at a time for each player, by the steps of the terminal."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from drift.errors import DriftError, InputError
from drift.logbook.rehearsals import of_logbook
from drift.slides.pooled_tunings import pooled_slopes
from drift.slides.tuning_begun import begin, sit_down
from drift.slides.tuning_log import LONG_SD_CENTS, Seat
from drift.slides.tuning_sitting import Sitting
from drift.study import Study
from drift.tonight.tuning_steps import Step
from drift.words.tuning import closing, next_step, pooled_in_words
from drift.words.tuning_taken import (
    AIR,
    STOPPED,
    doubted_in_words,
    introduction,
    resumed_in_words,
    stopped_by_a4,
    taken_in_words,
)

if TYPE_CHECKING:
    from drift.page.room import Room

__all__ = ["StepShown", "TuningDesk", "TuningShown"]

#: What the field of a step is for; a step that is not here takes a reading.
FIELDS = {
    Step.WARM_UP: "Minutes more (empty: as asked), or played 20 in all",
    Step.MOVE: "Where it is now (empty: as asked)",
    Step.SAY_POSITION: "Where it is",
    Step.VALVE_MOVE: "",
}
READING = "What the tuner shows: −7, or 7 flat"
CELSIUS = "How warm the room is (empty: not known)"


@dataclass(frozen=True)
class StepShown:
    """One step that was answered."""

    time: datetime
    asked: str
    answer: str


@dataclass(frozen=True)
class TuningShown:
    """A tuning as the page shows it.

    Attributes
    ----------
    player, instrument : str
        Whose.
    number : int
        Of the step that is asked now; an answer names it, so that none counts twice.
    asked : str
        What to do now.
    first : tuple of str
        At its beginning, what will happen, and what is kept of one that was broken off.
    field : str
        What is typed in answer; empty where there is nothing to type.
    optional : bool
        Whether an empty answer says that it was done as asked.
    over : bool
        Whether it is done, or was stopped.
    steps : tuple of StepShown
        What was answered, the latest first.
    """

    player: str
    instrument: str
    number: int
    asked: str
    first: tuple[str, ...]
    field: str
    optional: bool
    over: bool
    steps: tuple[StepShown, ...]


@dataclass
class _Running:
    sitting: Sitting
    first_words: tuple[str, ...] = ()
    steps: list[StepShown] = field(default_factory=list)
    last_words: str = ""


class TuningDesk:
    """The tunings of one rehearsal.

    Parameters
    ----------
    room : Room
        The rehearsal.
    """

    def __init__(self, room: Room) -> None:
        self.room = room
        self._running: dict[tuple[str, str, str], _Running] = {}
        self._one_at_a_time = threading.RLock()

    def begin(
        self, study: Study, player: str, instrument: str, now: datetime, **options: Any
    ) -> None:
        """Begin to tune, from what the logbook knows of the player.

        Parameters
        ----------
        study : Study
            Of the whole logbook.
        player, instrument : str
            Who tunes what.
        now : datetime
            The time.
        **options
            ``class_note`` and ``valves`` as in `drift.tonight.tuning.begin_tuning`.

        Raises
        ------
        InputError
            When no rehearsal goes on, or no player was named.
        """
        desk = self.room.desk
        if desk is None or not self.room.going_on:
            raise InputError("no rehearsal goes on", "begin one first")
        if not player or not instrument:
            raise InputError("nobody is here to tune", "choose player and instrument first")
        player = self.room.book.player_called(player)
        begun = begin(
            self.room.book,
            study.rehearsals,
            study.before(desk.rehearsal),
            desk.rehearsal,
            player,
            self.room.catalogue.find(instrument),
            now,
            a4_hz=desk.a4_hz,
            reading_sd_cents=LONG_SD_CENTS,
            **options,
        )
        units, written = desk.units_of(player), desk.written_by(player)
        seat = Seat(desk.rehearsal, player, desk.a4_hz, units, written)
        sitting = sit_down(self.room.book, begun, seat, now, listening=self._listening)
        first = introduction(begun.tuning, desk.a4_hz), resumed_in_words(begun, units)
        with self._one_at_a_time:
            key = desk.rehearsal, player, begun.tuning.instrument.name
            self._running[key] = _Running(sitting, tuple(filter(None, first)))

    def _listening(self) -> bool:
        """Return whether a thermometer of the room is listened to."""
        return any(one.failure is None for one in self.room.listeners)

    def answer(self, player: str, instrument: str, number: int, line: str, now: datetime) -> str:
        """Take the answer to a step, log it, and return why not where it is none.

        Parameters
        ----------
        player, instrument : str
            Who tunes what.
        number : int
            The step that is answered; an answer to another was given already, and is left.
        line : str
            As in the terminal; ``end`` stops, whichever step is asked by now.
        now : datetime
            The time.
        """
        with self._one_at_a_time:
            key = self.room.rehearsal, self.room.book.player_called(player), instrument
            self._end_with_rehearsal()
            running = self._running.get(key)
            if running is None or running.last_words:
                return ""
            if number != len(running.steps) and line.strip().casefold() != "end":
                return ""
            try:
                return self._go_on(running, line.strip(), now)
            except DriftError as refusal:
                return f"not saved: {refusal.problem}; {refusal.remedy}"

    def _go_on(self, running: _Running, line: str, now: datetime) -> str:
        """Take an answer; return what is asked back, if anything is."""
        if self.room.desk is None:
            raise InputError("no rehearsal goes on", "begin one first")
        desk, sitting = self.room.desk, running.sitting
        if desk.a4_hz != sitting.seat.a4_hz:
            running.last_words = stopped_by_a4(desk.a4_hz, sitting.seat.a4_hz)
            return ""
        sitting.seat = seat = replace(
            sitting.seat,
            units=desk.units_of(sitting.seat.player),
            written=desk.written_by(sitting.seat.player),
        )
        asked, said = self._asked(running), ""
        if line.casefold() == "end":
            running.last_words = STOPPED
        else:
            taken = sitting.enter(line, now)
            if taken.doubted is not None:
                return doubted_in_words(taken.doubted, seat.units)
            semitones = sitting.tuning.instrument.written_semitones if seat.written else 0
            said = taken_in_words(taken, seat.units, semitones=semitones)
        running.steps.append(StepShown(now, asked, said or line or "done"))
        running.first_words = ()
        if sitting.over and not running.last_words:
            running.last_words = self._closed(sitting, now)
        return ""

    def _closed(self, sitting: Sitting, now: datetime) -> str:
        """Log the tuned state, and return the marks, what valves leave, what slides do."""
        state, seat, tuning = sitting.close(now), sitting.seat, sitting.tuning
        lines = closing(tuning, sitting.before, state, seat.units, written=seat.written)
        slopes = pooled_slopes(of_logbook(self.room.book), seat.player, tuning.instrument)
        return "\n".join([*lines, *pooled_in_words(slopes, seat.units, tuning.instrument.name)])

    def _asked(self, running: _Running) -> str:
        sitting = running.sitting
        seat = sitting.seat
        if sitting.asks_air:
            return AIR
        how = {"written": seat.written, "comes_back": sitting.comes_back}
        return next_step(sitting.tuning, sitting.before, seat.units, **how)

    def shown(self) -> tuple[TuningShown, ...]:
        """Return every tuning of the rehearsal as the page shows it."""
        with self._one_at_a_time:
            self._end_with_rehearsal()
            return tuple(
                self._shown(running)
                for (rehearsal, *_), running in sorted(self._running.items())
                if rehearsal == self.room.rehearsal
            )

    def _end_with_rehearsal(self) -> None:
        """Stop what is under way where the rehearsal has ended, for good."""
        if not self.room.going_on:
            for running in self._running.values():
                running.last_words = running.last_words or STOPPED

    def _shown(self, running: _Running) -> TuningShown:
        sitting = running.sitting
        step = sitting.tuning.now.step
        return TuningShown(
            player=sitting.seat.player,
            instrument=sitting.tuning.instrument.name,
            number=len(running.steps),
            asked=running.last_words or self._asked(running),
            first=running.first_words,
            field=CELSIUS if sitting.asks_air else FIELDS.get(step, READING),
            optional=sitting.asks_air
            or step in (Step.WARM_UP, Step.MOVE, Step.VALVE_MOVE)
            or sitting.tuning.now.to_mm is not None,
            over=bool(running.last_words),
            steps=tuple(reversed(running.steps)),
        )
