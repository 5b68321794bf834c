"""What the tables themselves show to be spoilt, before any regression.

Degrees Fahrenheit under ``celsius``, two thermometers that disagree or have one name, a probe that
was still settling, a clock that is hours off, rows that are there twice, written notes among
sounding ones.
Each is found by a rule of its own; thresholds are judged on simulated seasons
(`docs/explanation/notices.md`).
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from enum import Enum
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.degrees import look_like_fahrenheit
from drift.errors import InstrumentError
from drift.groups import codes_of
from drift.instruments import Catalogue
from drift.logbook.records import TYPED
from drift.logbook.rehearsals import Rehearsals
from drift.notes import midi_of, note_of_midi
from drift.pairing.nearest import GAP_MINUTES, TYPED_MINUTES, minutes_of, neighbours
from drift.pairing.thermometers import DISAGREE, apart

__all__ = ["NEAR_SECONDS", "Spoilt", "SpoiltKind", "in_fahrenheit", "spoilt_tables"]

Array = npt.NDArray[np.float64]

SETTLED_BY = 1.5
"""A probe that began this far off was still settling [°C] ..."""
SETTLES_WITHIN = 7.0
"""... if it settled with a time constant no longer than this; a room seldom does [min]."""
SETTLING_MINUTES = 30.0
BETTER_BY = 4.0
"""The curve of a settling probe must leave so many times less than a straight line does."""
LEAST_SAMPLES = 8
ALIKE = ["rehearsal", "player", "instrument", "side", "note", "cents"]
NEAR_SECONDS = 2.0
"""Nobody reads the same number of the same note anew so soon [s]."""
OUTSIDE_SHARE = 0.15
"""So many readings outside the time that was logged mean a clock, not a straggler."""
HOURS = (-2.0, -1.0, 1.0, 2.0)
"""Clocks are off by the offset of a zone or by daylight saving ..."""
ZONES = tuple(sorted((hours for hours in range(-14, 15) if hours), key=abs))
"""... and that of a logger, which nobody looks at, by that of any zone."""


class SpoiltKind(Enum):
    """What is wrong."""

    FAHRENHEIT = "fahrenheit"
    TWO_THERMOMETERS = "two thermometers"
    TWO_ROOMS = "two rooms"
    SLOW_PROBE = "slow probe"
    CLOCK = "clock"
    THERMOMETER_CLOCK = "clock of the thermometer"
    DUPLICATES = "duplicates"
    NEAR_COPIES = "near copies"
    WRITTEN = "written pitch"


@dataclass(frozen=True)
class Spoilt:
    """One thing that the tables show.

    Attributes
    ----------
    kind : SpoiltKind
    rehearsal, player : str
        Where; empty where it is everywhere.
    size : float
        Degrees, hours, a share or a count, by kind.
    until : datetime or None
        For a slow probe, when it had settled.
    source, other : str
        A thermometer, or a note as it was entered; and the other one.
    """

    kind: SpoiltKind
    rehearsal: str = ""
    player: str = ""
    size: float = 0.0
    until: Any = None
    source: str = ""
    other: str = ""

    def to_json(self) -> dict[str, Any]:
        """Return the finding by name of its parts, those that are known."""
        found = {"kind": self.kind.value, "rehearsal": self.rehearsal, "player": self.player,
                 "size": self.size, "source": self.source, "other": self.other}  # fmt: skip
        if self.until is not None:
            found["until"] = self.until.isoformat()
        return {name: value for name, value in found.items() if value not in ("", 0.0)}


def spoilt_tables(rehearsals: Rehearsals, catalogue: Catalogue | None = None) -> list[Spoilt]:
    """Return what the tables show to be spoilt.

    Parameters
    ----------
    rehearsals : Rehearsals
        What was logged.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.
    """
    return [
        *_fahrenheit(rehearsals.temperatures),
        *_two_thermometers(rehearsals.temperatures),
        *_two_rooms(rehearsals.temperatures),
        *_slow_probes(rehearsals.temperatures),
        *(clocks := list(_clocks(rehearsals))),
        *_thermometer_clocks(rehearsals, {one.rehearsal for one in clocks}),
        *_duplicates(rehearsals),
        *_written(rehearsals.readings, catalogue or Catalogue.shipped()),
    ]


def in_fahrenheit(temperatures: pd.DataFrame) -> dict[str, float]:
    """Return the rehearsals whose temperatures look like °F, and the median of each.

    Parameters
    ----------
    temperatures : DataFrame
        With ``rehearsal, celsius``, a row a sample or a reading.

    Examples
    --------
    >>> in_fahrenheit(pd.DataFrame({"rehearsal": ["a", "b"], "celsius": [21.0, 56.0]}))
    {'b': 56.0}
    """
    medians = temperatures.groupby("rehearsal", sort=False, observed=True)["celsius"].median()
    suspected = medians[look_like_fahrenheit(medians)]
    return {str(name): float(median) for name, median in suspected.items()}


def _fahrenheit(temperatures: pd.DataFrame) -> Iterator[Spoilt]:
    for name, median in in_fahrenheit(temperatures).items():
        yield Spoilt(SpoiltKind.FAHRENHEIT, name, size=median)


def _probes(temperatures: pd.DataFrame) -> pd.DataFrame:
    return temperatures[temperatures["source"] != TYPED]


def _two_thermometers(temperatures: pd.DataFrame) -> Iterator[Spoilt]:
    """Yield pairs of thermometers that differ, each sample against the other's line in time."""
    for name, part in _probes(temperatures).groupby("rehearsal", sort=False):
        sources = sorted(part["source"].unique())
        for place, one in enumerate(sources):
            for other in sources[place + 1 :]:
                differences = apart(*(part[part["source"] == who] for who in (one, other)))
                if len(differences) >= LEAST_SAMPLES:
                    middle = float(np.median(differences))
                    if abs(middle) > DISAGREE:
                        yield Spoilt(
                            SpoiltKind.TWO_THERMOMETERS, str(name),
                            size=abs(middle), source=one, other=other,
                        )  # fmt: skip


