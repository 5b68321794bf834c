"""Tones to tuner readings: which note, how far off, on which side, and whether it is wanted."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from drift.errors import InputError
from drift.instruments import Instrument
from drift.logbook.records import Reading
from drift.notes import canonical_note, midi_of, nearest_note, shown
from sensors.sound import Recording, blocks_of, inspect
from sensors.tones import Refusal, Tone, ToneFinder

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

__all__ = ["Heard", "Listening", "Wanted", "hear", "listen", "parse_sides"]

BETWEEN_CENTS = 45.0
"""Beyond this a tone lies between two notes, and the nearer one may be the wrong one."""

_LEVEL_S = 0.5
_LIVE_FRAMES = 8


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
        Take several players on one note as one tone instead of refusing them.
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

    def judge(self, tone: Tone) -> Heard | Refusal:
        """Return what a tone means: a note with its cents, or why it is not taken."""
        note, cents = nearest_note(tone.hertz, self.a4_hz)
        midi = midi_of(note)
        reason = ""
        if abs(cents) > BETWEEN_CENTS:
            reason = f"{cents:+.0f} cents from {note}: between two notes"
        elif self.instrument and not _within(midi, self.instrument.compass):
            low, high = self.instrument.compass
            reason = f"{note} is outside the compass of {self.instrument.name} ({low} to {high})"
        elif self.notes and midi not in self.notes:
            reason = f"{note} is not among the notes asked for"
        elif self._sided and midi not in (self.sides or {}):
            reason = f"the side of {note} is not given"
        if reason:
            return Refusal(tone.start_s, tone.end_s, reason)
        return Heard(tone, note, cents, (self.sides or {}).get(midi, ""))

    @property
    def _sided(self) -> bool:
        return self.instrument is not None and len(self.instrument.sides) > 1


@dataclass(frozen=True, slots=True)
class Heard:
    """A tone that is a reading.

    Attributes
    ----------
    tone : Tone
        Where, its pitch and spread.
    note : str
        Sounding note.
    cents : float
        Deviation from equal temperament [cents].
    side : str
        Side of the instrument, empty where it has one.
    """

    tone: Tone
    note: str
    cents: float
    side: str = ""

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
            "spread_cents": tone.spread_cents,
            "frames": tone.frames,
        } | ({"side": self.side} if self.side else {})


@dataclass(frozen=True)
class Listening:
    """What was heard in one recording.

    Attributes
    ----------
    recording : Recording
        What it says about itself.
    heard : tuple of Heard
        The readings, in the order of time.
    refused : tuple of Refusal
        What is not taken, each with its reason.
    levels_db : ndarray
        Level of every half second [dB re full scale].
    """

    recording: Recording
    heard: tuple[Heard, ...]
    refused: tuple[Refusal, ...]
    levels_db: NDArray[np.float64]

    def summary(self) -> str:
        """Return the readings and what was not taken, as text."""
        about = self.recording
        channels = "mono" if about.channels == 1 else f"{about.channels} channels"
        lines = [
            f"{about.path.name}: {clock(about.seconds)}, {about.rate} Hz, {channels}, {about.kind}"
        ]
        for item in self.heard:
            note = shown(item.note) + (f" ({shown(item.side)} side)" if item.side else "")
            lines.append(
                f"  {clock(item.tone.start_s):>9} to {clock(item.tone.end_s):>9}  {note:<14}"
                f"{item.cents:+7.2f} cents   spread {item.tone.spread_cents:.1f}"
            )
        if self.refused:
            lines.append("not taken:")
        for refusal in self.refused:
            lines.append(
                f"  {clock(refusal.start_s):>9} to {clock(refusal.end_s):>9}  "
                f"{shown(refusal.reason)}"
            )
        return "\n".join(lines)

    def to_json(self) -> dict[str, Any]:
        """Return what ``drift listen --json`` prints."""
        return {
            "tones": [item.to_json() for item in self.heard],
            "refused": [
                {"start_s": item.start_s, "end_s": item.end_s, "reason": item.reason}
                for item in self.refused
            ],
        }

    def to_frame(self) -> pd.DataFrame:
        """Return one row a reading."""
        import pandas as pd

        columns = ["start_s", "end_s", "hertz", "note", "cents", "spread_cents", "frames", "side"]
        rows = [item.to_json() | {"side": item.side} for item in self.heard]
        return pd.DataFrame(rows, columns=columns)

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the found tones over the recording, with their cents."""
        from drift.charts.recording import tones_over_recording

        return tones_over_recording(self, ax)


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


