"""Forecasts of weather services, in CF-NetCDF."""

from pathlib import Path

import eccodes
import numpy as np
import pandas as pd
import pytest
import xarray as xr

from drift.errors import InputError
from drift.gig.gridded import read_gridded

TIMES = pd.date_range("2026-10-09T18:00", periods=5, freq="1h")
LATITUDE, LONGITUDE = np.array([40.0, 41.0, 42.0]), np.array([285.0, 286.0])


def dataset(units="K"):
    """Kelvin that rise by one with the hour, by ten with the row and by a hundredth east."""
    hours, rows, columns = np.ogrid[0:5, 0:3, 0:2]
    kelvin = 273.15 + hours + 10.0 * rows + 0.01 * columns
    dims = ("time", "latitude", "longitude")

    def variable(values, name, unit):
        return (dims, np.broadcast_to(values, (5, 3, 2)), {"standard_name": name, "units": unit})

    return xr.Dataset(
        {
            "t2m": variable(kelvin, "air_temperature", units),
            "rh": variable(0.6, "relative_humidity", "1"),
            "u": variable(3.0, "eastward_wind", "m s-1"),
            "v": variable(4.0, "northward_wind", "m s-1"),
            "p": variable(101_500.0, "air_pressure", "Pa"),
        },
        {"time": TIMES, "latitude": LATITUDE, "longitude": LONGITUDE},
    )


def written(tmp_path, data, engine="scipy"):
    path = tmp_path / "forecast.nc"
    data.to_netcdf(path, engine=engine)
    return path


@pytest.mark.parametrize("engine", ["scipy", "h5netcdf"])  # NetCDF 3 and 4
def test_the_nearest_point_in_the_units_of_a_forecast(tmp_path, engine):
    # 74 degrees west is 286 east.
    frame = read_gridded(written(tmp_path, dataset(), engine), (40.9, -74.1)).to_frame()
    np.testing.assert_allclose(frame["celsius"], 10.01 + np.arange(5))
    assert frame.index[0] == pd.Timestamp("2026-10-09T18:00Z")
    assert frame["humidity_percent"].tolist() == pytest.approx([60.0] * 5)
    assert frame["wind_m_s"].tolist() == pytest.approx([5.0] * 5)
    assert frame["pressure_hpa"].tolist() == pytest.approx([1015.0] * 5)


def test_a_single_point_needs_no_place(tmp_path):
    one = dataset().isel(latitude=1, longitude=0)
    frame = read_gridded(written(tmp_path, one)).to_frame()
    np.testing.assert_allclose(frame["celsius"], 10.0 + np.arange(5))


def test_only_a_temperature_will_do(tmp_path):
    frame = read_gridded(written(tmp_path, dataset()[["t2m"]]), (40.0, -75.0)).to_frame()
    assert frame["wind_m_s"].isna().all()


@pytest.mark.parametrize(
    ("change", "place", "problem"),
    [
        (lambda data: data, None, "covers many places"),
        (lambda data: data, (10.0, -74.0), "does not reach to --place 10,-74"),
        (lambda data: data.drop_vars("t2m"), (41.0, -74.0), "no variable with the standard name"),
        (lambda data: data.expand_dims(member=[1, 2]), (41.0, -74.0), "several values for a time"),
        (lambda _: dataset(units="furlong"), (41.0, -74.0), "t2m is in 'furlong'"),
    ],
)
def test_files_that_are_refused(tmp_path, change, place, problem):
    with pytest.raises(InputError, match=problem):
        read_gridded(written(tmp_path, change(dataset())), place)


@pytest.mark.parametrize("name", ["forecast.nc", "forecast.grib2"])
def test_a_file_that_is_something_else(tmp_path, name):
    path = Path(tmp_path / name)
    path.write_bytes(b"no forecast at all")
    with pytest.raises(InputError, match="cannot be read as a forecast"):
        read_gridded(path, (41.0, -74.0))


GRID = {
    "Ni": 2, "Nj": 3, "latitudeOfFirstGridPointInDegrees": 42.0,
    "latitudeOfLastGridPointInDegrees": 40.0, "longitudeOfFirstGridPointInDegrees": 285.0,
    "longitudeOfLastGridPointInDegrees": 286.0, "iDirectionIncrementInDegrees": 1.0,
    "jDirectionIncrementInDegrees": 1.0, "dataDate": 20261009, "dataTime": 1200, "stepUnits": 1,
}  # fmt: skip


def message(file, short, metres, hour, values):
    """Write one field of one hour as GRIB 2, by the library of the format's own keepers."""
    handle = eccodes.codes_grib_new_from_samples("regular_ll_sfc_grib2")
    above = {"typeOfLevel": "heightAboveGround", "level": metres} if metres else {}
    for key, value in {**GRID, "shortName": short, **above, "forecastTime": hour}.items():
        eccodes.codes_set(handle, key, value)
    eccodes.codes_set_values(handle, np.broadcast_to(values, (3, 2)).astype(float).ravel())
    eccodes.codes_write(handle, file)
    eccodes.codes_release(handle)


def test_grib_with_temperature_and_wind_at_their_own_heights(tmp_path):
    path = tmp_path / "forecast.grib2"
    with path.open("wb") as file:
        for hour in range(6, 9):
            rows = 280.0 + hour + 10.0 * np.arange(3)[:, None]
            for short, metres, values in (
                ("2t", 2, rows), ("2r", 2, 60.0), ("10u", 10, 3.0), ("10v", 10, 4.0),
                ("sp", 0, 101_500.0),
            ):  # fmt: skip
                message(file, short, metres, hour, values)
    frame = read_gridded(path, (41.2, -74.3)).to_frame()
    assert frame.index[0] == pd.Timestamp("2026-10-09T18:00Z")
    np.testing.assert_allclose(frame["celsius"], [22.85, 23.85, 24.85], atol=1e-3)
    assert frame["humidity_percent"].tolist() == pytest.approx([60.0] * 3)
    assert frame["wind_m_s"].tolist() == pytest.approx([5.0] * 3)
    assert frame["pressure_hpa"].tolist() == pytest.approx([1015.0] * 3)
    assert [path.name for path in tmp_path.iterdir()] == ["forecast.grib2"]  # no index beside it
