"""Plan an outdoor performance: forecast, schedule and roster in, moves of slides out."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from drift.errors import InputError
from drift.findings import Finding
from drift.gig.activities import ROOM, SILENT
from drift.gig.basis import nearly_read
from drift.gig.cautions import Caution, cautions
from drift.gig.course import SD_IN_95_PERCENT, Course, Outdoors, Served, course_of
from drift.gig.gaps import with_air
from drift.gig.parts import AdjustablePart, FixedPart
from drift.gig.pitch import Pitch, compare_pitches
from drift.gig.plan import Assumptions, Plan, shift_of
from drift.gig.retuning import Setting, retune
from drift.gig.roster import Section
from drift.gig.timetable import Block, Schedule
from drift.gig.timing import AIR_CHANGED_CELSIUS
from drift.gig.unblown import begun_unblown
from drift.gig.weather import Forecast, Weather
from drift.regression.fits import Fit, physics
from drift.regression.unlogged import set_for_the_air

__all__ = ["Assumptions", "Plan", "plan"]

Array = NDArray[np.float64]


def plan(
    forecast: Forecast,
    sections: Sequence[Section],
    schedule: Schedule,
    fit: Fit | None = None,
    assumptions: Assumptions | None = None,
) -> Plan:
    """Plan an outdoor performance: how far to move which slide when, and what stays.

    Parameters
    ----------
    forecast : Forecast
        Temperature, and where known humidity and wind, against time.
    sections : sequence of Section
        The roster.
    schedule : Schedule
        Playing, resting and tuning.
    fit : Fit, optional
        What the band's own rehearsals say (method ``anchored``); acoustics alone when left out.
    assumptions : Assumptions, optional
        What to take for granted.

    Returns
    -------
    Plan
        Settings at every tune, courses of the pitch, the common pitch, cautions.

    Raises
    ------
    InputError
        When there is no section, or the forecast does not cover the schedule.

    Notes
    -----
    All sides of an instrument drift alike. Each of the random draws takes one set of numbers from
    the fit and one error of the forecast through the whole performance; intervals are their 2.5
    and 97.5 % quantiles.

    Examples
    --------
    >>> from datetime import datetime, UTC
    >>> from drift.instruments import find
    >>> from drift.gig.timetable import Entry
    >>> from drift.gig.weather import constant_forecast
    >>> start, end = (datetime(2026, 10, 9, hour, tzinfo=UTC) for hour in (19, 21))
    >>> trumpets = Section("trumpets", find("Bb trumpet"), 12, ("main",), {"main": 15})
    >>> cold = plan(
    ...     constant_forecast(4, start, end), [trumpets], Schedule((Entry(start, end, "play"),))
    ... )
    >>> cold.settings[0].moves[0].move_mm < 0  # flat in the cold: push in
    True
    """
    if not sections:
        raise InputError("there is no section to plan for", "write one row a section and slide")
    take, known = assumptions or Assumptions(), fit or physics()
    times = schedule.instants(take.step_minutes)
    weather = forecast.at(times)
    outdoors = _outdoors(schedule, times, weather, take)
    blocks = schedule.blocks()
    served = [
        _served(schedule, times, block, blocks[number:]) for number, block in enumerate(blocks)
    ]

    def courses_of(schedule: Schedule) -> dict[str, Course]:
        alike = {_decisive(section, known): section for section in sections}
        found = {
            what: course_of(section, known, schedule, outdoors, served, take.tuned, take.seed)
            for what, section in alike.items()
        }
        return {section.name: found[_decisive(section, known)] for section in sections}

    courses = courses_of(schedule)
    # A tune that no playing follows limits no pitch.
    playing = [number for number, block in enumerate(blocks) if block.plays] or [0]
    pitch = _pitch(sections, courses, served, playing, take)
    aim = take.sheets_a4_hz or take.a4_hz or pitch.recommended_a4_hz
    settings: list[Setting] = []
    planned = {}
    for section in sections:
        shift = shift_of(section, take.tuned, aim)
        found, planned[section.name] = retune(
            section, courses[section.name], blocks, served, times, shift, take.retune_cents
        )
        settings += found
    return Plan(
        schedule=schedule,
        times=times,
        celsius=outdoors.celsius,
        sections=tuple(sections),
        courses=courses,
        settings=tuple(sorted(settings, key=lambda setting: setting.block.tune_at)),
        planned_cents=planned,
        aim_a4_hz=aim,
        pitch=pitch,
        cautions=_cautions(sections, outdoors, weather, take),
        assumptions=take,
        unblown=begun_unblown(sections, schedule, times, courses, planned, courses_of),
        warnings=(
            *weather.notices,
            *with_air(schedule.notices, outdoors),
            *_about_schedule(schedule, blocks, served, outdoors),
            *_about_start(schedule, outdoors, take),
            *_about_sections(sections, known, outdoors),
        ),
    )


def _decisive(section: Section, fit: Fit) -> Hashable:
    """Return what decides the course of a section: those alike in it share one.

    That is its instrument's and its players' own readings, or else what is expected before any.
    """
    instrument = section.instrument
    if instrument.name in fit.kinds:
        return (
            instrument.name,
            section.names,
            section.players if section.names else section.players == 1,
        )
    return instrument.fixed_pitch or instrument.priors


def _outdoors(
    schedule: Schedule, times: pd.DatetimeIndex, weather: Weather, take: Assumptions
) -> Outdoors:
    """Return temperatures around the instruments and draws of the forecast's error."""
    from scipy.special import ndtri

    entries = [schedule.entries[number] for number in schedule.entry_at(times)]
    offset = np.array([entry.offset_celsius for entry in entries])
    typed = np.array([np.nan if e.celsius is None else e.celsius for e in entries], dtype=float)
    forecast = np.isnan(typed)
    # One draw in each of equally likely slices, shuffled: their mean is zero, as it should be.
    rank = (np.random.default_rng(take.seed).permutation(take.draws) + 0.5) / take.draws
    error = take.forecast_error_celsius / SD_IN_95_PERCENT * ndtri(rank)
    celsius = np.where(forecast, weather.celsius, typed) + offset
    return Outdoors(times, celsius, error, forecast, take.lag_minutes)


