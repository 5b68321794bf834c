"""The schedule of a performance: who plays, rests and tunes when, also over midnight."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, tzinfo
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from drift.degrees import celsius_of_fahrenheit
from drift.errors import InputError
from drift.findings import Finding
from drift.gig.activities import (
    ACTIVITIES,
    is_warm_up,
    occupation,
    read_activity,
    said_with,
    says_no_playing,
    words_beside,
)
from drift.gig.days import Days, has_half_day
from drift.gig.gaps import NOTHING_SCHEDULED, rest_between
from drift.gig.rows import Row, read_rows
from drift.quantities import FAHRENHEIT, TEMPERATURE
from drift.tonight.course import AFTER_CARRYING_MINUTES
from drift.tonight.target import READ_AT

__all__ = ["ACTIVITIES", "Block", "Entry", "Schedule", "read_activity",
           "read_schedule"]  # fmt: skip

#: Share of the time in which breath goes through the instruments: in the stands 30 seconds in
#: every 5 minutes (common practice); ``warm`` is blowing warm air without a tone.
DUTY = {"play": 1.0, "rest": 0.0, "tune": 1.0, "stands": 0.1, "warm": 1.0}
#: A longer schedule is a slip of the pen in a date.
LONGEST_DAYS = 3


@dataclass(frozen=True)
class Entry:
    """One row of a schedule.

    Attributes
    ----------
    start, end : datetime
        Aware instants, `end` after `start`.
    activity : str
        ``play``, ``rest``, ``tune``, ``stands`` (short playing now and then) or ``warm`` (blowing
        warm air); tuning and blowing warm air count as playing for the warmth.
    offset_celsius : float
        How much warmer than the forecast it is where the band stands [°C]: sun on brass,
        artificial turf; negative in wind.
    celsius : float or None
        The temperature where the band is, in place of the forecast [°C]: a band room, a bus.
    remark : str
        A few words for the plan.
    share : float or None
        Share of the time in which the instruments are blown, 0 to 1; None takes the usual one of
        the activity.
    added : bool
        Whether the plan put it there, and not the schedule.
    occupied : str
        What keeps the band from tuning in a rest: ``away`` (a bus, a meal), where it cannot blow
        either, ``walking``, ``silent`` (nobody may play), or nothing (empty).
    warm_up : bool
        Whether playing is a warm-up, which no slide is set for where the band plays later.
    """

    start: datetime
    end: datetime
    activity: str
    offset_celsius: float = 0.0
    celsius: float | None = None
    remark: str = ""
    share: float | None = None
    added: bool = False
    occupied: str = ""
    warm_up: bool = False

    @property
    def duty(self) -> float:
        """Share of the time in which breath goes through the instruments, 0 to 1."""
        return DUTY[self.activity] if self.share is None else self.share


@dataclass(frozen=True)
class Block:
    """A tune and the playing that follows, up to the next tune.

    Attributes
    ----------
    tune_at : datetime
        When the tune starts.
    ready : datetime
        When the slides stand where they were moved to: the end of the tune.
    end : datetime
        The next tune, or the end of the schedule.
    scheduled : bool
        False where the schedule has no tune before the band plays.
    plays : bool
        False where no playing follows before the next tune: it serves nothing but itself.
    """

    tune_at: datetime
    ready: datetime
    end: datetime
    scheduled: bool = True
    plays: bool = True

    @property
    def read_at(self) -> datetime:
        """When the tuner is read: three quarters through the tune."""
        return self.tune_at + READ_AT * (self.ready - self.tune_at)


@dataclass(frozen=True)
class Schedule:
    """What happens when.

    Attributes
    ----------
    entries : tuple of Entry
        In order of time, not overlapping, without gaps (waiting is a rest).
    notices : tuple of Finding
        What was filled in.
    half_days : bool
        Whether its times are written with AM and PM, and are told so.
    """

    entries: tuple[Entry, ...]
    notices: tuple[Finding, ...] = ()
    half_days: bool = False

    @property
    def start(self) -> datetime:
        """When the first entry starts."""
        return self.entries[0].start

    @property
    def end(self) -> datetime:
        """When the last entry ends."""
        return self.entries[-1].end

    @property
    def written(self) -> tuple[Entry, ...]:
        """The entries that somebody wrote, without the rests in the gaps between them."""
        return tuple(entry for entry in self.entries if entry.remark != NOTHING_SCHEDULED)

    @property
    def zone(self) -> tzinfo | None:
        """The zone the schedule is written in."""
        return self.entries[0].start.tzinfo

    def instants(self, step_minutes: float = 1.0) -> pd.DatetimeIndex:
        """Return instants from start to end, both included, in the zone of the schedule."""
        step = pd.Timedelta(minutes=step_minutes)
        times = pd.date_range(self.start, self.end, freq=step)
        return pd.DatetimeIndex([*times, self.end]) if times[-1] < self.end else times

    def entry_at(self, times: pd.DatetimeIndex) -> NDArray[np.intp]:
        """Return the index of the entry of each instant (the end belongs to the last one)."""
        starts = pd.DatetimeIndex([entry.start for entry in self.entries])
        return np.asarray(starts.searchsorted(times, side="right") - 1)

    def blocks(self) -> tuple[Block, ...]:
        """Return each tune with the playing that follows it.

        Playing before the first tune belongs to no block, unless there is no tune but what a plan
        added: then the slides are taken as set just before `first_playing`.
        """
        tunes = [entry for entry in self.entries if entry.activity == "tune"]
        starts = [(tune.start, tune.end) for tune in tunes]
        first = self.first_playing.start if self.first_playing else self.start
        unscheduled = not self.tuned and (not tunes or first < tunes[0].start)
        if unscheduled:
            starts.insert(0, (first, first))
        ends = [*(start for start, _ in starts[1:]), self.end]
        return tuple(
            Block(
                start, ready, end,
                scheduled=bool(number) or not unscheduled,
                plays=(unscheduled and not tunes) or bool(self.played_between(ready, end)),
            )
            for number, ((start, ready), end) in enumerate(zip(starts, ends, strict=True))
        )  # fmt: skip

    @property
    def tuned(self) -> bool:
        """Whether the band tunes by the schedule, and not only where a plan added it."""
        return any(entry.activity == "tune" and not entry.added for entry in self.entries)

    @property
    def begins_outdoors(self) -> bool:
        """Whether the band tunes or plays in the air of the forecast soon after the start.

        Instruments have the air of the start then, and nothing says where they were before.
        """
        blown = (e for e in self.entries if e.celsius is not None or e.activity in ("tune", "play"))
        first = next(blown, None)
        if first is None or first.celsius is not None:
            return False
        return first.start - self.start < timedelta(minutes=AFTER_CARRYING_MINUTES)

    @property
    def first_playing(self) -> Entry | None:
        """The first playing that slides are set for.

        A warm-up in a room, whose temperature is given, is none where the band later plays in the
        air of the forecast.
        """
        outdoors = [entry for entry in self.performances if entry.celsius is None]
        return next(iter(outdoors or self.performances), None)

    @property
    def performances(self) -> tuple[Entry, ...]:
        """The playing that slides are set for: without warm-ups, where there is any other."""
        plays = [entry for entry in self.entries if entry.activity == "play"]
        return tuple([entry for entry in plays if not entry.warm_up] or plays)

    def played_between(self, start: datetime, end: datetime) -> list[Entry]:
        """Return the playing between two instants that slides are set for."""
        return [one for one in self.performances if one.end > start and one.start < end]


def arrange(entries: Sequence[Entry]) -> Schedule:
    """Return a schedule of entries in order of time, with rests where nothing is written.

    Parameters
    ----------
    entries : sequence of Entry
        In any order.

    Returns
    -------
    Schedule
        Without gaps: `drift.gig.gaps.rest_between` says in which air the band is then.

    Raises
    ------
    InputError
        When two entries overlap, they last longer than three days, or nobody plays or tunes.
    """
    ordered = sorted(entries, key=lambda entry: entry.start)
    filled = ordered[:1]
    notices: list[Finding] = []
    for entry in ordered[1:]:
        before = filled[-1]
        if entry.start < before.end:
            raise InputError(
                f"{entry.activity} from {entry.start:%H:%M} overlaps {before.activity} from "
                f"{before.start:%H:%M} to {before.end:%H:%M}",
                "let each entry start when the one before it has ended",
            )
        if entry.start > before.end:
            gap, notice = rest_between(before, entry)
            notices.append(notice)
            filled.append(gap)
        filled.append(entry)
    if filled[-1].end - filled[0].start > timedelta(days=LONGEST_DAYS):
        raise InputError(
            f"the schedule lasts from {filled[0].start:%Y-%m-%d} to {filled[-1].end:%Y-%m-%d}",
            f"correct the dates; a schedule lasts {LONGEST_DAYS} days at most",
        )
    if not any(entry.activity in ("play", "tune") for entry in filled):
        raise InputError("nobody plays in the schedule", "add an entry with the activity play")
    return Schedule(tuple(filled), tuple(notices))


def read_schedule(
    path: Path,
    zone: tzinfo | None = None,
    date: datetime | None = None,
    columns: Mapping[str, str] | None = None,
    order: str | None = None,
) -> Schedule:
    """Read ``schedule.csv``.

    Parameters
    ----------
    path : Path
        A CSV file with ``start, end, activity`` and if wanted ``offset_celsius`` (or
        ``offset_fahrenheit``), ``celsius`` (or ``fahrenheit``) and ``remark``. After the first
        full date and time a time of day is enough: it means the next such time.
    zone : tzinfo, optional
        The zone of times without an offset.
    date : datetime, optional
        Midnight of the day that a first time of day belongs to; otherwise that of a line
        ``# date 2026-10-09`` or of the first full time of the file.
    columns : mapping of str to str, optional
        Names of columns by what is written over them, and activities by what is written in
        their place.
    order : str, optional
        ``day-first`` or ``month-first``, where the dates of the file do not show it.

    Returns
    -------
    Schedule
        Without gaps.

    Raises
    ------
    TablesRefused
        When cells cannot be taken (each with line and value) or entries overlap.
    """
    optional = ["offset_celsius", "offset_fahrenheit", "celsius", "fahrenheit", "remark", "date"]
    rows = read_rows(path, ["start", "end", "activity"], optional, columns, kind="schedule")
    rows, days = rows.days_for(["start", "end"], zone, date, order)
    entries: list[Entry] = []
    lines: dict[datetime, str] = {}
    written: list[str] = []

    def take(row: Row) -> None:
        written.extend((row.text("start"), row.text("end")))
        after = entries[-1].end if entries else None
        entry = _entry(row, after, days, lines[entries[-1].start] if entries else "", columns)
        if entry is None:
            return
        for other in entries:
            if not row.problems and entry.start < other.end and other.start < entry.end:
                row.note(
                    f"{row.text('start')} to {row.text('end')} overlaps {lines[other.start]}",
                    "let each entry start when the one before it has ended",
                )
        entries.append(entry)
        lines[entry.start] = row.where

    rows.taken(take)
    # Everything is shown in one zone, also when the file changes offset (clocks going back).
    first = entries[0].start.tzinfo
    found = arrange(
        [replace(e, start=e.start.astimezone(first), end=e.end.astimezone(first)) for e in entries]
    )
    half_days = any(map(has_half_day, written))
    return replace(found, notices=(*rows.notices, *found.notices), half_days=half_days)


def _entry(
    row: Row,
    after: datetime | None,
    days: Days,
    after_row: str = "",
    words: Mapping[str, str] | None = None,
) -> Entry | None:
    """Return the entry of a row, None where it has no times; what is wrong is noted."""
    start = row.instant("start", days, after=after, after_row=after_row)
    end = row.instant("end", days, after=start or after, after_row=row.where)
    activity, share = _activity(row, words)
    wrote, remark = row.text("activity"), row.text("remark")
    own_words = words_beside(wrote, activity)
    if (activity, share) == ("stands", None) and says_no_playing(remark):
        activity, own_words = "rest", wrote
    offset = row.number("offset_celsius", -40, 40)
    if (fahrenheit := row.number("offset_fahrenheit", -72, 72)) is not None:
        offset = fahrenheit / 1.8
    celsius = row.number("celsius", -60, 60, TEMPERATURE)
    if (fahrenheit := row.number("fahrenheit", -76, 140, FAHRENHEIT)) is not None:
        celsius = float(celsius_of_fahrenheit(fahrenheit))
    if start is None or end is None:
        return None
    if end <= start:
        if not row.problems:
            row.note(
                f"it ends at {row.text('end')}, not after its start {row.text('start')}",
                "correct the end; after midnight it needs the next date",
                "end",
            )
        return None
    return Entry(
        start,
        end,
        activity,
        offset or 0.0,
        celsius,
        ", ".join(dict.fromkeys(filter(None, (own_words, remark)))),
        share,
        occupied=occupation(wrote, remark) if activity == "rest" else "",
        warm_up=activity == "play" and is_warm_up(wrote, remark),
    )


def _activity(row: Row, words: Mapping[str, str] | None) -> tuple[str, float | None]:
    """Return what is done, and the share of the time of ``stands 0.2``; what is wrong is noted."""
    found = read_activity(row.text("activity"), words)
    if found is None:
        play, rest = said_with(row.text("activity"), "play", "rest")
        row.note(
            f"activity {row.text('activity')!r} is not known",
            f"write {', '.join(ACTIVITIES)}, or stands 0.2 for another share than 0.1; or say what "
            f"it is with {play} where the band plays then, {rest} where it rests",
            "activity",
        )
    return found or ("rest", None)
