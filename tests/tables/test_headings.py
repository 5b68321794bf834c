"""What is written over columns: a word with its unit, or a question where the unit is needed."""

import pytest

import drift
from drift.errors import InputError
from drift.tables.headers import our_name
from drift.tables.headings import heading_name, named_columns


@pytest.mark.parametrize(
    ("head", "name"),
    [
        ("Temp (C)", "celsius"),
        ("Air temp °F", "fahrenheit"),
        ("Temperature [°C]", "celsius"),
        ("Humidity %", "humidity_percent"),
        ("RH (%)", "humidity_percent"),
        ("wind mph", "wind_mph"),
        ("Wind (km/h)", "wind_km_h"),
        ("Date and Time", "time"),
        ("Date/Time", "time"),
        ("Date / Time", "time"),
        ("temperature_2m (°C)", "celsius"),
        ("relative_humidity_2m (%)", "humidity_percent"),
        ("wind_speed_10m (km/h)", "wind_km_h"),
        ("Rel Hum (%)", "humidity_percent"),
        ("Valid Time (local)", "time"),
        ("Colour", None),
    ],
)
def test_words_with_units(head, name):
    ours = ["time", "celsius", "fahrenheit", "humidity_percent", "wind_mph", "wind_km_h"]
    assert heading_name(head, ours) == name


def test_when_begins_a_timetable_and_a_share_may_be_in_percent():
    assert named_columns(["When", "Until"], ["start", "end", "date"])[0] == ["start", "end"]
    assert heading_name("When", ["time", "start"]) == "time"
    assert heading_name("rh_pct", ["humidity_percent"]) == "humidity_percent"
    assert heading_name("valid_local", ["time"]) == "time"


def test_a_unit_given_twice_must_be_the_same():
    ours = ["celsius", "fahrenheit", "time"]
    head = "temperature_2m (°C)"
    _, (problem,) = named_columns([head], ours, {head: "fahrenheit"})
    assert "gives its unit, and --columns calls it fahrenheit" in str(problem)
    assert named_columns([head], ours, {head: "celsius"}) == (["celsius"], [])
    assert named_columns(["temp"], ours, {"temp": "fahrenheit"}) == (["fahrenheit"], [])
    assert named_columns([head], ours, {head: "unused"}) == ([""], [])


def test_a_name_that_was_given_for_another_table_leaves_a_heading_what_it_is():
    assert named_columns(["Time"], ["start", "end"]) == (["start"], [])
    assert named_columns(["Time"], ["time", "note"], {"Time": "start"}) == (["time"], [])
    assert named_columns(["Clock"], ["time", "note"], {"Clock": "start"}) == (["start"], [])


def test_a_unit_that_is_needed_is_asked_for():
    with pytest.raises(InputError, match="column 'wind' does not give its unit"):
        heading_name("wind", ["wind_m_s", "wind_mph"])


def test_headings_that_are_not_understood_stay_or_are_left_out():
    assert named_columns(["Colour", "wind (mph)"], ["wind_mph"])[0] == ["Colour", "wind_mph"]
    assert named_columns(["Colour", "a"], ["a"], {"colour": "unused"})[0] == ["", "a"]
    assert named_columns(["Colour", "Icon", "a"], ["a"], {"*": "unused"})[0] == ["", "", "a"]


def test_tables_of_rehearsals_understand_the_same_words():
    ours = ["time", "celsius", "fahrenheit", "humidity_percent", "position_mm", "remark"]
    heads = ["Temperature (F)", "Rel humidity", "Position (mm)", "Notes", "temp", "Wind"]
    assert [our_name(head, ours) for head in heads] == [
        "fahrenheit", None, "position_mm", "remark", "celsius", None,
    ]  # fmt: skip


def logged(tmp_path, head, times, zone="Europe/Berlin"):
    """Return the temperatures of a logger whose times are under a heading."""
    (tmp_path / "readings.csv").write_text(
        "time,rehearsal,player,instrument,note,cents\n"
        "2026-03-03 19:05:00,hall,Ada,Bb trumpet,F4,3\n",
        encoding="utf-8",
    )
    (tmp_path / "temperatures.csv").write_text(
        f'"{head}",rehearsal,Temp (C)\n' + "".join(f"{time},hall,20\n" for time in times),
        encoding="utf-8",
    )
    return drift.load(tmp_path, zone=zone).temperatures["time"].astype(str).tolist()


@pytest.mark.parametrize(
    ("head", "time"),
    [
        ("Timestamp (UTC)", "2026-03-03 18:00:00"),
        ("time utc", "2026-03-03 18:00:00"),
        ("Date Time, GMT-04:00", "2026-03-03 14:00:00"),
        ("Time [UTC+1]", "2026-03-03 19:00:00"),
        ("Timestamp (UTC)", "2026-03-03T19:00:00+01:00"),
        ("Timestamp", "2026-03-03 19:00:00"),
    ],
)
def test_a_zone_in_the_heading_is_that_of_its_times(tmp_path, head, time):
    assert logged(tmp_path, head, [time]) == ["2026-03-03 18:00:00+00:00"]
    assert logged(tmp_path, head, [time, time])[1] == "2026-03-03 18:00:00+00:00"


def test_a_day_and_a_time_in_utc_are_one(tmp_path):
    (tmp_path / "log.csv").write_text(
        "Date (UTC),Time (UTC),Player,Instrument,Note,Cents,Temp (C)\n"
        "2026-03-03,18:05,Ada,Bb trumpet,F4,3,20\n",
        encoding="utf-8",
    )
    found = drift.load(tmp_path / "log.csv")
    for table in (found.readings, found.temperatures):
        assert table["time"].astype(str).tolist() == ["2026-03-03 18:05:00+00:00"]
