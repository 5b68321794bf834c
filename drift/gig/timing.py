"""When to blow warm air, tune again and check on the field, and whom to watch meanwhile.

In simulated bands these three halve the error that a target on the tuner leaves alone
(``docs/explanation/evening.md``).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np

from drift.breath import BREATH_CELSIUS
from drift.findings import Finding
from drift.gig.activities import AWAY, SILENT
from drift.gig.timetable import Entry, Schedule
from drift.regression.warmup import REFERENCE_CELSIUS

if TYPE_CHECKING:
    from drift.gig.plan import Plan
    from drift.gig.timetable import Block

__all__ = ["RIGHT_CENTS", "Watch", "play_until", "warm_air", "warm_air_minutes", "watch",
           "with_more_tunes"]  # fmt: skip

#: Minutes of warm air before playing: the usual, and the least and the most.
USUAL_MINUTES, LEAST_MINUTES, MOST_MINUTES = 6.0, 3.0, 12.0
#: Warm air is blown until the instrument is this flat of where it will be [cents].
STILL_FLAT_CENTS = 4.0
#: In warmer air than this a cold instrument is less than 8 cents flat (14 (34 - T)/14): warm air is
#: not worth its breath [°C].
NEEDLESS_CELSIUS = 26.0
#: After a shorter rest than this nobody blows warm air [min].
SHORT_REST_MINUTES = 5.0
#: An added tune or a check on the field takes this long, before playing [min].
CHECK_MINUTES = 4.0
#: A later part of a block is tuned for where its mean differs by more than this, after so long
#: without playing but in the stands.
DIFFERS_CENTS, REST_MINUTES = 4.0, 8.0
#: A check on the field where the air has changed by more than this since the tune [°C].
AIR_CHANGED_CELSIUS = 5.0
#: First minutes of playing are spoken of while the pitch is this far off; whom to watch from.
RIGHT_CENTS, WATCH_CENTS = 5.0, 8.0
_RESTS = ("rest", "stands")


def warm_air_minutes(
    rise_cents: float, warm_minutes: float, celsius: float, excess_celsius: float = 0.0
) -> float:
    """Return how long before playing to start blowing warm air [min].

    Parameters
    ----------
    rise_cents : float
        Rise from cold to warm at 20 °C [cents].
    warm_minutes : float
        Time constant of warming [min, 63 %].
    celsius : float
        Air around the instrument [°C].
    excess_celsius : float
        How much breath still warms what is in it, ``E`` of `drift.regression.state.states` [°C].

    Notes
    -----
    Flat by ``F = r (34 - T - E)/14`` and by ``F exp(-n/tau)`` after n minutes:
    ``n = tau ln(F/4)``, kept within 3 and 12 minutes.

    Examples
    --------
    >>> round(warm_air_minutes(14.0, 4.5, 4.0), 1)
    9.1
    """
    cold = BREATH_CELSIUS - celsius - excess_celsius
    flat = rise_cents * cold / (BREATH_CELSIUS - REFERENCE_CELSIUS)
    if flat <= STILL_FLAT_CENTS:
        return LEAST_MINUTES
    needed = warm_minutes * math.log(flat / STILL_FLAT_CENTS)
    return min(max(needed, LEAST_MINUTES), MOST_MINUTES)


def warm_air(
    schedule: Schedule,
    minutes: float = USUAL_MINUTES,
    celsius_at: Callable[[datetime], float] | None = None,
) -> Schedule:
    """Return a schedule in which the band blows warm air at the end of each longer rest.

    Parameters
    ----------
    schedule : Schedule
        Playing, resting and tuning.
    minutes : float
        Of blowing before playing or a scheduled tune; a tune that the plan added counts in it.
    celsius_at : callable, optional
        The air at an instant [°C]; warmer than `NEEDLESS_CELSIUS` nobody blows warm air.

    Examples
    --------
    >>> from datetime import UTC
    >>> at = [datetime(2026, 10, 9, 19, minute, tzinfo=UTC) for minute in (0, 30, 40)]
    >>> evening = Schedule((Entry(at[0], at[1], "rest"), Entry(at[1], at[2], "play")))
    >>> [(entry.activity, entry.start.minute) for entry in warm_air(evening).entries]
    [('rest', 0), ('warm', 24), ('play', 30)]
    """
    begins: dict[int, datetime] = {}
    for number, following in enumerate(schedule.entries):
        if following.activity not in ("play", "tune") or following.warm_up:
            continue
        rests = list(_rests_before(schedule.entries, number))
        length = sum(_minutes(schedule.entries[place]) for place in rests)
        needless = celsius_at is not None and celsius_at(following.start) > NEEDLESS_CELSIUS
        if needless or length < SHORT_REST_MINUTES:
            continue
        counted = _minutes(following) if following.added else 0.0
        wanted = min(max(minutes - counted, 0.0), length)
        earliest = schedule.entries[rests[-1]].start
        begin = max(following.start - timedelta(minutes=_whole(wanted)), earliest)
        begins |= dict.fromkeys(rests, begin)
    entries: list[Entry] = []
    for number, entry in enumerate(schedule.entries):
        begin = begins.get(number, entry.end)
        if begin > entry.start:
            entries.append(replace(entry, end=min(begin, entry.end)))
        if begin < entry.end:
            start = max(begin, entry.start)
            if begin < entry.start:  # it began in the rest before
                start = entries.pop().start
            entries.append(replace(entry, start=start, activity="warm", share=None, added=True))
    return replace(schedule, entries=tuple(entries))


def _rests_before(entries: Sequence[Entry], number: int) -> Iterator[int]:
    """Yield the rests just before an entry that touch and are alike, when nobody is on the way."""
    for place in reversed(range(number)):
        entry, after = entries[place], entries[place + 1]
        touching = entry.end == after.start
        if entry.activity not in _RESTS or entry.occupied == AWAY or not touching:
            return
        alike = (entry.celsius, entry.occupied) == (after.celsius, after.occupied)
        if place + 1 < number and not alike:
            return
        yield place


def with_more_tunes(plan: Plan) -> Schedule:
    """Return the schedule of a plan with the tunes and the checks on the field that it needs.

    Parameters
    ----------
    plan : Plan
        The plan of the schedule as it is.

    Returns
    -------
    Schedule
        With tunes of four minutes before playing: where the air has changed by more than 5 °C
        since the tune, before a later part of a block whose mean differs by more than 4 cents
        for some section after 8 minutes or more without playing but in the stands, and before the
        first playing where the schedule has no tune before it. They take the end of a rest, or of a
        warm-up, where that has room for one; none is put
        where the band is on its way or eats. Where nobody may play, the tune that is missing is
        noted.
    """
    entries = plan.schedule.entries
    added: dict[int, datetime] = {}
    silenced: list[Entry] = []
    reference: list[Any] | None = None
    tuned_celsius: float | None = None
    first = _first_untuned(plan.schedule)
    for number, entry in enumerate(entries):
        rest = _room_before(entries, number)
        if entry.activity == "tune" or entry == first:
            tuned_celsius, reference = _celsius(plan, entry), None
        if entry not in plan.schedule.performances or tuned_celsius is None:
            continue
        means = _means(plan, entry)
        at_first = entry == first and rest >= CHECK_MINUTES
        carried = abs(_celsius(plan, entry) - tuned_celsius) > AIR_CHANGED_CELSIUS
        differs = reference is not None and any(
            abs(now - then) > DIFFERS_CENTS for now, then in zip(means, reference, strict=True)
        )
        long = _rested_before(entries, number) >= REST_MINUTES
        again = rest >= CHECK_MINUTES and (carried or (differs and long))
        silent = bool(number) and entries[number - 1].occupied == SILENT
        if silent and (at_first or again):
            silenced.append(entry)
        elif at_first or again:
            added[number] = entry.start - timedelta(minutes=CHECK_MINUTES)
        if again and not silent:
            tuned_celsius, reference = _celsius(plan, entry), means
        elif reference is None:
            reference = means
    notices = (*plan.schedule.notices, *(_missing(entry) for entry in silenced))
    return replace(plan.schedule, entries=tuple(_inserted(entries, added)), notices=notices)


def _first_untuned(schedule: Schedule) -> Entry | None:
    """Return the first playing that slides are set for, where no tune of a schedule is before."""
    first = schedule.first_playing
    tunes = (entry for entry in schedule.entries if entry.activity == "tune" and not entry.added)
    return None if first and any(tune.start < first.start for tune in tunes) else first


def _missing(entry: Entry) -> Finding:
    """Return that some playing has no tune because nobody may play before it."""
    start = entry.start - timedelta(minutes=CHECK_MINUTES)
    times = {"tune_at": start.isoformat(), "time": entry.start.isoformat()}
    return Finding("tune_needs_permission", {**times, "playing": entry.remark})


def _inserted(entries: Sequence[Entry], added: dict[int, datetime]) -> Iterator[Entry]:
    for number, entry in enumerate(entries):
        start = added.get(number + 1)
        if start is None:
            yield entry
            continue
        if start > entry.start:
            yield replace(entry, end=start)
        yield replace(entry, start=start, activity="tune", share=None, added=True, warm_up=False)


def _room_before(entries: Sequence[Entry], number: int) -> float:
    """Return the minutes just before an entry in which the band could tune.

    That is a rest in which it is not on its way, or a warm-up; whether it may is another question.
    """
    before = entries[number - 1] if number else None
    if (
        before is None
        or before.occupied not in ("", SILENT)
        or not (before.activity in _RESTS or before.warm_up)
    ):
        return 0.0
    return _minutes(before)


def _rested_before(entries: Sequence[Entry], number: int) -> float:
    """Return the minutes just before an entry in which nothing was played but in the stands."""
    minutes = 0.0
    for entry in reversed(entries[:number]):
        if entry.activity not in _RESTS and not entry.warm_up:
            break
        minutes += _minutes(entry)
    return minutes


def _means(plan: Plan, entry: Entry) -> list[float]:
    inside = _inside(plan, entry)
    return [
        float(plan.courses[section.name].cents[inside].mean())
        for section in plan.sections
        if section.movable
    ]


def _celsius(plan: Plan, entry: Entry) -> float:
    return float(plan.celsius[_inside(plan, entry)].mean())


def _inside(plan: Plan, entry: Entry) -> Any:
    number = plan.schedule.entries.index(entry)
    return plan.schedule.entry_at(plan.times) == number


def _minutes(entry: Entry) -> float:
    return (entry.end - entry.start) / timedelta(minutes=1)


def _whole(minutes: float) -> float:
    return float(round(minutes))


def play_until(plan: Plan, block: Block) -> datetime | None:
    """Return until when to play before the tuner is read, None where at once is as good.

    Targets are those of three quarters through a tune. Where an instrument is more than 5 cents
    from there as the tune begins, a slide that is set at once is set wrong. A check that the plan
    added has warm air before it, and is too short to wait in.

    Parameters
    ----------
    plan : Plan
        The plan.
    block : Block
        The tune.
    """
    if any(entry.added and entry.start == block.tune_at for entry in plan.schedule.entries):
        return None
    ends = [plan.times.searchsorted(time) for time in (block.tune_at, block.read_at)]
    tuned = [
        setting.section.name
        for setting in plan.settings
        if setting.block == block and setting.show_cents and not setting.waits
    ]
    changes = [float(np.ptp(plan.courses[name].cents[ends])) for name in tuned]
    return block.read_at if max(changes, default=0.0) > RIGHT_CENTS else None


@dataclass(frozen=True)
class Watch:
    """A section that is not right when some playing begins, with the plan carried out.

    Attributes
    ----------
    section : str
        Its name.
    start : datetime
        When that playing begins.
    cents : float
        Where the section is then, positive when sharp [cents].
    right_at : datetime or None
        When it has come within 5 cents; None where it does not while that playing lasts.
    """

    section: str
    start: datetime
    cents: float
    right_at: datetime | None

    def to_json(self) -> dict[str, Any]:
        """Return it as a JSON object."""
        right = self.right_at.isoformat() if self.right_at else None
        return {**vars(self), "start": self.start.isoformat(), "right_at": right}


def watch(plan: Plan) -> tuple[Watch, ...]:
    """Return the sections that begin some playing more than 8 cents off, in order of time.

    Nothing is said of playing before the first tune.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    found = []
    index = plan.schedule.entry_at(plan.times)
    first = plan.settings[0].block.tune_at
    for number, entry in enumerate(plan.schedule.entries):
        inside = np.flatnonzero(index == number)
        if entry not in plan.schedule.performances or not len(inside) or entry.start < first:
            continue
        for section in plan.sections:
            if section.instrument.fixed_pitch is not None:
                continue
            sides = np.array(list(plan.planned_cents[section.name].values()))[:, inside]
            worst = sides[np.argmax(np.abs(sides[:, 0]))]
            if abs(worst[0]) > WATCH_CENTS:
                right = np.flatnonzero(np.abs(worst) <= RIGHT_CENTS)
                when = plan.times[inside[right[0]]].to_pydatetime() if len(right) else None
                found.append(Watch(section.name, entry.start, float(worst[0]), when))
    return tuple(found)
