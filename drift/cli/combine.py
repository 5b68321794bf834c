"""Make expectations for the next band from the summaries of many.

for example:
  drift combine band.json other-band.json --out priors.toml

Good to know:
  Use the file with: drift fit SOURCE --priors priors.toml
  A band counts once, however many files it gave. One wrong file counts little, but ten of one mind
  win: combine only files whose senders you know.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from drift.cli.options import add_json, print_json

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of ``drift combine``."""
    parser.add_argument("files", metavar="FILE", nargs="+", help="summaries of bands")
    parser.add_argument(
        "--out", metavar="FILE", type=Path, required=True, help="the file to write, such as "
        "priors.toml"
    )  # fmt: skip
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Combine the files, write the expectations, and print what bands have in common."""
    from drift.bands.combining import combine_files
    from drift.bands.new_priors import heterogeneity, priors_of, write_priors
    from drift.words.bands import about_priors, combination_in_words, rejected_in_words

    found = combine_files(options.files)
    table = heterogeneity(found)
    write_priors(priors_of(found), options.out, about_priors(found))
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
