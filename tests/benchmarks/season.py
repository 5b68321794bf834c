"""A season of a band by public commands alone: what it is worth, and what its faults cost.

Thirty rehearsals and six outdoor performances of a simulated band of 62, once clean and once with
faults: a slide pulled that nobody logs, a thermometer that lags, one that stops for half an hour,
a tuner at 442 Hz, a log killed while it writes, a new player in March. Prints the tables of
``docs/explanation/season.md`` and draws its picture. Needs the program ``faketime``.

Run ``python tests/benchmarks/season.py --seed 2026 --out FOLDER``; it takes some ten minutes.
"""

import argparse
import json
import shutil
import time
from pathlib import Path

import pandas as pd

from tests.season.keeping import asked, keep
from tests.season.performances import PERFORMANCES, WAYS, performed
from tests.season.picture import draw
from tests.season.world import REHEARSALS, Season


def main():
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--seed", type=int, nargs="+", default=[2026])
    ask.add_argument("--out", type=Path, default=Path("season"))
    given = ask.parse_args()
    if shutil.which("faketime") is None:
        ask.error("needs the program faketime (apt install faketime)")
    rows, noticed = [], []
    for seed in given.seed:
        for spoilt in (False, True):
            folder = given.out / f"{seed}-{'spoilt' if spoilt else 'clean'}"
            shutil.rmtree(folder, ignore_errors=True)
            folder.mkdir(parents=True)
            found, said = whole(Season(seed, spoilt), folder)
            rows += [{"seed": seed, "spoilt": spoilt, **row} for row in found]
            noticed += [{"seed": seed, "spoilt": spoilt, "said": line} for line in said]
    table = pd.DataFrame(rows)
    table.to_csv(given.out / "errors.csv", index=False)
    pd.DataFrame(noticed).to_csv(given.out / "noticed.csv", index=False)
    print(worth(table).to_string())
    print("\nwith its faults against without, own rehearsals [cents]")
    print(cost(table).to_string())
    print("\nwhat `drift check` and `drift fit` said of the book with faults")
    print("\n".join(f"{row['seed']}: {row['said']}" for row in noticed if row["spoilt"]))
    draw(worth(table), given.out / "season.png")


def whole(season, folder):
    """Play one season; rows of errors, and what was noticed at its end."""
    book, rows, began = folder / "band.logbook", [], time.monotonic()
    for number in range(REHEARSALS):
        keep(season, number, book, folder)
        for place, performance in enumerate(PERFORMANCES):
            if performance[0] == number:
                rows += performed(season, place, book, folder)
    said = [line for line in asked("check", book).splitlines() if line.strip()]
    fit = json.loads(asked("fit", book, "--json"))
    said += [f"fit: {text}" for text in [*fit["warnings"], *map(str, fit["outliers"])]]
    print(f"{folder.name}: {time.monotonic() - began:.0f} s")
    return rows, said


def worth(table):
    """Mean absolute error while playing [cents] by performance and way, of the clean season."""
    clean = table[~table["spoilt"]]
    wide = clean.pivot_table(index="performance", columns="way", values="cents", sort=False)
    wide = wide.reindex(columns=list(WAYS))
    wide.loc["all"] = wide.mean()
    return wide.round(1)


def cost(table):
    """Error with own rehearsals of each section, clean and with the faults."""
    own = table[table["way"] == "own"]
    wide = own.pivot_table(index="section", columns="spoilt", values="cents", sort=False)
    wide.columns = ["clean", "with faults"]
    return wide.assign(cost=wide["with faults"] - wide["clean"]).round(2)


if __name__ == "__main__":
    main()
