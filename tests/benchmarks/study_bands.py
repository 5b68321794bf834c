"""What a new band gains from the files of others: error, coverage, width; how far off means are.

usage: python tests/benchmarks/study_bands.py [--collections 4] [--new 51] [--choosing]
           [--out FILE.jsonl] [--answer FILE.jsonl]

Each collection has 60 bands drawn by `tests.collection`, which shares no code with the estimator:
2 to 30 players on one to three kinds of instrument, 1 to 8 rehearsals. Their summaries are kept in
FILE, a line a band, and not made again; what a new band gained in the other file. New bands are of
other seeds. ``--choosing`` uses the seeds
on which `drift.bands.new_priors.INFLATION` was chosen, and only prints how far off the means are.
"""

from __future__ import annotations

import argparse
import itertools
import json
import sys
import uuid
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.special import ndtr, ndtri

sys.path.insert(0, str(Path(__file__).parents[2]))

from drift.bands.band_file import BandSummary
from drift.bands.combining import Combination, combine
from drift.bands.new_priors import INFLATION, priors_of
from drift.bands.reference import NAMES, reference_of
from drift.bands.summaries import summarise
from drift.errors import InputError
from drift.regression.fits import fit, physics
from drift.regression.priors import SDS, InstrumentPriors, Priors, SpreadPrior
from tests.collection import (
    BAND_SD,
    DAY_SD,
    PLAYER_SD,
    READING_SD,
    REHEARSAL_SD,
    SHARE,
    TRUE,
    band,
    change,
    rows_of,
    whole_band,
)

BANDS, SIZES = 60, (5, 20, 60)
JUDGED, CHOOSING, NEW = 1_000_000, 0, 2_000_000
GIGS = ((5.0, 10.0), (5.0, 40.0), (35.0, 10.0), (35.0, 40.0))


def file_of(seed: int, number: int) -> dict[str, object] | None:
    """Return the file of a band of a collection; None where it may show no section."""
    random = np.random.default_rng([91, seed, number])
    name = str(uuid.UUID(int=1000 * seed + number + 1))
    try:
        return summarise(rows_of(whole_band(random)), name, "2026").to_json()
    except InputError:
        return None


def collection(seed: int, out: Path, scratch: Path) -> list[BandSummary]:
    """Return the files of a collection, those that are not in `out` made now."""
    lines = out.read_text("utf-8").splitlines() if out.exists() else []
    known = {(one["seed"], one["number"]): one["file"] for one in map(json.loads, lines)}
    found = []
    for number in range(BANDS):
        if (seed, number) not in known:
            known[seed, number] = file_of(seed, number)
            record = {"seed": seed, "number": number, "file": known[seed, number]}
            with out.open("a", encoding="utf-8") as stream:
                stream.write(json.dumps(record) + "\n")
        if known[seed, number] is not None:
            scratch.write_text(json.dumps(known[seed, number]), encoding="utf-8")
            found.append(BandSummary.read(scratch))
    return found


def off(combined: Combination) -> Iterator[tuple[str, str, float]]:
    """Yield how far off the mean of each kind is, in its standard deviations as they were found."""
    for kind in set(combined.kinds) & set(SHARE):
        mean, covariance = combined.instruments.of_kind(kind)
        reference = reference_of(kind)
        true = (np.array(TRUE[kind]) - reference.mean) / reference.sd
        for name, z in zip(NAMES, (mean - true) / np.sqrt(np.diag(covariance)), strict=True):
            yield kind, name, float(z)


def truth_known() -> Priors:
    """Return the priors of somebody who knows all but the new band itself."""
    sds = dict(zip(SDS, (READING_SD, DAY_SD, *PLAYER_SD, REHEARSAL_SD), strict=True))
    usual = Priors()
    spreads = {
        name: SpreadPrior(float(-ndtri(2.0 * ndtr(-sd / getattr(usual, name)))), 0.05)
        for name, sd in sds.items()
    }
    instruments = {
        kind: InstrumentPriors(
            phi[0], BAND_SD[0], phi[1], BAND_SD[1], float(np.exp(phi[4])), BAND_SD[4],
            float(np.exp(phi[5])), BAND_SD[5], phi[2], BAND_SD[2],
        )
        for kind, phi in TRUE.items()
    }  # fmt: skip
    return Priors(
        common_slope_sd=1e-3, curvature_mean=0.003, curvature_sd=0.0005, instruments=instruments,
        spreads=spreads,
    )  # fmt: skip


