"""Wide tables: a column for each note give the readings that a row for each gives."""

import pandas as pd
import pytest

import drift
from drift.tables.problems import TablesRefused
from tests.folders import HEADER_ONLY, write

WIDE = """\
time,rehearsal,player,instrument,side,F4,B♭3,A4
2026-10-03T19:05:00+02:00,hall,Rowan,double horn,F,4.0,,-1.5
2026-10-03T19:15:00+02:00,hall,Rowan,double horn,F,6.0,2.25,
"""
LONG = """\
time,rehearsal,player,instrument,side,note,cents
2026-10-03T19:05:00+02:00,hall,Rowan,double horn,F,F4,4.0
2026-10-03T19:05:00+02:00,hall,Rowan,double horn,F,A4,-1.5
2026-10-03T19:15:00+02:00,hall,Rowan,double horn,F,F4,6.0
2026-10-03T19:15:00+02:00,hall,Rowan,double horn,F,Bb3,2.25
"""


def readings(tmp_path, text, wide):
    return drift.load(write(tmp_path, **HEADER_ONLY | {"readings": text}), wide=wide).readings


def test_a_wide_file_gives_the_readings_of_a_long_one(tmp_path):
    wide, long = readings(tmp_path / "w", WIDE, True), readings(tmp_path / "l", LONG, False)
    pd.testing.assert_frame_equal(wide, long)


def test_a_wide_frame_of_numbers_too(tmp_path):
    frame = pd.read_csv(write(tmp_path / "w", readings=WIDE) / "readings.csv")
    taken = drift.load({"readings": frame}, wide=True).readings
    pd.testing.assert_frame_equal(taken, readings(tmp_path / "l", LONG, False))


def test_a_cell_is_refused_by_its_line(tmp_path):
    with pytest.raises(TablesRefused, match="line 3") as refusal:
        readings(tmp_path / "w", WIDE.replace("2.25", "sharp"), True)
    (problem,) = refusal.value.problems
    assert (problem.place.number, problem.column, problem.value) == (3, "cents", "sharp")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (LONG, "no column is called by a note"),
        (WIDE.replace("A4\n", "cents\n"), "there is a column 'cents' beside 'F4'"),
        (WIDE.replace("B♭3", "H3"), "unknown column 'H3'"),
    ],
)
def test_what_is_not_a_wide_table_is_refused(tmp_path, text, words):
    with pytest.raises(TablesRefused, match=words):
        readings(tmp_path / "w", text, True)


def test_a_wide_table_is_refused_where_none_is_expected(tmp_path):
    with pytest.raises(TablesRefused, match="unknown column 'F4', 'B♭3'"):
        readings(tmp_path / "w", WIDE, False)
