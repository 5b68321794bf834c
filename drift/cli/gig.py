"""Plan an outdoor performance: which slide each section moves, how far and when.

for example:
  drift gig --templates tonight
  drift gig --celsius 4 --from 18:30 --to 21:00 --instrument "Bb trumpet"

With files: drift gig band.logbook --forecast f.csv --roster r.csv --schedule s.csv --out tonight.
The plan also shows how far out of tune each section may still be.

Good to know:
  SOURCE is your band's own readings (a logbook or rehearsal folder); leave it out to use acoustics
  alone. On a terminal, drift gig alone asks six questions and writes the files; --templates writes
  some to fill in. Without files, give one temperature and two times. Temperatures may be written
  in °F, such as 50F. Options may be kept in a file, as many a line as you like, and given as
  drift gig @FILE.
"""

from __future__ import annotations

import argparse
import shlex
import sys
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from drift.cli.options import (
    Once,
    add_instruments,
    add_json,
    add_tables,
    add_without,
    amount,
    catalogue_of,
    print_json,
)
from drift.cli.progress import shown_progress
from drift.cli.read_source import read_source
from drift.cli.table_check import mention
from drift.quantities import CENTS, HERTZ, MINUTES, NUMBER, PERCENT

if TYPE_CHECKING:
    from drift.gig.plan import Plan

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    # Options of an evening are typed once: drift gig @evening.txt
    parser.fromfile_prefix_chars = "@"
    parser.convert_arg_line_to_args = partial(  # type: ignore[method-assign]
        shlex.split, comments=True
    )
    add = parser.add_argument
    add("source", metavar="SOURCE", nargs="?", default="acoustics",
        help="a rehearsal folder or a logbook (default: acoustics alone)")  # fmt: skip
    add("--templates", metavar="DIR", type=Path, help="write files to fill in, and stop")
    add("--out", metavar="DIR", type=Path, help="write plan.csv, timeline.csv, figure, PDFs")
    add("--fahrenheit", action="store_true",
        help="show temperatures in °F, and take plain numbers of --scenario, --forecast-error and "
        "--wbgt, and of the six questions, as °F")  # fmt: skip
    add("--paper", choices=("a4", "letter"), default="a4", help="of the PDFs (default a4)")
    add("--clock", choices=("12", "24"),
        help="times as 6:25 PM or as 18:25 (default: as the timetable has them)")  # fmt: skip
    add_json(parser)
    add_instruments(parser)
    _add_inputs(parser.add_argument_group("from files"))
    _add_by_hand(parser.add_argument_group("without files"))
    _add_assumptions(parser.add_argument_group("assumptions"))
    readings = parser.add_argument_group("readings as they are")
    add_tables(readings, zone=None)
    add_without(readings)


def _add_inputs(group: argparse._ArgumentGroup) -> None:
    add = group.add_argument
    add("--folder", metavar="DIR", type=Path,
        help="take forecast, schedule and roster from DIR, each known by its headings")  # fmt: skip
    add("--forecast", metavar="FILE", type=Path, action=Once,
        help="CSV: time, celsius, humidity_percent, wind_m_s; or NetCDF, GRIB")  # fmt: skip
    add("--place", metavar="LAT,LON", help="latitude and longitude, for a NetCDF or GRIB file")
    add(
        "--roster",
        metavar="R.csv",
        type=Path,
        action=Once,
        help="one row a section and slide; names of players",
    )
    add(
        "--schedule",
        metavar="S.csv",
        type=Path,
        action=Once,
        help="start, end, activity (play, rest, tune, stands, warm)",
    )
    add(
        "--zone",
        metavar="ZONE",
        help="time zone of times without one, e.g. America/New_York or -04:00",
    )
    add("--columns", metavar="HEAD=NAME", action="append", default=[],
        help="what a column or a word of your files means, e.g. temp=celsius; repeat for more "
        "than one")  # fmt: skip
    add("--check", metavar="PATH", type=Path, nargs="*",
        help="list every problem of these files or folders, and stop")  # fmt: skip
    add("--compare", metavar="LOGBOOK", type=Path,
        help="after the event: what was read then beside what was planned, and stop")  # fmt: skip
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
    add("--forecast-error", metavar="D",
        help="the forecast is right within ± this, 95 %% (default 2 °C, assumed)")  # fmt: skip
    add("--lag", metavar="MIN", type=amount(MINUTES), default=0.0,
        help="instruments follow the air so much later (from --compare; default 0)")  # fmt: skip
    add("--as-scheduled", action="store_true",
        help="leave the schedule alone: add no tuning and no warm air")  # fmt: skip
    add("--limit", metavar="CENTS", type=amount(CENTS), default=8.0,
        help="deviation at which to tune again (default 8)")  # fmt: skip
    add("--draws", metavar="N", type=int, default=500, help="random draws (default 500)")
    add("--sun", action="store_true", help="the band stands in full sun")
    add("--wbgt", metavar="T@HH:MM", action="append", default=[],
        help="a wet-bulb globe temperature measured on the spot; repeat for more "
        "than one")  # fmt: skip


