"""What is known before a plan: its schedule, forecast, sections and assumptions, as typed."""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Any

from drift.cli.options import catalogue_of
from drift.errors import InputError
from drift.quantities import HERTZ, read_quantity

if TYPE_CHECKING:
    from drift.gig.plan import Assumptions
    from drift.gig.roster import Roster, Section
    from drift.gig.timetable import Schedule
    from drift.gig.weather import Forecast
    from drift.study import Study

__all__ = [
    "assumptions_of",
    "columns_of",
    "day_of",
    "evening_of",
    "forecast_of",
    "roster_of",
    "scenarios_of",
    "schedule_of",
    "zone_of",
]


def zone_of(options: argparse.Namespace) -> tzinfo | None:
    """Return the zone of times without one: an offset, or a name such as America/New_York."""
    if not options.zone:
        return None
    try:
        zone = datetime.strptime(options.zone.replace("−", "-"), "%z").tzinfo
    except ValueError:
        return _named_zone(options.zone)
    return zone or UTC


def _named_zone(name: str) -> tzinfo:
    from zoneinfo import ZoneInfo

    # Three letters mean different zones to different people.
    if "/" in name or name == "UTC":
        with suppress(ValueError, OSError, KeyError):
            return ZoneInfo(name)
    raise InputError(
        f"--zone {name!r} is not a zone", "write it such as America/New_York, or --zone=-04:00"
    )


def columns_of(options: argparse.Namespace) -> dict[str, str]:
    """Return the names of columns that the user gave: ``temp=celsius``."""
    found = {}
    for text in options.columns:
        head, _, name = text.rpartition("=")
        if not (head and name):
            raise InputError(
                f"--columns {text!r} does not name a column", "write it such as temp=celsius"
            )
        found[head] = name
    return found


def evening_of(
    options: argparse.Namespace, study: Study
) -> tuple[Schedule, Forecast, tuple[Section, ...]]:
    """Return schedule, forecast and sections; what is wrong with any of them, all at once."""
    from drift.gig.folder import KINDS, not_read
    from drift.tables.problems import every

    if not options.forecast and options.celsius is None:
        raise InputError(
            "neither --forecast nor --celsius is given", "give one of them; see drift gig --help"
        )
    if options.forecast and options.celsius is not None:
        raise InputError("both --forecast and --celsius are given", "give one of them")
    zone, day = zone_of(options), day_of(options)
    take: dict[str, Callable[[], Any]] = {
        "schedule": lambda: schedule_of(options, zone, day),
        "forecast": lambda: forecast_of(options, zone, day) if options.forecast else None,
        "roster": lambda: roster_of(options, study),
    }
    schedule, forecast, roster = every(take, lambda name: take[name]())
    # What is not planned and what is not read is told in the answer, with what the schedule has.
    given = [(kind, getattr(options, kind)) for kind in KINDS]
    unread = not_read([(kind, path) for kind, path in given if path], columns_of(options))
    schedule = replace(schedule, notices=(*schedule.notices, *roster.notices, *unread))
    return schedule, forecast or _held(options, schedule), roster.sections


def day_of(options: argparse.Namespace) -> datetime | None:
    """Return midnight of the day of times that have no date, from --date or any of the files."""
    from drift.gig.days import day_of_table

    if options.date:
        return _midnight(options, zone_of(options))
    for kind, path in (("schedule", options.schedule), ("forecast", options.forecast)):
        if path is None:
            continue
        if path.suffix.lower() == ".ics":
            with suppress(InputError):
                start = schedule_of(options, zone_of(options), None, path).start
                return start.replace(hour=0, minute=0, second=0, microsecond=0)
        elif (day := day_of_table(path, columns_of(options), kind, options.dates)) is not None:
            return day
    return None


def _held(options: argparse.Namespace, schedule: Schedule) -> Forecast:
    """Return the forecast of someone who gave one temperature."""
    from drift.degrees import parse_degrees
    from drift.gig.weather import constant_forecast

    return constant_forecast(
        parse_degrees(options.celsius),
        schedule.start,
        schedule.end,
        humidity_percent=options.humidity,
        wind_m_s=options.wind,
    )


def forecast_of(
    options: argparse.Namespace,
    zone: tzinfo | None,
    day: datetime | None = None,
    path: Path | None = None,
) -> Forecast:
    """Return the forecast of a table, or of a file of a weather service."""
    from drift.gig.gridded import GRIDDED, read_gridded
    from drift.gig.weather import read_forecast

    path = path or options.forecast
    if path.suffix.lower() in GRIDDED:
        return read_gridded(path, _place(options.place))
    return read_forecast(path, zone, columns_of(options), day, options.dates)