def hear(
    blocks: Iterable[ArrayLike | None],
    rate: float,
    wanted: Wanted | Callable[[], Wanted],
    *,
    seconds: float = 0.0,
) -> Iterator[Heard | Refusal | None]:
    """Turn blocks of live sound into proposed readings as they come.

    Parameters
    ----------
    blocks : iterable of array_like or None
        What a `sensors.sound.Microphone` yields, or any sound in pieces.
    rate : float
        Sample rate [Hz].
    wanted : Wanted or callable
        What is listened for; a callable is asked anew at every tone, as players change.
    seconds : float
        Added to the times of the tones, where listening goes on after a pause [s].

    Yields
    ------
    Heard, Refusal or None
        A proposed reading within a second and a half of the end of its tone; a refusal with its
        reason; None after every block, so that the caller can look around.
    """
    now = wanted if callable(wanted) else lambda: wanted
    finder = ToneFinder(
        rate,
        sections=now().sections,
        clock_ppm=now().clock_ppm,
        frames_at_once=_LIVE_FRAMES,
        begin_s=seconds,
    )
    for block in blocks:
        if block is not None:
            yield from _judged(finder.hear(block), now)
        yield None
    yield from _judged(finder.finish(), now)


def listen(
    path: Path,
    wanted: Wanted,
    *,
    channel: int | None = None,
    progress: Callable[[float, float], None] | None = None,
) -> Listening:
    """Listen to a whole recording.

    Parameters
    ----------
    path : Path
        A WAV or FLAC file.
    wanted : Wanted
        What is listened for.
    channel : int, optional
        One channel, counted from 1; the mean of all without it.
    progress : callable, optional
        Told the seconds done and the seconds in all, block by block.

    Returns
    -------
    Listening

    Raises
    ------
    SourceUnavailable, RecordingError
        When it cannot be read to its end; nothing is half heard.
    """
    recording = inspect(path)
    finder = ToneFinder(recording.rate, sections=wanted.sections, clock_ppm=wanted.clock_ppm)
    found: list[Heard | Refusal] = []
    levels: list[float] = []
    for block in blocks_of(path, channel=channel, frames=round(_LEVEL_S * recording.rate)):
        found += _judged(finder.hear(block), lambda: wanted)
        levels.append(10 * np.log10(float(np.mean(np.square(block))) + 1e-12))
        if progress:
            progress(finder.seconds, recording.seconds)
    found += _judged(finder.finish(), lambda: wanted)
    return Listening(
        recording,
        tuple(item for item in found if isinstance(item, Heard)),
        tuple(item for item in found if isinstance(item, Refusal)),
        np.array(levels),
    )


def fingerprint(path: Path) -> str:
    """Return a short text that tells one recording from another, whatever it is called.

    It is made from the length of the file and its first and last mebibyte.
    """
    digest = hashlib.blake2b(str(path.stat().st_size).encode(), digest_size=8)
    with path.open("rb") as file:
        digest.update(file.read(1 << 20))
        file.seek(max(0, path.stat().st_size - (1 << 20)))
        digest.update(file.read(1 << 20))
    return digest.hexdigest()


def clock(seconds: float) -> str:
    """Return seconds as on a recorder.

    Examples
    --------
    >>> clock(83.24), clock(3723.04)
    ('1:23.2', '1:02:03.0')
    """
    tenths = round(10 * seconds)
    minutes, rest = divmod(tenths, 600)
    hours, minutes = divmod(minutes, 60)
    start = f"{hours}:{minutes:02}" if hours else f"{minutes}"
    return f"{start}:{rest // 10:02}.{rest % 10}"


def _judged(
    items: Iterable[Tone | Refusal], wanted: Callable[[], Wanted]
) -> Iterator[Heard | Refusal]:
    for item in items:
        yield wanted().judge(item) if isinstance(item, Tone) else item


def _within(midi: int, compass: tuple[str, str]) -> bool:
    return midi_of(compass[0]) <= midi <= midi_of(compass[1])
