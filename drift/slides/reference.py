"""The tuned state that later answers start from: as a tuning logged it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any, NamedTuple

import pandas as pd

from drift.errors import ReachError
from drift.instruments.anatomy import Instrument
from drift.logbook.records import A4
from drift.logbook.rehearsals import Rehearsals
from drift.pairing.playing import playing_at
from drift.pairing.slide_log import (
    calibration_of,
    last_positions,
    reference_positions,
    slide_events,
)
from drift.pairing.thermometers import temperatures_at
from drift.slides.moves import MM_UNSEEN

__all__ = [
    "ASSUMED_A4_HZ",
    "ASSUMED_CELSIUS",
    "ASSUMED_MINUTES",
    "Reference",
    "TunedFrom",
    "WhereTuned",
    "check_conditions",
    "last_tuning",
    "players_slides",
    "where_tuned",
]

ASSUMED_CELSIUS, ASSUMED_MINUTES = 20.0, 30.0
"""Where an instrument was tuned, as long as nothing says it [°C, min]."""
ASSUMED_A4_HZ = 440.0
"""The pitch it was tuned to, as long as nothing says it."""
LONGEST_MINUTES = 7 * 24 * 60.0
"""Longer than anybody plays; a number beyond it was meant otherwise."""


class TunedFrom(StrEnum):
    """What says where an instrument was tuned."""

    GIVEN = "given"  # whoever asks
    TUNING = "tuning"  # the last tuning that was logged
    ASSUMED = "assumed"  # nothing


class WhereTuned(NamedTuple):
    """The conditions that an answer takes an instrument to be tuned in.

    Attributes
    ----------
    origin : TunedFrom
        What says so.
    celsius, minutes : float
        Temperature of the air [°C], and the playing that it counts as after [min].
    warm : bool
        Whether these minutes are not those played but those until it is warm: `drift tune` aims
        at the pitch that the instrument will have then, however long was played before.
    given : frozenset of str
        Which of ``celsius`` and ``minutes`` whoever asks gave.
    """

    origin: TunedFrom
    celsius: float
    minutes: float
    warm: bool
    given: frozenset[str]


@dataclass(frozen=True)
class Reference:
    """A tuned state as it was logged.

    Attributes
    ----------
    rehearsal : str
        In which rehearsal.
    time : datetime
        When the tuning was done.
    celsius : float or None
        Temperature of the air then [°C], where a thermometer or somebody gave one.
    minutes : float
        Minutes played before, as far as they were logged [min].
    warm : bool
        Whether it is in tune when it is warm, however long was played before.
    positions_mm : dict of str to float
        Where its slides were [mm].
    moved_to_mm : dict of str to float
        Where slides are now that were moved since [mm].
    """

    rehearsal: str
    time: datetime
    celsius: float | None
    minutes: float
    warm: bool
    positions_mm: dict[str, float]
    moved_to_mm: dict[str, float]


def last_tuning(rehearsals: Rehearsals, player: str, instrument: Instrument) -> Reference | None:
    """Return the state that a player's last tuning of an instrument reached, None without one.

    Parameters
    ----------
    rehearsals : Rehearsals
        Everything logged so far.
    player : str
        Whose.
    instrument : Instrument
        Which.
    """
    events = rehearsals.events
    done = events[
        (events["event"] == "tuned")
        & (events["player"] == player)
        & (events["instrument"] == instrument.name)
    ].sort_values("time", kind="stable")
    if not len(done):
        return None
    last = done.iloc[-1]
    moves = slide_events(rehearsals, player, instrument)
    tuned, now = (
        dict(zip(found["slide"], found["position_mm"].astype(float), strict=True))
        for found in (
            part.drop_duplicates("slide", keep="last")
            for part in (moves[moves["time"] <= last["time"]], moves)
        )
    )
    return Reference(
        rehearsal=str(last["rehearsal"]),
        time=last["time"].to_pydatetime(),
        celsius=_celsius(rehearsals, last),
        minutes=_minutes_played(rehearsals, player, last),
        warm=last["state"] == "warm",
        positions_mm=tuned,
        moved_to_mm={
            slide: mm for slide, mm in now.items() if abs(mm - tuned.get(slide, mm)) >= MM_UNSEEN
        },
    )


def players_slides(
    rehearsals: Rehearsals,
    player: str,
    instrument: Instrument,
    at: Mapping[str, float] | None = None,
) -> dict[str, Any]:
    """Return what the log says of a player's slides, as `drift.correct` takes it.

    Parameters
    ----------
    rehearsals : Rehearsals
        Everything logged so far.
    player : str
        Whose.
    instrument : Instrument
        Which.
    at : mapping of str to float, optional
        Where they were when tuned [mm]: by default as the last tuning left them, and where there
        is none as they were logged last.
    """
    reference = last_tuning(rehearsals, player, instrument)
    if at is None:
        at = last_positions(rehearsals, player, instrument)
        if reference is not None:
            at = {**at, **reference.positions_mm}
    return {
        "at": at,
        "calibration": calibration_of(rehearsals, player, instrument),
        "player": player,
        "reference": reference,
        "read_from": reference_positions(rehearsals, player, instrument),
        "tuned_a4_hz": _a4_hz(rehearsals, player, instrument, reference),
    }


def _a4_hz(
    rehearsals: Rehearsals, player: str, instrument: Instrument, reference: Reference | None
) -> float:
    """Return the pitch of a player's readings: of the last at the last tuning, else of the last."""
    rows = rehearsals.readings
    rows = rows[(rows["player"] == player) & (rows["instrument"] == instrument.name)]
    if reference is not None:
        rows = rows[rows["time"] <= reference.time]
    if not len(rows):
        return ASSUMED_A4_HZ
    return float(rows.sort_values("time", kind="stable").iloc[-1]["a4_hz"])


