"""Wide tables: a column for each note give the readings that a row for each gives."""

from datetime import time

import openpyxl
import pandas as pd
import pytest

import drift
from drift.errors import InputError
from drift.tables.headers import by_times
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
        (LONG, "no column is called by a note or a time of day"),
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


BY_TIMES = """\
Date,Name,instrument,side,Note,19:05,7:20 PM,19:25:00
2026-10-03,Rowan,double horn,F,F4,4.0,,-1.5
2026-10-03,Ilse,double horn,F,C4,2.0,6.0,
10/04/2026,Rowan,double horn,F,F4,,1.0,
"""
BY_TIMES_LONG = """\
time,rehearsal,player,instrument,side,note,cents
2026-10-03T19:05:00+02:00,2026-10-03,Rowan,double horn,F,F4,4.0
2026-10-03T19:05:00+02:00,2026-10-03,Ilse,double horn,F,C4,2.0
2026-10-03T19:20:00+02:00,2026-10-03,Ilse,double horn,F,C4,6.0
2026-10-03T19:25:00+02:00,2026-10-03,Rowan,double horn,F,F4,-1.5
2026-10-04T19:20:00+02:00,2026-10-04,Rowan,double horn,F,F4,1.0
"""
THERE = {"wide": True, "zone": "Europe/Berlin", "dates": "month-first"}


def test_a_column_for_each_time_is_read_on_the_day_of_the_row(tmp_path):
    folder = write(tmp_path / "w", **HEADER_ONLY | {"readings": BY_TIMES})
    long = readings(tmp_path / "l", BY_TIMES_LONG, False)
    pd.testing.assert_frame_equal(drift.load(folder, **THERE).readings, long)
    frame = pd.read_csv(folder / "readings.csv")
    pd.testing.assert_frame_equal(drift.load({"readings": frame}, **THERE).readings, long)


def test_a_temperature_beside_times_counts_at_each_of_them(tmp_path):
    rows = BY_TIMES.splitlines()[:3]
    text = "".join(f"{row},{cell}\n" for row, cell in zip(rows, ("Temp (C)", 18, 18), strict=True))
    taken = drift.load(write(tmp_path, readings=text) / "readings.csv", **THERE).temperatures
    assert taken["celsius"].tolist() == [18.0] * 3
    assert taken["time"].dt.strftime("%H:%M").tolist() == ["17:05", "17:20", "17:25"]


@pytest.mark.parametrize(
    ("text", "words", "remedy"),
    [
        (BY_TIMES.replace("Date", "rehearsal"), "no column 'Date' beside '19:05'", "add one: the"),
        (BY_TIMES.replace("Date", "Time"), "a column 'time' beside '19:05'", "of the times"),
        (BY_TIMES.replace("Note", "cents"), "no column 'note'", ""),
    ],
)
def test_what_is_not_a_table_by_times_is_refused(tmp_path, text, words, remedy):
    folder = write(tmp_path, **HEADER_ONLY | {"readings": text})
    with pytest.raises(TablesRefused, match=words) as refusal:
        drift.load(folder, **THERE)
    assert remedy in str(refusal.value)


def test_a_column_for_each_time_is_to_be_turned_round_where_none_is_expected(tmp_path):
    with pytest.raises(TablesRefused, match="unknown column '19:05', '7:20 PM'") as refusal:
        readings(tmp_path, BY_TIMES, False)
    assert "one row for each reading: a column for each time must be turned round" in str(
        refusal.value
    )


@pytest.mark.parametrize("wide", [False, True])
def test_where_slides_are_goes_into_events(tmp_path, wide):
    text = BY_TIMES.replace("side", "Slide out (mm)").replace(",F,", ",14,")
    folder = write(tmp_path, **HEADER_ONLY | {"readings": text})
    with pytest.raises(TablesRefused, match="unknown column 'Slide out") as refusal:
        drift.load(folder, **THERE | {"wide": wide})
    told = str(refusal.value)
    assert "'Slide out (mm)': where slides are goes into the table events" in told
    assert "did you mean" not in told
    assert ("must be turned round" in told) is not wide


def paper(path, *days):
    book = openpyxl.Workbook()
    book.remove(book.active)
    for day in days:
        sheet = book.create_sheet(day)
        sheet.append([f"Band, {day}"])
        sheet.append(["Temp. at the beginning", "16.5 °C", "at the end", "19 °C"])
        sheet.append(["Name", "Instrument", "Note", time(18, 5), time(18, 20)])
        sheet.append(["Rowan", "trumpet", "Bb4", -14, -4])
    book.save(path)
    return path


@pytest.mark.parametrize(("wide", "turn"), [(False, True), (True, False)])
def test_a_sheet_for_each_rehearsal_is_not_called_readings_and_temperatures(tmp_path, wide, turn):
    path = paper(tmp_path / "paper.xlsx", "1 Oct", "6 Oct")
    with pytest.raises(InputError, match="has readings in the sheets '1 Oct', '6 Oct'") as refusal:
        drift.load(path, wide=wide)
    assert refusal.value.remedy.startswith("put them below each other in one sheet")
    assert ("a column for each time must be turned round" in refusal.value.remedy) is turn


def test_times_of_day_in_cells_do_not_make_a_sheet_one_by_times():
    assert not by_times(["Wren", "trumpet", "18:05", "18:20"])
    assert by_times(["Wren", "Instrument", "18:05:00", "6.20 pm"])
