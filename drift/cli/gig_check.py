"""Find the files of an evening, and print every problem of theirs, each with its remedy."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import UTC, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Any

from drift.cli.gig_inputs import columns_of, day_of, forecast_of, schedule_of, zone_of
from drift.cli.options import catalogue_of
from drift.errors import DriftError, InputError
from drift.words.gig_phrases import NOT_PLANNED

if TYPE_CHECKING:
    from drift.gig.roster import Roster
    from drift.gig.timetable import Schedule
    from drift.gig.weather import Forecast

__all__ = ["check", "take_folder"]


def take_folder(options: argparse.Namespace) -> None:
    """Take forecast, schedule and roster from the folder that the user gave.

    Raises
    ------
    InputError
        When there are several of one kind.
    """
    from drift.gig.folder import files_in

    found, _ = files_in(options.folder, columns_of(options))
    for kind, paths in found.items():
        if getattr(options, kind) is not None or not paths:
            continue
        if len(paths) > 1:
            names = ", ".join(path.name for path in paths)
            raise InputError(
                f"{options.folder} has more than one {kind}: {names}", f"say which with --{kind}"
            )
        setattr(options, kind, paths[0])


def check(options: argparse.Namespace) -> int:
    """Read every file and print what is wrong, or what it was read as; 1 where anything is wrong.

    Notes
    -----
    Nothing is changed. The day of times without a date comes from any of the files.
    """
    from drift.gig.folder import KINDS, not_read
    from drift.words.gig_clock import told_with
    from drift.words.gig_warnings import warning_text

    given = [(kind, getattr(options, kind)) for kind in KINDS]
    files = [(kind, path) for kind, path in given if path is not None]
    files += _named(options)
    if not files:
        raise InputError("nothing to check", "name files or a folder behind --check")
    for kind, path in files:  # so that each gives the others its day
        if kind and getattr(options, kind) is None:
            setattr(options, kind, path)
    read: dict[str, Any] = {}
    problems = 0
    for kind, path in files:
        try:
            read[kind] = _read(options, kind, path)
            half_days = options.clock == "12" if options.clock else _has_half_days(read[kind])
            with told_with(half_days):
                print(f"{path}: {_in_short(options, kind, read[kind])}")
                if kind == "schedule":
                    from drift.words.gig_timetable import timetable_lines

                    print("\n".join(timetable_lines(read[kind], options.fahrenheit)))
        except DriftError as refusal:
            problems += _print(refusal, path)
    if not problems and "forecast" in read and "schedule" in read:
        try:
            read["forecast"].at(read["schedule"].instants())
        except DriftError as refusal:
            problems += _print(refusal)
    for found in not_read(files, columns_of(options)):
        print(warning_text(found))
    several = _several(files)
    print("".join(f"{line}\n" for line in several), end="")
    return 1 if problems or several else 0


def _has_half_days(found: Any) -> bool:
    return getattr(found, "half_days", False)


def _print(refusal: DriftError, path: Path = Path()) -> int:
    """Print each problem of a refusal of a file, and return how many there are."""
    from drift.tables.problems import alike, parts_of

    found = parts_of(refusal)
    for those in alike(found):
        more = f" ({len(those)} alike)" if len(those) > 1 else ""
        told = those[0].told
        folder = str(path).removesuffix(path.name) if told.startswith(path.name) else ""
        print(f"{folder}{told}{more}\n    {those[0].remedy}")
    return len(found)


def _named(options: argparse.Namespace) -> list[tuple[str, Path]]:
    """Return the files behind ``--check`` and of ``--folder``; where there are none, of SOURCE.

    ``--check @game.txt game`` is ``--check --zone ... game``, which makes the folder SOURCE.
    """
    files = [pair for path in options.check for pair in _known(options, path)]
    if options.folder and options.folder not in options.check:
        own = _known(options, options.folder)
        files += [(kind, path) for kind, path in own if not kind or not getattr(options, kind)]
    source = Path(options.source)
    if not files and source.exists():
        parted = _known(options, source)
        files += parted if any(kind for kind, _ in parted) else []
    return files


def _known(options: argparse.Namespace, path: Path) -> list[tuple[str, Path]]:
    """Return a file, or those of a folder, each with what it is."""
    from drift.gig.folder import files_in, kinds_of

    if not path.is_dir():
        return [(kind, path) for kind in kinds_of(path, columns_of(options)) or ("",)]
    found, others = files_in(path, columns_of(options))
    return [(kind, one) for kind, paths in found.items() for one in paths] + [
        ("", one) for one in others
    ]


def _several(files: list[tuple[str, Path]]) -> list[str]:
    kinds = [kind for kind, _ in files if kind]
    return [
        f"more than one {kind}\n    say which is meant with --{kind}"
        for kind in dict.fromkeys(kinds)
        if kinds.count(kind) > 1
    ]


def _read(options: argparse.Namespace, kind: str, path: Path) -> Any:
    """Return what a file holds, None where it is not a table."""
    from drift.gig.folder import TABLES
    from drift.gig.roster import read_whole_roster

    if not path.exists():
        raise InputError(f"{path} cannot be read: there is no such file", "check the name")
    if not kind and path.suffix.lower() in TABLES and path.suffix.lower() != ".txt":
        raise InputError(
            f"{path.name} is not a forecast, schedule or roster by its headings",
            "name its columns with --columns, or move it elsewhere",
        )
    zone, day = zone_of(options), day_of(options)
    reads: dict[str, Callable[[], Any]] = {
        "": lambda: None,
        "forecast": lambda: forecast_of(options, zone, day, path),
        "schedule": lambda: schedule_of(options, zone, day, path),
        "roster": lambda: read_whole_roster(path, catalogue_of(options), columns_of(options)),
    }
    return reads[kind]()


def _in_short(options: argparse.Namespace, kind: str, found: Any) -> str:
    """Return what was read, in a line."""
    told: dict[str, Callable[[Any], str]] = {
        "forecast": lambda found: _of_forecast(found, zone_of(options) or UTC, options.fahrenheit),
        "schedule": _of_schedule,
        "roster": _of_roster,
    }
    return f"{kind}, nothing to correct: {told[kind](found)}" if kind else "left out, not a table"


def _of_forecast(found: Forecast, zone: tzinfo, fahrenheit: bool) -> str:
    from drift.degrees import shown_tenths
    from drift.words.gig_clock import clock

    celsius = found.table["celsius"].tz_convert(zone)
    first, last = celsius.index[0], celsius.index[-1]
    since, until = (f"{time:%Y-%m-%d} {clock(time)}" for time in (first, last))
    return (
        f"{len(celsius)} rows, {since} to {until} ({last:%Z}), "
        f"{shown_tenths(celsius.min(), celsius.max(), fahrenheit)}{''.join(_left_out(found))}"
    )


def _left_out(found: Forecast | Schedule | Roster) -> list[str]:
    """Return the columns that nothing needs, and entries for a whole day."""
    names = {"columns_left_out": "columns", "all_day_left_out": "entries"}
    return [
        f"; left out: {', '.join(one.values[names[one.kind]])}"
        for one in found.notices
        if one.kind in names
    ]


def _of_schedule(found: Schedule) -> str:
    from drift.words.gig_clock import clock

    when = f"{found.start:%Y-%m-%d} {clock(found.start)} to {clock(found.end)}"
    return f"{len(found.written)} entries, {when}{''.join(_left_out(found))}"


def _of_roster(found: Roster) -> str:
    players = sum(section.players for section in found.sections)
    drums = ", ".join(f"{count} {name}" for name, count in found.not_planned)
    aside = f"; {NOT_PLANNED}: {drums}" if drums else ""
    return f"{len(found.sections)} sections, {players} players{aside}{''.join(_left_out(found))}"