def _place(text: str | None) -> tuple[float, float] | None:
    """Return latitude and longitude."""
    if text is None:
        return None
    try:
        latitude, longitude = (float(part) for part in text.replace("−", "-").split(","))
    except ValueError:
        latitude = longitude = 999.0
    if not (abs(latitude) <= 90 and abs(longitude) <= 360):
        raise InputError(f"--place {text!r} is not a place", "write it such as --place=40.7,-74.0")
    return latitude, longitude


def schedule_of(
    options: argparse.Namespace,
    zone: tzinfo | None,
    day: datetime | None = None,
    path: Path | None = None,
) -> Schedule:
    """Return the schedule of a calendar, of a table, or of two times that were typed."""
    path = path or options.schedule
    if path is None:
        return _typed_schedule(options, zone)
    if path.suffix.lower() == ".ics":
        from drift.gig.calendar import read_calendar

        return read_calendar(path, zone, columns_of(options))
    from drift.gig.timetable import read_schedule

    return read_schedule(path, zone, day, columns_of(options), options.dates)


def _midnight(options: argparse.Namespace, zone: tzinfo | None) -> datetime | None:
    """Return the beginning of --date, or None where no date is given."""
    from drift.gig.days import date_of
    from drift.tables.spelled_times import day_order

    if not options.date:
        return None
    day = date_of(options.date, day_order([options.date], options.dates))
    if day is None:
        raise InputError(
            f"--date {options.date!r} is not a date, or could be two", "write it such as 2026-10-09"
        )
    midnight = datetime.combine(day, datetime.min.time())
    return midnight.replace(tzinfo=zone) if zone else midnight.astimezone()


def _typed_schedule(options: argparse.Namespace, zone: tzinfo | None) -> Schedule:
    """Return the schedule of someone who plays from one time to another."""
    from drift.gig.days import over_midnight
    from drift.gig.timetable import Entry, Schedule

    if not (options.begin and options.end):
        raise InputError("no schedule", "give --schedule S.csv, or --from and --to")
    today = datetime.now(zone).astimezone(zone).replace(hour=0, minute=0, second=0, microsecond=0)
    begin = _clock(options.begin, "--from", _midnight(options, zone) or today)
    end = _clock(options.end, "--to", begin)
    if end.date() > begin.date() and not over_midnight(begin, end):
        raise InputError(
            f"--to {options.end} is before --from {options.begin}",
            "correct one of them; only an evening from 18:00 on may end before 06:00",
        )
    ready = begin + timedelta(minutes=options.tune)
    if not begin <= ready < end:
        raise InputError(
            f"{options.tune:g} minutes of tuning do not fit between {begin:%H:%M} and {end:%H:%M}",
            "correct --from, --to or --tune",
        )
    tuning = [Entry(begin, ready, "tune")] if ready > begin else []
    return Schedule((*tuning, Entry(ready, end, "play")))


def _clock(text: str, option: str, after: datetime) -> datetime:
    """Return the next instant, not before another, with a time of day."""
    from drift.tables.spelled_times import clock_of

    clock = clock_of(text)
    if clock is None:
        raise InputError(f"{option} {text!r} is not a time of day", "write it such as 18:30")
    found = after.replace(hour=clock.hour, minute=clock.minute)
    return found if found >= after else found + timedelta(days=1)


def roster_of(options: argparse.Namespace, study: Study) -> Roster:
    """Return the roster, or a section for each instrument that was named or has readings."""
    from drift.gig.roster import Roster, Section, read_whole_roster
    from drift.gig.unpitched import has_no_pitch
    from drift.instruments import find

    if options.roster:
        return read_whole_roster(options.roster, catalogue_of(options), columns_of(options))
    names = dict.fromkeys(options.instrument or study.fit.kinds)
    if not names:
        raise InputError("no roster and no instrument", "give --roster R.csv or --instrument I")
    if drums := [name for name in names if has_no_pitch(name)]:
        raise InputError(f"no pitch to tune: {', '.join(drums)}", "leave out --instrument for it")
    found = [find(name, catalogue_of(options)) for name in names]
    return Roster(
        tuple(
            Section(
                kind.name,
                kind,
                slides=tuple(slide.name for slide in kind.slides),
                at_mm=_where_left(study, kind.name),
            )
            for kind in found
        )
    )


def _where_left(study: Study, instrument: str) -> dict[str, float]:
    """Return where the only player of an instrument left the slides [mm]."""
    kind = study.fit.kinds.get(instrument)
    if kind is None or len(kind.players) != 1:
        return {}
    (player,) = kind.players
    return study.last_positions(player, instrument)


