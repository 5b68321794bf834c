"""Times finer than a microsecond are rounded alike in every kind of table, and counted once."""

import pandas as pd
import pytest

import drift
from drift.errors import InputError
from drift.tables.understood import Rounded
from tests.folders import HEADER_ONLY, write

HEAD = "time,rehearsal,player,instrument,side,note,cents\n"
ROW = ",hall,Rowan,double horn,F,F4,4.0\n"
FINE = ("2026-10-03T19:17:06.099999999", "2026-10-03T19:17:59.9999995", "2026-10-03T19:18:00.25")
ROUND = ["17:17:06.100000", "17:18:00.000000", "17:18:00.250000"]


def loaded(source, **how):
    taken = drift.load(source, **how)
    rounded = [one.rows for one in taken.understood if isinstance(one, Rounded)]
    return taken.readings["time"].dt.strftime("%H:%M:%S.%f").tolist(), rounded


def frame(offset):
    times = [pd.Timestamp(time + offset) for time in FINE]
    columns = HEAD.strip().split(",")
    return pd.DataFrame([[time, *ROW.strip().split(",")[1:]] for time in times], columns=columns)


@pytest.mark.parametrize(
    ("offset", "how"), [("+02:00", {}), ("", {"zone": "Europe/Berlin"})], ids=["offset", "zone"]
)
def test_a_file_a_frame_and_parquet_are_rounded_alike(tmp_path, offset, how):
    text = HEAD + "".join(f"{time}{offset}{ROW}" for time in FINE)
    folder = write(tmp_path, **HEADER_ONLY | {"readings": text})
    assert loaded(folder, **how) == (ROUND, [2])
    table = frame(offset)
    assert table["time"].dt.unit == "ns"
    assert loaded({"readings": table}, **how) == (ROUND, [2])
    table.to_parquet(tmp_path / "readings.parquet")
    assert loaded(tmp_path / "readings.parquet", **how) == (ROUND, [2])


def test_a_missing_time_is_refused_all_the_same():
    table = frame("+02:00")
    table.loc[1, "time"] = pd.NaT
    with pytest.raises(InputError, match="time is missing"):
        drift.load({"readings": table})


def test_rows_that_a_program_writes_may_come_in_any_order(tmp_path):
    table = frame("+02:00")
    table[::-1].to_parquet(tmp_path / "readings.parquet")
    for source in ({"readings": table[::-1]}, tmp_path / "readings.parquet"):
        assert loaded(source) == (ROUND, [2])