def judged(number: int, priors: dict[str, Priors]) -> list[dict[str, object]]:
    """Return errors and intervals of a new band before any rehearsal, after one and after three."""
    random = np.random.default_rng([92, NEW + number])
    kind = tuple(SHARE)[number % 3]
    new = band(random, kind, int(random.integers(2, 9)), 3)
    names = sorted(set(new.rows["rehearsal"]))
    found = []
    for own, (name, given) in itertools.product((0, 1, 3), priors.items()):
        rows = new.rows[new.rows["rehearsal"].isin(names[:own])].reset_index(drop=True)
        known = fit(rows, priors=given) if own else physics(priors=given)
        for celsius, minutes in GIGS:
            answers = {
                who: known.change(kind, celsius=celsius, minutes=minutes, player=who)
                for who in (new.players if own else ("new",))
            }
            for player, phi in new.players.items():
                answer = answers[player if own else "new"]
                true = float(change(phi, celsius, minutes))
                found.append({
                    "band": number, "own": own, "priors": name,
                    "error": abs(answer.estimate - true), "width": answer.high - answer.low,
                    "held": float(answer.low <= true <= answer.high),
                })  # fmt: skip
    # Each band counts once, however many players it has.
    means = pd.DataFrame(found).groupby(["band", "own", "priors"], sort=False).mean()
    return [dict(one) for one in means.reset_index().to_dict("records")]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--collections", type=int, default=4)
    parser.add_argument("--new", type=int, default=51)
    parser.add_argument("--choosing", action="store_true")
    parser.add_argument("--out", type=Path, default=Path("bands.jsonl"))
    parser.add_argument("--answer", type=Path, default=Path("bands-answer.jsonl"))
    options = parser.parse_args()
    first = CHOOSING if options.choosing else JUDGED
    scores, combined = [], {}
    for seed in range(first, first + options.collections):
        files = collection(seed, options.out, options.answer.with_suffix(".scratch"))
        for size in SIZES:
            combined[seed, size] = combine(files[:size])
            scores += [(seed, size, *one) for one in off(combined[seed, size])]
    table = pd.DataFrame(scores, columns=["seed", "size", "kind", "name", "z"])
    square = table.assign(square=table["z"] ** 2)
    print("root mean square of z of the means, before inflation")
    print(square.groupby("size")["square"].mean().pow(0.5).round(2).to_string())
    print(square.groupby(["size", "name"])["square"].mean().pow(0.5).unstack().round(2).to_string())
    print(f"share within 1.96 sd after an inflation of {INFLATION:g}")
    inside = table.assign(held=table["z"].abs() < 1.96 * np.sqrt(INFLATION))
    print(inside.groupby("size")["held"].mean().round(3).to_string())
    if options.choosing:
        return
    priors = {"catalogue": Priors()}
    priors |= {f"{size} bands": priors_of(combined[first, size]) for size in SIZES}
    priors["truth known"] = truth_known()
    lines = options.answer.read_text("utf-8").splitlines() if options.answer.exists() else []
    rows = [json.loads(line) for line in lines]
    done = {one["band"] for one in rows}
    for number in range(options.new):
        if number not in done:
            fresh = judged(number, priors)
            rows += fresh
            with options.answer.open("a", encoding="utf-8") as stream:
                stream.write("".join(json.dumps(one) + "\n" for one in fresh))
    each = pd.DataFrame([one for one in rows if one["band"] < options.new])
    answer = each.groupby(["own", "priors"], sort=False)[["error", "held", "width"]].mean()
    print(answer.round(2).assign(bands=each["band"].nunique()).to_string())


if __name__ == "__main__":
    main()
