"""A rehearsal being logged: typed entries and thermometers into the logbook."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from types import MappingProxyType
from typing import TYPE_CHECKING

from drift.capture.another_day import check_same_evening, last_of_evening
from drift.capture.answers import (
    Already,
    Answer,
    Chosen,
    Doubt,
    Ended,
    Kept,
    KeptAll,
    Undone,
    doubts,
)
from drift.capture.entered import records_of
from drift.capture.entries import (
    Choose,
    Decide,
    Earlier,
    Note,
    Play,
    SideOf,
    Target,
    Timed,
    Word,
    parse_entry,
)
from drift.capture.last_used import chosen_notes, chosen_units, slides_as_before, units_by_player
from drift.capture.questions import Questions, first_of_a_slide
from drift.errors import DriftError, InputError
from drift.instruments import Catalogue, find, known_name
from drift.logbook import records
from drift.logbook.book import Logbook
from drift.logbook.seats import OWN
from drift.logbook.vocabulary import check_names, known_side
from drift.quantities import METRIC, Units
from drift.times import shown_time

if TYPE_CHECKING:
    from drift.capture.answers import Dropped
    from drift.capture.earlier import ClockTime
    from drift.capture.proposer import Proposer

__all__ = ["Desk"]


_NOBODY: Mapping[str, str] = MappingProxyType({})
USUAL_A4_HZ = 440.0


class Desk:
    """Where entries are made during one rehearsal.

    Parameters
    ----------
    book : Logbook
        Open for writing.
    rehearsal : str
        Its name; one that has begun before is resumed where it was, player and instrument too.
    a4_hz : float, optional
        The pitch that cents are counted from [Hz]; by default as it was last in this rehearsal,
        at first 440.
    written : bool, optional
        Whether notes are typed as the player of the instrument reads them; by default as it was
        last in this rehearsal, at first not.
    units : Units, optional
        What numbers are typed and shown in; by default as they were chosen last in the book.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.
    """

    def __init__(
        self,
        book: Logbook,
        rehearsal: str,
        *,
        a4_hz: float | None = None,
        written: bool | None = None,
        units: Units | None = None,
        catalogue: Catalogue | None = None,
    ) -> None:
        if not rehearsal.strip():
            raise InputError("the rehearsal has no name", "name it, such as 2026-10-03 hall")
        self.book = book
        self.rehearsal: str = records.check_value(records.REHEARSAL, rehearsal.strip())
        self._a4_hz, self._written, self.catalogue = a4_hz, written, catalogue
        self._units_before, self._units_given = units_by_player(book), units
        self._ask = Questions()
        self.resumed = self.rehearsal in book.rehearsals()
        self.last = last_of_evening(book, self.rehearsal) if self.resumed else None
        self.hearing: Proposer | None = None
        # Readings that were imported, or saved by drift tune, have an A4 that nobody chose here.
        before = list(book.rows("readings", rehearsal=self.rehearsal)) if self.resumed else []
        self._a4_read = float(before[-1]["a4_hz"]) if before else USUAL_A4_HZ

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
        named = {"player": player, "instrument": instrument, **self._how_typed()}
        for what, name in named.items():
            # Named again on going on, it is no new choice: undo means what was typed last.
            if name and name != self.book.choices(self.rehearsal).get(what):
                self.book.choose(self.rehearsal, time, what, name)
        given = self._units_given
        if given is not None and given != self.units_of(player):  # the player's own are others
            self.book.choose(self.rehearsal, time, "units", f"{given.spelling}{OWN}{player}")

    def _how_typed(self) -> dict[str, str]:
        """Return the pitch, the notes and the units that were given and do not hold already."""
        written = "" if self._written is None else "written" if self._written else "sounding"
        chosen = self.book.choices(self.rehearsal).get("notes", "sounding")
        units = self._units_given.spelling if self._units_given else ""
        return {
            "a4": self._a4_given(),
            "notes": "" if written == chosen else written,
            "units": "" if units == self._units_before.get("", METRIC).spelling else units,
        }

    def _a4_given(self) -> str:
        """Return the pitch that was given, unless it is what holds for every command already."""
        usual = f"{self._a4_read:g}"
        holds = self.book.choices(self.rehearsal).get("a4", usual)
        return "" if self._a4_hz in (None, float(holds)) else f"{self._a4_hz:g}"

    @property
    def written(self) -> bool:
        """Whether who plays now types notes as the player of the instrument reads them."""
        return self.written_by(self.player)

    def written_by(self, player: str) -> bool:
        """Return whether a player types notes as read: as chosen by the player, or for all."""
        own = self.own_notes()
        return own.get(player, own[""]) == "written"

    def own_notes(self) -> dict[str, str]:
        """Return how each player chose to type notes; how all others do has no name."""
        usual = "written" if self._written else "sounding"
        return {"": usual, **chosen_notes(self.book.choices(self.rehearsal))}

    @property
    def units(self) -> Units:
        """What the one who plays now types numbers without a unit in, and is shown."""
        return self.units_of(self.player)

    def units_of(self, player: str) -> Units:
        """Return what a player types and is shown: as chosen last, by the player or for all."""
        chosen = self.own_units()
        return chosen.get(player, chosen[""])

    def own_units(self) -> dict[str, Units]:
        """Return the units that each player chose last; everyone's have no name."""
        given = {} if self._units_given is None else {"": self._units_given}
        today = chosen_units(self.book.choices(self.rehearsal))
        return {"": METRIC, **self._units_before, **given, **today}

    @property
    def a4_hz(self) -> float:
        """The pitch of A4 [Hz] that cents are counted from: one for everyone here."""
        return float(self.book.choices(self.rehearsal).get("a4", self._a4_hz or self._a4_read))

    @property
    def player(self) -> str:
        """Who plays now; empty when nobody was named."""
        return self.book.choices(self.rehearsal).get("player", "")

    @property
    def instrument(self) -> str:
        """What is played now; empty when no instrument was named."""
        return self.book.choices(self.rehearsal).get("instrument", "")

    def slides_as_before(self) -> dict[str, tuple[float, str]]:
        """Return where slides of who plays now are taken to be, which nobody placed here yet."""
        if not (self.player and self.instrument):
            return {}
        seat = self.player, self.instrument
        events = self.book.rows("events")
        return slides_as_before(events, self.rehearsal, *seat, self.catalogue)

    def enter(
        self,
        line: str,
        time: datetime,
        *,
        once: str | None = None,
        player: str = "",
        instrument: str = "",
        side: str = "",
    ) -> Answer:
        """Save one typed entry and say so after it is on the disk, or say why not.

        Parameters
        ----------
        line : str
            As typed.
        time : datetime
            When.
        once : str, optional
            A key; an entry that comes again with the same key is saved only once.
        player, instrument, side : str, optional
            Who plays what in this entry alone, where several people enter at one desk; else as
            last chosen.
        """
        named = {"player": player, "instrument": instrument, "side": side}
        seat = {what: name for what, name in named.items() if name}
        try:
            entry = parse_entry(line, self.units_of(player or self.player))
            if isinstance(entry, Earlier):
                then = entry.clock.between(self._begun(time), time)
                return Answer(True, self._keep(entry.entry, then, once, seat, time, entry.clock))
            if isinstance(entry, Word) and entry.word != "now":
                return self._word(entry.word, time, once)
            if isinstance(entry, Choose):
                return Answer(True, self._choose(entry, time, once, seat))
            check_same_evening(self.rehearsal, self.last, time)
            if isinstance(entry, Word):
                return Answer(False, asks=entry.word)
            if isinstance(entry, Target):
                return Answer(False, asks="target")
            about = (
                self._decide(entry, time, once, seat)
                if isinstance(entry, Decide)
                else self._keep(entry, time, once, seat, time)
            )
            self.last = time
            return Answer(True, about)
        except DriftError as refusal:
            return Answer(False, refusal)

    def take_back(self, entry: int, time: datetime, *, once: str | None = None) -> Answer:
        """Undo one entry by its number, where several people enter at one desk."""
        try:
            return self._take_back(time, once, entry)
        except DriftError as refusal:
            return Answer(False, refusal)

    def _take_back(self, time: datetime, once: str | None, entry: int | None) -> Answer:
        undone = self.book.undo(self.rehearsal, time, once=once, entry=entry)
        self._follow()
        return Answer(True, Undone(undone))

    def _follow(self) -> None:
        if self.hearing is not None:
            self.hearing.follow()

    def _word(self, word: str, time: datetime, once: str | None) -> Answer:
        if word == "undo":
            return self._take_back(time, once, None)
        if word == "end":
            self.book.end(self.rehearsal, time, once=once)
            return Answer(True, Ended(self.rehearsal), "end")
        return Answer(False, asks=word)

    def _decide(
        self, entry: Decide, time: datetime, once: str | None, seat: Mapping[str, str]
    ) -> Kept | Dropped | Already:
        if once and self.book.has(once):
            return Already()
        if self.hearing is None:
            raise InputError("no microphone is listening", "start with --microphone, or type F4 +6")
        return self.hearing.decide(entry, time, once, seat)

    def _choose(
        self, entry: Choose, time: datetime, once: str | None, seat: Mapping[str, str]
    ) -> Chosen:
        name = self._meant(entry, seat)
        self.book.choose(self.rehearsal, time, entry.what, name, once=once)
        self._follow()
        return Chosen(entry.what, name, entry.name, self.instrument)

    def _begun(self, time: datetime) -> datetime:
        """Return when the first thing of the rehearsal happened: one that came from tables too."""
        rows = (
            row["time"]
            for table in ("events", "readings", "temperatures")
            for row in self.book.rows(table, rehearsal=self.rehearsal)
        )
        return min(rows, default=time)

    def _keep(
        self,
        entry: Timed,
        time: datetime,
        once: str | None,
        seat: Mapping[str, str],
        now: datetime,
        earlier: ClockTime | None = None,
    ) -> Kept | KeptAll | Already:
        if isinstance(entry, Play) and entry.player:
            self._ask.about_player(entry.player, [*self.book.players(), *seat.values()], once)
        if isinstance(entry, Note):
            self._ask.about_note(entry.note, entry.called, seat.get("player", self.player))
        if isinstance(entry, SideOf) and once and self.book.has(once):
            return Already()  # it is no longer without a side
        found = records_of(self, entry, time, seat, earlier)
        for one in found:
            check_names(records.checked(one.record), self.catalogue)
            self._ask.about_position(one.record, once)
        again = bool(once and self.book.has(once))
        undone = [one.undone for one in found if one.undone is not None and not again]
        keys = [f"{once}+{place}" if once and place else once for place in range(len(found))]
        self.book.take_back(undone, now, zip((one.record for one in found), keys, strict=True))
        kept = tuple(
            self._kept(entry, one.record, seat, earlier)._replace(instead=one.instead)
            for one in found
        )
        return kept[0] if len(kept) == 1 else KeptAll(kept)

    def _kept(
        self,
        entry: Timed,
        record: records.Record,
        seat: Mapping[str, str],
        earlier: ClockTime | None,
    ) -> Kept:
        units = self.units_of(seat.get("player", self.player))
        if not isinstance(record, records.Reading):
            found = doubts(record, self.catalogue)
            if earlier is not None and isinstance(record, records.Event) and record.slide:
                found += first_of_a_slide(self.book.rows("events"), record)
            return Kept(record, 0, units, found, earlier)
        rows = (self.book.rows(table, rehearsal=self.rehearsal)
                for table in ("temperatures", "events"))  # fmt: skip
        found = doubts(record, self.catalogue, *rows)
        if isinstance(entry, Note) and entry.called[:1].upper() == "H":
            found += (Doubt("other_name", (entry.called, entry.note)),)
        written = self.semitones(record.instrument, record.player)
        return Kept(record, written, units, found, earlier)

    def _meant(self, entry: Choose, seat: Mapping[str, str]) -> str:
        """Return the name that a choice means, as the book and the catalogue spell it."""
        if entry.what == "instrument":
            return known_name(entry.name, self.catalogue)
        if entry.what == "player":
            return self.book.player_called(entry.name)
        if entry.what == "a4":
            records.check_value(records.A4, float(entry.name))
            return entry.name
        if entry.what in ("units", "notes"):
            player = seat.get("player", self.player)
            return f"{entry.name}{OWN}{player}" if player else entry.name
        return known_side(self.chosen(seat)[1], entry.name, self.catalogue)

    def semitones(self, instrument: str, player: str) -> int:
        """Return how much higher than they sound a player types the notes of an instrument."""
        return find(instrument, self.catalogue).written_semitones if self.written_by(player) else 0

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
