"""Slide corrections for a hot room or a cold field.

Says how far to move which slide, in the order players work, from the conditions the instrument
was tuned in. SOURCE is your own rehearsals, or the word physics for acoustics alone. Positions
are millimetres from fully in. --table and --card give the positions at 0, 5, ... 40 °C instead.

for example:
  drift slides physics --instrument "double horn" --celsius 33
  drift slides physics --instrument "Bb trumpet" --celsius 91F --at main=12 --travel main=30
  drift slides season.logbook --player Ada --instrument "double horn" --celsius 5 --stuck F
  drift slides season.logbook --player Ada --instrument "double horn" --card card.pdf
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from drift.cli.options import (
    add_instruments,
    add_json,
    add_source,
    by_slide,
    catalogue_of,
    print_json,
)
from drift.errors import InputError, InstrumentError

if TYPE_CHECKING:
    from drift.instruments.anatomy import Instrument
    from drift.logbook.rehearsals import Rehearsals
    from drift.regression.results import Fit
    from drift.slides.positions import PositionTable

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    add_source(parser, physics=True)
    parser.add_argument("--instrument", metavar="I", help="which instrument")
    parser.add_argument("--player", metavar="P", help="whose positions and measured slides")
    parser.add_argument(
        "--celsius", metavar="T", type=degrees, help="temperature there [°C, or 91F]"
    )
    parser.add_argument(
        "--minutes", type=float, default=30.0, help="minutes of playing there (default 30)"
    )
    parser.add_argument(
        "--tuned-celsius",
        metavar="T",
        type=degrees,
        default=20.0,
        help="temperature it was tuned in (default 20)",
    )
    parser.add_argument(
        "--tuned-minutes", type=float, default=30.0, help="minutes of playing then (default 30)"
    )
    parser.add_argument(
        "--at", type=by_slide, metavar="SLIDE=MM,...", help="positions when it was tuned [mm]"
    )
    parser.add_argument(
        "--travel", type=by_slide, metavar="SLIDE=MM,...", help="usable travel of slides [mm]"
    )
    parser.add_argument(
        "--stuck", action="append", default=[], metavar="SLIDE", help="a slide that does not move"
    )
    parser.add_argument(
        "--serves",
        action="append",
        default=[],
        type=served,
        metavar="SLIDE=SIDE+SIDE",
        help="sides a slide serves on this model, such as main=F or Bb=F+Bb",
    )
    parser.add_argument(
        "--method",
        default="anchored",
        choices=("anchored", "least-squares", "mixed"),
        help="regression (default anchored)",
    )
    parser.add_argument("--inches", action="store_true", help="lengths to 1/16 inch")
    parser.add_argument("--table", action="store_true", help="positions at 0, 5, ... 40 °C")
    parser.add_argument("--csv", metavar="FILE", type=Path, help="the table as CSV")
    parser.add_argument("--card", metavar="FILE", type=Path, help="the table as a page to print")
    add_instruments(parser)
    add_json(parser)


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
        raise argparse.ArgumentTypeError(f"{text!r} is no temperature that people play in")
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


@dataclass(frozen=True)
class Known:
    """What is known before the question is asked: the drift, and the player's own slides."""

    fit: Fit
    instrument: Instrument
    at: Mapping[str, float] | None
    calibration: Mapping[tuple[str, str], float] = field(default_factory=dict)


def run(options: argparse.Namespace) -> int:
    """Print the moves for one temperature, or the positions for many."""
    from drift.slides.correction import correct

    wants_table = options.table or options.csv or options.card
    if options.celsius is None and not wants_table:
        raise InputError("no temperature was given", "add --celsius T, or ask for --table")
    known = _known(options)
    question: dict[str, Any] = {
        "minutes": options.minutes,
        "tuned_celsius": options.tuned_celsius,
        "tuned_minutes": options.tuned_minutes,
        "at": known.at,
        "travel": options.travel,
        "stuck": options.stuck,
        "calibration": known.calibration,
    }
    if wants_table:
        return _table(options, known, question)
    correction = correct(known.fit, known.instrument, options.celsius, **question)
    if options.json:
        print_json(correction.to_json())
    else:
        print(correction.summary(inches=options.inches))
    return 0


