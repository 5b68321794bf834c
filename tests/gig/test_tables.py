"""Tables as people have them: each is taken, or refused in words with every problem at once."""

from datetime import datetime, timedelta, timezone

import openpyxl
import pytest

from drift.errors import InputError
from drift.gig.days import day_of_table
from drift.gig.folder import KINDS, files_in, kinds_of, not_read
from drift.gig.roster import read_roster
from drift.gig.timetable import read_schedule
from drift.gig.weather import read_forecast
from drift.tables.problems import TablesRefused, alike
from drift.words.gig_warnings import warning_text

EAST = timezone(timedelta(hours=-4))


def written(tmp_path, text, name="table.csv"):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def test_a_forecast_from_a_spreadsheet_of_another_country(tmp_path):
    path = written(
        tmp_path,
        "Date and Time;Temp (C);RH;Wind (km/h)\n16.10.2026 17:00;12,5;61%;18\n"
        "16.10.2026 18:00;11,0;64%;12,6\n",
    )
    table = read_forecast(path, EAST).table
    assert table["celsius"].tolist() == [12.5, 11.0]
    assert table["humidity_percent"].tolist() == [61, 64]
    assert table["wind_m_s"].tolist() == pytest.approx([5.0, 3.5])
    assert table.index[0] == datetime(2026, 10, 16, 17, tzinfo=EAST)


def test_times_with_am_and_pm(tmp_path):
    path = written(
        tmp_path,
        "start,end,activity\n10/16/2026 5:00 PM,5:20 PM,tune\n5:20 PM,6:00 pm,play\n",
    )
    first, second = read_schedule(path, EAST).entries
    assert first.start == datetime(2026, 10, 16, 17, tzinfo=EAST)
    assert second.end == datetime(2026, 10, 16, 18, tzinfo=EAST)


def test_a_date_that_could_be_two_days_is_asked_about(tmp_path):
    path = written(tmp_path, "start,end,activity\n10/9/2026 17:00,17:20,tune\n")
    with pytest.raises(InputError, match="could be two days"):
        read_schedule(path, EAST)


def test_a_temperature_without_a_unit_is_asked_about_once(tmp_path):
    path = written(tmp_path, "time,temp\n2026-10-16T17:00Z,58\n")
    with pytest.raises(InputError, match="column 'temp' does not give its unit"):
        read_forecast(path)
    table = read_forecast(path, columns={"temp": "fahrenheit"}).table
    assert table["celsius"].iloc[0] == pytest.approx(26 / 1.8)


def test_a_heading_below_title_lines_is_found_though_its_time_is_not_known(tmp_path):
    path = written(tmp_path, "Station,Field\nGenerated,now\nnobody,knows\n"
                   "stamp,temp_f,sky\n2026-10-16T17:00Z,50,clear\n", "hourly.csv")  # fmt: skip
    with pytest.raises(InputError, match=r"line 4: no column time; .*'stamp', 'sky'") as no:
        read_forecast(path)
    assert "--columns 'stamp=time'" in no.value.remedy
    found = read_forecast(path, columns={"stamp": "time"}).table
    assert found["celsius"].iloc[0] == pytest.approx(10.0)


def test_times_without_a_date_are_one_problem(tmp_path):
    path = written(tmp_path, "start,end,activity\n17:00,17:20,tune\n17:20,18:00,play\n")
    with pytest.raises(TablesRefused, match="'17:00' has no date") as no:
        read_schedule(path, EAST)
    (those,) = alike(no.value.problems)
    assert len(those) == 4
    assert "start '17:00' has no date" in those[0].told