def run(options: argparse.Namespace) -> int:
    """Carry out the command."""
    if options.templates:
        from drift.gig.templates import write_templates

        for file in write_templates(options.templates):
            print(file)
        return 0
    if options.check is not None:
        from drift.cli.gig_check import check

        return check(options)
    if options.folder:
        from drift.cli.gig_check import take_folder

        take_folder(options)
    if _asks(options):
        from drift.cli.gig_guided import ask_for_files

        for name, file in ask_for_files(options, _defaults()).items():
            setattr(options, name, file)
    from drift.cli.gig_inputs import assumptions_of, evening_of, scenarios_of, zone_of
    from drift.gig.scenarios import Scenarios
    from drift.study import Study

    catalogue = catalogue_of(options)
    study = Study.open(
        read_source(options, catalogue, zone=zone_of(options), beside=["dates"]),
        catalogue=catalogue,
        without=options.without_rehearsal,
        progress=shown_progress(f"{options.source}: fitting", "steps"),
    )
    mention(study.rehearsals.understood)
    left_out: tuple[str, ...] = ()
    if options.compare:
        from drift.cli.gig_compare import known_before

        study, left_out = known_before(study, options)
    schedule, forecast, sections = evening_of(options, study)
    if options.clock:
        schedule = replace(schedule, half_days=options.clock == "12")
    assumptions = assumptions_of(options, schedule)
    in_other_weather = scenarios_of(options, forecast, schedule)
    plans = study.plans(
        forecast, sections, schedule, assumptions, as_scheduled=options.as_scheduled
    )
    planned = plans[0]
    if options.compare:
        from drift.cli.gig_compare import compare_evening

        def planned_later(lag_minutes: float) -> Plan:
            take = replace(assumptions, a4_hz=planned.aim_a4_hz, lag_minutes=lag_minutes)
            again = forecast, sections, planned.schedule, take
            return study.plans(*again, as_scheduled=True)[0]

        return compare_evening(planned, planned_later, options, left_out)

    def in_weather_beside(plan: Plan) -> Scenarios:
        """Return the plan beside those of other weather, to the pitch of its sheets."""
        take = replace(assumptions, a4_hz=plan.pitch.a4_hz, sheets_a4_hz=plan.aim_a4_hz)
        others = {
            name: study.plans(weather, sections, times, take, as_scheduled=options.as_scheduled)[0]
            for name, weather, times in in_other_weather
        }
        return Scenarios({"as planned": plan, **others})

    scenarios = [in_weather_beside(plan) for plan in plans] if in_other_weather else []
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
        first, *rest = (
            {**plan.to_json(), **({"scenarios": scenarios[n].to_json()} if scenarios else {})}
            for n, plan in enumerate(plans)
        )
        print_json({**first, "words": _in_words(planned), "other_pitches": rest})
        return 0
    print("\n\n".join(found.summary(options.fahrenheit) for found in plans))
    if len(plans) > 1:
        print(
            f"\nTwo sets of sheets, one for each pitch. --a4 {planned.aim_a4_hz:g} gives the first "
            "alone."
        )
    for beside in scenarios[:1]:  # the sheets of another pitch have their own
        print(f"\nScenarios\n{beside.summary(options.fahrenheit)}")
    for file in files:
        print(f"wrote {file}")
    return 0


def _asks(options: argparse.Namespace) -> bool:
    """Return whether nothing is given and somebody is there to be asked."""
    given = (options.forecast, options.schedule, options.roster, options.celsius, options.begin,
             options.end, options.instrument, options.compare, options.folder)  # fmt: skip
    return not any(given) and not options.json and sys.stdin.isatty()


def _defaults() -> dict[str, object]:
    """Return what every option is where it is not given."""
    parser = argparse.ArgumentParser()
    add_arguments(parser)
    return vars(parser.parse_args([]))


def _in_words(plan: Plan) -> dict[str, object]:
    """Return the sentences of a plan, for those who read its JSON aloud."""
    from drift.words.gig import exceptions
    from drift.words.gig_cautions import caution_text, source_of
    from drift.words.gig_pitch import reason_words

    return {
        "pitch": reason_words(plan.pitch),
        "exceptions": exceptions(plan),
        "cautions": [
            {"kind": found.kind, "text": caution_text(found), "source": source_of(found)}
            for found in plan.cautions
        ],
    }
