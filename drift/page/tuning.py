"""Tuning step by step on the page: one at a time for each player, by the steps of the terminal."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from drift.errors import DriftError, InputError
from drift.logbook.rehearsals import of_logbook
from drift.slides.players_tuning import begin_players_tuning
from drift.slides.pooled_tunings import pooled_slopes
from drift.slides.tuning_log import LONG_SD_CENTS, Seat, answered, tuned_events
from drift.study import Study
from drift.tonight.tuned import tuned_of
from drift.tonight.tuning_steps import Step, Tuning
from drift.words.tuning import closing, next_step, pooled_in_words

if TYPE_CHECKING:
    from drift.page.room import Room

__all__ = ["StepShown", "TuningDesk", "TuningShown"]

#: What the field of a step is for; a step that is not here takes a reading.
FIELDS = {
    Step.WARM_UP: "Minutes played on (empty: as asked)",
    Step.MOVE: "Where it is now (empty: as asked)",
    Step.SAY_POSITION: "Where it is",
    Step.VALVE_MOVE: "",
}
READING = "What the tuner shows: −7, or 7 flat"


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
    field: str
    optional: bool
    over: bool
    steps: tuple[StepShown, ...]


@dataclass
class _Running:
    tuning: Tuning
    seat: Seat
    before: Tuning | None = None
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
        tuning = begin_players_tuning(
            study.rehearsals,
            study.before(desk.rehearsal),
            desk.rehearsal,
            player,
            self.room.catalogue.find(instrument),
            now,
            reading_sd_cents=LONG_SD_CENTS,
            **options,
        )
        units, written = desk.units_of(player), desk.written_by(player)
        seat = Seat(desk.rehearsal, player, desk.a4_hz, units, written)
        with self._one_at_a_time:
            self._running[desk.rehearsal, player, tuning.instrument.name] = _Running(tuning, seat)

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
            running = self._running.get(key)
            if running is None or running.last_words:
                return ""
            if number != len(running.steps) and line.strip().casefold() != "end":
                return ""
            try:
                self._go_on(running, line.strip(), now)
            except DriftError as refusal:
                return f"not saved: {refusal.problem}; {refusal.remedy}"
            return ""

    def _go_on(self, running: _Running, line: str, now: datetime) -> None:
        if self.room.desk is None:
            raise InputError("no rehearsal goes on", "begin one first")
        desk = self.room.desk
        running.seat = replace(
            running.seat,
            a4_hz=desk.a4_hz,
            units=desk.units_of(running.seat.player),
            written=desk.written_by(running.seat.player),
        )
        asked = self._asked(running)
        if line.casefold() == "end":
            running.last_words = "Stopped: what was read and set so far is saved."
        else:
            events = self.room.book.rows("events", rehearsal=running.seat.rehearsal)
            after, records = answered(running.tuning, line, running.seat, now, events)
            self.room.book.keep_all(records)
            running.before, running.tuning = running.tuning, after
        running.steps.append(StepShown(now, asked, line or "done"))
        if running.tuning.now.step is Step.DONE and not running.last_words:
            running.last_words = self._closed(running, now)

    def _closed(self, running: _Running, now: datetime) -> str:
        """Log the tuned state, and return the marks, what valves leave, what slides do."""
        rows = list(self.room.book.rows("temperatures", rehearsal=running.seat.rehearsal))
        state = tuned_of(running.tuning, float(rows[-1]["celsius"]) if rows else None)
        self.room.book.keep_all(tuned_events(running.tuning, state, running.seat, now))
        seat = running.seat
        lines = closing(running.tuning, running.before, state, seat.units, written=seat.written)
        slopes = pooled_slopes(
            of_logbook(self.room.book), running.seat.player, running.tuning.instrument
        )
        return "\n".join([*lines, *pooled_in_words(slopes, running.seat.units)])

    def _asked(self, running: _Running) -> str:
        seat = running.seat
        return next_step(running.tuning, running.before, seat.units, written=seat.written)

    def shown(self) -> tuple[TuningShown, ...]:
        """Return every tuning of the rehearsal as the page shows it."""
        with self._one_at_a_time:
            return tuple(
                self._shown(running)
                for (rehearsal, *_), running in sorted(self._running.items())
                if rehearsal == self.room.rehearsal
            )

    def _shown(self, running: _Running) -> TuningShown:
        step = running.tuning.now.step
        return TuningShown(
            player=running.seat.player,
            instrument=running.tuning.instrument.name,
            number=len(running.steps),
            asked=running.last_words or self._asked(running),
            field=FIELDS.get(step, READING),
            optional=step in (Step.WARM_UP, Step.MOVE, Step.VALVE_MOVE),
            over=bool(running.last_words),
            steps=tuple(reversed(running.steps)),
        )