def test_columns_that_nobody_needs_are_left_out(tmp_path):
    path = written(tmp_path, "time,icon,celsius,sky\n2026-10-16T17:00Z,*,12,clear\n")
    found = read_forecast(path)
    assert found.table["celsius"].iloc[0] == 12
    assert "columns that nothing here needs were left out: icon, sky" in warning_text(
        found.notices[0]
    )
    # Those that the user leaves out are not mentioned.
    assert read_forecast(path, columns={"*": "unused"}).notices == ()
    assert read_forecast(path, columns={"icon": "unused", "SKY": "unused"}).table.shape == (1, 4)


def test_fahrenheit_under_celsius_is_asked_about(tmp_path):
    path = written(tmp_path, "time,celsius\n2026-10-16T17:00Z,58\n")
    with pytest.raises(InputError, match=r"line 2: celsius '58' .*") as refused:
        read_forecast(path)
    assert "is it °F" in refused.value.remedy
    doubtful = written(tmp_path, "time,celsius\n2026-10-16T17:00Z,43\n", "b.csv")
    assert "is read as °C; if it is °F" in warning_text(read_forecast(doubtful).notices[0])


def test_lengths_with_their_unit(tmp_path):
    path = written(
        tmp_path,
        'section,instrument,slide,Position (mm),travel\nlow brass,BBb tuba,main,15 mm,"3,5 cm"\n',
    )
    (tuba,) = read_roster(path)
    assert (tuba.at_mm, tuba.travel_mm) == ({"main": 15.0}, {"main": 35.0})


def test_all_problems_at_once(tmp_path):
    path = written(
        tmp_path,
        "section,instrument,slide,at_mm\nhorns,dubble horn,main,3\ntuba,BBb tuba,main,deep\n"
        "flutes,flute,head,4\nsaxes,alto saxophone,main,4\n",
    )
    with pytest.raises(TablesRefused, match="3 problems; nothing was taken") as refused:
        read_roster(path)
    assert [found.place.number for found in refused.value.problems] == [2, 3, 5]
    assert all(found.remedy for found in refused.value.problems)


def test_a_spreadsheet_is_read(tmp_path):
    book = openpyxl.Workbook()
    for row in (
        ["start", "end", "activity", None],
        [datetime(2026, 10, 16, 17, 0), datetime(2026, 10, 16, 17, 20), "tune", None],  # noqa: DTZ001
        [datetime(2026, 10, 16, 17, 20), datetime(2026, 10, 16, 18, 0), "play", None],  # noqa: DTZ001
    ):
        book.active.append(row)
    book.save(tmp_path / "evening.xlsx")
    found = read_schedule(tmp_path / "evening.xlsx", EAST)
    assert [entry.activity for entry in found.entries] == ["tune", "play"]
    assert found.start == datetime(2026, 10, 16, 17, tzinfo=EAST)


def test_what_is_no_spreadsheet_is_refused(tmp_path):
    with pytest.raises(InputError, match="it cannot be read"):
        read_roster(written(tmp_path, "section", "roster.xlsx"))


def test_a_heading_and_the_cells_under_others_are_told_at_once(tmp_path):
    path = written(
        tmp_path,
        "start,end,activity,colour\n2026-10-16 17:00,18:00,dance,red\n18:00,19:00,play,red\n",
        "schedule.csv",
    )
    with pytest.raises(TablesRefused, match="unknown column 'colour'") as refused:
        read_schedule(path)
    assert [found.told for found in refused.value.problems] == [
        "schedule.csv line 1: unknown column 'colour'",
        "schedule.csv line 2: start '2026-10-16 17:00' has no offset from UTC",
        "schedule.csv line 2: activity 'dance' is not known",
    ]


def test_a_title_above_the_heading_is_passed_over(tmp_path):
    path = written(
        tmp_path,
        "Hourly forecast for the stadium, issued at four\n\nValid Time (local);Air Temp (F);Sky\n"
        "10/16/2026 4:00 PM;52;clear\n10/16/2026 5:00 PM;51;x\n",
    )
    table = read_forecast(path, EAST).table
    assert table["celsius"].tolist() == pytest.approx([20 / 1.8, 19 / 1.8])
    with pytest.raises(TablesRefused, match="'warm'") as refused:
        read_forecast(written(tmp_path, path.read_text().replace("51", "warm")), EAST)
    assert refused.value.problems[0].place.number == 5


