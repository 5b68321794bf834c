"""The quick way reads what the careful way reads, or steps aside."""

import tempfile
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings

from drift import shipped
from drift.logbook.data_package import write_folder
from drift.logbook.folders import read_folder
from drift.logbook.quick_tables import read_quickly
from drift.logbook.records import RECORDS
from drift.logbook.rehearsals import of_folder
from tests.folders import HEADER_ONLY, folders, write


def assert_same(folder: Path) -> bool:
    quick = read_quickly(folder)
    if quick is None:
        return False
    careful = of_folder(read_folder(folder))
    for table in RECORDS:
        pd.testing.assert_frame_equal(quick[table], getattr(careful, table))
    return True


def test_the_shipped_season_takes_the_quick_way():
    assert assert_same(shipped.folder("datasets/cold-hall-season"))


@settings(deadline=None, max_examples=40, suppress_health_check=[HealthCheck.too_slow])
@given(folders())
def test_both_ways_agree_on_any_valid_folder(folder):
    with tempfile.TemporaryDirectory() as place:
        assert_same(write_folder(Path(place) / "f", folder, title="any"))


@pytest.mark.parametrize(
    ("table", "old", "new"),
    [
        ("readings", "4.0", "900"),
        ("readings", "4.0", "x"),
        ("readings", "19:05:00+02:00", "19:05:00"),
        ("readings", "F4", "H4"),
        ("readings", "19:15", "19:01"),
        ("readings", "double horn", "ophicleide"),
        ("readings", "Rowan", ""),
        ("temperatures", "19.6", "99"),
        ("temperatures", "celsius", "fahrenheit"),
        ("events", "play", "dance"),
    ],
)
def test_a_table_in_doubt_is_left_to_the_careful_way(tmp_path, table, old, new):
    folder = write(tmp_path / "f")
    file = folder / f"{table}.csv"
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new), encoding="utf-8")
    assert read_quickly(folder) is None


def test_header_rows_alone_are_empty_tables(tmp_path):
    assert assert_same(write(tmp_path / "f", **HEADER_ONLY))
