"""Millions of readings from Parquet on an engine: seconds, and the memory of each worker.

    python tests/benchmarks/bench_cluster.py [--readings 1000000 3000000 10000000] [--method M]

The data set is written by blocks and kept in ``--folder`` for the next run. Two workers are
started; memory is the largest resident size of each, looked at ten times a second.
"""

from __future__ import annotations

import argparse
import tempfile
import threading
import time
from pathlib import Path

import numpy as np
import pandas as pd
import psutil
import pyarrow as pa
from distributed import Client, LocalCluster
from pyarrow import parquet

import drift

NOTES = np.array(["F4", "Bb3", "C4", "D4", "Eb4", "G4", "A4", "Bb4"])
PER_REHEARSAL, PLAYERS, SAMPLES, ROW_GROUP = 8000, 200, 240, 64_000
FIRST_US, DAY_US = 1_577_905_200_000_000, 86_400_000_000  # 2020-01-01T19:00:00Z


def stamped(micros: np.ndarray) -> pd.Series:
    """Return times in UTC."""
    return pd.Series(micros.astype("datetime64[us]")).dt.tz_localize("UTC")


def block(first: int, count: int) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the readings and the temperatures of some rehearsals of 200 horns."""
    random = np.random.default_rng(first)
    row = np.arange(count * PER_REHEARSAL)
    rehearsal, at = first + row // PER_REHEARSAL, row % PER_REHEARSAL
    micros = FIRST_US + rehearsal * DAY_US + at * 900_000
    celsius = 16.0 + rehearsal % 9 + at * 0.9 / 1500.0
    player = row * 7 % PLAYERS
    cents = 2.0 * (celsius - 20.0) + player % 9 + random.normal(0.0, 5.0, len(row))
    readings = pd.DataFrame(
        {
            "time": stamped(micros),
            "rehearsal": np.char.mod("rehearsal %05d", rehearsal),
            "player": np.char.mod("player %03d", player),
            "instrument": "double horn",
            "side": "F",
            "note": NOTES[random.integers(0, len(NOTES), len(row))],
            "cents": cents.round(1),
        }
    )
    evening = np.repeat(np.arange(first, first + count), SAMPLES)
    sample = np.tile(np.arange(SAMPLES), count)
    temperatures = pd.DataFrame(
        {
            "time": stamped(FIRST_US + evening * DAY_US + sample * 30_000_000),
            "rehearsal": np.char.mod("rehearsal %05d", evening),
            "celsius": (16.0 + evening % 9 + sample * 0.02).round(2),
            "source": "stage",
        }
    )
    return readings, temperatures


def written(root: Path, readings: int) -> Path:
    """Write a data set, unless it is there, and return it."""
    folder = root / f"{readings}.parquet"
    if folder.exists():
        return folder
    folder.mkdir(parents=True)
    writers: dict[str, parquet.ParquetWriter] = {}
    rehearsals = readings // PER_REHEARSAL
    for first in range(0, rehearsals, 25):
        pair = block(first, min(25, rehearsals - first))
        for name, frame in zip(("readings", "temperatures"), pair, strict=True):
            table = pa.Table.from_pandas(frame, preserve_index=False)
            if name not in writers:
                writers[name] = parquet.ParquetWriter(folder / f"{name}.parquet", table.schema)
            writers[name].write_table(table, row_group_size=ROW_GROUP)
    for writer in writers.values():
        writer.close()
    return folder


def watched(workers: list[psutil.Process], largest: dict[int, int], stop: threading.Event) -> None:
    """Keep the largest resident size of each process [bytes]."""
    while not stop.wait(0.1):
        for worker in workers:
            largest[worker.pid] = max(largest.get(worker.pid, 0), worker.memory_info().rss)


def spent(processes: list[psutil.Process]) -> float:
    """Return the seconds of the processor that processes have used."""
    return sum(sum(one.cpu_times()[:2]) for one in processes)


def main() -> None:
    """Measure and print, a line a size."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--readings", type=int, nargs="+", default=[10**6, 3 * 10**6, 10**7])
    parser.add_argument("--method", default="least-squares")
    parser.add_argument("--folder", type=Path)
    options = parser.parse_args()
    root = options.folder or Path(tempfile.mkdtemp())
    for readings in options.readings:
        folder = written(root, readings)
        with (
            LocalCluster(
                n_workers=2, threads_per_worker=1, dashboard_address="127.0.0.1:0"
            ) as cluster,
            Client(cluster) as client,
        ):
            workers = [psutil.Process(worker.pid) for worker in cluster.workers.values()]
            everyone = [*workers, psutil.Process()]
            largest: dict[int, int] = {}
            stop = threading.Event()
            watch = threading.Thread(target=watched, args=(workers, largest, stop), daemon=True)
            watch.start()
            began, before = time.perf_counter(), spent(everyone)
            found = drift.fit(folder, options.method, engine="dask", scheduler=client)
            seconds, processor = time.perf_counter() - began, spent(everyone) - before
            stop.set()
            watch.join()
        used = sum(kind.readings for kind in found.kinds.values())
        sizes = ", ".join(f"{size / 2**20:.0f}" for size in largest.values())
        print(
            f"{options.method}: {readings} readings ({used} used) in {seconds:.1f} s, "
            f"{processor:.1f} s of the processor, {1e6 * processor / readings:.2f} a million; "
            f"largest workers {sizes} MB"
        )


if __name__ == "__main__":
    main()
