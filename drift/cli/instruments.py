"""List the instruments, or everything the catalogue knows about one.

for example:
  drift instruments "double horn"
  drift instruments "Bb trumpet" --toml > mine.toml

Good to know:
  Shown are sides, slides and which sides they serve, lengths, cents per millimetre, valve loops,
  the note a player reads, and a source for every number. --toml prints the entry as it is written,
  to copy into a file of your own and change.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from drift.cli.options import add_instruments, add_json, catalogue_of, print_json

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument("name", nargs="?", metavar="NAME", help="one instrument")
    parser.add_argument(
        "--draw", metavar="FILE", type=Path, help="draw its air path (.png, .svg or .pdf)"
    )
    parser.add_argument("--toml", action="store_true", help="print its entry in the catalogue")
    add_instruments(parser)
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Print the catalogue or one instrument."""
    from drift.instruments.answer import to_json
    from drift.words.instruments import described, listed

    known = catalogue_of(options)
    if options.name is None:
        if options.json:
            print_json({"instruments": [to_json(entry) for entry in known.values()]})
        else:
            print(listed(known))
        return 0
    instrument = known.find(options.name)
    if options.draw:
        from drift.charts.style import figure_of, save
        from drift.sheets.drawing import air_path

        save(figure_of(air_path(instrument)), options.draw)
    if options.json:
        print_json(to_json(instrument))
    elif options.toml:
        print(known.entry_text(instrument.name), end="")
    else:
        print(described(instrument))
    return 0