def _two_rooms(temperatures: pd.DataFrame) -> Iterator[Spoilt]:
    """Yield thermometers whose samples jump to and fro: two of one name, in two rooms perhaps."""
    for (name, source), part in _probes(temperatures).groupby(["rehearsal", "source"], sort=False):
        celsius = part.sort_values("time", kind="stable")["celsius"].to_numpy(dtype=float)
        if len(celsius) >= LEAST_SAMPLES:
            jumps = np.abs(celsius[1:-1] - 0.5 * (celsius[:-2] + celsius[2:]))
            if (middle := float(np.median(jumps))) > DISAGREE:
                yield Spoilt(SpoiltKind.TWO_ROOMS, str(name), size=middle, source=str(source))


def _slow_probes(temperatures: pd.DataFrame) -> Iterator[Spoilt]:
    for (name, source), part in _probes(temperatures).groupby(["rehearsal", "source"], sort=False):
        minutes = minutes_of(part["time"])
        early = minutes - minutes[0] <= SETTLING_MINUTES
        if early.sum() < LEAST_SAMPLES or minutes[early][-1] - minutes[0] < SETTLES_WITHIN:
            continue
        found = _settling(minutes[early] - minutes[0], part["celsius"].to_numpy(float)[early])
        if found is not None:
            off, tau = found
            # Settled where a tenth of a degree is left.
            rest = tau * np.log(max(abs(off) / 0.1, 1.0))
            until = part["time"].iloc[0] + pd.Timedelta(minutes=round(rest, 1))
            yield Spoilt(
                SpoiltKind.SLOW_PROBE, str(name), size=off,
                until=until.to_pydatetime(), source=str(source),
            )  # fmt: skip


def _settling(minutes: Array, celsius: Array) -> tuple[float, float] | None:
    """Return how far off a probe began and its time constant; None where a line does as well.

    Notes
    -----
    ``a + b t + D exp(-t/tau)`` by least squares at a few time constants.
    """
    line = np.column_stack([np.ones_like(minutes), minutes])
    straight = _residual(line, celsius)[0]
    best: tuple[float, float, float] | None = None
    for tau in (1.0, 2.0, 3.5, 5.0, 7.0, 10.0, 15.0, 25.0):
        left, beta = _residual(np.column_stack([line, np.exp(-minutes / tau)]), celsius)
        if best is None or left < best[0]:
            best = left, float(beta[2]), tau
    assert best is not None
    left, off, tau = best
    if abs(off) > SETTLED_BY and tau <= SETTLES_WITHIN and straight > BETTER_BY * left:
        return off, tau
    return None


def _residual(columns: Array, values: Array) -> tuple[float, Array]:
    beta: Array = np.asarray(np.linalg.lstsq(columns, values, rcond=None)[0], dtype=np.float64)
    return float(np.sum((values - columns @ beta) ** 2)), beta


def _clocks(rehearsals: Rehearsals) -> Iterator[Spoilt]:
    """Yield rehearsals whose readings lie outside what was logged, and the hours that mend it."""
    for name, part in rehearsals.readings.groupby("rehearsal", sort=False):
        temperatures, events = (
            table[table["rehearsal"] == name]
            for table in (rehearsals.temperatures, rehearsals.events)
        )
        times = np.concatenate([minutes_of(temperatures["time"]), minutes_of(events["time"])])
        if not (events["event"] == "end").any():  # typed, or begun, it holds for a while
            typed, begun = temperatures["source"] == TYPED, events["event"] == "play"
            holds = pd.concat([temperatures["time"][typed], events["time"][begun]])
            times = np.concatenate([times, minutes_of(holds) + TYPED_MINUTES])
        if len(times) < 2 or len(part) < 2:
            continue
        read = minutes_of(part["time"])
        margin = 1.0
        begin, end = times.min() - margin, times.max() + margin
        outside = _share_outside(read, begin, end)
        if outside <= OUTSIDE_SHARE:
            continue
        shares = {hours: _share_outside(read + 60.0 * hours, begin, end) for hours in HOURS}
        hours = min(shares, key=lambda one: (shares[one], abs(one)))
        fits = shares[hours] <= OUTSIDE_SHARE
        if temperatures.empty and not fits:  # entries now and then are no record of the evening
            continue
        yield Spoilt(SpoiltKind.CLOCK, str(name), size=outside, other=f"{hours:+g}" if fits else "")


