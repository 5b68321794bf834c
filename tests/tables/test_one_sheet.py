"""Readings as people keep them: a day and a time, and the room's temperature in the same row."""

from datetime import datetime, time

import openpyxl
import pandas as pd
import pytest

import drift
from drift.errors import InputError
from drift.tables.headers import Renamed, Unread
from drift.tables.understood import Alike, Daily

ZONE = "America/Chicago"
HEAD = "Session,Date,Time,Player,Instrument,Note,Cents off,Room °F\n"
SHEET = HEAD + (
    "hall,9/24/2026,6:36 PM,Oriole,Bb trumpet,Bb4,-7,66\n"
    "hall,9/24/2026,6:36 PM,Sable,flute,A4,-12,66\n"
    "hall,9/24/2026,6:52 PM,Oriole,Bb trumpet,Bb4,-2,\n"
    "hall,9/24/2026,7:10 PM,Sable,flute,A4,+3,68.9\n"
)


def of(tmp_path, text):
    file = tmp_path / "log.csv"
    file.write_text(text, encoding="utf-8")
    return drift.load(file, zone=ZONE)


def test_day_and_time_are_one_and_the_room_is_read_with_the_readings(tmp_path):
    found = of(tmp_path, SHEET)
    assert list(found.readings["time"].astype(str)) == [
        "2026-09-24 23:36:00+00:00", "2026-09-24 23:36:00+00:00",
        "2026-09-24 23:52:00+00:00", "2026-09-25 00:10:00+00:00",
    ]  # fmt: skip
    assert list(found.readings["cents"]) == [-7.0, -12.0, -2.0, 3.0]
    rooms = found.temperatures  # both players' 66 °F at 6:36 are one
    assert list(rooms["celsius"].round(2)) == [18.89, 20.5]
    assert list(rooms["rehearsal"]) == ["hall", "hall"]
    assert list(rooms["source"]) == ["typed", "typed"]
    paired = drift.pair(found)
    assert paired.frame["celsius"].round(1).tolist() == [18.9, 18.9, 18.9, 20.5]
    named = {(one.given, one.name) for one in found.understood if isinstance(one, Renamed)}
    assert {("Date", "day"), ("Cents off", "cents"), ("Room °F", "fahrenheit")} <= named


def test_without_a_name_each_day_is_a_rehearsal(tmp_path):
    text = "\n".join(line.partition(",")[2] for line in SHEET.splitlines())
    found = of(tmp_path, text.replace("9/24/2026,7:10", "9/25/2026,7:10"))
    assert list(found.readings["rehearsal"]) == ["2026-09-24"] * 3 + ["2026-09-25"]
    assert list(found.temperatures["rehearsal"]) == ["2026-09-24", "2026-09-25"]
    assert Daily(str(tmp_path / "log.csv")) in found.understood
    whole = text.replace("Date,Time", "Time").replace("2026,", "2026 ")
    assert list(of(tmp_path, whole).readings["rehearsal"]) == ["2026-09-24"] * 4


def test_a_spreadsheet_is_read_alike(tmp_path):
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(HEAD.strip().split(","))
    day = datetime(2026, 9, 24)  # noqa: DTZ001
    sheet.append(["hall", day, time(18, 36), "Oriole", "Bb trumpet", "Bb4", -7, 66])
    book.save(tmp_path / "log.xlsx")
    found = drift.load(tmp_path / "log.xlsx", zone=ZONE)
    assert str(found.readings["time"][0]) == "2026-09-24 23:36:00+00:00"
    assert found.temperatures["celsius"].round(2).tolist() == [18.89]


def test_titles_above_the_names_of_the_columns_are_passed_over(tmp_path):
    book = openpyxl.Workbook()
    for line in ["Fall tuning log", "", *SHEET.strip().splitlines()]:
        book.active.append(line.split(","))
    book.save(tmp_path / "log.xlsx")
    found = drift.load(tmp_path / "log.xlsx", zone=ZONE)
    pd.testing.assert_frame_equal(found.readings, of(tmp_path, SHEET).readings)
    book.active["G5"] = "flat"
    book.save(tmp_path / "log.xlsx")
    with pytest.raises(InputError, match=r"row 5: .*flat"):
        drift.load(tmp_path / "log.xlsx", zone=ZONE)


def test_a_day_is_one_rehearsal_however_it_is_written(tmp_path):
    """Spreadsheets keep some days as dates and others as the text that was typed."""
    text = SHEET.replace("Session,", "").replace("hall,", "")
    mixed = text.replace("9/24/2026,6:52", "2026-09-24,6:52")
    found = of(tmp_path, mixed.replace("9/24/2026", "09/24/2026", 1))
    assert set(found.readings["rehearsal"]) == {"2026-09-24"}