def _served(
    schedule: Schedule, times: pd.DatetimeIndex, block: Block, onwards: Sequence[Block]
) -> Served:
    """Return the playing that a tune has to serve, and where in it the tuner is read.

    A tune that no playing follows serves the next block that has some.
    """
    moment = pd.Timestamp(block.read_at)
    after = int(np.clip(times.searchsorted(moment, side="right"), 1, len(times) - 1))
    share = (moment - times[after - 1]) / (times[after] - times[after - 1])
    serves = next((later for later in onwards if later.plays), block)
    return Served(_window(schedule, times, serves), after - 1 + float(share))


def _window(schedule: Schedule, times: pd.DatetimeIndex, block: Block) -> NDArray[np.bool_]:
    """Return the instants of playing that a tune has to serve; its own where none ever follows."""
    start, end, activity = block.ready, block.end, "play"
    if not block.plays:
        start, end, activity = block.tune_at, block.ready, "tune"
    those = schedule.performances if activity == "play" else schedule.entries
    chosen = np.array([e.activity == activity and e in those for e in schedule.entries])
    inside = (times >= pd.Timestamp(start)) & ((times < pd.Timestamp(end)) | (end == schedule.end))
    window = np.asarray(inside & chosen[schedule.entry_at(times)])
    if not window.any():  # shorter than a step of time
        window[min(int(times.searchsorted(pd.Timestamp(start))), len(times) - 1)] = True
    return window


def _pitch(
    sections: Sequence[Section],
    courses: Mapping[str, Course],
    served: Sequence[Served],
    playing: Sequence[int],
    take: Assumptions,
) -> Pitch:
    """Return the common pitch around the nominal A4, for the windows that have playing."""
    nominal = take.a4_hz or take.tuned.a4_hz
    played = np.logical_or.reduce([served[number].window for number in playing])
    parts, fixed = [], []
    for section in sections:
        course, shift = courses[section.name], shift_of(section, take.tuned, nominal)
        if section.instrument.fixed_pitch is not None:
            cents = course.cents[played] + shift
            fixed.append(FixedPart(section, float(cents.min()), float(cents.max())))
        elif section.slides:
            expected = tuple((course.mean[playing] + shift).tolist())
            around = tuple(course.cents[served[n].window] - course.mean[n] for n in playing)
            parts.append(AdjustablePart(section, expected, around))
    return compare_pitches(parts, fixed, nominal)


def _cautions(
    sections: Sequence[Section], outdoors: Outdoors, weather: Weather, take: Assumptions
) -> tuple[Caution, ...]:
    """Return cautions; where the schedule gives the temperature there is no wind and no sun."""
    there = outdoors.forecast
    return cautions(
        outdoors.times,
        np.where(there, weather.celsius, outdoors.celsius),
        humidity_percent=np.where(there, weather.humidity_percent, np.nan),
        wind_m_s=np.where(there, weather.wind_m_s, np.nan),
        metal_celsius=outdoors.celsius,
        sections=sections,
        sun=take.sun,
        wbgt=take.wbgt,
    )


