"""Make expectations for the next band from the summaries of many.

for example:
  drift combine band.json other-band.json --out priors.toml
  drift combine band.json other-band.json --out priors.toml --plot rise.png --instrument flute

Good to know:
  Use the file with: drift fit SOURCE --priors priors.toml
  A band counts once, however many files it gave. One wrong file counts little, but ten that
  agree decide: combine only files whose senders you know.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from drift.cli.options import add_json, print_json

if TYPE_CHECKING:
    from pandas import DataFrame

    from drift.bands.combining import Combination

__all__ = ["add_arguments", "run"]

DRAWN = {
    "cold": "cold_cents_per_celsius",
    "rise": "rise_cents",
    "slow": "slow_cents_per_hour",
    "bend": "curvature_cents_per_celsius2",
    "warming": "log_warm_minutes",
    "cooling": "log_cool_minutes",
}
"""The quantities by a short word, as `drift.bands.reference.NAMES` has them."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of ``drift combine``."""
    parser.add_argument("files", metavar="FILE", nargs="+", help="summaries of bands")
    parser.add_argument(
        "--out", metavar="FILE", type=Path, required=True, help="the file to write, such as "
        "priors.toml"
    )  # fmt: skip
    parser.add_argument(
        "--plot",
        metavar="FILE",
        type=Path,
        help="each band beside the mean and a new band (SVG, PNG)",
    )
    parser.add_argument(
        "--instrument", metavar="I", help="of which to draw (default: the one most bands have)"
    )
    parser.add_argument(
        "--quantity", choices=tuple(DRAWN), default="rise", help="what to draw (default: rise)"
    )
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Combine the files, write the expectations, and print what bands have in common."""
    from drift.bands.combining import combine_files
    from drift.bands.new_priors import heterogeneity, priors_of, write_priors
    from drift.words.bands import about_priors, combination_in_words, rejected_in_words

    found = combine_files(options.files)
    table = heterogeneity(found)
    write_priors(priors_of(found), options.out, about_priors(found))
    if options.plot:
        _draw(options, found, table)
    if options.json:
        print_json(
            {
                "out": str(options.out),
                "bands": found.bands,
                "files": found.files,
                "rejected": [
                    {
                        "reason": one.reason.value, "band": one.band, "season": one.season,
                        "instrument": one.instrument, "text": rejected_in_words(one),
                    }
                    for one in found.rejected
                ],
                "quantities": table.to_dict("records"),
            }
        )  # fmt: skip
    else:
        print(f"{options.out}: {combination_in_words(found, table)}")
    return 0


def _draw(options: argparse.Namespace, found: Combination, table: DataFrame) -> None:
    """Draw one quantity of one instrument, band by band."""
    from drift.bands.new_priors import own_estimates
    from drift.charts.forest import forest
    from drift.charts.style import figure_of, save
    from drift.errors import InputError
    from drift.instruments import canonical_name
    from drift.notes import shown
    from drift.words.bands import QUANTITIES

    kind = canonical_name(options.instrument or max(found.kinds, key=found.bands_of))
    if kind not in found.kinds:
        raise InputError(f"no band has a {kind}", f"there are {', '.join(found.kinds)}")
    quantity = DRAWN[options.quantity]
    row = table[
        (table["instrument"] == kind) & (table["quantity"] == quantity.removeprefix("log_"))
    ].iloc[0]
    mean, new_band = (
        (float(row[name]), float(row[f"{name}_low"]), float(row[f"{name}_high"]))
        for name in ("mean", "new_band")
    )
    label = f"{shown(kind)}: {QUANTITIES[row['quantity']]}"
    axes = forest(own_estimates(found, kind, quantity), mean, new_band, label)
    save(figure_of(axes), options.plot)
