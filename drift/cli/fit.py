"""Fit the drift of pitch to temperature and playing time.

for example:
  drift fit datasets/cold-hall-season
  drift fit band.logbook --advise 33

Good to know:
  The default method starts from acoustics and relies more on your readings as they accumulate.
  least-squares and mixed use the readings alone.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from drift.cli.options import (
    add_instruments,
    add_json,
    add_priors,
    add_source,
    catalogue_of,
    print_json,
)
from drift.cli.table_check import mention

if TYPE_CHECKING:
    from drift.regression.advice import Advice
    from drift.study import Study

__all__ = ["add_arguments", "run"]

WARM_SLOPE = "warm slope"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of ``drift fit``."""
    add_source(parser, acoustics=True)
    parser.add_argument(
        "--method",
        choices=["bayesian", "anchored", "least-squares", "mixed"],
        metavar="{bayesian,least-squares,mixed}",
        default="bayesian",
        help="default: bayesian",
    )
    parser.add_argument(
        "--player", metavar="P", help="answer for this player, from everybody's readings"
    )
    parser.add_argument(
        "--without-flagged",
        action="store_true",
        help="leave out flagged readings",
    )
    parser.add_argument(
        "--start",
        choices=["stated", "estimated"],
        default="stated",
        help="how warm instruments were at the start: as logged (default), or estimated",
    )
    parser.add_argument(
        "--covariate",
        action="append",
        default=[],
        metavar="NAME",
        help="a column that may change the pitch as well, such as humidity (repeat for more)",
    )
    parser.add_argument(
        "--formula",
        metavar="F",
        help='for least-squares and mixed: "cents ~ drift + humidity + C(mute)"',
    )
    parser.add_argument("--thermometer", metavar="NAME", help="the thermometer to use")
    parser.add_argument(
        "--compare",
        action="store_true",
        help="predict each rehearsal from the others: errors of each method and time term",
    )
    parser.add_argument(
        "--advise",
        metavar="T",
        nargs="?",
        const=WARM_SLOPE,
        help="suggest what to measure next: for the warm slope, or for the drift at T",
    )
    parser.add_argument(
        "--plot", metavar="FILE", type=Path, help="drift against temperature (SVG, PNG)"
    )
    add_priors(parser)
    add_instruments(parser)
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Fit, and print the answer."""
    from drift.study import Study
    from drift.words.noticed import sentences, several_thermometers

    study = Study.open(
        options.source,
        catalogue=catalogue_of(options),
        thermometer=options.thermometer,
        flagged=not options.without_flagged,
        method=options.method,
        start=options.start,
        covariates=tuple(options.covariate),
        formula=options.formula,
        priors=options.priors,
    )
    mention(study.rehearsals.understood)
    found = study.fit if options.player is None else study.only(options.player).fit
    answer = found.to_json()
    noticed = [*sentences((), found.notices), *several_thermometers(study.paired.thermometers)]
    texts = [found.summary(), *(f"to look at: {text}" for text in noticed)]
    if options.compare:
        methods, shapes = study.comparison, study.shapes
        answer["comparison"] = methods.to_frame().to_dict("records")
        answer["shapes"] = shapes.to_frame().to_dict("records")
        texts += [methods.summary(), "shapes of the time term: " + shapes.summary()]
    if options.advise is not None:
        advice = _advice(options, study)
        answer["advice"] = {
            "text": advice.summary(),
            "options": advice.to_frame().to_dict("records"),
        }
        texts.append(advice.summary())
    if options.plot is not None:
        from drift.charts.style import figure_of, save

        save(figure_of(found.plot()), options.plot)
        texts.append(f"drawn: {options.plot}")
    if options.json:
        print_json(answer)
    else:
        print("\n".join(texts))
    return 0


def _advice(options: argparse.Namespace, study: Study) -> Advice:
    """Return what to measure next, for the warm slope or for a temperature."""
    from drift.degrees import parse_degrees

    return study.advice(None if options.advise == WARM_SLOPE else parse_degrees(options.advise))
