"""Set what was read during an evening beside its plan, from a logbook or from tables."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from drift.cli.gig_inputs import columns_of, day_of, schedule_of, zone_of
from drift.cli.options import catalogue_of, print_json
from drift.cli.progress import shown_progress
from drift.cli.table_check import mention
from drift.errors import InputError

if TYPE_CHECKING:
    import pandas as pd

    from drift.gig.plan import Plan
    from drift.study import Study

__all__ = ["compare_evening", "known_before"]


#: What is recorded this long before a schedule begins is of its evening.
EVENING = timedelta(hours=3)


def known_before(study: Study, options: argparse.Namespace) -> tuple[Study, tuple[str, ...]]:
    """Return the study of what was known before the evening, and the rehearsals left out for it.

    A plan that is judged by an evening must not have been made from it.
    """
    from drift.study import Study

    known = study.rehearsals
    since = schedule_of(options, zone_of(options), day_of(options)).start - EVENING
    tables = (known.readings, known.temperatures, known.events)
    later = {name for table in tables for name in table.loc[table["time"] >= since, "rehearsal"]}
    if not later:
        return study, ()
    left_out = tuple(name for name in known.names if name in later)
    before = known.before(since)
    if before.readings.empty:
        raise InputError(
            f"{options.source} holds nothing from before that evening",
            "name the logbook that the sheets were made from, or acoustics",
        )
    return Study.open(before, catalogue=catalogue_of(options)), left_out


def compare_evening(
    plan: Plan,
    planned_later: Callable[[float], Plan],
    options: argparse.Namespace,
    left_out: Sequence[str] = (),
) -> int:
    """Print what was read during the evening beside its plan.

    Readings of a table that names no A4 were read on tuners set as the plan says.

    Parameters
    ----------
    plan : Plan
        The plan of the pitch that was played.
    planned_later : callable
        Gives the same plan for instruments that follow the air with another lag [min].
    options : Namespace
        The options of the command.
    left_out : sequence of str
        The rehearsals that the plan was not made from, because they are of that evening or later.
    """
    from drift.gig.compared import compare
    from drift.gig.lag import LAGS_MINUTES
    from drift.words.gig_compared import NO_A4, NO_SLIDES, left_out_text, summary_of

    known = _read(plan, options)
    readings, temperatures = known.readings, known.temperatures
    no_a4 = bool(readings["a4_hz"].isna().any())
    readings, note = readings.fillna({"a4_hz": plan.aim_a4_hz}), NO_A4 if no_a4 else ""
    lags = [plan.assumptions.lag_minutes + more for more in LAGS_MINUTES]
    found = compare(plan, readings, temperatures, {lag: planned_later(lag) for lag in lags})
    if options.json:
        print_json({**found.to_json(), "left_out_rehearsals": list(left_out)})
    else:
        unlogged = NO_SLIDES if _moved_and_not_logged(plan, known) else ""
        notes = note, unlogged, left_out_text(options.source, left_out)
        print(summary_of(found, options.fahrenheit), *filter(None, notes), sep="\n")
    return 0


class _Read(NamedTuple):
    """What was recorded of an evening; no events where it was written on paper."""

    readings: pd.DataFrame
    temperatures: pd.DataFrame
    events: pd.DataFrame | None = None


def _read(plan: Plan, options: argparse.Namespace) -> _Read:
    """Return what a logbook or folder holds, or readings as on paper alone."""
    from drift.gig.on_paper import read_paper
    from drift.logbook.rehearsals import load

    catalogue = catalogue_of(options)
    if (paper := _paper(options.compare)) is not None:
        readings = read_paper(
            paper, plan.sections, plan.schedule, columns_of(options), catalogue, options.dates
        )
        # One look at the thermometer stands beside the reading of every section.
        return _Read(readings, readings[["time", "celsius"]].dropna().drop_duplicates())
    shown = shown_progress(f"{options.compare}: reading")
    how = {"zone": zone_of(options), "dates": options.dates, "wide": options.wide}
    known = load(options.compare, catalogue, **how, progress=shown)
    mention(known.understood)
    readings = known.readings
    if _no_a4(options.compare):
        readings = readings.assign(a4_hz=float("nan"))
    return _Read(readings, known.temperatures, known.events)


def _moved_and_not_logged(plan: Plan, known: _Read) -> bool:
    """Return whether a plan moves slides and the record of its evening names no slide."""
    if known.events is None:
        return False
    slides = known.events[known.events["slide"] != ""]
    logged = slides["time"].between(plan.times[0], plan.times[-1]).any()
    moves = any(round(move.move_mm) for setting in plan.settings for move in setting.moves)
    return moves and not logged


def _no_a4(path: Path) -> bool:
    """Return whether the readings of a folder are a CSV table whose heading names no A4."""
    from drift.tables.headers import recognised
    from drift.tables.written import written_lines

    file = path / "readings.csv"
    if not file.is_file():
        return False
    heading = written_lines(file).lines[0]
    return "a4_hz" not in recognised(heading.place, "readings", heading.cells)[0]


def _paper(path: Path) -> Path | None:
    """Return the table of readings where nobody measured the air, else nothing."""
    from drift.gig.folder import TABLES

    if not path.is_dir():
        return path if path.suffix.lower() in TABLES and path.is_file() else None
    there = [file for file in sorted(path.iterdir()) if file.stem == "readings"]
    air = any(file.stem == "temperatures" for file in path.iterdir())
    tables = [file for file in there if file.suffix.lower() in TABLES]
    return tables[0] if tables and not air else None
