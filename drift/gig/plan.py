"""The plan for an outdoor performance, as it is handed over."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from drift.findings import Finding
from drift.gig.cautions import Caution
from drift.gig.course import Course, Tuned
from drift.gig.pitch import Pitch
from drift.gig.retuning import Setting
from drift.gig.roster import Section
from drift.gig.timetable import Block, Entry, Schedule
from drift.gig.timing import Watch, play_until, watch

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["Assumptions", "Plan", "shift_of"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Assumptions:
    """What a plan takes for granted; all of it is said on the plan.

    Attributes
    ----------
    tuned : Tuned
        The conditions the band was last tuned in.
    a4_hz : float or None
        The pitch the moves aim at [Hz]; None takes the recommended one.
    sheets_a4_hz : float or None
        The pitch of sheets that are printed already, which the moves aim at whatever pitch is
        recommended [Hz]: that of the plan beside which other weather is looked at.
    forecast_error_celsius : float
        How far the forecast may be off, ± with 95 % [°C]; all through the performance alike. The
        default is an assumption, not a measured quality of anybody's forecasts.
    lag_minutes : float
        How much later than the fit says instruments follow the air [min]: what
        `drift.gig.compared.compare` found on an evening like this.
    retune_cents : float
        The expected deviation at which to tune again [cents].
    sun : bool
        Whether the band stands in full sun (for the cautions).
    wbgt : tuple of (datetime, float)
        Wet-bulb globe temperatures measured on the spot [°C].
    step_minutes, draws, seed : float, int, int
        Steps of time, and random draws of what is not known.
    """

    tuned: Tuned = field(default_factory=Tuned)
    a4_hz: float | None = 440.0
    sheets_a4_hz: float | None = None
    forecast_error_celsius: float = 2.0
    lag_minutes: float = 0.0
    retune_cents: float = 8.0
    sun: bool = False
    wbgt: tuple[tuple[datetime, float], ...] = ()
    step_minutes: float = 1.0
    draws: int = 500
    seed: int = 0


@dataclass(frozen=True)
class Plan:
    """The plan for an outdoor performance.

    Attributes
    ----------
    schedule : Schedule
        What happens when.
    times : DatetimeIndex, shape (n,)
        Instants of the courses, in the zone of the schedule.
    celsius : ndarray, shape (n,)
        Temperature taken for the instruments [°C]: the forecast with the schedule's offsets, or
        the schedule's own temperature.
    sections : tuple of Section
        In the order of the roster.
    courses : mapping of str to Course
        Pitch by section with slides untouched, from where the band was tuned.
    settings : tuple of Setting
        What each section does at each tune.
    planned_cents : mapping of str to mapping of str to ndarray
        Pitch by section and side with the moves made, from the A4 aimed at [cents].
    aim_a4_hz : float
        The A4 that the moves aim at [Hz].
    pitch : Pitch
        The common pitch, its limits and its costs.
    cautions : tuple of Caution
        What to watch for.
    assumptions : Assumptions
        What was taken for granted.
    unblown : mapping of datetime to mapping of str to float
        Where sections would be as each playing begins if nobody blew the warm air before it
        [cents], as `drift.gig.unblown.begun_unblown` gives it.
    warnings : tuple of Finding
        What a reader must know.
    """

    schedule: Schedule
    times: pd.DatetimeIndex
    celsius: Array
    sections: tuple[Section, ...]
    courses: Mapping[str, Course]
    settings: tuple[Setting, ...]
    planned_cents: Mapping[str, Mapping[str, Array]] = field(repr=False)
    aim_a4_hz: float
    pitch: Pitch
    cautions: tuple[Caution, ...]
    assumptions: Assumptions
    unblown: Mapping[datetime, Mapping[str, float]]
    warnings: tuple[Finding, ...]

    def shift_cents(self, section: Section) -> float:
        """Return the pitch a section was tuned or built to, above the pitch aimed at [cents]."""
        return shift_of(section, self.assumptions.tuned, self.aim_a4_hz)

    @cached_property
    def watch(self) -> tuple[Watch, ...]:
        """The sections that begin some playing off pitch, with the plan carried out."""
        return watch(self)

    def play_until(self, block: Block) -> datetime | None:
        """Return until when to play before the tuner is read, None where at once is as good."""
        return play_until(self, block)

    def blocks(self) -> Iterator[tuple[Block, tuple[Setting, ...]]]:
        """Yield each tune with the settings of all sections."""
        for block in dict.fromkeys(setting.block for setting in self.settings):
            yield block, tuple(setting for setting in self.settings if setting.block == block)

    def to_frame(self) -> pd.DataFrame:
        """Return the pitch of every section at every instant, one row each.

        Returns
        -------
        DataFrame
            ``time, section, side, activity, celsius, cents, low, high`` with slides untouched,
            and ``planned_cents`` with the moves made; from the A4 aimed at.
        """
        activity = np.array([entry.activity for entry in self.schedule.entries])
        shared = {
            "time": self.times,
            "activity": activity[self.schedule.entry_at(self.times)],
            "celsius": self.celsius,
        }
        parts = []
        for section in self.sections:
            course, shift = self.courses[section.name], self.shift_cents(section)
            for side, planned in self.planned_cents[section.name].items():
                cents = {name: getattr(course, name) + shift for name in ("cents", "low", "high")}
                own = {"section": section.name, "side": side, "planned_cents": planned}
                parts.append(pd.DataFrame({**shared, **own, **cents}))
        order = ["time", "section", "side", "activity", "celsius", "cents", "low", "high"]
        return pd.concat(parts, ignore_index=True)[[*order, "planned_cents"]]

    def moves_frame(self) -> pd.DataFrame:
        """Return the settings, one row a section, tune and slide.

        Returns
        -------
        DataFrame
            ``tune_at, section, instrument, players, tune_on, show_cents, show_low_cents,
            show_high_cents, slide, expected_cents, expected_low_cents, expected_high_cents,
            move_mm, move_low_mm, move_high_mm, from_mm, to_mm, at_end_of_travel, stuck, waits,
            remaining_cents, lowest_cents, highest_cents, retune_at, interval_includes_zero,
            based_on``; cents of the side that is left furthest off.
        """
        from drift.words.gig_basis import basis_text

        rows = []
        for setting in self.settings:
            side = max(setting.remaining_cents, key=lambda s: abs(setting.remaining_cents[s]))
            expected = setting.expected_cents[side]
            shared = {
                "tune_at": setting.block.tune_at.isoformat(),
                "section": setting.section.name,
                "instrument": setting.section.instrument.name,
                "players": setting.section.players,
                "waits": setting.waits,
                "tune_on": " ".join(note for notes in setting.tune_on.values() for note in notes),
            }
            if show := setting.show_cents:
                shared |= {
                    "show_cents": show.estimate,
                    "show_low_cents": show.low,
                    "show_high_cents": show.high,
                }
            cents = {
                "expected_cents": expected.estimate,
                "expected_low_cents": expected.low,
                "expected_high_cents": expected.high,
            }
            rest = {
                "remaining_cents": setting.remaining_cents[side],
                "lowest_cents": setting.lowest_cents,
                "highest_cents": setting.highest_cents,
                "retune_at": setting.retune_at.isoformat() if setting.retune_at else None,
                "based_on": basis_text(setting.based_on),
            }
            moves = [
                {**vars(move), "interval_includes_zero": move.interval_includes_zero,
                 "stuck": move.slide in setting.section.stuck}
                for move in setting.moves
            ] or [{"slide": "", "interval_includes_zero": False}]  # fmt: skip
            rows += [{**shared, **move, **cents, **rest} for move in moves]
        columns = [
            "tune_at", "section", "instrument", "players", "tune_on", "show_cents",
            "show_low_cents", "show_high_cents", "slide", "expected_cents",
            "expected_low_cents", "expected_high_cents", "move_mm", "move_low_mm",
            "move_high_mm", "from_mm", "to_mm", "at_end_of_travel", "stuck", "waits",
            "remaining_cents", "lowest_cents", "highest_cents", "retune_at",
            "interval_includes_zero", "based_on",
        ]  # fmt: skip
        frame = pd.DataFrame(rows).rename(
            columns={"low_mm": "move_low_mm", "high_mm": "move_high_mm"}
        )
        return frame.reindex(columns=columns)

    def to_json(self) -> dict[str, Any]:
        """Return the plan as one JSON object (times with the offset of the schedule)."""
        from drift.words.gig_warnings import warning_text

        return {
            "settings": [setting.to_json() for setting in self.settings],
            "pitch": {**self.pitch.to_json(), "moves_aim_at_a4_hz": self.aim_a4_hz},
            "schedule": [_entry_json(entry) for entry in self.schedule.entries],
            "watch": [found.to_json() for found in self.watch],
            "without_warm_air": [
                {"time": start.isoformat(), "cents": dict(cents)}
                for start, cents in self.unblown.items()
            ],
            "cautions": [_caution_json(caution) for caution in self.cautions],
            "timeline": list(self._timeline()),
            "warnings": [found.to_json(warning_text(found)) for found in self.warnings],
            "assumptions": {
                "tuned": vars(self.assumptions.tuned),
                "instruments_at_start": {
                    "time": self.schedule.start.isoformat(),
                    "celsius": float(self.celsius[0]),
                    "playing_minutes": 0.0,
                },
                "forecast_error_celsius": self.assumptions.forecast_error_celsius,
                "lag_minutes": self.assumptions.lag_minutes,
                "retune_cents": self.assumptions.retune_cents,
            },
        }

    def _timeline(self) -> Iterator[dict[str, Any]]:
        clock = [time.isoformat() for time in self.times]
        celsius = self.celsius.tolist()
        for section in self.sections:
            course, shift = self.courses[section.name], self.shift_cents(section)
            columns = [(line + shift).tolist() for line in (course.cents, course.low, course.high)]
            planned = {s: line.tolist() for s, line in self.planned_cents[section.name].items()}
            for row, (cents, low, high) in enumerate(zip(*columns, strict=True)):
                yield {
                    "time": clock[row],
                    "section": section.name,
                    "celsius": celsius[row],
                    "cents": cents,
                    "low": low,
                    "high": high,
                    "planned_cents": {side: line[row] for side, line in planned.items()},
                }

    def summary(self, fahrenheit: bool = False) -> str:
        """Return the plan as text for a terminal."""
        from drift.words.gig_summary import summary_of

        return summary_of(self, fahrenheit)

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the pitch of every instrument with slides untouched, the schedule shaded.

        Parameters
        ----------
        ax : Axes, optional
            Where to draw (default: new axes).
        """
        from drift.sheets.plan_figure import draw_instruments

        return draw_instruments(self, ax)

    def figure(self, fahrenheit: bool = False) -> Figure:
        """Draw temperature above and the pitch of every section below, moves made."""
        from drift.sheets.plan_figure import courses_figure

        return courses_figure(self, fahrenheit)


def _entry_json(entry: Entry) -> dict[str, Any]:
    return {
        "start": entry.start.isoformat(),
        "end": entry.end.isoformat(),
        "activity": entry.activity,
        "duty": entry.duty,
        "added": entry.added,
    }


def _caution_json(caution: Caution) -> dict[str, Any]:
    return {
        **vars(caution),
        "time": caution.time.isoformat(),
        "until": caution.until.isoformat(),
    }


def shift_of(section: Section, tuned: Tuned, a4_hz: float) -> float:
    """Return the pitch a section was tuned or built to, above an A4 [cents].

    Parameters
    ----------
    section : Section
        Fixed pitch counts from the pitch it was built to.
    tuned : Tuned
        The conditions the others were last tuned in.
    a4_hz : float
        The A4 [Hz].

    Returns
    -------
    float
        Positive where the section was tuned or built higher.
    """
    fixed = section.instrument.fixed_pitch is not None
    return 1200 * math.log2((section.built_a4_hz if fixed else tuned.a4_hz) / a4_hz)