def workbook(path, sheets):
    """Save a spreadsheet with a sheet for each text."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, text in sheets.items():
        sheet = book.create_sheet(name)
        for line in text.strip().splitlines():
            sheet.append(line.split(","))
    book.save(path)
    return path


def test_the_sheet_of_readings_may_keep_its_name_beside_a_sheet_of_ours(tmp_path):
    began = "Date,Time,Event\n2026-09-24,18:35,play\n"
    sheets = {"Tuner log": SHEET, "events": began, "Uniforms": "Name,Hat\nOriole,7\n"}
    found = drift.load(workbook(tmp_path / "log.xlsx", sheets), zone=ZONE)
    pd.testing.assert_frame_equal(found.readings, of(tmp_path, SHEET).readings)
    assert len(found.events) == 1
    assert Unread(str(tmp_path / "log.xlsx"), "Uniforms") in found.understood


def test_readings_in_two_sheets_of_other_names_are_not_chosen_between(tmp_path):
    path = workbook(tmp_path / "log.xlsx", {"May": SHEET, "June": SHEET, "events": "Time,Event\n"})
    with pytest.raises(InputError, match="has readings in the sheets 'May', 'June'"):
        drift.load(path, zone=ZONE)


def test_what_is_wrong_in_one_sheet_does_not_hide_what_is_wrong_in_another(tmp_path):
    sheets = {"readings": SHEET.replace("Cents off", "Wobble"), "events": "Time,What\n18:35,play\n"}
    with pytest.raises(InputError) as refusal:
        drift.load(workbook(tmp_path / "log.xlsx", sheets), zone=ZONE)
    assert "sheet 'readings'" in str(refusal.value)
    assert "sheet 'events'" in str(refusal.value)


def test_a_folder_whose_readings_have_the_temperature_beside_them_is_read_alike(tmp_path):
    alone = of(tmp_path, SHEET)
    folder = tmp_path / "season"
    folder.mkdir()
    (folder / "readings.csv").write_text(SHEET, encoding="utf-8")
    (folder / "events.csv").write_text(
        "Session,Date,Time,Event\nhall,9/24/2026,6:30 PM,play\n", encoding="utf-8"
    )
    found = drift.load(folder, zone=ZONE)
    pd.testing.assert_frame_equal(found.temperatures, alone.temperatures)
    assert list(found.events["event"]) == ["play"]
    without = SHEET.replace("Room °F", "Remarks")
    (folder / "readings.csv").write_text(without, encoding="utf-8")
    with pytest.raises(InputError, match=r"has no temperatures\.csv") as refusal:
        drift.load(folder, zone=ZONE)
    assert "a column of the readings" in refusal.value.remedy


def test_a_frame_is_read_alike():
    rows = [line.split(",") for line in SHEET.strip().split("\n")]
    frame = pd.DataFrame(rows[1:], columns=rows[0])
    found = drift.load({"readings": frame}, zone=ZONE)
    assert len(found.temperatures) == 2


def test_a_day_beside_whole_times_is_refused():
    rows = [line.split(",") for line in SHEET.strip().split("\n")]
    frame = pd.DataFrame(rows[1:], columns=rows[0])
    frame["Time"] = pd.to_datetime(["2026-09-24T23:36Z"] * 4)
    with pytest.raises(InputError, match="a column of days is beside one of whole times"):
        drift.load({"readings": frame})


def test_no_rehearsal_in_one_table_hides_nothing_of_another():
    rows = [line.split(",") for line in SHEET.strip().split("\n")]
    frame = pd.DataFrame(rows[1:], columns=rows[0]).drop(columns=["Session", "Date"])
    frame["Time"] = pd.to_datetime(["2026-09-24T23:36Z"] * 4)
    events = pd.DataFrame({"time": ["2026-09-24T23:30Z"], "rehearsal": ["hall"], "event": ["jig"]})
    with pytest.raises(InputError, match="no column 'rehearsal'") as refusal:
        drift.load({"readings": frame, "events": events})
    assert "'jig'" in refusal.value.problem


def test_a_time_that_is_missing_is_named_once():
    rows = [line.split(",") for line in SHEET.strip().split("\n")]
    frame = pd.DataFrame(rows[1:], columns=rows[0]).drop(columns="Date")
    frame["Time"] = pd.to_datetime([None, *["2026-09-24T23:36Z"] * 3], utc=True)
    with pytest.raises(InputError, match="time is missing") as refusal:
        drift.load({"readings": frame})
    assert "NaT" not in refusal.value.problem


def test_a_wrong_time_is_named_once(tmp_path):
    with pytest.raises(InputError, match="6:36 XM") as refusal:
        of(tmp_path, SHEET.replace("6:36 PM,Oriole", "6:36 XM,Oriole"))
    assert "problems" not in refusal.value.problem


def test_a_wrong_temperature_is_named_with_its_row(tmp_path):
    with pytest.raises(InputError, match=r"log\.csv line 5: .*680"):
        of(tmp_path, SHEET.replace("68.9", "680"))


def test_temperatures_of_the_rows_and_of_a_table_are_refused(tmp_path):
    (tmp_path / "readings.csv").write_text(SHEET, encoding="utf-8")
    (tmp_path / "temperatures.csv").write_text("time,rehearsal,celsius\n", encoding="utf-8")
    with pytest.raises(InputError, match="a column of the readings and a table"):
        drift.load(tmp_path, zone=ZONE)


def test_two_columns_that_are_both_a_time_are_refused(tmp_path):
    with pytest.raises(InputError, match="'time' is there twice"):
        of(tmp_path, SHEET.replace("Date", "Timestamp"))


def test_readings_without_temperatures_are_as_before(tmp_path):
    text = SHEET.replace(",Room °F", "").replace(",66\n", "\n").replace(",68.9\n", "\n")
    assert len(of(tmp_path, text.replace(",\n", "\n")).temperatures) == 0


@pytest.mark.parametrize("other", ["Oriole.", "oriole", "Ori ole"])
def test_names_that_differ_in_a_sign_are_mentioned(tmp_path, other):
    found = of(tmp_path, SHEET.replace("6:52 PM,Oriole", f"6:52 PM,{other}"))
    (alike,) = (one for one in found.understood if isinstance(one, Alike))
    assert [place.rpartition(" ")[2] for place in alike.places] == ["2", "4"]
    assert set(alike.names) == {"Oriole", other}


def test_names_that_differ_are_not_mentioned(tmp_path):
    assert not [one for one in of(tmp_path, SHEET).understood if isinstance(one, Alike)]
