"""A player who tunes: each answer into the logbook, and the last one back out of it."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import datetime
from itertools import pairwise

from drift.capture.entries import TypedTemperature, parse_entry
from drift.errors import InputError
from drift.logbook.book import Logbook
from drift.logbook.records import FAR_OUT_MM, TYPED, Event, Record, Temperature
from drift.slides.tuning_air import air_now
from drift.slides.tuning_log import Seat, answered, positions_typed, tuned_events
from drift.slides.tuning_marks import Marks
from drift.slides.tuning_playing import Playing
from drift.tonight.tuned import Tuned, tuned_of
from drift.tonight.tuning_belief import setting_sd_mm
from drift.tonight.tuning_steps import Step, Tuning

__all__ = ["Doubted", "Sitting", "Taken", "TuningStep"]

SETTING_SDS, SHARE_OF_MOVE = 10.0, 1.0 / 3.0
"""A slide is as far from where it was asked as an eye ever sets it (3 mm on brass, 1.5 on a
woodwind), or stopped short by a third of the move; beyond, another number was typed."""


@dataclass(frozen=True)
class Doubted:
    """A position that is asked back: far from where the slide was to go.

    Attributes
    ----------
    slide : str
        Which.
    position_mm : float
        As typed, from fully in [mm].
    asked_mm : float or None
        Where it was to go [mm]; None where it was not to move.
    instrument : str
        Of which instrument.
    """

    slide: str
    position_mm: float
    asked_mm: float | None
    instrument: str = ""


@dataclass(frozen=True)
class Taken:
    """What an answer came to.

    Attributes
    ----------
    records : tuple of Record
        What is in the logbook now, or no longer.
    minutes : float or None
        The minutes of playing in all, where the answer was about them [min].
    undone : bool
        Whether the answer took back the one before.
    doubted : Doubted or None
        What is asked back; nothing is saved yet.
    """

    records: tuple[Record, ...] = ()
    minutes: float | None = None
    undone: bool = False
    doubted: Doubted | None = None


@dataclass(frozen=True)
class TuningStep:
    """An answer, and how the tuning was before it.

    Attributes
    ----------
    tuning : Tuning
        As it was.
    before : Tuning or None
        A step earlier.
    air_unknown : bool
        Whether nobody knew the temperature.
    entries : tuple of int
        What the logbook holds of it.
    taken : Taken
        What it came to.
    instead_of : mapping of int to Event
        What of the tuning it replaced in the logbook, by its number.
    """

    tuning: Tuning
    before: Tuning | None
    air_unknown: bool
    entries: tuple[int, ...]
    taken: Taken
    instead_of: Mapping[int, Event] = field(default_factory=dict)


class Sitting:
    """A player who tunes, at the terminal or on the page.

    Parameters
    ----------
    book : Logbook
        Open for writing.
    tuning : Tuning
        At its beginning, or where it stopped.
    seat : Seat
        Who tunes where; it may be replaced between two answers.
    time : datetime
        Now.
    marks : Marks, optional
        Of the tuning that goes on (default: of a new one).
    steps : sequence of TuningStep
        What was answered before it stopped.
    outdated : collection of int
        What earlier tunings logged of playing and is not counted, by its number.
    listening : callable, optional
        Whether a thermometer is listened to, so that nobody is asked.

    Attributes
    ----------
    tuning, before : Tuning
        Now, and a step earlier.
    asks_air : bool
        Whether the temperature of the room is asked for, before anything else.
    """

    def __init__(
        self,
        book: Logbook,
        tuning: Tuning,
        seat: Seat,
        time: datetime,
        *,
        marks: Marks | None = None,
        steps: Sequence[TuningStep] = (),
        outdated: Collection[int] = (),
        listening: Callable[[], bool] = lambda: False,
    ) -> None:
        self.book, self.tuning, self.seat = book, tuning, seat
        self.before = steps[-1].tuning if steps else None
        self.marks = marks or Marks.new(
            book, seat.rehearsal, seat.player, tuning.instrument.name, time
        )
        self._steps, self._listening = list(steps), listening
        self._kept, self._outdated = len(self._steps), outdated
        self._air_unknown = False
        self._doubted: Doubted | None = None
        self.asks_air = self._lacks_air(time)

    @property
    def over(self) -> bool:
        """Whether nothing more is asked."""
        return self.tuning.now.step is Step.DONE and not self.asks_air

    @property
    def comes_back(self) -> bool:
        """Whether a tuning goes on, and no note of the side that is asked was answered since."""
        since = [*(step.tuning for step in self._steps[self._kept :]), self.tuning]
        answered = (one.now for one, after in pairwise(since) if after is not one and one.now.note)
        return self._kept > 0 and all(now.side != self.tuning.now.side for now in answered)

    def enter(self, line: str, time: datetime) -> Taken:
        """Take one answer: save it, or take back the last one.

        Parameters
        ----------
        line : str
            As `drift.slides.tuning_log.answered` takes it; ``temp 21`` at any time, and ``undo``.
        time : datetime
            When.

        Raises
        ------
        InputError
            When it is not an answer to what was asked.
        """
        line = line.strip()
        word = line.casefold().partition(" ")[0]
        if word == "undo":
            return self._undo(time)
        air = self.asks_air and word != "played"
        if word == "temp" or air:
            return self._take_air(line if word == "temp" else f"temp {line}", time)
        doubted = None if word in ("skip", "stuck", "played") else self._doubt(line)
        if doubted is not None and doubted != self._doubted:
            self._doubted = doubted
            return Taken(doubted=doubted)
        after, records, instead_of = answered(self.tuning, line, self.seat, time, self._playing())
        warming = self.tuning.now.step is Step.WARM_UP or word == "played"
        minutes = after.belief.minutes if warming and word != "skip" else None
        return self._keep(after, Taken(tuple(records), minutes), time, instead_of)

    def keep(
        self, records: Sequence[Record], time: datetime, *, minutes: float | None = None
    ) -> None:
        """Save what is known when the tuning begins: no answer takes it back.

        Parameters
        ----------
        records : sequence of Record
            What is known.
        time : datetime
            Now.
        minutes : float, optional
            For how long the player is said to have played this evening [min].
        """
        self.marks.keep(records)
        if minutes is not None:
            said = self._playing().said(time, minutes)
            self.marks.keep_instead(said.records, said.instead_of, time)
        self.asks_air = self._lacks_air(time)

    def close(self, time: datetime) -> Tuned:
        """Return the state at the end; save it as the tuned one where it was reached."""
        rows = self.book.rows("temperatures", rehearsal=self.seat.rehearsal)
        state = tuned_of(self.tuning, air_now(rows, time))
        if self.tuning.reached:
            self.marks.keep(tuned_events(self.tuning, state, self.seat, time))
        return state

    def _playing(self) -> Playing:
        events = self.book.rows("events", rehearsal=self.seat.rehearsal)
        whose = self.seat.rehearsal, self.seat.player
        return Playing.of(events, *whose, own=self.marks.entries, outdated=self._outdated)

    def _keep(
        self,
        after: Tuning,
        taken: Taken,
        time: datetime,
        instead_of: Mapping[int, Event] | None = None,
    ) -> Taken:
        entries = self.marks.keep_instead(taken.records, instead_of or (), time)
        own = {n: event for n, event in (instead_of or {}).items() if n not in self._outdated}
        step = TuningStep(self.tuning, self.before, self._air_unknown, entries, taken, own)
        self._steps.append(step)
        self._doubted = None
        if after is not self.tuning:
            self.before, self.tuning = self.tuning, after
        self.asks_air = self._lacks_air(time)
        return taken

    def _undo(self, time: datetime) -> Taken:
        if not self._steps:
            raise InputError("there is nothing to undo", "the logbook is unchanged")
        step = self._steps.pop()
        self._kept = min(self._kept, len(self._steps))
        for entry in reversed(step.entries):
            with suppress(InputError):  # another page undid it already
                self.book.undo(self.seat.rehearsal, time, entry=entry)
        self._again(step.instead_of)
        self.tuning, self.before = step.tuning, step.before
        self._air_unknown, self._doubted = step.air_unknown, None
        self.asks_air = self._lacks_air(time)
        return Taken(step.taken.records, step.taken.minutes, undone=True)

    def _again(self, events: Mapping[int, Event]) -> None:
        """Keep again what an answer that is undone had replaced; it has new numbers."""
        numbers = dict(zip(events, self.marks.keep(list(events.values())), strict=True))
        self._steps = [
            replace(step, entries=tuple(numbers.get(one, one) for one in step.entries))
            for step in self._steps
        ]

    def _take_air(self, line: str, time: datetime) -> Taken:
        typed = line[len("temp") :].strip()
        if typed.casefold() in ("", "skip") and self.asks_air:
            taken = self._keep(self.tuning, Taken(), time)
            self._air_unknown, self.asks_air = True, False
            return taken
        if typed.startswith("+"):
            raise InputError(
                f"{typed} has a sign, as what a tuner shows has",
                "type how warm the room is, such as 21 or 70F; Enter: not known",
            )
        entry = parse_entry(line, self.seat.units)
        if not isinstance(entry, TypedTemperature):
            raise InputError(
                f"{typed} is not the temperature now", "type it as temp 21 or temp 70F"
            )
        record = Temperature(time, self.seat.rehearsal, entry.celsius, source=TYPED)
        return self._keep(self.tuning, Taken((record,)), time)

    def _lacks_air(self, time: datetime) -> bool:
        if self._air_unknown or self._listening() or not self.tuning.sides:
            return False
        rows = self.book.rows("temperatures", rehearsal=self.seat.rehearsal)
        return air_now(rows, time) is None

    def _doubt(self, line: str) -> Doubted | None:
        """Return the position that was typed, where it is far from the one that was asked."""
        now = self.tuning.now
        if now.step not in (Step.MOVE, Step.SAY_POSITION) or not line:
            return None
        furthest = max(
            SETTING_SDS * setting_sd_mm(self.tuning.instrument), SHARE_OF_MOVE * abs(now.move_mm)
        )
        for slide, mm in positions_typed(self.tuning, line, self.seat.units).items():
            if now.step is Step.SAY_POSITION or now.to_mm is None:
                away, asked = mm > FAR_OUT_MM, None
            else:
                away, asked = abs(mm - now.to_mm) > furthest, now.to_mm
            if away:
                return Doubted(slide, mm, asked, self.tuning.instrument.name)
        return None