def _table(options: argparse.Namespace, known: Known, question: Mapping[str, Any]) -> int:
    from drift.slides.positions import positions

    table = positions(known.fit, known.instrument, player=options.player or "", **question)
    for path, write in ((options.csv, _write_csv), (options.card, _write_card)):
        if path is None:
            continue
        try:
            write(table, path, options.inches)
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


def _write_csv(table: PositionTable, path: Path, _inches: bool) -> None:
    table.to_frame().to_csv(path, index=False, lineterminator="\n")


def _write_card(table: PositionTable, path: Path, inches: bool) -> None:
    from drift.sheets.card import save_card

    save_card(table, path, inches=inches)


def _known(options: argparse.Namespace) -> Known:
    from drift.regression.fits import physics

    if options.source == "physics":
        if options.instrument is None:
            raise InstrumentError("no instrument was named", "add --instrument NAME")
        fit = physics(catalogue_of(options))
        return Known(fit, _instrument(options.instrument, options), options.at)
    return _known_from(options)


def _known_from(options: argparse.Namespace) -> Known:
    from drift.logbook.rehearsals import load
    from drift.pairing import pair
    from drift.pairing.slide_log import calibration_of, last_positions
    from drift.regression.fits import fit

    rehearsals = load(options.source, catalogue_of(options))
    name = options.instrument or _only_instrument(rehearsals, options.player)
    instrument = _instrument(name, options)
    player = _player(rehearsals, options.player, instrument)
    fitted = fit(
        pair(rehearsals, catalogue=catalogue_of(options)),
        options.method,
        catalogue=catalogue_of(options),
    )
    if player is None:
        return Known(fitted, instrument, options.at)
    _tell_of_unused(rehearsals, player, instrument)
    logged = last_positions(rehearsals, player, instrument)
    return Known(
        fitted,
        instrument,
        options.at if options.at is not None else logged,
        calibration_of(rehearsals, player, instrument),
    )


def _tell_of_unused(rehearsals: Rehearsals, player: str, instrument: Instrument) -> None:
    """Tell of measured slides that are not used, which only an older logbook can hold."""
    table = rehearsals.calibrations
    mine = table[(table["player"] == player) & (table["instrument"] == instrument.name)]
    unused = mine["cents_per_mm"] >= 0.0
    if unused.any():
        print(
            f"note: {unused.sum()} measured slides of {player} are not used, because pulling would "
            f"sharpen ({', '.join(sorted(set(mine.loc[unused, 'slide'])))}): take them back with "
            "drift calibrate --forget",
            file=sys.stderr,
        )


def _instrument(name: str, options: argparse.Namespace) -> Instrument:
    from drift.instruments import find

    instrument = find(name, catalogue_of(options))
    for slide, sides in options.serves:
        instrument = instrument.serving(slide, sides)
    return instrument


def _only_instrument(rehearsals: Rehearsals, player: str | None) -> str:
    readings = rehearsals.readings
    mine = readings if player is None else readings[readings["player"] == player]
    played = sorted(set(mine["instrument"]))
    if len(played) == 1:
        return str(played[0])
    raise InstrumentError(
        f"the readings are of {', '.join(played) or 'no instrument'}",
        "say which one with --instrument",
    )


def _player(rehearsals: Rehearsals, player: str | None, instrument: Instrument) -> str | None:
    """Return whose slides count: the one named, or the only one who plays the instrument."""
    readings = rehearsals.readings
    if player is not None:
        known = sorted(set(readings["player"]) | set(rehearsals.events["player"]) - {""})
        if player not in known:
            raise InputError(f"there is no player {player!r}", f"there are {', '.join(known)}")
        return player
    players = set(readings.loc[readings["instrument"] == instrument.name, "player"])
    return str(players.pop()) if len(players) == 1 else None
