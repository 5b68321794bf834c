"""Set what was read during an evening beside its plan, from a logbook or from tables."""

from __future__ import annotations

import argparse
from datetime import timedelta, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from drift.cli.gig_inputs import zone_of
from drift.cli.options import catalogue_of, print_json
from drift.cli.table_check import mention

if TYPE_CHECKING:
    from drift.gig.plan import Plan
    from drift.logbook.rehearsals import Rehearsals

__all__ = ["compare_evening"]


def compare_evening(plan: Plan, later: dict[float, Plan], options: argparse.Namespace) -> int:
    """Print what was read during the evening beside its plan.

    Readings of a table that names no A4 were read on tuners set as the plan says.
    """
    from drift.gig.compared import compare
    from drift.words.gig_compared import NO_A4, summary_of

    known = _read(options)
    readings, note = known.readings, ""
    if _no_a4(options.compare):
        readings, note = readings.assign(a4_hz=plan.aim_a4_hz), NO_A4
    found = compare(plan, readings, known.temperatures, later)
    if options.json:
        print_json(found.to_json())
    else:
        print(summary_of(found, options.fahrenheit), *filter(None, [note]), sep="\n")
    return 0


def _read(options: argparse.Namespace) -> Rehearsals:
    """Return what was logged; a folder of readings alone will do, and times may need --zone."""
    from drift.logbook.rehearsals import load

    known = load(_source(options.compare), catalogue_of(options), zone=_zone_name(zone_of(options)))
    mention(known.understood)
    return known


def _zone_name(zone: tzinfo | None) -> str | None:
    """Return the IANA name of a zone; one of an offset of whole hours is Etc/GMT, signs reversed.

    Another offset has none: times without an offset are then refused.
    """
    if isinstance(zone, ZoneInfo):
        return zone.key
    offset = zone.utcoffset(None) if zone else None
    if offset is None or offset % timedelta(hours=1):
        return None
    return f"Etc/GMT{-round(offset / timedelta(hours=1)):+d}"


def _source(path: Path) -> Path:
    """Return a folder's readings where nobody measured the air, else the path itself."""
    there = {file.name for file in path.iterdir()} if path.is_dir() else set()
    alone = not {"temperatures.csv", "temperatures.parquet"} & there
    return path / "readings.csv" if alone and "readings.csv" in there else path


def _no_a4(path: Path) -> bool:
    """Return whether readings are a CSV table whose heading names no A4."""
    from drift.tables.headers import recognised
    from drift.tables.written import written_lines

    file = path / "readings.csv" if path.is_dir() else path
    if file.suffix.lower() != ".csv" or not file.is_file():
        return False
    heading = written_lines(file).lines[0]
    return "a4_hz" not in recognised(heading.place, "readings", heading.cells)[0]
