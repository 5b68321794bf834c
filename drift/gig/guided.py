"""Six answers in plain words, and the three files of an evening that they make."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import pairwise
from typing import TypeAlias

from drift.errors import InputError
from drift.instruments import Instrument

__all__ = ["Evening", "Stretch", "check_order", "files_of"]

#: From when to when, aware.
Stretch: TypeAlias = tuple[datetime, datetime]


@dataclass(frozen=True)
class Evening:
    """What was answered.

    Attributes
    ----------
    tunes, plays : sequence of (datetime, datetime)
        Aware, each in order.
    celsius : (float, float)
        Temperature at the beginning and at the end [°C].
    sections : sequence of (str, Instrument, int)
        What the band calls it, what it plays, how many.
    stands, rests : collection of (datetime, datetime)
        Those of `plays` that are in the stands, and those in which nobody plays.
    rooms : mapping of (datetime, datetime) to float
        How warm it is in those of `tunes` and `plays` that are indoors [°C].
    """

    tunes: Sequence[Stretch]
    plays: Sequence[Stretch]
    celsius: tuple[float, float]
    sections: Sequence[tuple[str, Instrument, int]]
    stands: Collection[Stretch] = ()
    rests: Collection[Stretch] = ()
    rooms: Mapping[Stretch, float] = field(default_factory=dict)


def check_order(
    tunes: Sequence[Stretch], plays: Sequence[Stretch]
) -> list[tuple[datetime, datetime, str]]:
    """Return what is done when, in order of time.

    Parameters
    ----------
    tunes, plays : sequence of (datetime, datetime)
        In any order.

    Raises
    ------
    InputError
        When two of them overlap.
    """
    rows = sorted([(*times, "tune") for times in tunes] + [(*times, "play") for times in plays])
    for (_, end, what), (start, _, other) in pairwise(rows):
        if start < end:
            raise InputError(
                f"{other} from {start:%H:%M} begins before {what} ends at {end:%H:%M}",
                "correct the times",
            )
    return rows


def files_of(evening: Evening) -> dict[str, str]:
    """Return the text of the three files by name.

    Parameters
    ----------
    evening : Evening
        What was answered.

    Raises
    ------
    InputError
        When two stretches overlap.
    """
    rows = check_order(evening.tunes, evening.plays)
    first, last = rows[0][0], rows[-1][1]
    schedule = ["start,end,activity,celsius"]
    others = {**dict.fromkeys(evening.stands, "stands"), **dict.fromkeys(evening.rests, "rest")}
    for start, end, what in rows:
        activity = others.get((start, end), what)
        celsius = evening.rooms.get((start, end))
        room = "" if celsius is None else f"{celsius:.1f}"
        schedule.append(f"{_iso(start)},{_iso(end)},{activity},{room}")
    forecast = ["time,celsius"]
    forecast += [f"{_iso(t)},{c:.1f}" for t, c in zip((first, last), evening.celsius, strict=True)]
    roster = ["section,instrument,players,slide,position_mm,travel_mm,stuck"]
    for name, instrument, players in evening.sections:
        slides = [slide.name for slide in instrument.slides] or [""]
        roster += [f"{name},{instrument.name},{players},{slide},,," for slide in slides]
    tables = {"forecast.csv": forecast, "schedule.csv": schedule, "roster.csv": roster}
    return {name: "\n".join(lines) + "\n" for name, lines in tables.items()}


def _iso(time: datetime) -> str:
    return time.isoformat(timespec="minutes")
