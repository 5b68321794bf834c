"""What is answered to an entry, as codes and numbers; `drift.words.entries` words it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from drift.errors import DriftError
from drift.instruments import Catalogue, find
from drift.logbook import records
from drift.notes import midi_of, note_of_midi
from drift.quantities import METRIC, Units

if TYPE_CHECKING:
    from drift.capture.earlier import ClockTime
    from drift.capture.proposals import Proposal
    from sensors.errors import SensorError

__all__ = [
    "Already",
    "Answer",
    "Chosen",
    "Doubt",
    "Dropped",
    "Ended",
    "Kept",
    "KeptAll",
    "Undone",
    "doubts",
]

MISREAD_CENTS = 50.0
"""Beyond this another note is nearer."""
SETTLE_SECONDS = 30.0
"""Readings so soon after the first playing do not count: `SETTLE_MINUTES` of pitch tonight."""
STALE_MINUTES, STALE_TYPED_MINUTES = 10.0, 30.0
"""A reading is paired with no temperature of a thermometer, or a person, that is older:
`GAP_MINUTES` and `TYPED_MINUTES` of the pairing."""


class Doubt(NamedTuple):
    """Something to ask about an entry that is saved as typed.

    Attributes
    ----------
    kind : str
        ``position_before``, ``side_not_stated``, ``beyond_compass``,
        ``nearer_note``, ``no_temperature``, ``resting``, ``settling`` or ``other_name``.
    names : tuple of str
        The slide, the sides there are, or the notes, or for how many minutes there was none; the
        name of a note as it was typed, and as it is called here.
    """

    kind: str
    names: tuple[str, ...] = ()


class Kept(NamedTuple):
    """A record that is in the logbook.

    Attributes
    ----------
    record : Record
        What was saved.
    written_semitones : int
        How much higher the player reads the notes, where they are typed so.
    units : Units
        What lengths and degrees are shown in, beside those of the record.
    doubts : tuple of Doubt
        What to ask about it.
    earlier : ClockTime or None
        The time it was entered with, where that was later than it happened.
    instead : Record or None
        What it was saved in place of, which is undone.
    """

    record: records.Record
    written_semitones: int = 0
    units: Units = METRIC
    doubts: tuple[Doubt, ...] = ()
    earlier: ClockTime | None = None
    instead: records.Record | None = None


class KeptAll(NamedTuple):
    """Records that one entry put into the logbook, all of them or none."""

    kept: tuple[Kept, ...]


class Chosen(NamedTuple):
    """What holds from now on.

    Attributes
    ----------
    what : str
        As `drift.capture.entries.Choose` has it.
    name : str
        What was chosen, as the logbook and the catalogue spell it.
    typed : str
        As it was typed.
    instrument : str
        What the player has in hand; empty where that is not known yet.
    here : bool
        Whether it holds for one page alone.
    """

    what: str
    name: str
    typed: str
    instrument: str
    here: bool = False


class Undone(NamedTuple):
    """A row that is undone, as the logbook gives it."""

    row: Mapping[str, object]


class Dropped(NamedTuple):
    """A reading that the microphone proposed and nobody wants."""

    proposal: Proposal


class Ended(NamedTuple):
    """A rehearsal that is over."""

    rehearsal: str


class Already(NamedTuple):
    """An entry that came again."""


About = Kept | KeptAll | Chosen | Undone | Dropped | Ended | Already


class Answer(NamedTuple):
    """What is answered to one entry.

    Attributes
    ----------
    saved : bool
        Whether the entry is in the book, on the disk (or did what it says, if it is none to save).
    about : Kept, KeptAll, Chosen, Undone, Dropped, Ended, Already, an error or None
        What was done, or why not; None for ``now``, ``help`` and ``target``, since the one who
        asked shows them.
    asks : str
        ``now``, ``help``, ``target`` or ``end`` when that was typed, else empty.
    """

    saved: bool
    about: About | DriftError | SensorError | None = None
    asks: str = ""

    @property
    def text(self) -> str:
        """One line, beginning ``saved`` or ``not saved:``; empty where nothing is answered."""
        from drift.words.entries import answer_text

        return answer_text(self)


def doubts(
    record: records.Record,
    catalogue: Catalogue | None = None,
    temperatures: Iterable[Mapping[str, Any]] = (),
    events: Iterable[Mapping[str, Any]] = (),
) -> tuple[Doubt, ...]:
    """Return what to ask about what is saved as typed; nothing where all is clear.

    Parameters
    ----------
    record : Record
        What was saved.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.
    temperatures : iterable of mapping
        The rows of the temperatures of the rehearsal.
    events : iterable of mapping
        The rows of its events.
    """
    if not isinstance(record, records.Reading):
        return ()
    asked = []
    sides = [side.name for side in find(record.instrument, catalogue).sides]
    if len(sides) > 1 and not record.side:
        asked.append(Doubt("side_not_stated", tuple(sides)))
    low, high = find(record.instrument, catalogue).compass
    if not midi_of(low) <= midi_of(record.note) <= midi_of(high):
        asked.append(Doubt("beyond_compass", (low, high)))
    if abs(record.cents) > MISREAD_CENTS:
        nearer = note_of_midi(midi_of(record.note) + round(record.cents / 100.0))
        asked.append(Doubt("nearer_note", (nearer,)))
    ages = [
        ((record.time - row["time"]).total_seconds() / 60.0, row["source"] == records.TYPED)
        for row in temperatures
        if row["time"] <= record.time
    ]
    if ages and not any(
        age <= (STALE_TYPED_MINUTES if typed else STALE_MINUTES) for age, typed in ages
    ):
        asked.append(Doubt("no_temperature", (f"{min(ages)[0]:.0f}",)))
    own = [row for row in events if row["player"] in ("", record.player)]
    if _rests(record, own):
        asked.append(Doubt("resting"))
    if _settles(record, own):
        asked.append(Doubt("settling"))
    return tuple(asked)


def _rests(reading: records.Reading, events: Sequence[Mapping[str, Any]]) -> bool:
    """Return whether a rest was logged and no playing since."""
    told = [
        (row["time"], row["event"])
        for row in events
        if row["event"] in ("play", "rest") and row["time"] <= reading.time
    ]
    return bool(told) and max(told, key=lambda one: one[0])[1] == "rest"


def _settles(reading: records.Reading, events: Sequence[Mapping[str, Any]]) -> bool:
    """Return whether a reading comes so soon after the first playing that it will not count."""
    played = [row for row in events if row["event"] == "play"]
    first = min(played, key=lambda row: row["time"], default=None)
    if first is None or bool(first["already_warm"]):
        return False
    so_far: float = (reading.time - first["time"]).total_seconds()
    return 0.0 <= so_far < SETTLE_SECONDS
