"""What looks wrong in a logbook: damage, interruptions, values that can hardly be true."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, tzinfo
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from drift.errors import InputError, InstrumentError
from drift.findings import Finding
from drift.instruments import Catalogue, find
from drift.instruments.anatomy import Instrument
from drift.logbook.book import Logbook
from drift.logbook.records import FAR_OUT_MM, TYPED
from drift.logbook.rehearsals import Rehearsals, of_logbook
from drift.notes import midi_of
from drift.pairing.nearest import GAP_MINUTES
from drift.pairing.other_names import under_other_names
from drift.pairing.slide_log import reference_shift
from drift.pairing.thermometers import temperatures_at
from drift.tables.understood import MOST_FAR
from drift.times import EVENINGS_APART, shown_time

__all__ = ["Examination", "close_interrupted", "examine", "suspicious"]

JUMP_CELSIUS_PER_MINUTE = 5.0
"""Air in a room does not change faster than this; a probe carried outdoors may."""

MOST_JUMPS = 5
"""So many jumps of one thermometer are shown one by one; a bad cable makes hundreds."""

FIRST_SECONDS = 30.0
"""Readings that all lie so soon after the playing began say nothing about the warm-up."""

STUCK_MINUTES = 60.0
"""A working thermometer's last digit moves within an hour."""


@dataclass(frozen=True)
class Examination:
    """What was found in a logbook.

    Attributes
    ----------
    book : Path
        The file.
    rehearsals, entries : int
        How many it holds.
    findings : tuple of Finding
        What to look at; empty where nothing is suspicious. Kinds are ``damage``, ``interrupted``,
        ``jump``, ``stuck``, ``offline``, ``refused``, ``lost``, ``step``, ``no temperature``,
        ``other rehearsal``, ``all at once``, ``several evenings``, ``beyond travel``, ``far out``,
        ``unknown instrument``, ``beyond compass``, ``side not stated``.
    logged : Rehearsals or None
        What it holds; None where it is damaged.
    """

    book: Path
    rehearsals: int
    entries: int
    findings: tuple[Finding, ...]
    logged: Rehearsals | None = field(default=None, repr=False)

    @property
    def intact(self) -> bool:
        """Whether the file itself is undamaged."""
        return all(finding.kind != "damage" for finding in self.findings)

    def summary(self, others: Sequence[tuple[str, str]] = (), zone: tzinfo | None = UTC) -> str:
        """Return the findings, a line each, or that there are none; others are (kind, text)."""
        from drift.words.examination import summary_of

        return summary_of(self, others, zone)

    def to_json(
        self, others: Sequence[tuple[str, str]] = (), zone: tzinfo | None = UTC
    ) -> dict[str, Any]:
        """Return the findings as one JSON object; others are (kind, text)."""
        from drift.words.examination import finding_text

        found = [one.to_json(finding_text(one, zone)) for one in self.findings]
        return {
            "rehearsals": self.rehearsals,
            "entries": self.entries,
            "intact": self.intact,
            "findings": [*found, *({"kind": kind, "text": text} for kind, text in others)],
        }


def examine(
    book: Logbook,
    *,
    travel: dict[str, float] | None = None,
    catalogue: Catalogue | None = None,
    writer: str | None = None,
) -> Examination:
    """Look through a logbook.

    Parameters
    ----------
    book : Logbook
        The open book.
    travel : dict of str to float, optional
        Usable travel of slides [mm] by name, where it is known.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.
    writer : str, optional
        Who has the book open here; only others are said to write it.
    """
    findings = [Finding("damage", {"found": line}) for line in book.damage()]
    logged = None
    if not findings:
        writing = book.being_written_by()
        writing = None if writing == writer else writing
        findings += [
            Finding("interrupted", {"rehearsal": name, "writing": writing})
            for name in book.interrupted()
        ]
        logged = of_logbook(book)
        findings += suspicious(logged, travel=travel, catalogue=catalogue)
    return Examination(book.path, len(book.rehearsals()), book.last_entry, tuple(findings), logged)


def close_interrupted(book: Logbook, rehearsal: str) -> None:
    """End a rehearsal that was interrupted, at the time of the last thing saved in it.

    Raises
    ------
    InputError
        When no rehearsal of that name was interrupted.
    """
    interrupted = book.interrupted()
    last = book.last_time(rehearsal)
    if rehearsal not in interrupted or last is None:
        known = ", ".join(interrupted) or "none"
        raise InputError(
            f"no rehearsal {rehearsal!r} was interrupted", f"those interrupted: {known}"
        )
    book.end(rehearsal, last)