def test_a_table_without_a_temperature_names_what_was_not_understood(tmp_path):
    path = written(tmp_path, "time,Luft\n2026-10-16T17:00Z,12\n")
    with pytest.raises(InputError, match="no column celsius; not understood: 'Luft'"):
        read_forecast(path)


@pytest.mark.parametrize("name", ["none.xlsx", "none.csv"])
def test_a_file_that_is_not_there_is_refused_by_its_name(tmp_path, name):
    with pytest.raises(InputError, match="it cannot be read: there is no such file") as refused:
        read_roster(tmp_path / name)
    assert refused.value.remedy == "check the name"


def test_a_schedule_without_a_zone_is_one_problem_and_hides_no_other(tmp_path):
    path = written(
        tmp_path,
        "start,end,activity\n10/16/2026 5:30 PM,6:00 PM,tune\n6:00 PM,6:40 PM,dance\n"
        "6:20 PM,7:10 PM,play\n7:00 PM,7:30 PM,play\n",
        "schedule.csv",
    )
    with pytest.raises(TablesRefused, match="has no offset from UTC") as refused:
        read_schedule(path)
    assert [found.told for found in refused.value.problems] == [
        "schedule.csv line 2: start '10/16/2026 5:30 PM' has no offset from UTC",
        "schedule.csv line 3: activity 'dance' is not known",
        "schedule.csv line 4: start 6:20 PM is before 18:40 on line 3",
        "schedule.csv line 5: start 7:00 PM is before 19:10 on line 4",
    ]


def a_workbook(path, **sheets):
    """A workbook with sheets by name, each a list of rows."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(path)
    return path


WEATHER = [["Time", "Temp (°C)"], ["2026-10-09 18:00", 9], ["2026-10-09 21:00", 7]]
RUN_OF_SHOW = [["Start", "End", "Activity"], ["18:00", "18:10", "tune"], ["18:10", "18:40", "play"]]
WHO = [["Section", "Instrument", "Players"], ["Horns", "horn", 2]]
NOTES = [["bring lyres"]]


def test_each_sheet_of_a_workbook_is_the_table_that_its_headings_say(tmp_path):
    path = a_workbook(tmp_path / "e.xlsx", empty=[], notes=NOTES, weather=WEATHER,
                      run=RUN_OF_SHOW, who=WHO)  # fmt: skip
    assert files_in(tmp_path)[0] == {kind: [path] for kind in KINDS}
    day = day_of_table(path, kind="forecast")
    assert read_forecast(path, EAST).table["celsius"].tolist() == [9.0, 7.0]
    assert [e.activity for e in read_schedule(path, EAST, day).entries] == ["tune", "play"]
    assert [one.name for one in read_roster(path)] == ["Horns"]
    (told,) = not_read([(kind, path) for kind in KINDS])
    assert warning_text(told) == "e.xlsx: sheets not read: notes"
    (told,) = not_read([("roster", path)])
    assert told.values["sheets"] == ["notes", "weather", "run"]


def test_two_sheets_of_one_kind_are_named(tmp_path):
    path = a_workbook(tmp_path / "e.xlsx", who=WHO, old=WHO)
    with pytest.raises(InputError, match="more than one roster: the sheets 'who', 'old'"):
        read_roster(path)


def test_a_sheet_whose_headings_say_nothing_is_known_by_its_name(tmp_path):
    path = a_workbook(tmp_path / "e.xlsx", weather=WEATHER, schedule=[["From", "what"], ["18:00"]])
    assert kinds_of(path) == ("forecast", "schedule")
    with pytest.raises(InputError, match="sheet 'schedule' row 1"):
        read_schedule(path, EAST)
