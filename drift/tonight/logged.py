"""From what was logged to an evening."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.errors import InputError
from drift.instruments.anatomy import Instrument
from drift.logbook.rehearsals import Rehearsals, is_typed
from drift.pairing.arrivals import arrivals_of, rests_from
from drift.pairing.nearest import GAP_MINUTES, TYPED_MINUTES, minutes_of
from drift.pairing.playing import playing_at
from drift.pairing.slide_log import reference_positions, slide_events
from drift.pairing.thermometers import chosen_thermometers, temperatures_at
from drift.tonight.conditions import Conditions
from drift.tonight.course import Course
from drift.tonight.evening import Evening, Reading, SlideSetting

__all__ = ["Logged", "evening_of"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Logged:
    """An evening of one player as it was logged, up to a moment.

    Attributes
    ----------
    evening : Evening
        Its readings, slides, air and playing, in minutes since its first temperature.
    now_minutes : float
        The moment, on the same clock [min].
    conditions : Conditions
        The air and the playing at the moment.
    """

    evening: Evening
    now_minutes: float
    conditions: Conditions

    @property
    def a4_hz(self) -> float:
        """What the tuner was set to at the last reading [Hz]."""
        readings = self.evening.readings
        return readings[-1].a4_hz if readings else 440.0

    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """The notes that were read, as (side, note), each once."""
        return tuple(dict.fromkeys((one.side, one.note) for one in self.evening.readings))


def evening_of(
    rehearsals: Rehearsals, rehearsal: str, player: str, instrument: Instrument, now: datetime
) -> Logged:
    """Return what a player logged in a rehearsal up to a moment.

    Parameters
    ----------
    rehearsals : Rehearsals
        Everything logged so far.
    rehearsal, player : str
        Which rehearsal, and whose evening.
    instrument : Instrument
        What is played.
    now : datetime
        The moment.

    Raises
    ------
    InputError
        If no temperature is known near the moment.

    Notes
    -----
    The air is that of the thermometer with the most
    samples in this rehearsal; what people typed fills in where it has none within ten minutes.
    """
    until = pd.Timestamp(now)
    rehearsals, arrivals = arrivals_of(rehearsals)
    air_minutes, air_celsius = _air(rehearsals, rehearsal, until)
    begin, end = air_minutes[0], _minute(until)
    settings = slide_events(rehearsals, player, instrument)
    settings = settings[settings["time"] <= until]
    before = settings[settings["rehearsal"] != rehearsal].drop_duplicates("slide", keep="last")
    tonight = settings[settings["rehearsal"] == rehearsal]
    switches, conditions = _playing(
        rehearsals, rehearsal, player, instrument, until, float(air_celsius[-1])
    )
    came = arrivals.get(rehearsal)
    if came and switches and not conditions.initial_warmth and rests_from(came, switches[0]):
        switches = [came.minute, came.minute, *switches]
        conditions = replace(conditions, came_from_celsius=came.celsius)
    course = Course(
        air_minutes - begin, air_celsius, tuple(t - begin for t in switches),
        conditions.initial_warmth, conditions.came_from_celsius,
    )  # fmt: skip
    evening = Evening(
        course,
        tuple(_readings(rehearsals, rehearsal, player, instrument, until, begin)),
        tuple(
            SlideSetting(minute - begin, slide, float(mm))
            for minute, slide, mm in zip(
                minutes_of(tonight["time"]), tonight["slide"], tonight["position_mm"], strict=True
            )
        ),
        reference_mm=reference_positions(rehearsals, player, instrument),
        start_mm=dict(zip(before["slide"], before["position_mm"], strict=True)),
        air_reach_minutes=math.inf,  # each reading has its own
    )
    return Logged(evening, end - begin, conditions)


def _air(rehearsals: Rehearsals, rehearsal: str, until: pd.Timestamp) -> tuple[Array, Array]:
    """Return minutes and temperatures of the air, the last one holding at the moment."""
    table = rehearsals.temperatures
    table = table[(table["rehearsal"] == rehearsal) & (table["time"] <= until)]
    here = rehearsals.only(rehearsals=[rehearsal]) if len(table) else None
    chosen = chosen_thermometers(here) if here else ()
    probe = table[table["source"].isin(chosen)].sort_values("time", kind="stable")
    typed = table[is_typed(table) & ~table["source"].isin(chosen)]
    near = minutes_of(probe["time"])
    apart = [
        not len(near) or np.abs(near - t).min() > GAP_MINUTES for t in minutes_of(typed["time"])
    ]
    air = pd.concat([probe, typed[apart]]).sort_values("time", kind="stable")
    last = air.iloc[-1:]
    holds = TYPED_MINUTES if len(last) and bool(is_typed(last).iloc[0]) else GAP_MINUTES
    if not len(last) or _minute(until) - minutes_of(last["time"])[0] > holds:
        raise InputError(
            f"no temperature is known at {until.to_pydatetime().astimezone():%H:%M}",
            "type temp and the degrees, or see whether the thermometer is away",
        )
    return minutes_of(air["time"]), air["celsius"].to_numpy(dtype=float)


def _playing(
    rehearsals: Rehearsals,
    rehearsal: str,
    player: str,
    instrument: Instrument,
    until: pd.Timestamp,
    celsius: float,
) -> tuple[list[float], Conditions]:
    """Return when playing began, stopped, began, ... [min], and the conditions now."""
    events, readings = (
        table[(table["rehearsal"] == rehearsal) & (table["time"] <= until)]
        for table in (rehearsals.events, rehearsals.readings)
    )
    end = _minute(until)
    _, periods, into, warmth = playing_at(events, readings, player, end, instrument.name)
    began = end - into - float(np.sum(periods))
    switches = [began, *(began + np.cumsum(periods)).tolist()] if into or periods else []
    return switches, Conditions(celsius, None, periods, into, warmth)


def _readings(
    rehearsals: Rehearsals,
    rehearsal: str,
    player: str,
    instrument: Instrument,
    until: pd.Timestamp,
    begin: float,
) -> list[Reading]:
    table = rehearsals.readings
    own = table[
        (table["rehearsal"] == rehearsal)
        & (table["player"] == player)
        & (table["instrument"] == instrument.name)
        & (table["time"] <= until)
    ].sort_values("time", kind="stable")
    here = rehearsals.only(rehearsals=[rehearsal])
    known = np.isfinite(temperatures_at(here, own.reset_index(drop=True)))
    columns = (
        minutes_of(own["time"]) - begin,
        own["note"],
        own["cents"],
        own["side"],
        own["a4_hz"],
        own["cents_sd"].fillna(0.0),
        own["pair_probability"].to_numpy(dtype=float),
        own["flagged"],
        known,
    )
    return [
        Reading(
            float(minutes), note, float(cents), side, float(a4_hz), float(sd),
            None if math.isnan(pair) else float(pair), bool(flagged), bool(air_known),
        )
        for minutes, note, cents, side, a4_hz, sd, pair, flagged, air_known in zip(
            *columns, strict=True
        )
    ]  # fmt: skip


def _minute(time: pd.Timestamp) -> float:
    return time.timestamp() / 60.0
