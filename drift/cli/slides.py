"""Show how far to move which slide, for a hot room or a cold field.

for example:
  drift slides acoustics --instrument "Bb trumpet" --celsius 91F --at main=12 --travel main=30
  drift slides season.logbook --player Ada --instrument "double horn" --celsius 5 --stuck F

Good to know:
  SOURCE is your own rehearsals, or the word acoustics if you have none. Moves are in the order in
  which players work, from the conditions the instrument was tuned in. Positions are millimetres
  from fully in.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from drift.cli.named_player import ANYBODY, settle_player_of
from drift.cli.options import (
    SHOWN_AND_READ,
    add_instruments,
    add_json,
    add_priors,
    add_source,
    add_tables,
    add_without,
    amount,
    by_slide,
    catalogue_of,
    print_json,
)
from drift.cli.progress import shown_progress
from drift.cli.read_source import read_source
from drift.cli.table_check import mention
from drift.errors import InputError
from drift.notes import shown
from drift.quantities import HERTZ, MINUTES
from drift.texts import check_text

if TYPE_CHECKING:
    from drift.instruments.anatomy import Instrument
    from drift.slides.positions import PositionTable
    from drift.study import Study

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    add_source(parser, acoustics=True)
    there = parser.add_argument_group("where it is played")
    there.add_argument("--instrument", metavar="I", help="which instrument")
    there.add_argument("--player", metavar="P", help="whose positions and measured slides")
    there.add_argument(
        "--celsius",
        metavar="T",
        type=degrees,
        help="temperature there [°C, or 91F]; with --table or --card, for that room alone",
    )
    there.add_argument(
        "--minutes",
        metavar="MIN",
        type=amount(MINUTES),
        default=30.0,
        help="minutes of playing there (default 30)",
    )
    there.add_argument(
        "--a4", metavar="HZ", type=amount(HERTZ), help="A4 there (default: as it was tuned)"
    )
    tuned = parser.add_argument_group("where it was tuned")
    tuned.add_argument(
        "--tuned-celsius",
        metavar="T",
        type=degrees,
        help="temperature it was tuned in (default: as drift tune logged it, else 20)",
    )
    tuned.add_argument(
        "--tuned-minutes",
        metavar="MIN",
        type=amount(MINUTES),
        help="minutes of playing then (default: as drift tune logged it, else 30)",
    )
    tuned.add_argument(
        "--tuned-a4",
        metavar="HZ",
        type=amount(HERTZ),
        help="A4 it was tuned to (default: that of the player's readings, else 440)",
    )
    tuned.add_argument(
        "--at", type=by_slide, metavar="SLIDE=MM,...", help="positions when it was tuned [mm]"
    )
    slides = parser.add_argument_group("its slides")
    slides.add_argument(
        "--travel", type=by_slide, metavar="SLIDE=MM,...", help="usable travel of slides [mm]"
    )
    slides.add_argument(
        "--stuck",
        action="append",
        default=[],
        metavar="SLIDE",
        help="a slide that does not move; repeat for more than one",
    )
    slides.add_argument(
        "--serves",
        action="append",
        default=[],
        type=served,
        metavar="SLIDE=SIDE+SIDE",
        help="sides a slide serves on this model, such as main=F or Bb=F+Bb",
    )
    answer = parser.add_argument_group("the answer")
    answer.add_argument("--inches", action="store_true", help="lengths to 1/16 inch")
    answer.add_argument("--table", action="store_true", help="positions at 0, 5, ... 40 °C")
    answer.add_argument("--csv", metavar="FILE", type=Path, help="the table as CSV")
    answer.add_argument("--card", metavar="FILE", type=Path, help="the table as a page to print")
    answer.add_argument(
        "--title", metavar="TEXT", default="", help="what the card is for, such as 'Autumn parade'"
    )
    add_json(answer)
    known = parser.add_argument_group("what is known")
    known.add_argument(
        "--method",
        default="bayesian",
        choices=("bayesian", "anchored", "least-squares", "mixed"),
        metavar="{bayesian,least-squares,mixed}",
        help="the regression (default: bayesian)",
    )
    add_without(known)
    add_priors(known)
    add_instruments(known)
    add_tables(parser.add_argument_group("tables as they are"), SHOWN_AND_READ)


def degrees(text: str) -> float:
    """Return degrees Celsius from ``33``, ``33C`` or ``91F`` (a type for argparse).

    Examples
    --------
    >>> degrees("68F"), degrees("-5")
    (20.0, -5.0)
    """
    from drift.degrees import parse_degrees

    try:
        celsius = parse_degrees(text)
    except InputError as refusal:
        raise argparse.ArgumentTypeError(f"{refusal.problem}; {refusal.remedy}") from None
    if not -60.0 <= celsius <= 70.0:
        raise argparse.ArgumentTypeError(f"{text!r} is not a temperature that people play in")
    return celsius


def served(text: str) -> tuple[str, list[str]]:
    """Return a slide and its sides from ``Bb=F+Bb`` (a type for argparse).

    Examples
    --------
    >>> served("Bb=F+Bb")
    ('Bb', ['F', 'Bb'])
    """
    slide, equals, sides = text.partition("=")
    if not (slide and equals and sides):
        raise argparse.ArgumentTypeError(f"{text!r}: write SLIDE=SIDE+SIDE, such as Bb=F+Bb")
    return slide, sides.split("+")


def run(options: argparse.Namespace) -> int:
    """Print the moves for one temperature, or the positions for many."""
    from drift.study import Study

    wants_table = options.table or options.csv or options.card
    if options.celsius is None and not wants_table:
        raise InputError("no temperature was given", "add --celsius T, or ask for --table")
    if options.title:
        check_text(options.title, "title")
    catalogue = catalogue_of(options)
    study = Study.open(
        read_source(options, catalogue, zone=options.zone),
        catalogue=catalogue,
        without=options.without_rehearsal,
        method=options.method,
        priors=options.priors,
        progress=shown_progress(f"{options.source}: fitting", "steps"),
    )
    mention(study.rehearsals.understood)
    settle_player_of(options, study.rehearsals, ANYBODY)
    instrument = _instrument(study, options)
    for slide in study.unused_calibrations(instrument.name, options.player):
        print(
            f"note: the measured {shown(slide)} slide is not used, because pulling it would "
            "sharpen: undo it with drift calibrate --undo",
            file=sys.stderr,
        )
    question: dict[str, Any] = {
        "player": options.player,
        "minutes": options.minutes,
        "tuned_celsius": options.tuned_celsius,
        "tuned_minutes": options.tuned_minutes,
        "a4_hz": options.a4,
        "at": options.at,
        "travel": options.travel,
        "stuck": options.stuck,
    }
    if options.tuned_a4 is not None:
        question["tuned_a4_hz"] = options.tuned_a4
    if wants_table:
        if options.celsius is not None:  # for that room alone
            question["celsius"] = [options.celsius]
        _mention_noticed(options, study, instrument)
        return _table(options, study.positions(instrument, **question))
    correction = study.correction(instrument, options.celsius, **question)
    _mention_noticed(options, study, instrument)
    if options.json:
        print_json(correction.to_json())
    else:
        print(correction.summary(inches=options.inches))
    return 0


def _mention_noticed(options: argparse.Namespace, study: Study, instrument: Instrument) -> None:
    """Say on standard error what looks spoilt in the readings that the answer rests on."""
    from drift.tables.checking import conventions
    from drift.words.noticed import of_player, sentences

    if study.is_acoustics:
        return
    zone = conventions(zone=options.zone).zone or study.rehearsals.zone
    own = of_player(study.notices, instrument.name, options.player)
    for text in sentences((), own, zone=zone):
        print(f"to look at: {text}", file=sys.stderr)


def _instrument(study: Study, options: argparse.Namespace) -> Instrument:
    """Return the instrument that is meant, with what its slides serve on this model."""
    instrument = study.instrument(options.instrument, options.player)
    for slide, sides in options.serves:
        instrument = instrument.serving(slide, sides)
    return instrument


def _table(options: argparse.Namespace, table: PositionTable) -> int:
    for path, write in ((options.csv, _write_csv), (options.card, _write_card)):
        if path is None:
            continue
        try:
            write(table, path, options)
        except OSError as error:
            raise InputError(
                f"{path} cannot be written ({error.strerror or error})",
                "choose a folder that exists and that you can write to",
            ) from error
        if not options.json:
            print(f"wrote {path}")
    if options.json:
        print_json({"positions": table.to_frame().to_dict("records")})
    elif options.table:
        print(table.summary(inches=options.inches))
    return 0


def _write_csv(table: PositionTable, path: Path, _: argparse.Namespace) -> None:
    from drift.writing import written_file

    with written_file(path) as unfinished:
        table.to_frame().to_csv(unfinished, index=False, lineterminator="\n")


def _write_card(table: PositionTable, path: Path, options: argparse.Namespace) -> None:
    from datetime import datetime

    from drift.sheets.card import save_card

    today = datetime.now().astimezone().date()
    save_card(table, path, inches=options.inches, title=options.title, printed=today)
