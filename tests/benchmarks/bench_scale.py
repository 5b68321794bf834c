"""A million readings through least squares: how long, how much memory, and against whom.

    python tests/benchmarks/bench_scale.py [--readings 1000000] [--folder DIR]

pyfixest is wanted for its part (``pip install pyfixest``) and is no dependency of the package; if
it is not installed that is reported. Fits are timed in
processor seconds on one thread; reading and fitting the folder by the wall clock and in processor
seconds, in turns: the best of several. Reading is ``pandas.read_csv(file)`` of each table, with
nothing else asked of it.
"""

from __future__ import annotations

import argparse
import importlib.util
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "NUMBA_NUM_THREADS"):
    os.environ.setdefault(name, "1")
ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

import numpy as np  # noqa: E402
import pandas as pd  # noqa: E402

from drift.regression.at_scale import Blocks, blocks_of, solved  # noqa: E402
from drift.regression.grouping import numbered as codes_by  # noqa: E402

PLAYERS, NOTES = 200, 40
GOALS = {"pyfixest": 5.0, "linearmodels": 30.0, "folder": 3.0, "memory": 1.5}


def band(readings: int, seed: int = 0) -> pd.DataFrame:
    """Return readings of 200 players, 40 notes each, at as many rehearsals as it takes."""
    random = np.random.default_rng(seed)
    row = np.arange(readings)
    note, player = row % NOTES, row // NOTES % PLAYERS
    rehearsal = row // (NOTES * PLAYERS)
    minutes = random.uniform(1.0, 110.0, readings).round(2)
    start = random.uniform(10.0, 30.0, rehearsal.max() + 1)
    celsius = (start[rehearsal] + 3.0 * minutes / 110.0).round(2)
    level = random.normal(0.0, 8.0, PLAYERS * NOTES)[player * NOTES + note]
    cents = 1.9 * (celsius - 20.0) + 0.05 * minutes + level + random.normal(0.0, 3.0, readings)
    return pd.DataFrame(
        {
            "rehearsal": np.char.mod("rehearsal %03d", rehearsal),
            "player": np.char.mod("player %03d", player),
            "side": "",
            "note": np.char.mod("note %02d", note),
            "celsius": celsius,
            "playing_minutes": minutes,
            "reference_cents": cents.round(1),
        }
    )


