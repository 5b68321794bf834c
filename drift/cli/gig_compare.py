"""Set what was read during an evening beside its plan, from a logbook or from tables."""

from __future__ import annotations

import argparse
from datetime import timedelta, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from drift.cli.gig_inputs import columns_of, zone_of
from drift.cli.options import catalogue_of, print_json
from drift.cli.progress import shown_progress
from drift.cli.table_check import mention

if TYPE_CHECKING:
    import pandas as pd

    from drift.gig.plan import Plan

__all__ = ["compare_evening"]


def compare_evening(plan: Plan, later: dict[float, Plan], options: argparse.Namespace) -> int:
    """Print what was read during the evening beside its plan.

    Readings of a table that names no A4 were read on tuners set as the plan says.
    """
    from drift.gig.compared import compare
    from drift.words.gig_compared import NO_A4, summary_of

    readings, temperatures = _read(plan, options)
    no_a4 = bool(readings["a4_hz"].isna().any())
    readings, note = readings.fillna({"a4_hz": plan.aim_a4_hz}), NO_A4 if no_a4 else ""
    found = compare(plan, readings, temperatures, later)
    if options.json:
        print_json(found.to_json())
    else:
        print(summary_of(found, options.fahrenheit), *filter(None, [note]), sep="\n")
    return 0


def _read(plan: Plan, options: argparse.Namespace) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return readings and temperatures of a logbook or folder, or readings as on paper alone."""
    from drift.gig.on_paper import read_paper
    from drift.logbook.rehearsals import load

    catalogue = catalogue_of(options)
    if (paper := _paper(options.compare)) is not None:
        readings = read_paper(paper, plan.sections, plan.schedule, columns_of(options), catalogue)
        return readings, readings[["time"]].assign(celsius=float("nan"))
    shown = shown_progress(f"{options.compare}: reading")
    known = load(options.compare, catalogue, zone=_zone_name(zone_of(options)), progress=shown)
    mention(known.understood)
    readings = known.readings
    if _no_a4(options.compare):
        readings = readings.assign(a4_hz=float("nan"))
    return readings, known.temperatures


def _no_a4(path: Path) -> bool:
    """Return whether the readings of a folder are a CSV table whose heading names no A4."""
    from drift.tables.headers import recognised
    from drift.tables.written import written_lines

    file = path / "readings.csv"
    if not file.is_file():
        return False
    heading = written_lines(file).lines[0]
    return "a4_hz" not in recognised(heading.place, "readings", heading.cells)[0]


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


def _paper(path: Path) -> Path | None:
    """Return the table of readings where nobody measured the air, else nothing."""
    from drift.gig.folder import TABLES

    if not path.is_dir():
        return path if path.suffix.lower() in TABLES and path.is_file() else None
    there = [file for file in sorted(path.iterdir()) if file.stem == "readings"]
    air = any(file.stem == "temperatures" for file in path.iterdir())
    tables = [file for file in there if file.suffix.lower() in TABLES]
    return tables[0] if tables and not air else None