def assumptions_of(options: argparse.Namespace, schedule: Schedule) -> Assumptions:
    """Return what the plan takes for granted, as typed."""
    from drift.gig.course import Tuned
    from drift.gig.plan import Assumptions

    return Assumptions(
        tuned=Tuned(_tuned_celsius(options), options.tuned_minutes, options.tuned_a4),
        a4_hz=_a4(options.a4),
        forecast_error_celsius=_forecast_error(options),
        lag_minutes=options.lag,
        retune_cents=options.limit,
        sun=options.sun,
        wbgt=tuple(_wbgt(options, text, schedule) for text in options.wbgt),
        draws=_draws(options.draws),
    )


def _tuned_celsius(options: argparse.Namespace) -> float:
    """Return where the band tuned before; the option has its unit in its name."""
    from drift.degrees import NO_ROOM_CELSIUS, parse_degrees, shown_degrees

    celsius = parse_degrees(options.tuned_celsius)
    if celsius > NO_ROOM_CELSIUS:
        there = shown_degrees(celsius, options.fahrenheit)
        raise InputError(
            f"--tuned-celsius {options.tuned_celsius!r} is {there}, where no band tunes",
            f"write it in °C, or with its unit, such as {options.tuned_celsius.rstrip('°CFcf ')}F",
        )
    return celsius


def _a4(text: str | None) -> float | None:
    if text in (None, "recommended"):
        return None
    hertz = read_quantity(text or "", HERTZ)
    if hertz is None or not 380 <= hertz <= 480:
        raise InputError(f"--a4 {text!r} is no A4", "write hertz from 380 to 480, or recommended")
    return hertz


def _draws(number: int) -> int:
    if not 100 <= number <= 100_000:
        raise InputError(f"--draws {number} is too few or too many", "take 100 to 100000")
    return number


def _degrees(options: argparse.Namespace, text: str, *, difference: bool = False) -> float:
    """Return degrees in °C; a plain number is in the units that the user chose."""
    from drift.quantities import TEMPERATURE, Units, parse_quantity, with_units

    quantity = with_units(TEMPERATURE, Units(fahrenheit=options.fahrenheit))
    return parse_quantity(text, quantity, difference=difference)


def _forecast_error(options: argparse.Namespace) -> float:
    from drift.gig.plan import Assumptions

    if options.forecast_error is None:
        return Assumptions.forecast_error_celsius
    return abs(_degrees(options, options.forecast_error, difference=True))


def _wbgt(options: argparse.Namespace, text: str, schedule: Schedule) -> tuple[datetime, float]:
    """Return a measured wet-bulb globe temperature and when it was measured."""
    value, _, clock = text.partition("@")
    midnight = schedule.start.replace(hour=0, minute=0, second=0, microsecond=0)
    time = _clock(clock, "--wbgt", midnight) if clock else schedule.start
    return time, _degrees(options, value)


def scenarios_of(
    options: argparse.Namespace, forecast: Forecast, schedule: Schedule
) -> list[tuple[str, Forecast, Schedule]]:
    """Return name, forecast and schedule of each scenario; what is wrong with any, all at once."""
    from drift.tables.problems import every

    read: list[Callable[[], Any]] = []
    names = []
    for text in options.scenario:
        name, _, how = text.partition("=")
        if not (name and how):
            raise InputError(f"--scenario {text!r} has no name or no weather", "write NAME=+6")
        first, _, second = how.partition(",")
        read += _scenario(options, first, second, forecast, schedule)
        names.append(name)
    found = every(read, lambda take: take())
    return list(zip(names, found[::2], found[1::2], strict=True))


def _scenario(
    options: argparse.Namespace, first: str, second: str, forecast: Forecast, schedule: Schedule
) -> tuple[Callable[[], Forecast], Callable[[], Schedule]]:
    """Return what reads the weather and the timetable of a scenario, both as the plan's own."""
    file = Path(first) if re.search(r"\.[A-Za-z]", first) else None
    files = {"forecast": file, "schedule": Path(second) if second else None}
    those = argparse.Namespace(**{**vars(options), **files})
    zone = zone_of(options)
    # Without a date of its own it is of the evening that is planned.
    midnight = schedule.start.replace(hour=0, minute=0, second=0, microsecond=0)

    def weather() -> Forecast:
        if file is None:
            return forecast.shifted(_degrees(options, first, difference=True))
        return forecast_of(those, zone, day_of(those) or midnight)

    def timetable() -> Schedule:
        return schedule_of(those, zone, day_of(those) or midnight) if second else schedule

    return weather, timetable