def numbered(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the readings with intercepts and rehearsals as categories."""
    return pd.DataFrame(
        {
            "rehearsal": pd.Categorical(rows["rehearsal"]),
            "intercept": pd.Categorical(rows["player"] + rows["note"]),
            **{name: rows[name] for name in ("celsius", "playing_minutes", "reference_cents")},
        }
    )


def blocks(rows: pd.DataFrame, by: tuple[str, ...], names: pd.Index | None = None) -> Blocks:
    """Return the products of the rows, rehearsals numbered by the given names."""
    intercepts, _ = codes_by(rows, by)
    rehearsals, here = codes_by(rows, ["rehearsal"])
    names = here if names is None else names
    return blocks_of(rows, intercepts, names.get_indexer(here)[rehearsals], len(names))


def best(run: Callable[[], object], times: int) -> float:
    """Return the shortest of several runs in seconds."""
    found = []
    for _ in range(times):
        began = time.process_time()
        run()
        found.append(time.process_time() - began)
    return min(found)


def by_pyfixest(rows: pd.DataFrame) -> Callable[[], object] | None:
    if importlib.util.find_spec("pyfixest") is None:
        return None
    import pyfixest

    return lambda: pyfixest.feols(
        "reference_cents ~ celsius + playing_minutes | intercept",
        rows,
        vcov={"CRV1": "rehearsal"},
    )


def by_linearmodels(rows: pd.DataFrame) -> Callable[[], object]:
    from linearmodels.iv.absorbing import AbsorbingLS

    absorbed = rows[["intercept"]]
    return lambda: AbsorbingLS(
        rows["reference_cents"], rows[["celsius", "playing_minutes"]], absorb=absorbed
    ).fit(cov_type="clustered", clusters=rows["rehearsal"].cat.codes)


def write_folder(rows: pd.DataFrame, folder: Path) -> None:
    """Write the rows as a rehearsal folder, with a thermometer and a play event a rehearsal."""
    rows = rows.sort_values(["rehearsal", "playing_minutes"], ignore_index=True)
    names = rows["rehearsal"].unique()
    begins = pd.Series(
        pd.Timestamp("2026-01-01T18:00Z") + pd.to_timedelta(np.arange(len(names)), unit="D"), names
    )
    stamp = "%Y-%m-%dT%H:%M:%S+00:00"
    when = rows["rehearsal"].map(begins) + pd.to_timedelta(rows["playing_minutes"], unit="min")
    pitches = ["C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"]
    notes = [f"{pitches[number % 12]}{2 + number // 12}" for number in range(NOTES)]
    number = rows["note"].str[-2:].astype(int)
    pd.DataFrame(
        {
            "time": when.dt.strftime(stamp),
            "rehearsal": rows["rehearsal"],
            "player": rows["player"],
            "instrument": "Bb trumpet",
            "note": number.map(dict(enumerate(notes))),
            "cents": rows["reference_cents"],
        }
    ).to_csv(folder / "readings.csv", index=False)
    minutes = np.arange(0, 115, 5)
    start = rows.groupby("rehearsal")["celsius"].min()
    pd.DataFrame(
        {
            "time": [
                f"{begins[name] + pd.Timedelta(minutes=m):{stamp}}"
                for name in names
                for m in minutes
            ],
            "rehearsal": np.repeat(names, len(minutes)),
            "celsius": np.concatenate(
                [start[name] + 3.0 * minutes / 110.0 for name in names]
            ).round(2),
        }
    ).to_csv(folder / "temperatures.csv", index=False)
    pd.DataFrame(
        {"time": [f"{begins[name]:{stamp}}" for name in names], "rehearsal": names, "player": "",
         "event": "play", "slide": "", "position_mm": "", "remark": ""}
    ).to_csv(folder / "events.csv", index=False)  # fmt: skip


MEASURED = """
import resource, sys, time
if sys.argv[1] == "read":
    import pandas
    from pathlib import Path
    began = time.perf_counter(), time.process_time()
    for file in sorted(Path(sys.argv[2]).glob("*.csv")):
        pandas.read_csv(file)
else:
    import contextlib, io
    import pandas, statsmodels.regression.linear_model
    from drift.cli import main
    began = time.perf_counter(), time.process_time()
    with contextlib.redirect_stdout(io.StringIO()):
        assert main(["fit", sys.argv[2], "--method", "least-squares"]) == 0
ended = time.perf_counter(), time.process_time()
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
gigabytes = peak / 1024**2 if sys.platform != "darwin" else peak / 1024**3
print(ended[0] - began[0], ended[1] - began[1], gigabytes)
"""


def measured(folder: Path, times: int) -> dict[str, tuple[float, float, float]]:
    """Return seconds by the clock and of the processor (best), and peak GB, of both in turns."""
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    runs: dict[str, list[list[float]]] = {"read": [], "fit": []}
    for _ in range(times):
        for what, found in runs.items():
            output = subprocess.run(
                [sys.executable, "-c", MEASURED, what, str(folder)],
                env=environment, capture_output=True, text=True, check=True,
            ).stdout  # fmt: skip
            found.append([float(number) for number in output.split()])
    return {
        what: (min(run[0] for run in found), min(run[1] for run in found), max(r[2] for r in found))
        for what, found in runs.items()
    }


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--readings", type=int, default=1_000_000)
    parser.add_argument("--times", type=int, default=3)
    parser.add_argument(
        "--folder", type=Path, help="where to write the folder (default: temporary)"
    )
    options = parser.parse_args()
    rows = band(options.readings)
    missed = []

    def judge(label: str, ratio: float, goal: float, at_most: bool = False) -> None:
        kept = ratio <= goal if at_most else ratio >= goal
        print(f"  {label}: {ratio:.1f} (goal: {'at most' if at_most else 'at least'} {goal:g})")
        if not kept:
            missed.append(label)

    by = ("player", "side", "note")
    named = best(lambda: solved(blocks(rows, by)), options.times)
    print(f"one pass and solve, players and notes as text: {named:.3f} s")
    # The others want categories, so all three get the same table of them.
    text, rows = rows, numbered(rows)
    by = ("intercept",)
    ours = best(lambda: solved(blocks(rows, by)), options.times + 2)
    print(f"{len(rows)} readings, {PLAYERS * NOTES} intercepts")
    print(f"one pass and solve, players and notes as categories: {ours:.3f} s")
    whole = solved(blocks(rows, by))
    names, half = rows["rehearsal"].cat.categories, rows["intercept"].cat.codes % 2 == 0
    halves = solved(blocks(rows[half], by, names) + blocks(rows[~half], by, names))
    error = np.abs(halves.covariance / whole.covariance - 1.0).max()
    print(f"two halves merged against the whole: largest relative difference {error:.1e}")
    if error > 1e-9:
        missed.append("merging")
    other = by_pyfixest(rows)
    if other is None:
        print("pyfixest is not installed: not run")
    else:
        other()  # its compiler's first run does not count
        theirs = best(other, options.times)
        coefficients = other().coef().to_numpy()  # type: ignore[attr-defined]
        print(f"pyfixest: {theirs:.3f} s, slopes {coefficients}, ours {whole.coefficients}")
        judge("times as fast as pyfixest", theirs / ours, GOALS["pyfixest"])
    theirs = best(by_linearmodels(rows), 1)
    print(f"linearmodels AbsorbingLS: {theirs:.3f} s")
    judge("times as fast as linearmodels", theirs / ours, GOALS["linearmodels"])
    with tempfile.TemporaryDirectory() as temporary:
        folder = options.folder or Path(temporary)
        folder.mkdir(exist_ok=True, parents=True)
        write_folder(text, folder)
        found = measured(folder, options.times)
    (wall, processor, _), (fit_wall, fit_processor, peak) = found["read"], found["fit"]
    print(f"pandas.read_csv alone: {wall:.2f} s, {processor:.2f} s of the processor")
    print(f"drift fit of the folder: {fit_wall:.2f} s, {fit_processor:.2f} s of the processor")
    judge("times the reading", fit_wall / wall, GOALS["folder"], at_most=True)
    judge("times in the processor", fit_processor / processor, GOALS["folder"], at_most=True)
    judge("GB of memory", peak, GOALS["memory"], at_most=True)
    print("missed: " + ", ".join(missed) if missed else "all goals kept")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
