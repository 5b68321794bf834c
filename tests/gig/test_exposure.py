"""Heat index and wind chill against published values and an independent library."""

import numpy as np
import pytest
import thermofeel

from drift.degrees import celsius_of_fahrenheit, fahrenheit_of_celsius
from drift.gig.exposure import heat_index, wind_chill

KELVIN = 273.15


def heat_index_fahrenheit(fahrenheit, humidity):
    return fahrenheit_of_celsius(heat_index(celsius_of_fahrenheit(fahrenheit), humidity))


@pytest.mark.parametrize(
    ("fahrenheit", "humidity", "published"),
    [(90, 50, 94.597), (90, 70, 105.922), (80, 90, 86.342), (95, 5, 88.177)],
)
def test_heat_index_worked_values(fahrenheit, humidity, published):
    # Rothfusz, NWS SR 90-23 (1990), with the NWS adjustments for humid (80/90) and dry air (95/5);
    # values worked out beside the formula, given to three decimals.
    assert float(heat_index_fahrenheit(fahrenheit, humidity)) == pytest.approx(published, abs=6e-4)


@pytest.mark.parametrize(
    ("fahrenheit", "humidity", "chart"),
    [(80, 40, 80), (86, 60, 91), (90, 50, 95), (90, 70, 106), (96, 65, 121), (100, 40, 109),
     (100, 60, 129), (104, 40, 119), (110, 40, 136), (88, 90, 113), (84, 100, 103)],
)  # fmt: skip
def test_heat_index_chart(fahrenheit, humidity, chart):
    # The heat index chart of the National Weather Service, whole °F (second-hand, from a weather
    # office's page). It was made before the regression, which lies within 1.3 °F of it (Rothfusz).
    assert float(heat_index_fahrenheit(fahrenheit, humidity)) == pytest.approx(chart, abs=1.3)


def test_heat_index_against_an_independent_library():
    # thermofeel (ECMWF) writes the same regression and adjustments on its own; where the average
    # of its simple formula and the air is below 80 °F it answers otherwise, so only above that.
    celsius = np.linspace(22.0, 46.0, 60)
    dew_point = np.linspace(-5.0, 30.0, 50)
    t, td = (grid.ravel() for grid in np.meshgrid(celsius, dew_point))
    t, td = t[td < t], td[td < t]
    humidity = thermofeel.calculate_relative_humidity_percent(t + KELVIN, td + KELVIN)
    theirs = thermofeel.calculate_heat_index_adjusted(t + KELVIN, td + KELVIN) - KELVIN
    f = fahrenheit_of_celsius(t)
    regressed = 0.5 * (f + 0.5 * (f + 61 + (f - 68) * 1.2 + humidity * 0.094)) >= 80
    assert regressed.sum() > 1000
    ours = heat_index(t, humidity)
    np.testing.assert_allclose(ours[regressed], theirs[regressed], atol=1e-9)


def test_heat_index_is_unknown_without_humidity():
    assert np.isnan(heat_index(30.0, np.nan))
    assert heat_index(np.array([30.0, 31.0]), np.array([[50.0], [60.0]])).shape == (2, 2)


@pytest.mark.parametrize(("celsius", "km_h", "published"), [(0, 20, -5.242), (-10, 30, -19.520)])
def test_wind_chill_worked_values(celsius, km_h, published):
    # Wind chill 2001 (NWS / Environment Canada), worked out beside the formula to three decimals.
    assert float(wind_chill(celsius, km_h / 3.6)) == pytest.approx(published, abs=6e-4)


def test_wind_chill_against_an_independent_library():
    t, wind = (
        grid.ravel() for grid in np.meshgrid(np.linspace(-45, 5, 40), np.linspace(1.4, 22, 40))
    )
    theirs = thermofeel.calculate_wind_chill(t + KELVIN, wind) - KELVIN
    np.testing.assert_allclose(wind_chill(t, wind), theirs, atol=1e-9)


def test_wind_chill_is_not_defined_in_warm_or_calm_air():
    assert np.isnan(wind_chill([10.1, 0.0, np.nan, 0.0], [5.0, 1.3, 5.0, np.nan])).all()
    assert np.isfinite(wind_chill([10.0, 0.0], [5.0, 4.8 / 3.6])).all()


def test_wind_chill_falls_with_wind():
    chill = wind_chill(0.0, np.linspace(2, 20, 50))
    assert (np.diff(chill) < 0).all()
    assert (chill < 0.0).all()
