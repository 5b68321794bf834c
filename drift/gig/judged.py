"""Each reading of an evening beside what was planned for it, or why nothing was."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any, NamedTuple

import pandas as pd

from drift.errors import InputError
from drift.gig.plan import Plan
from drift.gig.reach import NEAR_CENTS
from drift.gig.roster import Section

__all__ = ["NotJudged", "judged", "line_of"]


@dataclass(frozen=True)
class NotJudged:
    """Readings that nothing was planned for.

    Attributes
    ----------
    kind : str
        ``stands, rest, warm`` (what the band did), ``before_tune`` (played before any),
        ``no_target`` (a tune at which the section has none), ``not_on_roster``, ``flagged``,
        and on paper ``not_planned`` (drums), ``outside`` (before or after the schedule).
    readings : int
        How many.
    lowest_cents, highest_cents : float
        Between which they lie, from the A4 of the plan [cents].
    written : tuple of str
        Line and time of each that is outside, as they are on paper.
    """

    kind: str
    readings: int
    lowest_cents: float
    highest_cents: float
    written: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Return them as one JSON object; ``written`` where any are outside."""
        found = asdict(self)
        written = list(found.pop("written"))
        return {**found, "written": written} if written else found


class _Planned(NamedTuple):
    """What was planned for a reading, and the bracket of the sheet at a tune [cents].

    Where a slide at its end falls short, the bracket is around what the sheet says it shows there.
    """

    cents: float
    low: float = math.nan
    high: float = math.nan


def judged(plan: Plan, readings: pd.DataFrame) -> tuple[pd.DataFrame, tuple[NotJudged, ...]]:
    """Return the readings during a schedule beside its plan, and those that are not judged.

    Parameters
    ----------
    plan : Plan
        The plan of the pitch that was played.
    readings : DataFrame
        ``time, player, instrument, side, note, cents, a4_hz, flagged``; with ``written`` they are
        of one evening, and those outside the schedule are counted; ``not_planned`` may be there.

    Returns
    -------
    DataFrame
        ``time, entry, section, player, side, note, activity, cents, planned_cents, low_cents,
        high_cents, error_cents, a4_hz, block``; the bracket is that of a tune, NaN while playing.
    tuple of NotJudged
        The others, by why.

    Raises
    ------
    InputError
        When none of them can be judged; says what the band did when they were taken.
    """
    during = readings["time"].between(plan.times[0], plan.times[-1])
    inside, outside = readings[during], _outside(plan, readings[~during])
    if inside.empty:
        where = "".join(f": {'; '.join(one.written)}" for one in outside)
        raise InputError(
            f"no reading was taken during the schedule{where}",
            "compare with the logbook of that evening, and give the schedule its date",
        )
    found = [(row, _row(plan, row)) for row in inside.to_dict("records")]
    rows = [row for _, row in found if isinstance(row, dict)]
    others = tuple(_counted((why, _cents(plan, row)) for row, why in found if isinstance(why, str)))
    if not rows:
        counts = ", ".join(f"{one.readings} {one.kind.replace('_', ' ')}" for one in others)
        raise InputError(
            f"none of the {len(inside)} readings during the schedule can be judged: {counts}",
            "a plan aims at tuning and playing: read then, or write play where the band was read",
        )
    return pd.DataFrame(rows).sort_values("time", ignore_index=True), (*others, *outside)


def _outside(plan: Plan, readings: pd.DataFrame) -> tuple[NotJudged, ...]:
    """Return the readings outside a schedule that were written down as of its evening."""
    if "written" not in readings or readings.empty:
        return ()
    (found,) = _counted(("outside", _cents(plan, row)) for row in readings.to_dict("records"))
    return (replace(found, written=tuple(readings["written"])),)


def line_of(plan: Plan, section: str, side: str) -> Any:
    """Return the planned pitch of a side of a section at every instant [cents]."""
    return _of_side(plan.planned_cents[section], side)


def _of_side(by_side: Mapping[str, Any], side: str) -> Any:
    return by_side.get(side, next(iter(by_side.values())))


def _counted(reasons: Iterable[tuple[str, float]]) -> Iterable[NotJudged]:
    cents: dict[str, list[float]] = {}
    for kind, read in reasons:
        cents.setdefault(kind, []).append(read)
    for kind, those in cents.items():
        yield NotJudged(kind, len(those), min(those), max(those))


def _cents(plan: Plan, row: Mapping[Any, Any]) -> float:
    return float(row["cents"] + 1200.0 * math.log2(row["a4_hz"] / plan.aim_a4_hz))


def _row(plan: Plan, row: Mapping[Any, Any]) -> dict[str, Any] | str:
    """Return a reading beside what was planned for it, or why nothing was."""
    if row["flagged"]:
        return "flagged"
    if row.get("not_planned"):
        return "not_planned"
    section = _section(plan, row)
    if section is None:
        return "not_on_roster"
    place = int(plan.times.searchsorted(row["time"], side="right")) - 1
    entry = int(plan.schedule.entry_at(plan.times)[place])
    activity = plan.schedule.entries[entry].activity
    planned = _planned(plan, section, str(row["side"]), row["time"], activity, place)
    if isinstance(planned, str):
        return planned
    cents = _cents(plan, row)
    return {
        "time": row["time"], "entry": entry, "section": section.name, "player": row["player"],
        "side": row["side"], "note": row["note"], "activity": activity, "cents": cents,
        "planned_cents": planned.cents, "low_cents": planned.low, "high_cents": planned.high,
        "error_cents": cents - planned.cents, "a4_hz": row["a4_hz"],
        "block": sum(pd.Timestamp(b.tune_at) <= row["time"] for b, _ in plan.blocks()),
    }  # fmt: skip


def _section(plan: Plan, row: Mapping[Any, Any]) -> Section | None:
    """Return the section of a reading: the one that it names, or that its player is in."""
    player, instrument = str(row["player"]), str(row["instrument"])
    if row.get("section"):
        return next((one for one in plan.sections if one.name == row["section"]), None)
    those = [section for section in plan.sections if section.instrument.name == instrument]
    named = [section for section in those if player in section.names]
    anybody = [section for section in those if not section.names]
    return next(iter([*named, *anybody]), None)


def _planned(
    plan: Plan, section: Section, side: str, time: pd.Timestamp, activity: str, place: int
) -> _Planned | str:
    """Return what was planned for an instant, or why nothing is to sound."""
    if activity == "tune":
        for setting in plan.settings:
            tuning = setting.block.tune_at <= time < setting.block.ready
            if setting.section.name == section.name and tuning and setting.show_cents:
                if setting.waits:
                    return _Planned(float(line_of(plan, section.name, side)[place]))
                show = setting.show_cents
                # A slide at its end leaves this, as the card says.
                left = _of_side(setting.remaining_cents, side)
                moved = left if setting.at_end and abs(left) >= NEAR_CENTS else 0.0
                return _Planned(show.estimate + left, show.low + moved, show.high + moved)
        return "no_target"
    if activity != "play":
        return activity
    if time < pd.Timestamp(plan.settings[0].block.tune_at):
        return "before_tune"
    return _Planned(float(line_of(plan, section.name, side)[place]))