def where_tuned(
    celsius: float | None,
    minutes: float | None,
    reference: Reference | None,
    warm_after_minutes: float,
) -> WhereTuned:
    """Return the conditions an instrument was tuned in: each as given, else as it was logged.

    Parameters
    ----------
    celsius, minutes : float or None
        As given, if they are.
    reference : Reference or None
        The last tuning that was logged.
    warm_after_minutes : float
        So much playing makes it warm; a tuning of the warm instrument counts as after at least it.

    Examples
    --------
    >>> [str(value) for value in where_tuned(None, None, None, 18.0)[:3]]
    ['assumed', '20.0', '30.0']
    """
    asked = {"celsius": celsius, "minutes": minutes}
    given = frozenset(name for name, value in asked.items() if value is not None)
    origin = TunedFrom.GIVEN if given else TunedFrom.ASSUMED
    warm = False
    if reference is not None:
        origin = TunedFrom.GIVEN if celsius is not None else TunedFrom.TUNING
        celsius = reference.celsius if celsius is None else celsius
        if minutes is None:
            warm = reference.warm and round(reference.minutes) < warm_after_minutes
            minutes = math.ceil(warm_after_minutes) if warm else round(reference.minutes)
    return WhereTuned(
        origin,
        ASSUMED_CELSIUS if celsius is None else float(celsius),
        ASSUMED_MINUTES if minutes is None else float(minutes),
        warm,
        given,
    )


def check_conditions(celsius: float, minutes: float, a4_hz: float) -> None:
    """Refuse a temperature [°C], minutes of playing or a pitch [Hz] that cannot be."""
    if not math.isfinite(celsius):
        raise ReachError(f"temperature {celsius:g} °C is not a number", "give degrees Celsius")
    if not 0.0 <= minutes <= LONGEST_MINUTES:
        raise ReachError(
            f"{minutes:g} minutes of playing are not possible",
            f"give 0 to {LONGEST_MINUTES:g} minutes (a week)",
        )
    lowest, highest = A4.lowest or 0.0, A4.highest or math.inf
    if not lowest <= a4_hz <= highest:
        raise ReachError(f"A4 = {a4_hz:g} Hz is not possible", f"give {lowest:g} to {highest:g} Hz")


def _celsius(rehearsals: Rehearsals, tuned: pd.Series[Any]) -> float | None:
    when = tuned.to_frame().T[["time", "rehearsal"]].astype({"time": "datetime64[us, UTC]"})
    here = rehearsals.only(rehearsals=[str(tuned["rehearsal"])])
    found = float(temperatures_at(here, when.reset_index(drop=True))[0])
    return None if math.isnan(found) else found


def _minutes_played(rehearsals: Rehearsals, player: str, tuned: pd.Series[Any]) -> float:
    until = tuned["time"]
    events, readings = (
        table[(table["rehearsal"] == tuned["rehearsal"]) & (table["time"] <= until)]
        for table in (rehearsals.events, rehearsals.readings)
    )
    what = str(tuned["instrument"])
    return playing_at(events, readings, player, until.timestamp() / 60.0, what)[0]
