"""A tuning that was broken off, followed again from what was logged of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from drift.logbook.book import Logbook
from drift.logbook.records import Event, Reading
from drift.notes import cents_between
from drift.slides.pooled_tunings import LONGEST_MINUTES
from drift.slides.tuning_marks import Marks, marked, tunings_of
from drift.slides.tuning_sitting import Taken, TuningStep
from drift.tonight.tuning import heard, played_in_all, set_to, skip, slides_at
from drift.tonight.tuning_steps import Step, Tuning

__all__ = ["Broken", "Resumed", "broken_off", "followed", "moved", "outdated_playing"]

MOST_SKIPPED = 12
READ = (Step.PLAY, Step.PLAY_AGAIN, Step.CHECK)
Row = Mapping[str, Any]


@dataclass(frozen=True)
class Broken:
    """What is logged of a tuning that was broken off.

    Attributes
    ----------
    marks : Marks
        Its own.
    rows : tuple of mapping
        Its playing, readings and slides, in the order they were logged.
    """

    marks: Marks
    rows: tuple[Row, ...]

    @property
    def plays(self) -> list[Row]:
        """What it logged of playing."""
        return [row for row in self.rows if row.get("event") == "play"]

    @property
    def first_note(self) -> datetime | None:
        """When its first note was read."""
        return next((row["time"] for row in self.rows if "cents" in row), None)


@dataclass(frozen=True)
class Resumed:
    """A tuning where it stopped.

    Attributes
    ----------
    tuning : Tuning
        The tuning.
    steps : tuple of TuningStep
        What was answered.
    readings, moves : int
        How many are kept.
    minutes : float or None
        For how long the player has played, where that is kept and no note [min].
    """

    tuning: Tuning
    steps: tuple[TuningStep, ...]
    readings: int
    moves: int
    minutes: float | None = None


def broken_off(
    book: Logbook, rehearsal: str, player: str, instrument: str, time: datetime
) -> Broken | None:
    """Return what is logged of a tuning that has no end yet, None where there is none.

    Parameters
    ----------
    book : Logbook
        The logbook.
    rehearsal, player, instrument : str
        Who tunes what where.
    time : datetime
        Now; what began more than three quarters of an hour ago is not gone on with.
    """
    found = marked(book, rehearsal, player, instrument)
    if found is None or time - found[0].began > timedelta(minutes=LONGEST_MINUTES):
        return None
    marks, entries = found
    events = [row for row in book.rows("events", rehearsal=rehearsal)
              if row["player"] == player and row["instrument"] in ("", instrument)]  # fmt: skip
    if any(row["event"] == "tuned" and row["time"] >= marks.began for row in events):
        return None
    readings = book.rows("readings", rehearsal=rehearsal)
    # A slide that was moved since, in the log or on the slides page, stands where it was moved to.
    set_since = (row for row in events if row["slide"] and row["time"] >= marks.began)
    own = {row["entry_id"]: row for row in set_since}
    own |= {row["entry_id"]: row for row in [*events, *readings] if row["entry_id"] in entries}
    rows = tuple(own[entry] for entry in sorted(own))
    return Broken(marks, rows) if rows else None


def outdated_playing(book: Logbook, rehearsal: str, player: str, time: datetime) -> list[Row]:
    """Return what earlier tunings logged of playing though no note of the player was read since.

    Whether the player has played or rested since then, nobody has said.

    Parameters
    ----------
    book, rehearsal, player, time
        As in `broken_off`; what began within the last three quarters of an hour is not outdated.
    """
    oldest = time - timedelta(minutes=LONGEST_MINUTES)
    kept = tunings_of(book, rehearsal, player)
    read = [row["time"] for row in book.rows("readings", rehearsal=rehearsal)
            if row["player"] == player]  # fmt: skip
    return [
        row
        for row in book.rows("events", rehearsal=rehearsal)
        if row["event"] == "play"
        and kept.get(row["entry_id"], time) < oldest
        and not any(row["time"] <= moment for moment in read)
    ]


def followed(
    tuning: Tuning,
    broken: Broken,
    time: datetime,
    *,
    minutes: Mapping[int, float] | None = None,
    a4_hz: float | None = None,
) -> Resumed:
    """Return a tuning after all that was logged of it.

    Parameters
    ----------
    tuning : Tuning
        As it began.
    broken : Broken
        What was logged of it.
    time : datetime
        Now.
    minutes : mapping of int to float, optional
        For how long the player had played by what was said [min], by the number of its entry.
    a4_hz : float, optional
        Pitch of A4 that cents are counted from now [Hz]; by default that of each reading.
    """
    steps: list[TuningStep] = []
    entries: list[int] = []
    readings = moves = 0
    for row in broken.rows:
        entries.append(row["entry_id"])
        said = None if readings else (minutes or {}).get(row["entry_id"])
        after = _answered(tuning, row, said, a4_hz)
        if after is None:
            continue
        before = steps[-1].tuning if steps else None
        taken = Taken((_record(row),), said)
        steps.append(TuningStep(tuning, before, False, tuple(entries), taken))
        tuning, entries = after, []
        moves += "slide" in row and readings > 0
        readings += "cents" in row
    if readings:
        since = (time - broken.rows[-1]["time"]).total_seconds() / 60.0
        tuning = replace(tuning, belief=tuning.belief.passed(max(since, 0.0)))
    said = not readings and any(step.taken.minutes is not None for step in steps)
    played = tuning.belief.minutes if said else None
    return Resumed(tuning, tuple(steps), readings, moves, played)


def _answered(
    tuning: Tuning, row: Row, minutes: float | None, a4_hz: float | None
) -> Tuning | None:
    """Return the tuning after an entry, None where it answers nothing."""
    if "cents" in row:
        return _read(tuning, row, a4_hz)
    if row["slide"]:
        return moved(tuning, *_where(row))
    return None if minutes is None else played_in_all(tuning, minutes)


def moved(tuning: Tuning, slide: str, position_mm: float) -> Tuning:
    """Return the tuning after a slide was set, or after it was said where it is [mm]."""
    if any(state.readings for state in tuning.sides.values()):
        return set_to(tuning, slide, position_mm)
    return slides_at(tuning, {slide: position_mm})


def _read(tuning: Tuning, row: Row, a4_hz: float | None) -> Tuning | None:
    """Return the tuning after a note was read, None where the note is not one of its own."""
    if ("habit", row["side"], row["note"]) not in tuning.belief.places:
        return None
    for _ in range(MOST_SKIPPED):  # what was asked and not done had been skipped
        if tuning.now.step in READ and tuning.now.side == row["side"]:
            break
        if tuning.now.step is Step.SAY_POSITION:
            return None
        tuning = skip(tuning)
    else:
        return None
    now = tuning.now
    if now.note != row["note"]:
        now = replace(now, step=Step.PLAY, note=row["note"])
    cents = row["cents"] + cents_between(row["a4_hz"], a4_hz or row["a4_hz"])
    return heard(replace(tuning, now=now), cents)


def _where(row: Row) -> tuple[str, float]:
    return str(row["slide"]), float(row["position_mm"])


def _record(row: Row) -> Reading | Event:
    kind = Reading if "cents" in row else Event
    return kind(**{name: value for name, value in row.items() if name != "entry_id"})
