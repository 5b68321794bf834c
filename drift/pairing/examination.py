"""What looks wrong in a logbook: damage, interruptions, values that can hardly be true."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from drift.errors import InputError, InstrumentError
from drift.instruments import Catalogue, find
from drift.logbook.book import Logbook
from drift.logbook.records import TYPED
from drift.logbook.rehearsals import Rehearsals, of_logbook
from drift.pairing.thermometers import GAP_MINUTES, temperatures_at
from drift.times import shown_time

__all__ = ["Examination", "Finding", "close_interrupted", "examine", "suspicious"]

JUMP_CELSIUS_PER_MINUTE = 5.0
"""Air in a room does not change faster than this; a probe carried outdoors may."""

MOST_JUMPS = 5
"""So many jumps of one thermometer are shown one by one; a bad cable makes hundreds."""

FIRST_SECONDS = 30.0
"""Readings that all lie so soon after the playing began say nothing about the warm-up."""

STUCK_MINUTES = 60.0
"""A working thermometer's last digit moves within an hour."""


@dataclass(frozen=True)
class Finding:
    """One thing to look at.

    Attributes
    ----------
    kind : str
        ``damage``, ``interrupted``, ``jump``, ``stuck``, ``away``, ``refused``, ``lost``,
        ``step``, ``no temperature``, ``all at once``, ``beyond travel``, ``unknown instrument``.
    text : str
        One line for a person.
    """

    kind: str
    text: str


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
        What to look at; empty where nothing is suspicious.
    """

    book: Path
    rehearsals: int
    entries: int
    findings: tuple[Finding, ...]

    @property
    def intact(self) -> bool:
        """Whether the file itself is undamaged."""
        return all(finding.kind != "damage" for finding in self.findings)

    def summary(self) -> str:
        """Return the findings, a line each, or that there are none."""
        rehearsals = f"{self.rehearsals} rehearsal" + ("" if self.rehearsals == 1 else "s")
        entries = f"{self.entries} entr" + ("y" if self.entries == 1 else "ies")
        head = f"{self.book}: {rehearsals}, {entries}"
        if not self.findings:
            return f"{head}\nfile intact; no suspicious values"
        state = "file intact" if self.intact else "file damaged"
        lines = [f"{finding.kind}: {finding.text}" for finding in self.findings]
        return "\n".join([head, f"{state}; to look at: {len(lines)}", *lines])

    def to_json(self) -> dict[str, Any]:
        """Return the findings as one JSON object."""
        return {
            "rehearsals": self.rehearsals,
            "entries": self.entries,
            "intact": self.intact,
            "findings": [vars(finding) for finding in self.findings],
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
    findings = [Finding("damage", line) for line in book.damage()]
    if not findings:
        writing = book.being_written_by()
        writing = None if writing == writer else writing
        findings += [
            Finding("interrupted", f"{name} has no end" + (f"; {writing} writes now" if writing
                    else "; drift log goes on with it"))
            for name in book.interrupted()
        ]  # fmt: skip
        findings += suspicious(of_logbook(book), travel=travel, catalogue=catalogue)
    return Examination(book.path, len(book.rehearsals()), book.last_entry, tuple(findings))


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
    return [
        *_thermometers(season.temperatures),
        *_notices(season.notices),
        *_without_temperature(season),
        *_all_at_once(season),
        *_beyond_travel(season.events, travel or {}),
        *_unknown(season.readings, catalogue),
    ]


def _thermometers(temperatures: pd.DataFrame) -> Iterator[Finding]:
    for (rehearsal, source), part in temperatures.groupby(["rehearsal", "source"], sort=False):
        if source == TYPED or len(part) < 2:
            continue
        minutes = part["time"].to_numpy(dtype="datetime64[us]").astype(np.int64) / 60e6
        celsius = part["celsius"].to_numpy()
        name = f"{rehearsal}, {source or 'thermometer'}"
        gaps, steps = np.diff(minutes), np.diff(celsius)
        fast = np.abs(steps) > JUMP_CELSIUS_PER_MINUTE * np.maximum(gaps, 1.0)
        jumps = np.flatnonzero(fast)
        for place in jumps[:MOST_JUMPS]:
            when = shown_time(part["time"].iloc[place + 1].to_pydatetime())
            yield Finding(
                "jump", f"{name}: {celsius[place]:.1f} to {celsius[place + 1]:.1f} °C at {when}"
            )
        if len(jumps) > MOST_JUMPS:
            yield Finding("jump", f"{name}: and {len(jumps) - MOST_JUMPS} more")
        yield from _stuck(name, minutes, celsius, part["time"])


def _stuck(name: str, minutes: Any, celsius: Any, times: pd.Series[Any]) -> Iterator[Finding]:
    # Neither a change of the value nor a gap in the samples lies within a run.
    ends_run = (np.diff(celsius) != 0.0) | (np.diff(minutes) > GAP_MINUTES)
    starts = np.concatenate([[0], np.flatnonzero(ends_run) + 1])
    ends = np.concatenate([starts[1:], [len(celsius)]]) - 1
    for start, end in zip(starts, ends, strict=True):
        if minutes[end] - minutes[start] >= STUCK_MINUTES:
            yield Finding(
                "stuck",
                f"{name}: {celsius[start]:.2f} °C without a change for "
                f"{minutes[end] - minutes[start]:.0f} minutes from "
                f"{shown_time(times.iloc[start].to_pydatetime())}",
            )


def _notices(notices: pd.DataFrame) -> Iterator[Finding]:
    """Yield what the thermometers and the clock said: a line for each absence, not each line."""
    for (rehearsal, source), part in notices.groupby(["rehearsal", "source"], sort=False):
        name = f"{rehearsal}, {source or 'thermometer'}"
        yield from _absences(name, part[part["kind"].isin(["away", "back"])])
        refused = part[part["kind"].isin(["refused", "garbage"])]
        if len(refused):
            text = f"{len(refused)} notices of lines that are no temperature"
            yield Finding("refused", f"{name}: {text}, such as: {refused['text'].iloc[0]}")
        for row in part[part["kind"].isin(["step", "lost"])].itertuples():
            yield Finding(str(row.kind), f"{rehearsal}: {row.text}")


def _absences(name: str, part: pd.DataFrame) -> Iterator[Finding]:
    left: Any = None
    for row in part.sort_values("time", kind="stable").itertuples():
        if row.kind == "away":
            left = left or row
        elif left is not None:
            minutes = (row.time - left.time).total_seconds() / 60.0
            yield Finding("away", f"{name}: for {minutes:.1f} minutes from {_when(left)}")
            left = None
    if left is not None:
        yield Finding("away", f"{name}: from {_when(left)}, and did not come back")


def _when(notice: Any) -> str:
    return f"{shown_time(notice.time.to_pydatetime())} ({notice.text})"


def _without_temperature(season: Rehearsals) -> Iterator[Finding]:
    missing = season.readings[np.isnan(temperatures_at(season, season.readings))]
    for rehearsal, part in missing.groupby("rehearsal", sort=False):
        yield Finding(
            "no temperature",
            f"{rehearsal}: {len(part)} readings with no temperature within {GAP_MINUTES:g} minutes",
        )


def _all_at_once(season: Rehearsals) -> Iterator[Finding]:
    """Yield the rehearsals whose readings, two or more, were all taken as the playing began."""
    playing = season.events[season.events["event"] == "play"]
    for rehearsal, part in season.readings.groupby("rehearsal", sort=False):
        times = [*playing.loc[playing["rehearsal"] == rehearsal, "time"], *part["time"]]
        seconds = (part["time"].max() - min(times)).total_seconds()
        if len(part) > 1 and seconds <= FIRST_SECONDS:
            text = f"all {len(part)} readings lie within the first {FIRST_SECONDS:g} s of playing"
            yield Finding("all at once", f"{rehearsal}: {text}, which show no warm-up")


def _beyond_travel(events: pd.DataFrame, travel: dict[str, float]) -> Iterator[Finding]:
    moved = events[events["event"] == "slide"]
    for slide, reach in travel.items():
        for rehearsal, position in moved.loc[
            (moved["slide"] == slide) & (moved["position_mm"] > reach), ["rehearsal", "position_mm"]
        ].itertuples(index=False):
            text = f"{rehearsal}: {slide} at {position:g} mm, its travel is {reach:g} mm"
            yield Finding("beyond travel", text)


def _unknown(readings: pd.DataFrame, catalogue: Catalogue | None) -> Iterator[Finding]:
    for name in readings["instrument"].unique():
        try:
            find(name, catalogue)
        except InstrumentError as error:
            yield Finding("unknown instrument", error.problem)