def _thermometer_clocks(rehearsals: Rehearsals, but: Collection[str]) -> Iterator[Spoilt]:
    """Yield rehearsals whose readings have a temperature beside them hours earlier or later.

    Typed temperatures are of the clock that readings are of.
    """
    probes = dict(list(_probes(rehearsals.temperatures).groupby("rehearsal", sort=False)))
    for name, part in rehearsals.readings.groupby("rehearsal", sort=False):
        if name in but or name not in probes or len(part) < LEAST_SAMPLES:
            continue
        measured, read = np.sort(minutes_of(probes[name]["time"])), minutes_of(part["time"])
        alone = _share_alone(read, measured)
        if alone <= OUTSIDE_SHARE:
            continue
        shares = {hours: _share_alone(read, measured + 60.0 * hours) for hours in ZONES}
        hours = min(ZONES, key=shares.__getitem__)  # of two that fit alike the nearer one
        if shares[hours] <= OUTSIDE_SHARE:
            yield Spoilt(SpoiltKind.THERMOMETER_CLOCK, str(name), size=alone, other=f"{hours:+g}")


def _share_alone(read: Array, measured: Array) -> float:
    """Return the share of readings without a temperature beside them."""
    *_, nearest = neighbours(measured, read)
    return float((np.abs(read - measured[nearest]) > GAP_MINUTES).mean())


def _share_outside(times: Array, begin: float, end: float) -> float:
    return float(((times < begin) | (times > end)).mean())


def _duplicates(rehearsals: Rehearsals) -> Iterator[Spoilt]:
    readings = rehearsals.readings
    if "cents" not in readings or not len(readings):
        return
    # Few are of one instant, and only these have to be compared in all columns.
    twice = readings["time"].duplicated(keep=False).to_numpy(copy=True)
    twice[twice] = readings[twice].duplicated(keep="first")
    for name, count in readings[twice].groupby("rehearsal", sort=False).size().items():
        yield Spoilt(SpoiltKind.DUPLICATES, str(name), size=float(count))
    once = readings[~twice].sort_values("time", kind="stable")
    apart = once.groupby(ALIKE, sort=False, observed=True)["time"].diff()
    near = once[apart <= pd.Timedelta(seconds=NEAR_SECONDS)]
    for name, count in near.groupby("rehearsal", sort=False).size().items():
        yield Spoilt(SpoiltKind.NEAR_COPIES, str(name), size=float(count))


def _written(readings: pd.DataFrame, catalogue: Catalogue) -> Iterator[Spoilt]:
    """Yield notes that were read on one day alone and are usual ones a transposition lower."""
    if not any(_transposition(str(name), catalogue) for name in readings["instrument"].unique()):
        return
    readings = _one_a_day(readings)
    everywhere = _days_of(readings)
    for (player, instrument), part in readings.groupby(["player", "instrument"], sort=False):
        semitones = _transposition(str(instrument), catalogue)
        if not semitones:
            continue
        own = _days_of(part)
        found = _first_written(part, own, everywhere, semitones)
        if found is not None:
            day, note, sounding = found
            yield Spoilt(SpoiltKind.WRITTEN, day, str(player), source=note, other=sounding)


def _one_a_day(readings: pd.DataFrame) -> pd.DataFrame:
    """Return the first reading of each note of a player on a day."""
    key = np.zeros(len(readings), dtype=np.int64)
    for name in ("player", "instrument", "note", "rehearsal"):
        codes, names = codes_of(readings[name])
        key = key * len(names) + codes
    return readings[~pd.Series(key).duplicated().to_numpy()]


def _first_written(
    part: pd.DataFrame, own: dict[str, int], everywhere: dict[str, int], semitones: int
) -> tuple[str, str, str] | None:
    for note, days in own.items():
        if days != 1 or midi_of(note) < semitones:
            continue
        sounding = note_of_midi(midi_of(note) - semitones)
        day = str(part.loc[part["note"] == note, "rehearsal"].iloc[0])
        that_day = part.loc[part["rehearsal"] == day, "note"].unique()
        # Either no note of that day was ever read on another, and a usual one lies below it;
        # or this note alone is new to everybody and the one below it is a very usual one.
        whole = all(own[other] == 1 for other in that_day) and own.get(sounding, 0) >= 2
        lone = own.get(sounding, 0) >= 4 and everywhere[note] == 1
        if whole or lone:
            return day, note, sounding
    return None


def _days_of(readings: pd.DataFrame) -> dict[str, int]:
    """Return on how many days each note was read, in order of first appearance."""
    days = readings.groupby("note", sort=False)["rehearsal"].nunique()
    return {str(note): int(count) for note, count in days.items()}


def _transposition(instrument: str, catalogue: Catalogue) -> int:
    try:
        return catalogue.find(instrument).written_semitones
    except InstrumentError:
        return 0