def _about_schedule(
    schedule: Schedule, blocks: Sequence[Block], served: Sequence[Served], outdoors: Outdoors
) -> Iterator[Finding]:
    """Yield what a reader must know of the schedule."""
    if not schedule.tuned:
        added = blocks[0].tune_at.isoformat() if blocks[0].scheduled else None
        yield Finding("no_tune", {"added_at": added})
    yield from _without_room_to_tune(schedule, blocks, outdoors)
    rooms = [
        [entry.start.isoformat(), entry.remark]
        for entry in schedule.entries
        if entry.activity in ("play", "tune", "rest")
        and entry.occupied in ("", SILENT)
        and entry.celsius is None
        and ROOM.search(entry.remark)
    ]
    if rooms:
        yield Finding("room_without_temperature", {"entries": rooms})
    for block, serves in zip(blocks, served, strict=True):
        room, field = (
            outdoors.celsius[serves.window & (outdoors.forecast == there)]
            for there in (False, True)
        )
        if len(room) and len(field) and abs(room.mean() - field.mean()) > AIR_CHANGED_CELSIUS:
            yield Finding(
                "one_tune_for_room_and_field",
                {
                    "tune_at": block.tune_at.isoformat(),
                    "room_celsius": float(room.mean()),
                    "field_celsius": float(field.mean()),
                },
            )
    early = [
        entry
        for entry in schedule.performances
        # Playing in a room whose temperature is given is taken for a warm-up.
        if entry.celsius is None and entry.start < blocks[0].tune_at
    ]
    if early:
        times = {"time": early[0].start.isoformat(), "tune_at": blocks[0].tune_at.isoformat()}
        yield Finding("plays_before_tuning", times)


def _about_start(schedule: Schedule, outdoors: Outdoors, take: Assumptions) -> Iterator[Finding]:
    """Yield that the air of the start is taken for that of the instruments, where it matters."""
    away = abs(float(outdoors.celsius[0]) - take.tuned.celsius)
    if schedule.begins_outdoors and away > AIR_CHANGED_CELSIUS:
        yield Finding("begins_outdoors", {"time": schedule.start.isoformat()})


def _without_room_to_tune(
    schedule: Schedule, blocks: Sequence[Block], outdoors: Outdoors
) -> Iterator[Finding]:
    """Yield where the band comes into other air and plays at once: it cannot tune on the way."""
    entry_at = schedule.entry_at(outdoors.times)
    for block in blocks:
        for first in schedule.played_between(block.ready, block.end)[:1]:
            number = schedule.entries.index(first)
            before = schedule.entries[max(number - 1, 0)]
            ends = pd.Timestamp(block.tune_at), pd.Timestamp(block.ready)
            tuned = (outdoors.times >= ends[0]) & (outdoors.times <= ends[1])
            air = [float(outdoors.celsius[chosen].mean()) for chosen in (tuned, entry_at == number)]
            if before.occupied not in ("", SILENT) and abs(air[1] - air[0]) > AIR_CHANGED_CELSIUS:
                times = {"time": first.start.isoformat(), "way": before.remark}
                yield Finding("no_room_to_tune", times)


def _about_sections(sections: Sequence[Section], fit: Fit, outdoors: Outdoors) -> Iterator[Finding]:
    """Yield what a reader must know of the sections and of what is known about them."""
    blown = [section for section in sections if section.instrument.fixed_pitch is None]
    if idle := [section.name for section in blown if not section.slides]:
        yield Finding("no_slide", {"sections": idle})
    slides = [(s, slide) for s in blown for slide in s.movable]
    unplaced = [[s.name, slide] for s, slide in slides if slide not in s.at_mm]
    endless = [[s.name, slide] for s, slide in slides if slide not in s.travel_mm]
    found = {
        "no_position_no_travel": [one for one in unplaced if one in endless],
        "no_position": [one for one in unplaced if one not in endless],
        "no_travel": [one for one in endless if one not in unplaced],
    }
    yield from (Finding(kind, {"slides": those}) for kind, those in found.items() if those)
    ends = (round(float(end), 1) for end in (outdoors.celsius.min(), outdoors.celsius.max()))
    if beyond := next(filter(None, map(fit.extrapolation, ends)), None):
        yield beyond
    if misspelt := [one for section in blown for one in nearly_read(fit, section, sections)]:
        yield Finding("name_nearly_read", {"names": misspelt})
    if unlogged := set_for_the_air(fit):
        yield Finding("slides_unlogged", {"rehearsals": [*unlogged]})
    yield from (replace(one, values={**one.values, "of_rehearsals": True}) for one in fit.warnings)
