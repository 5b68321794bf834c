"""Heat index and wind chill: what published formulas make of a forecast.

Wet-bulb globe temperature (WBGT) needs an instrument in the sun and wind of the place; it is
taken as measured and never estimated here.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from drift.degrees import celsius_of_fahrenheit, fahrenheit_of_celsius

__all__ = [
    "FULL_SUN_CELSIUS",
    "heat_index",
    "wind_chill",
]

#: Full sunshine can raise the heat index by up to 15 °F (National Weather Service); a difference.
FULL_SUN_CELSIUS = 15 / 1.8

_ROTHFUSZ = (
    -42.379,
    2.04901523,
    10.14333127,
    -0.22475541,
    -6.83783e-3,
    -5.481717e-2,
    1.22874e-3,
    8.5282e-4,
    -1.99e-6,
)


def heat_index(celsius: ArrayLike, humidity_percent: ArrayLike) -> NDArray[np.float64]:
    """Return the heat index of the National Weather Service, in the shade and light wind.

    Parameters
    ----------
    celsius : array_like
        Air temperature [°C].
    humidity_percent : array_like
        Relative humidity [%], of a shape that broadcasts with `celsius`.

    Returns
    -------
    ndarray
        Heat index [°C], NaN where an input is NaN.

    Notes
    -----
    In °F: a simple formula averaged with the temperature; where that reaches 80 °F, Rothfusz's
    regression with its adjustments for dry (below 13 %) and humid (above 85 %) air. The
    regression reproduces the table it was fitted to within about 1.3 °F (Rothfusz 1990); it says
    nothing about sun, wind, clothing or activity.

    References
    ----------
    Rothfusz, L. P., *The heat index "equation"*, National Weather Service Southern Region
    Technical Attachment SR 90-23, 1990. The simple formula and the adjustments: Weather
    Prediction Center, *The heat index equation* (web page).

    Examples
    --------
    >>> float(fahrenheit_of_celsius(heat_index(celsius_of_fahrenheit(90), 70)).round(1))
    105.9
    """
    rh = np.asarray(humidity_percent, dtype=float)
    t = fahrenheit_of_celsius(celsius) + 0 * rh  # of the shape of both
    rh = rh + 0 * t
    simple = 0.5 * (t + 0.5 * (t + 61 + 1.2 * (t - 68) + 0.094 * rh))
    return celsius_of_fahrenheit(np.where(simple >= 80, _regression(t, rh), simple))


def _regression(t: NDArray[np.float64], rh: NDArray[np.float64]) -> NDArray[np.float64]:
    terms = [np.ones_like(t), t, rh, t * rh, t**2, rh**2]
    terms += [t**2 * rh, t * rh**2, t**2 * rh**2]
    index = np.tensordot(np.array(_ROTHFUSZ), np.array(terms), axes=1)
    dry = (13 - rh) / 4 * np.sqrt(np.clip(17 - np.abs(t - 95), 0, None) / 17)
    humid = (rh - 85) / 10 * (87 - t) / 5
    index = np.where((rh < 13) & (t >= 80) & (t <= 112), index - dry, index)
    return np.where((rh > 85) & (t >= 80) & (t <= 87), index + humid, index)


def wind_chill(celsius: ArrayLike, wind_m_s: ArrayLike) -> NDArray[np.float64]:
    """Return the wind chill index of 2001, NaN where it is not defined.

    Parameters
    ----------
    celsius : array_like
        Air temperature [°C].
    wind_m_s : array_like
        Wind at 10 m above ground, as forecasts give it [m/s].

    Returns
    -------
    ndarray
        Wind chill [°C]; NaN above 10 °C, below 4.8 km/h, and where an input is NaN.

    Notes
    -----
    ``13.12 + 0.6215 T - 11.37 V^0.16 + 0.3965 T V^0.16`` with T in °C and V in km/h: the cooling
    of a bare face at walking pace. It says nothing about metal, wet clothing or standing still.

    References
    ----------
    Osczevski, R. and Bluestein, M., *The new wind chill equivalent temperature chart*, Bulletin
    of the American Meteorological Society 86, 2005 (second-hand); adopted in 2001 by Environment
    Canada and the National Weather Service.

    Examples
    --------
    >>> float(wind_chill(-10, 30 / 3.6).round(2))
    -19.52
    """
    t, wind = np.asarray(celsius, dtype=float), np.asarray(wind_m_s, dtype=float) * 3.6
    defined = (t <= 10) & (wind >= 4.8 - 1e-9)
    power = np.power(np.where(defined, wind, np.nan), 0.16)
    return np.asarray(13.12 + 0.6215 * t - 11.37 * power + 0.3965 * t * power)
