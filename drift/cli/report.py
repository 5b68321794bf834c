"""Write a report to keep or print: the readings, the fit, and the slide positions.

for example:
  drift report band.logbook --out season.html
  drift report band.logbook --rehearsal "2026-10-06 autumn" --out autumn.pdf
  drift report band.logbook --player Ada --one-page --celsius 26 --out ada.pdf

Good to know:
  --one-page writes one page for a player and a teacher: what to move next in millimetres, the
  curve, how the notes lie against each other, and what to measure next.
"""

from __future__ import annotations

import argparse
import json
import shlex
from collections.abc import Callable
from datetime import tzinfo
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from drift.cli.named_player import settle_player_of
from drift.cli.options import (
    add_covariates,
    add_instruments,
    add_priors,
    add_source,
    add_start,
    add_tables,
    add_without,
    amount,
    by_slide,
    catalogue_of,
)
from drift.cli.progress import shown_progress
from drift.cli.read_source import read_source
from drift.cli.table_check import mention
from drift.errors import InputError
from drift.quantities import HERTZ
from drift.texts import check_text, harmless
from drift.writing import written_file

if TYPE_CHECKING:
    from drift.report import Document
    from drift.study import Study

PAPERS = ("a4", "letter")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of ``drift report``."""
    add_source(parser)
    parser.add_argument(
        "--out", metavar="FILE", type=Path, required=True, help="FILE.html or FILE.pdf"
    )
    parser.add_argument("--rehearsal", metavar="NAME", help="show this rehearsal only")
    parser.add_argument("--player", metavar="NAME", help="take this player's readings only")
    parser.add_argument(
        "--one-page", action="store_true", help="one page about --player (PDF), for a lesson"
    )
    parser.add_argument("--instrument", metavar="I", help="with --one-page: which instrument")
    parser.add_argument(
        "--celsius", metavar="T", help="with --one-page: the next room [°C, or 79F] (default: last)"
    )
    parser.add_argument(
        "--travel",
        type=by_slide,
        metavar="SLIDE=MM,...",
        help="with --one-page: usable travel of slides [mm]",
    )
    parser.add_argument(
        "--a4",
        metavar="HZ",
        type=amount(HERTZ),
        help="with --one-page: A4 there (default: as it was tuned)",
    )
    parser.add_argument("--title", metavar="TEXT", default="", help="title of the report")
    parser.add_argument(
        "--method",
        choices=("bayesian", "anchored", "least-squares", "mixed"),
        metavar="{bayesian,least-squares,mixed}",
        default="bayesian",
        help="the regression (default: bayesian)",
    )
    parser.add_argument(
        "--thermometer",
        metavar="NAME",
        help="the thermometer to use (default: that of most readings)",
    )
    add_without(parser)
    add_start(parser)
    add_covariates(parser)
    add_priors(parser)
    add_tables(
        parser,
        zone="time zone of the report (default: that of the tables, or this computer's) and of "
        "times without an offset",
    )
    parser.add_argument(
        "--compare",
        action="store_true",
        help="leave out each rehearsal in turn and compare the methods on it (takes longer)",
    )
    parser.add_argument(
        "--paper", choices=PAPERS, type=str.lower, default="a4", help="for a PDF (default: a4)"
    )
    parser.add_argument(
        "--fahrenheit",
        action="store_true",
        help="degrees of “In short” in °F (tables and charts: °C)",
    )
    add_instruments(parser)


def run(options: argparse.Namespace) -> int:
    """Write the report and say where it is."""
    written = options.out.suffix.lower()
    if written not in (".html", ".pdf"):
        raise InputError(
            f"a report cannot be written as {str(options.out)!r}",
            "give --out a name that ends in .html or .pdf",
        )
    if not options.out.parent.is_dir():
        raise InputError(
            f"there is no folder {str(options.out.parent)!r} to write {options.out.name} into",
            "make the folder, or choose one that exists",
        )
    if options.title:
        check_text(options.title, "title")
    title, data = _one_page(options) if options.one_page else _report(options)
    try:
        with written_file(options.out) as unfinished:
            unfinished.write_bytes(data)
    except OSError as error:
        raise InputError(
            f"{options.out} cannot be written: {error.strerror or error}",
            "choose a file or folder that you may write to",
        ) from None
    print(f"wrote {options.out} ({len(data) / 1024:.0f} KiB): {title}")
    return 0


def _report(options: argparse.Namespace) -> tuple[str, bytes]:
    """Return the title of the whole report and the file."""
    for_one = (options.instrument, options.celsius, options.travel, options.a4)
    if any(given is not None for given in for_one):
        raise InputError(
            "--instrument, --celsius, --travel and --a4 are for one page",
            "add --one-page, or leave them out",
        )
    show = shown_progress(f"{options.out}: drawing", "parts")
    document = _compose(options, show)
    if options.out.suffix.lower() == ".html":
        from drift.report import to_html

        data = to_html(document).encode()
    else:
        from drift.report.pdf import to_pdf

        data = to_pdf(document, options.paper)
    show(3, 3)
    return document.title, data


def _one_page(options: argparse.Namespace) -> tuple[str, bytes]:
    """Return whose page it is and the file."""
    from drift.degrees import parse_degrees
    from drift.report.one_page import one_page_pdf
    from drift.words.one_page import heading

    if options.player is None or options.out.suffix.lower() != ".pdf":
        raise InputError(
            "one page is about one player, and a PDF", "add --player NAME and --out FILE.pdf"
        )
    if options.rehearsal or options.compare or options.title or options.fahrenheit:
        raise InputError(
            "one page has no --rehearsal, --compare, --title or --fahrenheit",
            "leave them out, or leave out --one-page",
        )
    study = _study(options)  # it settles the name
    evidence = study.player_report(
        options.player,
        instrument=options.instrument,
        celsius=None if options.celsius is None else parse_degrees(options.celsius),
        travel=options.travel,
        a4_hz=options.a4,
    )
    page = one_page_pdf(
        evidence,
        about=_about(Path(options.source)),
        zone=_zone(options.zone, study.rehearsals.zone),
        paper=options.paper,
    )
    return heading(evidence), page


def _compose(options: argparse.Namespace, show: Callable[[int, int], None]) -> Document:
    from drift.report import Made, compose, versions

    study = _study(options)
    evidence = study.report(
        rehearsal=options.rehearsal, player=options.player, compared=options.compare
    )
    show(1, 3)
    document = compose(
        evidence,
        title=options.title,
        about=_about(Path(options.source)),
        zone=_zone(options.zone, study.rehearsals.zone),
        made=Made(_command(options), versions()),
        fahrenheit=options.fahrenheit,
    )
    show(2, 3)
    return document


def _study(options: argparse.Namespace) -> Study:
    from drift.study import Study

    catalogue = catalogue_of(options)
    study = Study.open(
        read_source(options, catalogue, zone=options.zone),
        catalogue=catalogue,
        thermometer=options.thermometer,
        without=options.without_rehearsal,
        method=options.method,
        start=options.start,
        beside=options.beside,
        covariates=tuple(options.covariate),
        priors=options.priors,
        progress=shown_progress(f"{options.source}: fitting", "steps"),
    )
    mention(study.rehearsals.understood)
    settle_player_of(options, study.rehearsals)
    return study


def _about(source: Path) -> str:
    """Return how a data package names and describes itself; nothing for other sources."""
    from drift.tables.headers import PACKAGE

    try:
        package = json.loads((source / PACKAGE).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return ""
    if not isinstance(package, dict):
        return ""
    texts = [package.get(key) for key in ("title", "description")]
    return ". ".join(text.rstrip(".") for text in texts if isinstance(text, str) and text)


def _zone(name: str | None, written: tzinfo | None) -> tzinfo:
    """Return a time zone by name, or that of the tables, or this computer's own."""
    if name is None and written is not None:
        return written
    if name is None:
        from dateutil.tz import tzlocal

        return tzlocal()
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise InputError(
            f"there is no time zone {name!r}", "give a name such as Europe/Berlin or UTC"
        ) from None


def _command(options: argparse.Namespace) -> str:
    """Return the command that makes this report again."""
    words = ["drift", "report", options.source]
    told = ("out", "rehearsal", "player", "title", "thermometer", "zone", "dates", "instruments",
            "priors")  # fmt: skip
    for name in told:
        if value := getattr(options, name):
            words += [f"--{name}", str(value)]
    if options.wide:
        words.append("--wide")
    for name in ("covariate", "beside", "without_rehearsal"):
        for value in getattr(options, name):
            words += [f"--{name.replace('_', '-')}", str(value)]
    if options.method not in ("anchored", "bayesian"):
        words += ["--method", options.method]
    if options.start != "stated":
        words += ["--start", options.start]
    for name in ("compare", "fahrenheit"):
        if getattr(options, name):
            words.append(f"--{name}")
    if options.paper != PAPERS[0]:
        words += ["--paper", options.paper]
    return harmless(shlex.join(words), keep="")
