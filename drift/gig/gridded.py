"""Forecasts in the files of weather services: CF-NetCDF and GRIB, read through xarray."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from drift.errors import InputError
from drift.gig.weather import Forecast

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["GRIDDED", "read_gridded"]

GRIB = (".grib", ".grib2", ".grb", ".grb2")
#: How the names of such files end.
GRIDDED = (".nc", ".nc4", *GRIB)
#: The CF standard names of each quantity, the best one first.
_STANDARD = {
    "celsius": ("air_temperature",),
    "humidity_percent": ("relative_humidity",),
    "wind_m_s": ("wind_speed",),
    "pressure_hpa": ("air_pressure", "surface_air_pressure"),
}
# From the units of a file to those of a forecast. The kelvin scale begins at -273.15 °C.
_UNITS: dict[str, dict[str, Callable[[Any], Any]]] = {
    "celsius": {
        "k": lambda value: value - 273.15,
        "kelvin": lambda value: value - 273.15,
        **dict.fromkeys(("degc", "celsius", "degree_celsius", "degrees_celsius"), lambda v: v),
        **dict.fromkeys(("degf", "fahrenheit"), lambda value: (value - 32.0) / 1.8),
    },
    "humidity_percent": {"%": lambda v: v, "percent": lambda v: v, "1": lambda v: 100.0 * v},
    "wind_m_s": dict.fromkeys(("m s-1", "m/s", "m s**-1"), lambda value: value),
    "pressure_hpa": {"pa": lambda value: value / 100.0, "hpa": lambda v: v, "mbar": lambda v: v},
}
#: A place further than this from the nearest point of a grid lies outside it [degrees].
FAR_DEGREES = 1.0


def read_gridded(path: Path, place: tuple[float, float] | None = None) -> Forecast:
    """Read a forecast from a CF-NetCDF or GRIB file, at the point nearest to a place.

    Parameters
    ----------
    path : Path
        A file whose variables carry CF standard names: ``air_temperature`` and if known
        ``relative_humidity``, ``wind_speed`` (or ``eastward_wind`` and ``northward_wind``) and
        ``air_pressure``. Times without a zone are in UTC, as CF has them.
    place : (float, float), optional
        Latitude and longitude [degrees north, degrees east]; not needed for a single point.

    Returns
    -------
    Forecast
        In °C, %, m/s and hPa.

    Raises
    ------
    InputError
        When xarray is not installed, the file cannot be read, has no air temperature or more than
        one for each time, or does not reach to the place.
    """
    try:
        import xarray as xr
    except ImportError:
        raise InputError(
            f"{path.name} is read by xarray, which is not installed",
            "install rehearsal-drift[forecast], or write the forecast as CSV",
        ) from None
    try:
        if path.suffix.lower() in GRIB:
            return _forecast(_of_grib(path), path.name, place)
        with xr.open_dataset(path) as opened:
            return _forecast([opened.load()], path.name, place)
    except InputError:
        raise
    except Exception as error:  # each engine raises its own; none is the user's to read
        raise InputError(
            f"{path} cannot be read as a forecast: {type(error).__name__}",
            "check the file, install rehearsal-drift[forecast], or write the forecast as CSV",
        ) from error


def _of_grib(path: Path) -> list[xr.Dataset]:
    """Return what a GRIB file holds: a data set for each height above the ground.

    Temperature is given at 2 m and wind at 10 m, which one data set cannot hold.
    """
    import cfgrib

    with warnings.catch_warnings():  # of cfgrib's own use of xarray
        warnings.simplefilter("ignore", FutureWarning)
        return [
            data.load()
            for data in cfgrib.open_datasets(str(path), backend_kwargs={"indexpath": ""})
        ]


def _forecast(data: Sequence[xr.Dataset], name: str, place: tuple[float, float] | None) -> Forecast:
    found = {what: _named(data, *standard) for what, standard in _STANDARD.items()}
    if found["celsius"] is None:
        raise InputError(
            f"{name} has no variable with the standard name air_temperature",
            "take a file of surface air temperature, or write the forecast as CSV",
        )
    columns = {
        what: _at(_in_units(variable, what, name), name, place)
        for what, variable in found.items()
        if variable is not None
    }
    if "wind_m_s" not in columns:
        columns |= _wind(data, name, place)
    frame = pd.DataFrame(columns).reindex(columns=list(_STANDARD)).sort_index()
    frame.index = pd.DatetimeIndex(frame.index, name="time").tz_localize("UTC")
    if frame["celsius"].isna().all():
        raise InputError(f"{name} has no temperature at the place", "choose another place or file")
    return Forecast(frame.astype(float), name)


def _wind(
    data: Sequence[xr.Dataset], name: str, place: tuple[float, float] | None
) -> dict[str, Any]:
    """Return the speed of a wind that is given by its two components."""
    east, north = (_named(data, f"{way}_wind") for way in ("eastward", "northward"))
    if east is None or north is None:
        return {}
    along, across = (_at(_in_units(v, "wind_m_s", name), name, place) for v in (east, north))
    return {"wind_m_s": (along**2 + across**2) ** 0.5}


def _named(data: Sequence[xr.Dataset], *standard: str) -> xr.DataArray | None:
    """Return the variable with the first of these CF standard names that is there."""
    named = {v.attrs.get("standard_name"): v for part in data for v in part.data_vars.values()}
    return next((named[name] for name in standard if name in named), None)


def _in_units(variable: xr.DataArray, what: str, name: str) -> xr.DataArray:
    unit = str(variable.attrs.get("units", "")).strip()
    change = _UNITS[what].get(unit.casefold())
    if change is None:
        raise InputError(
            f"{name}: {variable.name} is in {unit or 'no unit'!r}, which is not known here",
            "write the forecast as CSV",
        )
    changed: xr.DataArray = change(variable)
    return changed


def _at(variable: xr.DataArray, name: str, place: tuple[float, float] | None) -> pd.Series[float]:
    """Return a variable by time, at the point nearest to a place."""
    time = "valid_time" if "valid_time" in variable.coords else "time"
    if time not in variable.coords:
        raise InputError(f"{name}: {variable.name} has no time", "write the forecast as CSV")
    along = variable[time].dims
    points = [dim for dim in variable.dims if dim not in along and variable.sizes[dim] > 1]
    if points:
        variable = _nearest(variable, name, place, [str(dim) for dim in points])
    values = variable.squeeze(drop=True)
    times = pd.DatetimeIndex(np.atleast_1d(variable[time].to_numpy()).ravel())
    return pd.Series(np.atleast_1d(values.to_numpy()).ravel().astype(float), index=times)


def _nearest(
    variable: xr.DataArray, name: str, place: tuple[float, float] | None, points: list[str]
) -> xr.DataArray:
    north, east = _axis(variable, "latitude", "lat"), _axis(variable, "longitude", "lon")
    if north is None or east is None or set(points) - {*north.dims, *east.dims}:
        raise InputError(
            f"{name}: {variable.name} has several values for a time, along {', '.join(points)}",
            "take a file of one height and one member, or write the forecast as CSV",
        )
    if place is None:
        raise InputError(f"{name} covers many places", "give --place LATITUDE,LONGITUDE")
    latitude, longitude = (np.atleast_1d(np.asarray(axis, dtype=float)) for axis in (north, east))
    dims = list(dict.fromkeys((*north.dims, *east.dims)))
    if latitude.ndim == 1 and longitude.ndim == 1:
        latitude, longitude = np.meshgrid(latitude, longitude, indexing="ij")
        latitude, longitude = latitude.squeeze(), longitude.squeeze()
        dims = [dim for dim in dims if variable.sizes[dim] > 1]
    away = _degrees_between(latitude, longitude, place)
    if away.min() > FAR_DEGREES:
        raise InputError(f"{name} does not reach to --place {place[0]:g},{place[1]:g}",
                         "check latitude and longitude, or take another file")  # fmt: skip
    at = np.unravel_index(int(np.argmin(away)), away.shape)
    return variable.isel(dict(zip(dims, map(int, at), strict=True)))


def _axis(variable: xr.DataArray, *names: str) -> xr.DataArray | None:
    for label in variable.coords:
        found: xr.DataArray = variable[label]
        if found.attrs.get("standard_name") == names[0] or str(found.name) in names:
            return found
    return None


def _degrees_between(
    latitude: NDArray[np.float64], longitude: NDArray[np.float64], place: tuple[float, float]
) -> NDArray[np.float64]:
    """Return the angle between points on the globe and a place [degrees]."""
    north, there = np.radians(latitude), np.radians(place[0])
    east = np.radians(longitude - place[1])
    cosine = np.sin(north) * np.sin(there) + np.cos(north) * np.cos(there) * np.cos(east)
    return np.asarray(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))
