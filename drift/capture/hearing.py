"""The microphone at a desk: what it proposes is kept or dropped by those who enter there."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime
from types import MappingProxyType
from typing import Self

from drift.capture.answers import Dropped, Kept
from drift.capture.desk import Desk
from drift.capture.entries import Decide
from drift.capture.heard import Wanted
from drift.capture.lately import Trace
from drift.capture.levels import Level
from drift.capture.proposals import LiveSound, Proposal, Proposals
from drift.errors import DriftError, InputError
from drift.instruments import find
from drift.logbook.records import Reading
from drift.logbook.vocabulary import check_names
from drift.notes import shown
from sensors.reading import Clock

__all__ = ["Hearing"]

_NO_RULES: Mapping[str, Mapping[int, str]] = MappingProxyType({})


class Hearing:
    """Listen at a desk, and keep or drop what was heard as its entries say.

    Parameters
    ----------
    microphone : context manager and iterable of blocks
        A `sensors.microphone.Microphone`, or anything of its shape.
    desk : Desk
        Where the readings are kept.
    clock : Clock
        For the time that listening began.
    notes : frozenset of int
        MIDI numbers of the only notes to propose; empty: all.
    sides : mapping of str to mapping of int to str
        Side by MIDI number, by instrument (`drift.capture.listening.parse_sides`); the side of
        an instrument without a rule is said with the entry.
    anyone : bool
        Whether several people enter at the desk, each for a player and an instrument of their
        own: then a proposal is nobody's until it is kept, and no compass limits it.
    told : callable, optional
        Called in the background with each new proposal, with the level when it changes, and with
        the text of a failure.
    """

    def __init__(
        self,
        microphone: LiveSound,
        desk: Desk,
        clock: Clock,
        *,
        notes: frozenset[int] = frozenset(),
        sides: Mapping[str, Mapping[int, str]] = _NO_RULES,
        anyone: bool = False,
        told: Callable[[Proposal | Level | str], None] = lambda news: None,
    ) -> None:
        self._desk, self._notes, self._sides, self._anyone = desk, notes, sides, anyone
        self._live = Proposals(microphone, self._wanted(), clock, told)

    def __enter__(self) -> Self:
        self._live.__enter__()
        self._desk.hearing = self
        return self

    def __exit__(self, *error: object) -> None:
        self._desk.hearing = None
        self._live.__exit__(*error)

    @property
    def waiting(self) -> tuple[Proposal, ...]:
        """What waits to be kept or dropped, the oldest first."""
        return self._live.waiting

    @property
    def failure(self) -> str:
        """Why nothing is heard any more; empty while all is well."""
        return self._live.failure or ""

    @property
    def refused(self) -> str:
        """Why the last sound that was no reading was not taken; empty before there was one."""
        from drift.words.listening import describe_refusal

        return describe_refusal(self._live.refused) if self._live.refused else ""

    @property
    def trace(self) -> Trace:
        """The pitch of the last minutes, what was taken and what was refused."""
        return self._live.trace

    @property
    def began(self) -> datetime:
        """When listening began: the times of `trace` count from it."""
        return self._live.began

    def follow(self) -> None:
        """Listen to the player and for the instrument that are chosen at the desk now."""
        self._live.wanted = self._wanted()

    def decide(
        self, entry: Decide, time: datetime, once: str | None, seat: Mapping[str, str]
    ) -> Kept | Dropped:
        """Keep or drop a proposal, and return what was done.

        Parameters
        ----------
        entry : Decide
            Which one, and what to do with it.
        time : datetime
            When that was said.
        once : str or None
            A key; a reading is saved only once with the same.
        seat : mapping of str to str
            ``player`` and ``instrument`` of the one who says so, as far as they are named; else
            of whom it was heard.

        Raises
        ------
        InputError
            When it does not wait, or cannot be kept as it is; then it waits on.
        LogbookError
            When it could not be written; then it waits on.
        """
        if time < self._live.began:  # said of the list of an earlier run, with other numbers
            raise InputError("the list has changed since", "choose from the list as it is now")
        proposal = self._live.take(entry.number)
        if not entry.keep:
            return Dropped(proposal)
        try:
            reading = self._reading(proposal, entry.side, seat)
            check_names(reading, self._desk.catalogue)
            self._desk.book.keep(reading, once=once)
        except DriftError:
            self._live.give_back(proposal)
            raise
        return Kept(reading, self._desk.semitones(reading.instrument, reading.player))

    def _reading(self, proposal: Proposal, side: str, seat: Mapping[str, str]) -> Reading:
        heard_of = {"player": proposal.player, "instrument": proposal.instrument}
        if seat.get("player", proposal.player) != proposal.player:
            heard_of = {}  # nobody takes over the instrument of another
        player, name = self._desk.chosen({k: v for k, v in heard_of.items() if v} | dict(seat))
        reading = proposal.reading(
            rehearsal=self._desk.rehearsal,
            player=player,
            instrument=name,
            a4_hz=self._desk.a4_hz,
            side=side,
        )
        sides = [one.name for one in find(name, self._desk.catalogue).sides]
        if len(sides) > 1 and not reading.side:
            ways = " or ".join(f"k {proposal.number} {one}" for one in sides)
            raise InputError(
                f"which side of the {shown(name)} was played cannot be heard",
                f"type {ways}, or start with --side",
            )
        return reading

    def _wanted(self) -> Wanted:
        desk = self._desk
        name = "" if self._anyone else desk.instrument
        instrument = find(name, desk.catalogue) if name else None
        return Wanted(
            # For its compass alone: a side that is not known yet is said with the entry.
            instrument=replace(instrument, sides=instrument.sides[:1]) if instrument else None,
            a4_hz=desk.a4_hz,
            notes=self._notes,
            sides=self._sides.get(name),
            player="" if self._anyone else desk.player,
        )