def suspicious(
    season: Rehearsals,
    *,
    travel: dict[str, float] | None = None,
    catalogue: Catalogue | None = None,
) -> list[Finding]:
    """Return the values of rehearsals that can hardly be true."""
    instruments = _instruments(season.readings, catalogue)
    return [
        *_thermometers(season.temperatures),
        *_notices(season.notices),
        *_without_temperature(season),
        *_all_at_once(season),
        *_several_evenings(season),
        *_beyond_travel(season.events, travel or {}),
        *_far_out(season.events, travel or {}),
        *_unknown(season.readings, catalogue),
        *_beyond_compass(season.readings, instruments),
        *_side_not_stated(season, instruments, catalogue),
    ]


def _thermometers(temperatures: pd.DataFrame) -> Iterator[Finding]:
    for (rehearsal, source), part in temperatures.groupby(["rehearsal", "source"], sort=False):
        if source == TYPED or len(part) < 2:
            continue
        where = {"rehearsal": rehearsal, "source": source}
        minutes = part["time"].to_numpy(dtype="datetime64[us]").astype(np.int64) / 60e6
        celsius = part["celsius"].to_numpy()
        gaps, steps = np.diff(minutes), np.diff(celsius)
        fast = np.abs(steps) > JUMP_CELSIUS_PER_MINUTE * np.maximum(gaps, 1.0)
        jumps = np.flatnonzero(fast)
        for place in jumps[:MOST_JUMPS]:
            jump = {
                "from_celsius": float(celsius[place]),
                "to_celsius": float(celsius[place + 1]),
                "time": shown_time(part["time"].iloc[place + 1].to_pydatetime()),
            }
            yield Finding("jump", {**where, **jump})
        if len(jumps) > MOST_JUMPS:
            yield Finding("jump", {**where, "more": len(jumps) - MOST_JUMPS})
        yield from _stuck(where, minutes, celsius, part["time"])


def _stuck(
    where: dict[str, Any], minutes: Any, celsius: Any, times: pd.Series[Any]
) -> Iterator[Finding]:
    # Neither a change of the value nor a gap in the samples lies within a run.
    ends_run = (np.diff(celsius) != 0.0) | (np.diff(minutes) > GAP_MINUTES)
    starts = np.concatenate([[0], np.flatnonzero(ends_run) + 1])
    ends = np.concatenate([starts[1:], [len(celsius)]]) - 1
    for start, end in zip(starts, ends, strict=True):
        if minutes[end] - minutes[start] >= STUCK_MINUTES:
            still = {
                "celsius": float(celsius[start]),
                "minutes": float(minutes[end] - minutes[start]),
                "time": shown_time(times.iloc[start].to_pydatetime()),
            }
            yield Finding("stuck", {**where, **still})


def _notices(notices: pd.DataFrame) -> Iterator[Finding]:
    """Yield what the thermometers and the clock said: a line for each absence, not each line."""
    for (rehearsal, source), part in notices.groupby(["rehearsal", "source"], sort=False):
        where = {"rehearsal": rehearsal, "source": source}
        yield from _absences(where, part[part["kind"].isin(["away", "back"])])
        refused = part[part["kind"].isin(["refused", "garbage"])]
        if len(refused):
            lines = {"count": len(refused), "example": refused["text"].iloc[0]}
            yield Finding("refused", {**where, **lines})
        for row in part[part["kind"].isin(["step", "lost"])].itertuples():
            yield Finding(str(row.kind), {"rehearsal": rehearsal, "notice": row.text})


def _absences(where: dict[str, Any], part: pd.DataFrame) -> Iterator[Finding]:
    left: Any = None
    for row in part.sort_values("time", kind="stable").itertuples():
        if row.kind == "away":
            left = left or row
        elif left is not None:
            minutes = (row.time - left.time).total_seconds() / 60.0
            yield Finding("offline", {**where, "minutes": minutes, **_when(left)})
            left = None
    if left is not None:
        yield Finding("offline", {**where, "minutes": None, **_when(left)})


def _when(notice: Any) -> dict[str, str]:
    return {"time": shown_time(notice.time.to_pydatetime()), "notice": notice.text}


def _without_temperature(season: Rehearsals) -> Iterator[Finding]:
    missing = season.readings[np.isnan(temperatures_at(season, season.readings))]
    missing = missing.assign(other=under_other_names(season, missing))
    for (rehearsal, other), part in missing.groupby(["rehearsal", "other"], sort=False):
        lacking = {"rehearsal": rehearsal, "minutes": GAP_MINUTES, **_of(part)}
        if other:
            yield Finding("other rehearsal", lacking | {"other": other})
        else:
            yield Finding("no temperature", lacking)


def _all_at_once(season: Rehearsals) -> Iterator[Finding]:
    """Yield the rehearsals whose readings, two or more, were all taken as the playing began.

    Who came already warm has no warm-up to show.
    """
    playing = season.events[season.events["event"] == "play"]
    warm = set(playing.loc[playing["already_warm"].astype(bool), "rehearsal"])
    for rehearsal, part in season.readings.groupby("rehearsal", sort=False):
        if rehearsal in warm:
            continue
        times = [*playing.loc[playing["rehearsal"] == rehearsal, "time"], *part["time"]]
        seconds = (part["time"].max() - min(times)).total_seconds()
        if len(part) > 1 and seconds <= FIRST_SECONDS:
            early = {"rehearsal": rehearsal, "count": len(part), "seconds": FIRST_SECONDS}
            yield Finding("all at once", early)


