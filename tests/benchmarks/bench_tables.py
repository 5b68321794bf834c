"""A million readings in: whole commands against ``pandas.read_csv`` of the same files.

    python tests/benchmarks/bench_tables.py [--readings 1000000] [--folder DIR] [--book]

Processor seconds, the best of three, in one run: of a whole command, its start included, against
``read_csv`` alone, without the start of Python and the import of pandas; ``--book`` adds the
import, what the book takes on the disk, the fit of it, and what each step of that takes in Python
(start, load, pair, two fits), which take minutes. Memory is the largest of each process. The first
line is a reader that does nothing but split the fields (pyarrow, texts by dictionary), without its
start.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd

ROOT = Path(__file__).resolve().parents[2]
NOTES = np.array(["F4", "Bb3", "C4", "D4", "Eb4", "G4", "A4", "Bb4"])
GOALS = {"clean": 5.0, "milliseconds": 5.0, "mixed": 5.0, "refused": 6.0, "remarks": 8.0}
GOALS |= {"import": 40.0, "fit of the book": 8.0}
PER_REHEARSAL, SAMPLES = 8000, 240
FIRST_US = 1_577_905_200_000_000  # 2020-01-01T19:00:00Z
DAY_US = 86_400_000_000

STEPS = """
import sys, time, drift
drift.load, drift.pair, drift.fit
laps = [time.process_time()]
book = drift.load(sys.argv[1]); laps.append(time.process_time())
paired = drift.pair(book); laps.append(time.process_time())
drift.fit(paired, method="least-squares"); laps.append(time.process_time())
drift.fit(paired); laps.append(time.process_time())
print(laps[0], *(after - before for before, after in zip(laps, laps[1:])))
"""

READ = """
import pandas, resource, sys, time
began = time.process_time()
for file in sys.argv[1:]:
    pandas.read_csv(file)
print(time.process_time() - began, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""


SPLIT = """
import pyarrow, pyarrow.csv, resource, sys, time
began = time.process_time()
text = pyarrow.dictionary(pyarrow.int32(), pyarrow.string())
for file in sys.argv[1:]:
    with open(file) as lines:
        names = next(lines).strip().split(",")
    types = {name: pyarrow.string() if name == "time" else text for name in names}
    pyarrow.csv.read_csv(file, convert_options=pyarrow.csv.ConvertOptions(column_types=types))
print(time.process_time() - began, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""


def stamps(micros: np.ndarray, decimals: str) -> np.ndarray:
    """Return times as RFC 3339 in UTC."""
    return np.char.add(np.datetime_as_string(micros.astype("datetime64[us]"), decimals), "Z")


def written(root: Path, kind: str, readings: int) -> Path:
    """Write one folder and return it."""
    random = np.random.default_rng(1)
    row = np.arange(readings)
    rehearsal = row // PER_REHEARSAL
    micros = FIRST_US + rehearsal * DAY_US + (row % PER_REHEARSAL) * 900_000
    times = stamps(micros, "s" if kind != "milliseconds" else "ms").astype("U40")
    if kind == "mixed":
        times[1::2] = np.char.replace(stamps(micros, "ms"), "T", " ")[1::2]
    cents = random.normal(0.0, 8.0, readings).round(1).astype(object)
    if kind == "refused":
        cents[random.choice(readings, readings // 100, replace=False)] = "x"
    folder = root / kind
    folder.mkdir()
    pd.DataFrame(
        {
            "time": times,
            "rehearsal": np.char.mod("rehearsal %04d", rehearsal),
            "player": np.char.mod("player %03d", row % PER_REHEARSAL // 40),
            "instrument": "double horn",
            "side": "F",
            "note": NOTES[row % len(NOTES)],
            "cents": cents,
            "remark": [f'said "{n}", softly' for n in row] if kind == "remarks" else "",
        }
    ).to_csv(folder / "readings.csv", index=False)
    evening = np.repeat(np.arange(rehearsal[-1] + 1), SAMPLES)
    sample = np.tile(np.arange(SAMPLES), rehearsal[-1] + 1)
    pd.DataFrame(
        {
            "time": stamps(FIRST_US + evening * DAY_US + sample * 30_000_000, "s"),
            "rehearsal": np.char.mod("rehearsal %04d", evening),
            "celsius": (16.0 + evening % 9 + sample * 0.02).round(2),
            "source": "stage",
        }
    ).to_csv(folder / "temperatures.csv", index=False)
    return folder


def cost(*command: object, made: Path | None = None) -> tuple[float, float]:
    """Return processor seconds and the largest memory [MB] of a child, the best of three.

    What the command makes is deleted before each, with the files beside it.
    """
    found = []
    for _ in range(3):
        for file in made.parent.glob(f"{made.name}*") if made else ():
            file.unlink()
        child = subprocess.Popen(
            [sys.executable, *map(str, command)], cwd=ROOT,
            env=os.environ | {"PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"},
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        _, _, usage = os.wait4(child.pid, 0)
        found.append((usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024))
    return min(found)


def baseline(files: list[Path], script: str = READ) -> tuple[float, float]:
    """Return processor seconds and largest memory [MB] of reading the files, the best of three."""
    command = [sys.executable, "-c", script, *map(str, files)]
    found = [subprocess.run(command, capture_output=True, text=True, check=True) for _ in range(3)]
    seconds, megabytes = min(tuple(map(float, one.stdout.split())) for one in found)
    return seconds, megabytes


def steps(book: Path) -> dict[str, float]:
    """Return processor seconds of each step of a fit in Python, the best of three."""
    command = [sys.executable, "-c", STEPS, str(book)]
    found = [
        subprocess.run(
            command, capture_output=True, text=True, check=True, cwd=ROOT,
            env=os.environ | {"PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"},
        ).stdout.split()
        for _ in range(3)
    ]  # fmt: skip
    names = ("start", "load", "pair", "least squares", "Bayesian")
    return dict(zip(names, (min(map(float, lap)) for lap in zip(*found, strict=True)), strict=True))


def main() -> None:
    """Measure and print, a line a kind of table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--readings", type=int, default=1_000_000)
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--book", action="store_true")
    options = parser.parse_args()
    root = options.folder or Path(tempfile.mkdtemp())
    for kind in ("clean", "milliseconds", "mixed", "refused", "remarks"):
        folder = written(root, kind, options.readings)
        files = [folder / "readings.csv", folder / "temperatures.csv"]
        base = baseline(files)
        if kind == "clean":
            show("fields alone", baseline(files, SPLIT), base)
        show(kind, cost("-m", "drift", "check", folder), base)
        if options.book and kind == "clean":
            book = root / "bench.logbook"
            show("import", cost("-m", "drift", "import", book, folder, made=book), base)
            print(f"{'':16} {book.stat().st_size / options.readings:6.1f} bytes a reading")
            show("fit of the book", cost("-m", "drift", "fit", book), base)
            for name, seconds in steps(book).items():
                print(f"  {name:14} {seconds / base[0]:6.1f} times read_csv; {seconds:.2f} s")


def show(kind: str, own: tuple[float, float], base: tuple[float, float]) -> None:
    """Print one ratio beside its goal."""
    goal = f" (goal {GOALS[kind]:g})" if kind in GOALS else ""
    print(
        f"{kind:16} {own[0] / base[0]:6.1f} times read_csv{goal}, memory "
        f"{own[1] / base[1]:.1f} times; {own[0]:.2f} s and {base[0]:.2f} s"
    )


if __name__ == "__main__":
    main()
