"""What a tone means: which note, how far off, on which side, and whether it is wanted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any

from drift.errors import InputError
from drift.instruments import Instrument
from drift.logbook.records import Reading
from drift.notes import canonical_note, midi_of, nearest_note
from sensors.quality import DOUBTFUL, FLAGGED
from sensors.tones import Tone

__all__ = ["Declined", "Heard", "Verdict", "Wanted", "Why", "parse_sides"]

BETWEEN_CENTS = 45.0
"""Beyond this a tone lies between two notes, and the nearer one may be the wrong one."""


LEAST_SD_CENTS = 0.001
"""No recorder keeps its clock better than this."""


class Verdict(StrEnum):
    """Whether one player made a tone."""

    ONE_PLAYER = "one-player"
    LIVE_ROOM = "live-room"
    DOUBTFUL = "maybe-two-players"


class Why(StrEnum):
    """Why a steady tone is not a reading."""

    BETWEEN_NOTES = "between-notes"
    OUTSIDE_COMPASS = "outside-compass"
    NOT_ASKED = "note-not-asked-for"
    NO_SIDE = "side-not-given"
    ALONE = "two-players-or-echo"
    NOBODYS = "between-turns"


@dataclass(frozen=True, slots=True)
class Declined:
    """A steady tone that is not a reading.

    Attributes
    ----------
    start_s, end_s : float
        From the beginning of the sound [s].
    reason : Why
        Why.
    note : str
        The nearest note.
    cents : float
        Deviation from it [cents].
    instrument : Instrument or None
        What was listened for.
    """

    start_s: float
    end_s: float
    reason: Why
    note: str
    cents: float
    instrument: Instrument | None = None


@dataclass(frozen=True)
class Wanted:
    """What is listened for.

    Attributes
    ----------
    instrument : Instrument or None
        Notes outside its compass are refused; None: any note.
    a4_hz : float
        Pitch of A4 [Hz].
    notes : frozenset of int
        MIDI numbers of the only notes to take; empty: all.
    sides : mapping of int to str
        Side by MIDI number, since the side of a double horn cannot be heard (`parse_sides`).
    sections : bool
        Several players on one note are wanted as one tone: none is taken for a pair.
    clock_ppm : float
        By how much the clock of the recorder runs fast [parts in a million].
    player : str
        Who plays, where somebody was named.
    """

    instrument: Instrument | None = None
    a4_hz: float = 440.0
    notes: frozenset[int] = frozenset()
    sides: Mapping[int, str] | None = None
    sections: bool = False
    clock_ppm: float = 0.0
    player: str = ""

    def judge(self, tone: Tone) -> Heard | Declined:
        """Return what a tone means: a note with its cents, or why it is not taken."""
        note, cents = nearest_note(tone.hertz, self.a4_hz)
        reason = self._objection(midi_of(note), cents)
        if reason:
            return Declined(tone.start_s, tone.end_s, reason, note, cents, self.instrument)
        side = (self.sides or {}).get(midi_of(note), "")
        name = self.instrument.name if self.instrument else ""
        return Heard(tone, note, cents, side, self.player, name)

    def _objection(self, midi: int, cents: float) -> Why | None:
        if abs(cents) > BETWEEN_CENTS:
            return Why.BETWEEN_NOTES
        if self.instrument and not _within(midi, self.instrument.compass):
            return Why.OUTSIDE_COMPASS
        if self.notes and midi not in self.notes:
            return Why.NOT_ASKED
        if self._sided and midi not in (self.sides or {}):
            return Why.NO_SIDE
        return None

    @property
    def _sided(self) -> bool:
        return self.instrument is not None and len(self.instrument.sides) > 1


@dataclass(frozen=True, slots=True)
class Heard:
    """A tone that is a reading.

    Attributes
    ----------
    tone : Tone
        Where, its pitch and spread, and how sure both are.
    note : str
        Sounding note.
    cents : float
        Deviation from equal temperament [cents].
    side : str
        Side of the instrument, empty where it has one.
    player, instrument : str
        Who was listened to, and playing what; empty where nobody was named.
    """

    tone: Tone
    note: str
    cents: float
    side: str = ""
    player: str = ""
    instrument: str = ""

    @property
    def verdict(self) -> Verdict:
        """Whether one player made it."""
        if self.tone.score > DOUBTFUL:
            return Verdict.DOUBTFUL
        return Verdict.LIVE_ROOM if self.tone.score > FLAGGED else Verdict.ONE_PLAYER

    def reading(
        self,
        *,
        began: datetime,
        rehearsal: str,
        player: str,
        instrument: str,
        a4_hz: float,
        remark: str = "",
    ) -> Reading:
        """Return the reading for a logbook, timed at the middle of the tone.

        Parameters
        ----------
        began : datetime
            When the sound began, aware.
        rehearsal, player, instrument, remark : str
            As in the logbook.
        a4_hz : float
            The pitch of A4 that the cents refer to [Hz].
        """
        middle = (self.tone.start_s + self.tone.end_s) / 2
        return Reading(
            time=began + timedelta(milliseconds=round(1000 * middle)),
            rehearsal=rehearsal,
            player=player,
            instrument=instrument,
            side=self.side,
            note=self.note,
            cents=round(self.cents, 3),
            a4_hz=a4_hz,
            remark=remark,
            cents_sd=max(LEAST_SD_CENTS, round(self.tone.cents_sd, 4)),
            pair_probability=round(self.tone.pair_probability, 5),
        )

    def to_json(self) -> dict[str, Any]:
        """Return the tone as ``drift listen --json`` has it."""
        tone = self.tone
        return {
            "start_s": tone.start_s,
            "end_s": tone.end_s,
            "hertz": tone.hertz,
            "note": self.note,
            "cents": self.cents,
            "cents_sd": tone.cents_sd,
            "pair_probability": tone.pair_probability,
            "spread_cents": tone.spread_cents,
            "frames": tone.frames,
        } | {name: value for name in ("side", "player") if (value := getattr(self, name))}


def parse_sides(text: str, instrument: Instrument) -> dict[int, str]:
    """Return the side of every note, from a rule.

    Parameters
    ----------
    text : str
        A side for all notes, and notes or ranges that go another way:
        ``Bb``, ``Bb,F4=F``, ``Bb,F2-F4=F``. The later part counts.
    instrument : Instrument
        Whose sides they are.

    Returns
    -------
    dict of int to str
        Side by MIDI number.

    Raises
    ------
    InputError
        When a part of the rule is neither.
    InstrumentError
        When the instrument has no such side.

    Examples
    --------
    >>> from drift.instruments import find
    >>> sides = parse_sides("Bb,F2-F4=F", find("double horn"))
    >>> sides[midi_of("F4")], sides[midi_of("G4")]
    ('F', 'Bb')
    """
    sides: dict[int, str] = {}
    for part in text.split(","):
        notes, equals, name = part.rpartition("=")
        side = instrument.side(name).name
        if not equals:
            sides.update(dict.fromkeys(range(128), side))
            continue
        low, dash, high = notes.strip().partition("-")
        first = midi_of(canonical_note(low))
        last = midi_of(canonical_note(high)) if dash else first
        if last < first:
            raise InputError(
                f"the range {notes.strip()} runs downwards", "write the lower note first: F2-F4=F"
            )
        sides.update(dict.fromkeys(range(first, last + 1), side))
    return sides


def _within(midi: int, compass: tuple[str, str]) -> bool:
    return midi_of(compass[0]) <= midi <= midi_of(compass[1])
