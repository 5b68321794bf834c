"""Plan an outdoor performance: which slide each section moves, how far and when.

for example:
  drift gig --templates tonight
  drift gig --celsius 4 --from 18:30 --to 21:00 --instrument "Bb trumpet"

With files: drift gig band.logbook --forecast f.csv --roster r.csv --schedule s.csv --out tonight.
The plan also shows how far out of tune each section may still be.

Good to know:
  SOURCE is your band's own readings (a logbook or rehearsal folder); leave it out to use acoustics
  alone. The files are CSV; --templates writes some to start from. Without files, give one
  temperature and two times. Temperatures may be written in °F, such as 50F.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING

from drift.cli.options import add_instruments, add_json, amount, catalogue_of, print_json
from drift.cli.table_check import mention
from drift.errors import InputError
from drift.quantities import CENTS, HERTZ, MINUTES, NUMBER, PERCENT, read_quantity

if TYPE_CHECKING:
    from drift.gig.plan import Assumptions
    from drift.gig.roster import Section
    from drift.gig.timetable import Schedule
    from drift.gig.weather import Forecast
    from drift.regression.results import Fit

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    add = parser.add_argument
    add("source", metavar="SOURCE", nargs="?", default="acoustics",
        help="a rehearsal folder or a logbook (default: acoustics alone)")  # fmt: skip
    add("--templates", metavar="DIR", type=Path, help="write files to fill in, and stop")
    add("--out", metavar="DIR", type=Path, help="write plan.csv, timeline.csv, figure, PDFs")
    add("--fahrenheit", action="store_true", help="show temperatures in °F")
    add("--paper", choices=("a4", "letter"), default="a4", help="of the PDFs (default a4)")
    add_json(parser)
    add_instruments(parser)
    _add_inputs(parser.add_argument_group("from files"))
    _add_by_hand(parser.add_argument_group("without files"))
    _add_assumptions(parser.add_argument_group("assumptions"))


def _add_inputs(group: argparse._ArgumentGroup) -> None:
    add = group.add_argument
    add("--forecast", metavar="F.csv", type=Path, help="time, celsius, humidity_percent, wind_m_s")
    add("--roster", metavar="R.csv", type=Path, help="one row a section and slide")
    add(
        "--schedule",
        metavar="S.csv",
        type=Path,
        help="start, end, activity (play, rest, tune, stands, warm)",
    )
    add(
        "--zone",
        metavar="ZONE",
        help="time zone of times without one, e.g. America/New_York or -04:00",
    )
    add("--columns", metavar="HEAD=NAME", action="append", default=[],
        help="what a column of your files means, e.g. temp=celsius; repeat")  # fmt: skip
    add("--check", action="store_true",
        help="list every problem of the files, each with row and remedy, and stop")  # fmt: skip
    add("--scenario", metavar="NAME=HOW", action="append", default=[],
        help="beside the plan: HOW is degrees warmer (+6, -5), or FORECAST.csv, or "
        "FORECAST.csv,SCHEDULE.csv; repeat for more than one")  # fmt: skip


def _add_by_hand(group: argparse._ArgumentGroup) -> None:
    add = group.add_argument
    add("--celsius", metavar="T", help="temperature all through")
    add("--from", metavar="HH:MM", dest="begin", help="when the band begins")
    add("--to", metavar="HH:MM", dest="end", help="when it stops")
    add("--tune", metavar="MIN", type=amount(MINUTES), default=10.0,
        help="minutes of tuning at the beginning (default 10)")  # fmt: skip
    add("--date", metavar="YYYY-MM-DD", help="of the performance (default today)")
    add("--humidity", metavar="PERCENT", type=amount(PERCENT), help="relative humidity")
    add("--wind", metavar="M_S", type=amount(NUMBER), help="wind [m/s]")
    add("--instrument", metavar="I", action="append", default=[],
        help="in place of a roster; repeat for more than one")  # fmt: skip


def _add_assumptions(group: argparse._ArgumentGroup) -> None:
    add = group.add_argument
    add("--tuned-celsius", metavar="T", default="20", help="where the band tuned (default 20 °C)")
    add("--tuned-minutes", metavar="MIN", type=amount(MINUTES), default=30.0,
        help="minutes the band had played before tuning (default 30)")  # fmt: skip
    add("--tuned-a4", metavar="HZ", type=amount(HERTZ), default=440.0,
        help="A4 that the band tuned to (default 440)")  # fmt: skip
    add("--a4", metavar="HZ",
        help="target A4 in Hz (default: nearest to 440 that all sections reach)")  # fmt: skip
    add("--forecast-error", metavar="D", default="2",
        help="the forecast is right within ± this, 95 %% (default 2, an assumption)")  # fmt: skip
    add("--as-scheduled", action="store_true",
        help="leave the schedule alone: add no tuning and no warm air")  # fmt: skip
    add("--limit", metavar="CENTS", type=amount(CENTS), default=8.0,
        help="deviation at which to tune again (default 8)")  # fmt: skip
    add("--draws", metavar="N", type=int, default=500, help="random draws (default 500)")
    add("--sun", action="store_true", help="the band stands in full sun")
    add("--wbgt", metavar="T@HH:MM", action="append", default=[],
        help="a wet-bulb globe temperature measured on the spot; repeat for more")  # fmt: skip


def run(options: argparse.Namespace) -> int:
    """Carry out the command."""
    if options.templates:
        from drift.gig.templates import write_templates

        for file in write_templates(options.templates):
            print(file)
        return 0
    if options.check:
        return _check(options)
    from drift.gig.scenarios import Scenarios
    from drift.study import Study

    study = Study.open(options.source, catalogue=catalogue_of(options))
    mention(study.rehearsals.understood)
    schedule, forecast = _when(options)
    sections = _sections(options, study.fit)
    assumptions = _assumptions(options, schedule)
    plans = study.plans(
        forecast, sections, schedule, assumptions, as_scheduled=options.as_scheduled
    )
    planned = plans[0]
    others = {
        name: study.plans(
            other_forecast,
            sections,
            other_schedule,
            replace(assumptions, a4_hz=planned.aim_a4_hz),
            as_scheduled=options.as_scheduled,
        )[0]
        for name, other_forecast, other_schedule in _scenarios(options, forecast, schedule)
    }
    scenarios = Scenarios({"as planned": planned, **others}) if others else None
    files: list[Path] = []
    if options.out:
        from drift.sheets.plan_files import write_plans

        files = write_plans(
            plans,
            options.out,
            scenarios=scenarios,
            fahrenheit=options.fahrenheit,
            paper=options.paper,
        )
    if options.json:
        beside = {"scenarios": scenarios.to_json()} if scenarios else {}
        second = {"other_pitches": [found.to_json() for found in plans[1:]]}
        print_json({**planned.to_json(), **second, **beside})
        return 0
    print("\n\n".join(found.summary(options.fahrenheit) for found in plans))
    if scenarios:
        print(f"\nScenarios\n{scenarios.summary(options.fahrenheit)}")
    for file in files:
        print(f"wrote {file}")
    return 0


def _check(options: argparse.Namespace) -> int:
    """Read the files and print every problem of theirs, each with its remedy."""
    from drift.gig.roster import read_roster
    from drift.gig.weather import read_forecast

    zone, columns = _zone(options), _columns(options)
    readings: dict[Path | None, Callable[[], object]] = {
        options.forecast: lambda: read_forecast(options.forecast, zone, columns),
        options.schedule: lambda: _read_schedule(options, zone),
        options.roster: lambda: read_roster(options.roster, catalogue_of(options), columns),
    }
    problems = 0
    for path, read in readings.items():
        if path is None:
            continue
        try:
            read()
            print(f"{path}: nothing to correct")
        except InputError as refusal:
            for found in getattr(refusal, "parts", (refusal,)):
                problems += 1
                print(f"{found.problem}\n    {found.remedy}")
    return 1 if problems else 0


def _zone(options: argparse.Namespace) -> tzinfo | None:
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


def _columns(options: argparse.Namespace) -> dict[str, str]:
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


def _when(options: argparse.Namespace) -> tuple[Schedule, Forecast]:
    """Return schedule and forecast, each from its file or from what was typed."""
    from drift.degrees import parse_degrees
    from drift.gig.weather import constant_forecast, read_forecast

    if not options.forecast and options.celsius is None:
        raise InputError(
            "neither --forecast nor --celsius is given", "give one of them; see drift gig --help"
        )
    if options.forecast and options.celsius is not None:
        raise InputError("both --forecast and --celsius are given", "give one of them")
    zone = _zone(options)
    schedule = (_read_schedule if options.schedule else _typed_schedule)(options, zone)
    if options.forecast:
        return schedule, read_forecast(options.forecast, zone, _columns(options))
    return schedule, constant_forecast(
        parse_degrees(options.celsius),
        schedule.start,
        schedule.end,
        humidity_percent=options.humidity,
        wind_m_s=options.wind,
    )


def _read_schedule(options: argparse.Namespace, zone: tzinfo | None) -> Schedule:
    """Return the schedule of a calendar or of a table."""
    if options.schedule.suffix.lower() == ".ics":
        from drift.gig.calendar import read_calendar

        return read_calendar(options.schedule, zone)
    from drift.gig.timetable import read_schedule

    return read_schedule(options.schedule, zone, _midnight(options, zone), _columns(options))


def _midnight(options: argparse.Namespace, zone: tzinfo | None) -> datetime | None:
    """Return the beginning of --date, or None where no date is given."""
    if not options.date:
        return None
    try:
        day = datetime.strptime(options.date, "%Y-%m-%d")  # noqa: DTZ007
    except ValueError:
        raise InputError(
            f"--date {options.date!r} is no date", "write it such as 2026-10-09"
        ) from None
    return day.replace(tzinfo=zone) if zone else day.astimezone()


def _typed_schedule(options: argparse.Namespace, zone: tzinfo | None) -> Schedule:
    """Return the schedule of someone who plays from one time to another."""
    from drift.gig.timetable import Entry, Schedule, over_midnight

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
    try:
        clock = datetime.strptime(text, "%H:%M")  # noqa: DTZ007
    except ValueError:
        raise InputError(f"{option} {text!r} is no time of day", "write it such as 18:30") from None
    found = after.replace(hour=clock.hour, minute=clock.minute)
    return found if found >= after else found + timedelta(days=1)


def _sections(options: argparse.Namespace, fit: Fit) -> tuple[Section, ...]:
    """Return the roster, or a section for each instrument that was named or has readings."""
    from drift.gig.roster import Section, read_roster
    from drift.instruments import find

    if options.roster:
        return read_roster(options.roster, catalogue_of(options), _columns(options))
    names = dict.fromkeys(options.instrument or fit.kinds)
    if not names:
        raise InputError("no roster and no instrument", "give --roster R.csv or --instrument I")
    found = [find(name, catalogue_of(options)) for name in names]
    return tuple(
        Section(kind.name, kind, slides=tuple(slide.name for slide in kind.slides))
        for kind in found
    )


def _assumptions(options: argparse.Namespace, schedule: Schedule) -> Assumptions:
    from drift.degrees import parse_degrees
    from drift.gig.course import Tuned
    from drift.gig.plan import Assumptions

    return Assumptions(
        tuned=Tuned(parse_degrees(options.tuned_celsius), options.tuned_minutes, options.tuned_a4),
        a4_hz=_a4(options.a4),
        forecast_error_celsius=abs(parse_degrees(options.forecast_error, difference=True)),
        retune_cents=options.limit,
        sun=options.sun,
        wbgt=tuple(_wbgt(text, schedule) for text in options.wbgt),
        draws=_draws(options.draws),
    )


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


def _wbgt(text: str, schedule: Schedule) -> tuple[datetime, float]:
    """Return a measured wet-bulb globe temperature and when it was measured."""
    from drift.degrees import parse_degrees

    value, _, clock = text.partition("@")
    midnight = schedule.start.replace(hour=0, minute=0, second=0, microsecond=0)
    time = _clock(clock, "--wbgt", midnight) if clock else schedule.start
    return time, parse_degrees(value)


def _scenarios(
    options: argparse.Namespace, forecast: Forecast, schedule: Schedule
) -> list[tuple[str, Forecast, Schedule]]:
    """Return name, forecast and schedule of each scenario beside the plan."""
    from drift.degrees import parse_degrees
    from drift.gig.timetable import read_schedule
    from drift.gig.weather import read_forecast

    found = []
    for text in options.scenario:
        name, _, how = text.partition("=")
        if not (name and how):
            raise InputError(f"--scenario {text!r} has no name or no weather", "write NAME=+6")
        first, _, second = how.partition(",")
        if first.endswith(".csv"):
            other = read_forecast(Path(first), _zone(options))
        else:
            other = forecast.shifted(parse_degrees(first, difference=True))
        when = read_schedule(Path(second), _zone(options)) if second else schedule
        found.append((name, other, when))
    return found
