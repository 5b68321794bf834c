"""Recordings and live sound to tuner readings."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from drift.capture.heard import Declined, Heard, Verdict, Wanted, Why
from drift.capture.turns import Turn, turn_at
from sensors.channels import ChannelFinder
from sensors.frames import Frames
from sensors.sound import Layout, Recording, channels_of, inspect, layout_of
from sensors.tones import Refusal, Tone, ToneFinder

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

__all__ = ["Listening", "Nothing", "hear", "listen"]

_LEVEL_S = 0.5
_SILENT_DB = -75.0  # of the loudest half second
_LIVE_FRAMES = 8


class Nothing(StrEnum):
    """Why a recording gives no reading."""

    SILENT = "silent"
    REFUSED = "all-refused"
    SHORT = "too-short"


@dataclass(frozen=True)
class Listening:
    """What was heard in one recording.

    Attributes
    ----------
    recording : Recording
        What it says about itself.
    heard : tuple of Heard
        The readings, in the order of time.
    refused : tuple of Refusal or Declined
        What is not taken, each with its reason.
    levels_db : ndarray
        Level of every half second [dB re full scale].
    inverted : bool
        Whether one channel is another upside down, so that their mean is silence.
    """

    recording: Recording
    heard: tuple[Heard, ...]
    refused: tuple[Refusal | Declined, ...]
    levels_db: NDArray[np.float64]
    inverted: bool = False

    @property
    def found_nothing(self) -> Nothing | None:
        """Why there is no reading, or None where there is one."""
        if self.heard:
            return None
        if not self.levels_db.size or self.levels_db.max() < _SILENT_DB:
            return Nothing.SILENT
        return Nothing.REFUSED if self.refused else Nothing.SHORT

    def summary(self) -> str:
        """Return the readings and what was not taken, as text."""
        from drift.words.listening import describe_listening

        return describe_listening(self)

    def to_json(self) -> dict[str, Any]:
        """Return what ``drift listen --json`` prints."""
        from drift.words.listening import describe_findings, describe_refusal

        return {
            "tones": [item.to_json() for item in self.heard],
            "findings": [
                {"code": code, "text": text} for code, text in describe_findings(self).items()
            ],
            "refused": [
                {
                    "start_s": item.start_s,
                    "end_s": item.end_s,
                    "code": str(item.reason),
                    "reason": describe_refusal(item),
                }
                for item in self.refused
            ],
        }

    def to_frame(self) -> pd.DataFrame:
        """Return one row a reading."""
        import pandas as pd

        columns = ["start_s", "end_s", "hertz", "note", "cents", "cents_sd", "pair_probability"]
        columns += ["spread_cents", "frames", "side"]
        rows = [item.to_json() | {"side": item.side} for item in self.heard]
        return pd.DataFrame(rows, columns=columns)

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the found tones over the recording, with their cents."""
        from drift.charts.recording import tones_over_recording

        return tones_over_recording(self, ax)


def hear(
    blocks: Iterable[ArrayLike | None],
    rate: float,
    wanted: Wanted | Callable[[], Wanted],
    *,
    seconds: float = 0.0,
    watch: Callable[[Frames], None] = lambda frames: None,
) -> Iterator[Heard | Refusal | Declined | None]:
    """Turn blocks of live sound into proposed readings as they come.

    Parameters
    ----------
    blocks : iterable of array_like or None
        What a `sensors.microphone.Microphone` yields, or any sound in pieces.
    rate : float
        Sample rate [Hz].
    wanted : Wanted or callable
        What is listened for; a callable is asked anew at every tone, as players change.
    seconds : float
        Added to the times of the tones, where listening goes on after a pause [s].
    watch : callable, optional
        Called with the measured frames, whose times count from the first block.

    Yields
    ------
    Heard, Refusal, Declined or None
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
        watch=watch,
    )
    for block in blocks:
        if block is not None:
            yield from _judged(finder.hear(block), now)
        yield None
    yield from _judged(finder.finish(), now)


def listen(
    path: Path,
    wanted: Wanted | Sequence[Turn],
    *,
    channel: int | None = None,
    progress: Callable[[float, float], None] | None = None,
) -> Listening:
    """Listen to a whole recording.

    Parameters
    ----------
    path : Path
        A file that `sensors.sound.inspect` takes.
    wanted : Wanted or sequence of Turn
        What is listened for, the whole time or in turns; the first turn says how.
    channel : int, optional
        One channel, counted from 1; without it every channel that differs is heard apart.
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
    turns = [Turn(wanted)] if isinstance(wanted, Wanted) else wanted
    how = turns[0].wanted
    recording = inspect(path)
    layout = layout_of(path) if channel is None else Layout((channel,), inverted=False)
    finder = ChannelFinder(
        recording.rate,
        len(layout.distinct),
        sections=how.sections,
        clock_ppm=how.clock_ppm,
    )
    levels: list[float] = []
    for block in channels_of(path, layout.distinct, frames=round(_LEVEL_S * recording.rate)):
        finder.hear(block)
        levels.append(10 * np.log10(float(np.mean(np.square(block))) + 1e-12))
        if progress:
            progress(finder.seconds, recording.seconds)
    found = _alone_refused([_in_turn(item, turns) for item in finder.finish()])
    return Listening(
        recording,
        tuple(item for item in found if isinstance(item, Heard)),
        tuple(item for item in found if not isinstance(item, Heard)),
        np.array(levels),
        inverted=layout.inverted,
    )


def longest_refusal(refused: Sequence[Refusal | Declined]) -> Refusal | Declined:
    """Return a refusal for the reason that takes the longest time in all."""
    seconds: dict[str, float] = {}
    for item in refused:
        seconds[item.reason] = seconds.get(item.reason, 0.0) + item.end_s - item.start_s
    most = max(seconds, key=lambda reason: seconds[reason])
    return next(item for item in refused if item.reason == most)


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
) -> Iterator[Heard | Refusal | Declined]:
    for item in items:
        yield wanted().judge(item) if isinstance(item, Tone) else item


def _in_turn(item: Tone | Refusal, turns: Sequence[Turn]) -> Heard | Refusal | Declined:
    """Return what an item means to whoever has the turn in its middle."""
    if isinstance(item, Refusal):
        return item
    turn = turn_at(turns, (item.start_s + item.end_s) / 2)
    judged = (turn or turns[0]).wanted.judge(item)
    if turn is None and isinstance(judged, Heard):
        return _declined(judged, Why.NOBODYS)
    return judged


def _alone_refused(
    found: list[Heard | Refusal | Declined],
) -> list[Heard | Refusal | Declined]:
    """Refuse a doubtful reading that no other reading of its player stands beside.

    Among others a doubtful reading counts for little in the regression, by its probability; one
    alone is all that there is.
    """
    counts = Counter(item.player for item in found if isinstance(item, Heard))
    return [
        _declined(item, Why.ALONE)
        if isinstance(item, Heard) and counts[item.player] == 1 and item.verdict is Verdict.DOUBTFUL
        else item
        for item in found
    ]


def _declined(item: Heard, why: Why) -> Declined:
    return Declined(item.tone.start_s, item.tone.end_s, why, item.note, item.cents)
