"""An evening as it was read beside its plan: by section, with the error, and the weather."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import numpy as np
import pandas as pd

from drift.gig.judged import NotJudged, judged, line_of
from drift.gig.lag import lag_of
from drift.gig.plan import Plan
from drift.regression.results import Estimate

__all__ = ["Compared", "Occasion", "SectionError", "compare"]

#: Sections are told to be within this of the plan, or not [cents].
NEAR_CENTS = 5.0


@dataclass(frozen=True)
class SectionError:
    """How far what was read of a section lies from its plan.

    Attributes
    ----------
    section : str
        Its name.
    readings : int
        Readings while the band played or tuned.
    read_cents, planned_cents : float
        Means of what was read and of what was planned, from the A4 of the plan [cents].
    error_cents, error_sd_cents : float
        Mean and standard deviation of read minus planned [cents]; the latter NaN for one reading.
    absolute_cents : float
        Mean distance of the readings from the A4 of the plan [cents].
    bracketed : int
        How many were taken where the sheet prints a bracket, which is at a tune.
    inside : int or None
        How many of those lay in it, in whole cents as it is printed; None where there are none.
    """

    section: str
    readings: int
    read_cents: float
    planned_cents: float
    error_cents: float
    error_sd_cents: float
    absolute_cents: float
    bracketed: int
    inside: int | None


@dataclass(frozen=True)
class Occasion:
    """One tune or playing of an evening, as it was read beside its plan.

    Attributes
    ----------
    start : datetime
        When it began.
    activity : str
        ``tune`` or ``play``.
    remark : str
        The remark of the schedule.
    sections : tuple of SectionError
        Those that were read then, in the order of the roster.
    """

    start: datetime
    activity: str
    remark: str
    sections: tuple[SectionError, ...]


@dataclass(frozen=True)
class Compared:
    """What was read on an evening beside what was planned.

    Attributes
    ----------
    sections : tuple of SectionError
        Those that were read, in the order of the roster.
    not_read : tuple of str
        Sections without readings.
    celsius_error, celsius_error_sd : float
        Mean and standard deviation of measured minus forecast temperature [°C]; NaN where nothing
        was measured.
    forecast_error_celsius : float
        Half width of the 95 % interval that the plan allowed the forecast [°C].
    occasions : tuple of Occasion
        The same for each tune and each playing that was read.
    a4_hz : float
        The A4 of the plan [Hz].
    read_a4_hz : tuple of float
        What tuners were set to, as the readings have it [Hz].
    lag : Estimate or None
        How many minutes later than planned pitch moved while the band played, with its 95 %
        interval; None where pitch moved too little, or was read too seldom, to show it.
    not_judged : tuple of NotJudged
        The readings during the schedule that nothing was planned for, by why.
    half_days : bool
        Whether the timetable tells times with AM and PM.
    table : DataFrame
        One row a reading, as `drift.gig.judged.judged` gives them.
    """

    sections: tuple[SectionError, ...]
    not_read: tuple[str, ...]
    celsius_error: float
    celsius_error_sd: float
    forecast_error_celsius: float
    occasions: tuple[Occasion, ...]
    a4_hz: float
    read_a4_hz: tuple[float, ...]
    lag: Estimate | None
    not_judged: tuple[NotJudged, ...]
    half_days: bool
    table: pd.DataFrame = field(repr=False)

    @property
    def band(self) -> SectionError:
        """All readings together."""
        return _of_section("whole band", self.table)

    def together(self, activity: str) -> tuple[SectionError, ...]:
        """Return each section over all tunes (``tune``) or all playing (``play``), then the band.

        The two are apart because a tune may aim far from the pitch of the playing.
        """
        rows = self.table[self.table["activity"] == activity]
        if rows.empty:
            return ()
        by_name = [(s.section, rows[rows["section"] == s.section]) for s in self.sections]
        own = [_of_section(name, those) for name, those in by_name if len(those)]
        return (*own, _of_section("whole band", rows))

    def to_frame(self) -> pd.DataFrame:
        """Return a copy of the table of readings."""
        return self.table.copy()

    def to_json(self) -> dict[str, Any]:
        """Return the answer as one JSON object; null for what is not known."""
        lag = None
        if self.lag is not None:
            lag = {name: getattr(self.lag, name) for name in ("estimate", "low", "high")}
        return {
            "band": _json(self.band),
            "sections": [_json(section) for section in self.sections],
            "occasions": [
                {
                    "start": found.start.isoformat(),
                    "activity": found.activity,
                    "remark": found.remark,
                    "sections": [_json(section) for section in found.sections],
                }
                for found in self.occasions
            ],
            "by_activity": {
                activity: [_json(section) for section in self.together(activity)]
                for activity in ("tune", "play")
            },
            "not_judged": [found.to_json() for found in self.not_judged],
            "a4_hz": self.a4_hz,
            "read_a4_hz": list(self.read_a4_hz),
            "not_read": list(self.not_read),
            "celsius_error": _known(self.celsius_error),
            "celsius_error_sd": _known(self.celsius_error_sd),
            "lag_minutes": lag,
        }


def compare(
    plan: Plan,
    readings: pd.DataFrame,
    temperatures: pd.DataFrame,
    later: Mapping[float, Plan] | None = None,
) -> Compared:
    """Set what was read during an evening beside its plan.

    Parameters
    ----------
    plan : Plan
        The plan of the pitch that was played.
    readings : DataFrame
        ``time, player, instrument, side, note, cents, a4_hz, flagged``, as a logbook has them.
    temperatures : DataFrame
        ``time, celsius``.
    later : mapping of float to Plan, optional
        The same evening planned for instruments that follow the air so many minutes later (or
        earlier): what the lag is found from.

    Returns
    -------
    Compared
        Flagged readings are left out. A reading counts for the section that names its player, or
        else for the first one that plays its instrument and names nobody.

    Raises
    ------
    InputError
        When no reading lies within the schedule, or none that does can be judged.

    Notes
    -----
    While the band plays, the plan is the pitch with the moves made; while it tunes, it is what the
    tuner should show, less what a slide at its end leaves. Readings are taken to the A4 of the
    plan: ``cents + 1200 log2(a4/A4)``.
    """
    table, not_judged = judged(plan, readings)
    names = [section.name for section in plan.sections]
    read = _by_section(plan, table)
    error, spread = _weather(plan, temperatures)
    return Compared(
        read,
        tuple(name for name in names if name not in {found.section for found in read}),
        error,
        spread,
        plan.assumptions.forecast_error_celsius,
        tuple(_occasions(plan, table)),
        plan.aim_a4_hz,
        tuple(sorted(set(table["a4_hz"]))),
        _lag(plan, table, later or {}),
        not_judged,
        plan.schedule.half_days,
        table,
    )


def _by_section(plan: Plan, table: pd.DataFrame) -> tuple[SectionError, ...]:
    named = ((section.name, table[table["section"] == section.name]) for section in plan.sections)
    return tuple(_of_section(name, rows) for name, rows in named if len(rows))


def _occasions(plan: Plan, table: pd.DataFrame) -> Iterator[Occasion]:
    for number, rows in table.groupby("entry"):
        entry = plan.schedule.entries[int(str(number))]
        yield Occasion(entry.start, entry.activity, entry.remark, _by_section(plan, rows))


def _json(section: SectionError) -> dict[str, Any]:
    return {name: _known(value) for name, value in vars(section).items()}


def _lag(plan: Plan, table: pd.DataFrame, later: Mapping[float, Plan]) -> Estimate | None:
    """Return how much later than planned pitch moved while the band played [min]."""
    played = table[table["activity"] == "play"]
    if not later or played.empty:
        return None
    plans = {plan.assumptions.lag_minutes: plan, **later}
    lags = np.array(sorted(plans))
    places = plan.times.searchsorted(pd.DatetimeIndex(played["time"]), side="right") - 1
    planned = np.array([
        [line_of(plans[lag], section, side)[place]
         for section, side, place in zip(played["section"], played["side"], places, strict=True)]
        for lag in lags
    ])  # fmt: skip
    groups = played["section"].astype(str) + "|" + played["block"].astype(str)
    return lag_of(played["cents"].to_numpy(dtype=float), lags, planned, groups.to_numpy())


def _of_section(name: str, rows: pd.DataFrame) -> SectionError:
    return SectionError(
        name,
        len(rows),
        float(rows["cents"].mean()),
        float(rows["planned_cents"].mean()),
        float(rows["error_cents"].mean()),
        float(rows["error_cents"].std()),
        float(rows["cents"].abs().mean()),
        int(rows["low_cents"].notna().sum()),
        _inside(rows[rows["low_cents"].notna()]),
    )


def _inside(rows: pd.DataFrame) -> int | None:
    if rows.empty:
        return None
    low, high = rows["low_cents"].round(), rows["high_cents"].round()
    return int(rows["cents"].round().between(low, high).sum())


def _weather(plan: Plan, temperatures: pd.DataFrame) -> tuple[float, float]:
    """Return mean and spread of measured minus planned temperature [°C], outdoors."""
    measured = temperatures[temperatures["time"].between(plan.times[0], plan.times[-1])]
    places = plan.times.searchsorted(pd.DatetimeIndex(measured["time"]), side="right") - 1
    entries = [plan.schedule.entries[n] for n in plan.schedule.entry_at(plan.times)[places]]
    outdoors = np.array([entry.celsius is None for entry in entries], dtype=bool)
    error = (measured["celsius"].to_numpy(dtype=float) - plan.celsius[places])[outdoors]
    error = error[np.isfinite(error)]
    if not len(error):
        return math.nan, math.nan
    return float(error.mean()), float(error.std())


def _known(value: Any) -> Any:
    return None if isinstance(value, float) and math.isnan(value) else value
