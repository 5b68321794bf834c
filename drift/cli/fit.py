"""The regression of cents on temperature and playing time.

The default method, anchored, begins at acoustics and hands over to the readings as they come;
least-squares and mixed answer from the readings alone, with what a methods section needs.

example: drift fit datasets/cold-hall-season --method anchored
"""

from __future__ import annotations

import argparse
from pathlib import Path

from drift.cli.options import add_instruments, add_json, add_source, print_json

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of ``drift fit``."""
    add_source(parser, physics=True)
    parser.add_argument(
        "--method",
        choices=["anchored", "least-squares", "mixed"],
        default="anchored",
        help="default: anchored",
    )
    parser.add_argument(
        "--without-flagged",
        action="store_true",
        help="leave out readings flagged as taken otherwise",
    )
    parser.add_argument(
        "--start",
        choices=["stated", "estimated"],
        default="stated",
        help="how warm instruments were at the start: as logged (default), or estimated",
    )
    parser.add_argument("--thermometer", metavar="NAME", help="the thermometer to use")
    parser.add_argument(
        "--compare",
        action="store_true",
        help="leave out each rehearsal in turn and say how far off each method is, and each shape "
        "of the time term",
    )
    parser.add_argument(
        "--advise",
        metavar="CELSIUS",
        nargs="?",
        const="warm slope",
        help="say what to measure next: for the warm slope, or for the drift at a temperature",
    )
    parser.add_argument(
        "--plot", metavar="FILE", type=Path, help="drift against temperature (SVG, PNG)"
    )
    add_instruments(parser)
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Fit, and print the answer."""
    from drift.logbook.rehearsals import load
    from drift.pairing import pair
    from drift.regression.fits import fit, physics

    instruments = options.instruments
    if options.source == "physics":
        found = physics(instruments)
        paired = found.rows
    else:
        paired = pair(
            load(options.source, instruments),
            thermometer=options.thermometer,
            flagged=not options.without_flagged,
            instruments=instruments,
        )
        found = fit(paired, options.method, start=options.start, instruments=instruments)
    answer = found.to_json()
    texts = [found.summary()]
    if options.compare:
        from drift.regression.comparison import compare, compare_shapes

        methods = compare(paired, instruments=instruments)
        shapes = compare_shapes(paired, instruments=instruments)
        answer["comparison"] = methods.to_frame().to_dict("records")
        answer["shapes"] = shapes.to_frame().to_dict("records")
        texts += [methods.summary(), "shapes of the time term: " + shapes.summary()]
    if options.advise is not None:
        from drift.regression.advice import advise

        celsius = None if options.advise == "warm slope" else _celsius(options.advise)
        advice = advise(found, celsius=celsius, instruments=instruments)
        answer["advice"] = {
            "text": advice.summary(),
            "options": advice.to_frame().to_dict("records"),
        }
        texts.append(advice.summary())
    if options.plot is not None:
        from drift.charts.style import figure_of

        figure_of(found.plot()).savefig(options.plot)
        texts.append(f"drawn: {options.plot}")
    if options.json:
        print_json(answer)
    else:
        print("\n".join(texts))
    return 0


def _celsius(text: str) -> float:
    """Return a temperature, or refuse the text."""
    from drift.errors import InputError

    try:
        return float(text)
    except ValueError:
        raise InputError(
            f"--advise {text!r} is not a temperature", "give degrees Celsius, such as --advise 33"
        ) from None