def _several_evenings(season: Rehearsals) -> Iterator[Finding]:
    """Yield the rehearsals that go on over a night: their playing counts from the first evening."""
    for rehearsal, part in season.readings.groupby("rehearsal", sort=False):
        times = part["time"].sort_values()
        apart = times.diff() > EVENINGS_APART
        if apart.any():
            first, last = (shown_time(times.iloc[at].to_pydatetime()) for at in (0, -1))
            evenings = {"count": int(apart.sum()) + 1, "first": first, "last": last}
            yield Finding("several evenings", {"rehearsal": rehearsal, **evenings})


def _beyond_travel(events: pd.DataFrame, travel: dict[str, float]) -> Iterator[Finding]:
    moved = events[events["event"] == "slide"]
    for slide, reach in travel.items():
        for rehearsal, position in moved.loc[
            (moved["slide"] == slide) & (moved["position_mm"] > reach), ["rehearsal", "position_mm"]
        ].itertuples(index=False):
            far = {"slide": slide, "position_mm": position, "travel_mm": reach}
            yield Finding("beyond travel", {"rehearsal": rehearsal, **far})


def _far_out(events: pd.DataFrame, travel: dict[str, float]) -> Iterator[Finding]:
    """Yield the slides farther out than slides go, where no travel of theirs is given."""
    far = events[(events["position_mm"] > FAR_OUT_MM) & ~events["slide"].isin(list(travel))]
    for row in far.head(MOST_FAR).to_dict("records"):
        what = {name: row[name] for name in ("rehearsal", "player", "slide", "position_mm")}
        yield Finding("far out", {**what, "time": shown_time(row["time"].to_pydatetime())})
    if len(far) > MOST_FAR:
        yield Finding("far out", {"more": len(far) - MOST_FAR})


def _unknown(readings: pd.DataFrame, catalogue: Catalogue | None) -> Iterator[Finding]:
    for name in readings["instrument"].unique():
        try:
            find(name, catalogue)
        except InstrumentError as error:
            yield Finding("unknown instrument", {"problem": error.problem})


def _instruments(readings: pd.DataFrame, catalogue: Catalogue | None) -> dict[str, Instrument]:
    """Return the instruments of the readings that are known, by the names they were saved under."""
    known = {}
    for name in readings["instrument"].unique():
        with suppress(InstrumentError):
            known[str(name)] = find(name, catalogue)
    return known


def _beyond_compass(
    readings: pd.DataFrame, instruments: Mapping[str, Instrument]
) -> Iterator[Finding]:
    """Yield the notes that no such instrument sounds."""
    beyond = []
    for name, note in readings[["instrument", "note"]].drop_duplicates().itertuples(index=False):
        compass = instruments[name].compass if name in instruments else (note, note)
        if not midi_of(compass[0]) <= midi_of(note) <= midi_of(compass[1]):
            beyond.append((name, note, compass))
    found = 0
    for name, note, (low, high) in beyond:
        here = readings[(readings["instrument"] == name) & (readings["note"] == note)]
        what = {"instrument": name, "note": note, "low": low, "high": high}
        for (rehearsal, player), part in here.groupby(["rehearsal", "player"], sort=False):
            found += 1
            if found <= MOST_FAR:
                who = {"rehearsal": rehearsal, "player": player}
                yield Finding("beyond compass", {**who, **what, **_of(part)})
    if found > MOST_FAR:
        yield Finding("beyond compass", {"more": found - MOST_FAR})


def _side_not_stated(
    season: Rehearsals, instruments: Mapping[str, Instrument], catalogue: Catalogue | None
) -> Iterator[Finding]:
    """Yield the readings that no answer uses: their side is not known, and slides were moved."""
    several = [name for name, one in instruments.items() if len(one.sides) > 1]
    readings = season.readings
    silent = readings[(readings["side"] == "") & readings["instrument"].isin(several)]
    _, unknown = reference_shift(season, silent, catalogue)
    for (rehearsal, player), part in silent[unknown].groupby(["rehearsal", "player"], sort=False):
        yield Finding("side not stated", {"rehearsal": rehearsal, "player": player, **_of(part)})


def _of(readings: pd.DataFrame) -> dict[str, Any]:
    """Return how many readings, and when the first and the last of them was taken."""
    ends = (readings["time"].min(), readings["time"].max())
    first, last = (shown_time(time.to_pydatetime()) for time in ends)
    return {"count": len(readings), "first": first, "last": last}
