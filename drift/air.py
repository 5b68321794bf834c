"""The speed of sound in the air of a room and in the air of a played bore.

The pitch of a wind instrument follows the speed of sound in its bore, so every other number of
the program begins here: `speed_of_sound` for air of any state, `cents_between_states` and
`cents_per_celsius` for what a change of that state does to pitch. `drift.breath` has the mixture
of breath and room air in a played bore.

References
----------
O. Cramer, "The variation of the specific heat ratio and the speed of sound in air with
temperature, pressure, humidity, and CO2 concentration", J. Acoust. Soc. Am. 93(5), 2510-2516
(1993), equation (15) and table III.
R. S. Davis, "Equation for the determination of the density of moist air (1981/91)", Metrologia
29, 67-70 (1992), for the saturation vapour pressure and the enhancement factor.
"""

from __future__ import annotations

import warnings
from typing import Any, overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

from drift.errors import ReachError

__all__ = [
    "AirRangeWarning",
    "cents_between_states",
    "cents_per_celsius",
    "speed_of_sound",
    "water_fraction",
]

STANDARD_PRESSURE_PA = 101325.0
OUTDOOR_CO2 = 0.0004
ZERO_CELSIUS_K = 273.15

PUBLISHED_RANGE = (
    "the published range of the formula is 0 to 30 °C, 75 to 102 kPa, water up to 0.06 and "
    "carbon dioxide up to 0.01 (mole fractions)"
)

# Cramer 1993, table III.
A = (
    331.5024, 0.603055, -0.000528,
    51.471935, 0.1495874, -0.000782,
    -1.82e-7, 3.73e-8, -2.93e-10,
    -85.20931, -0.228525, 5.91e-5,
    -2.835149, -2.15e-13, 29.179762, 0.000486,
)  # fmt: skip


class AirRangeWarning(UserWarning):
    """A state of the air outside the range in which the formula was published."""


def water_fraction(
    celsius: ArrayLike, humidity_percent: ArrayLike, pressure_pa: ArrayLike = STANDARD_PRESSURE_PA
) -> NDArray[np.float64]:
    """Return the mole fraction of water vapour in moist air.

    Parameters
    ----------
    celsius : array_like
        Temperature [°C].
    humidity_percent : array_like
        Relative humidity [%].
    pressure_pa : array_like
        Pressure [Pa].

    Returns
    -------
    ndarray of float
        Mole fraction of water.

    Notes
    -----
    ``x = h f psv / p`` with the CIPM-81/91 saturation pressure
    ``psv = exp(A T² + B T + C + D / T)`` (T in kelvin) and enhancement factor
    ``f = 1.00062 + 3.14e-8 p + 5.6e-7 t²``; published for 15 to 27 °C, and within 0.1 % of
    IAPWS-IF97 from 0 to 40 °C.

    References
    ----------
    R. S. Davis, Metrologia 29, 67-70 (1992).

    Examples
    --------
    >>> float(water_fraction(20.0, 50.0).round(5))
    0.01159
    """
    t = np.asarray(celsius, dtype=float)
    p = np.asarray(pressure_pa, dtype=float)
    kelvin = t + ZERO_CELSIUS_K
    saturation_pa = np.exp(
        1.2378847e-5 * kelvin**2 - 1.9121316e-2 * kelvin + 33.93711047 - 6.3431645e3 / kelvin
    )
    enhancement = 1.00062 + 3.14e-8 * p + 5.6e-7 * t**2
    return np.asarray(
        np.asarray(humidity_percent, dtype=float) / 100.0 * enhancement * saturation_pa / p
    )


def cramer(
    t: NDArray[np.float64],
    p: NDArray[np.float64],
    water: NDArray[np.float64],
    co2: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return Cramer's polynomial [m/s] of °C, Pa and mole fractions, without any check."""
    return np.asarray(
        A[0] + A[1] * t + A[2] * t**2
        + (A[3] + A[4] * t + A[5] * t**2) * water
        + (A[6] + A[7] * t + A[8] * t**2) * p
        + (A[9] + A[10] * t + A[11] * t**2) * co2
        + A[12] * water**2 + A[13] * p**2 + A[14] * co2**2 + A[15] * water * p * co2
    )  # fmt: skip


def _check_range(
    t: NDArray[np.float64],
    p: NDArray[np.float64],
    water: NDArray[np.float64],
    co2: NDArray[np.float64],
) -> None:
    for name, unit, values, low, high in (
        ("temperature", "°C", t, 0.0, 30.0),
        ("pressure", "Pa", p, 75e3, 102e3),
        ("water", "mole fraction", water, 0.0, 0.06),
        ("carbon dioxide", "mole fraction", co2, 0.0, 0.01),
    ):
        outside = values[(values < low) | (values > high)]
        if outside.size:
            warnings.warn(
                f"{name} {outside.flat[0]:g} {unit}: {PUBLISHED_RANGE}",
                AirRangeWarning,
                stacklevel=3,
            )
            return


@overload
def speed_of_sound(
    celsius: float,
    humidity_percent: float = ...,
    pressure_pa: float = ...,
    co2_fraction: float = ...,
) -> float: ...
@overload
def speed_of_sound(
    celsius: ArrayLike,
    humidity_percent: ArrayLike = ...,
    pressure_pa: ArrayLike = ...,
    co2_fraction: ArrayLike = ...,
) -> NDArray[np.float64]: ...
def speed_of_sound(
    celsius: ArrayLike,
    humidity_percent: ArrayLike = 50.0,
    pressure_pa: ArrayLike = STANDARD_PRESSURE_PA,
    co2_fraction: ArrayLike = OUTDOOR_CO2,
) -> Any:
    """Return the speed of sound in moist air.

    Parameters
    ----------
    celsius : array_like
        Temperature [°C].
    humidity_percent : array_like
        Relative humidity [%], 0 to 100.
    pressure_pa : array_like
        Pressure [Pa].
    co2_fraction : array_like
        Mole fraction of carbon dioxide.

    Returns
    -------
    float or ndarray of float
        Zero-frequency speed of sound [m/s]; a float for numbers, else the broadcast shape.

    Raises
    ------
    ReachError
        If a humidity lies outside 0 to 100 %, a pressure is not positive, a carbon dioxide
        fraction lies outside 0 to 1, or a temperature is not above absolute zero.

    Warns
    -----
    AirRangeWarning
        Outside the published range, 0 to 30 °C, 75 to 102 kPa, water up to 0.06 and carbon
        dioxide up to 0.01; the value is computed all the same.

    Notes
    -----
    Cramer's polynomial, equation (15): stated to be within 300 ppm (0.5 cent) in its range.
    Against an independent model of moist air it stays within 0.2 cent from 0 to 40 °C, and at
    4 % carbon dioxide within 0.6 cent of an ideal mixture.

    References
    ----------
    O. Cramer, J. Acoust. Soc. Am. 93(5), 2510-2516 (1993), eq. (15), table III.

    Examples
    --------
    >>> round(speed_of_sound(20.0), 2)
    343.99
    """
    t = np.asarray(celsius, dtype=float)
    humidity = np.asarray(humidity_percent, dtype=float)
    p = np.asarray(pressure_pa, dtype=float)
    co2 = np.asarray(co2_fraction, dtype=float)
    refuse(t <= -ZERO_CELSIUS_K, "temperature", t, "°C", "above -273.15 °C")
    refuse((humidity < 0) | (humidity > 100), "humidity", humidity, "%", "from 0 to 100 %")
    refuse(p <= 0, "pressure", p, "Pa", "above 0 Pa (1013.25 hPa is 101325 Pa)")
    refuse((co2 < 0) | (co2 > 1), "carbon dioxide", co2, "", "as a fraction from 0 to 1")
    water = water_fraction(t, humidity, p)
    _check_range(t, p, water, co2)
    speed = cramer(t, p, water, co2)
    return float(speed) if speed.ndim == 0 else speed


def refuse(
    wrong: NDArray[np.bool_], name: str, values: NDArray[np.float64], unit: str, wanted: str
) -> None:
    """Raise a `ReachError` that names the first value that is wrong, if any is."""
    if np.any(wrong):
        value = f"{values[wrong].flat[0]:g} {unit}".rstrip()
        raise ReachError(f"{name} {value} is not possible", f"give the {name} {wanted}")


def cents_between_states(
    celsius: float,
    reference_celsius: float,
    humidity_percent: float = 50.0,
    reference_humidity_percent: float = 50.0,
) -> float:
    """Return how far pitch rises when the air of a bore goes from one state to another.

    Parameters
    ----------
    celsius, reference_celsius : float
        Temperatures [°C].
    humidity_percent, reference_humidity_percent : float
        Relative humidities [%].

    Returns
    -------
    float
        ``1200 log2(c / c_reference)`` [cents], positive when sharper.

    Notes
    -----
    The whole bore is taken to change; the bore of a played instrument follows the room only in
    part, because the player's breath keeps it warm.

    Examples
    --------
    >>> round(cents_between_states(30.0, 20.0), 1)
    31.5
    """
    speed = speed_of_sound(celsius, humidity_percent)
    reference = speed_of_sound(reference_celsius, reference_humidity_percent)
    return float(1200.0 * np.log2(speed / reference))


def cents_per_celsius(celsius: float = 20.0, humidity_percent: float = 0.0) -> float:
    """Return how fast pitch rises with the temperature of the air.

    Parameters
    ----------
    celsius : float
        Temperature [°C].
    humidity_percent : float
        Relative humidity [%], held fixed.

    Returns
    -------
    float
        Slope [cents/°C].

    Notes
    -----
    A central difference of `speed_of_sound`. For a dry ideal gas the slope is
    ``600 / (T ln 2)`` with T in kelvin, 2.95 cents/°C at 20 °C; at a fixed relative humidity it
    is larger, because warmer air then holds more water.

    Examples
    --------
    >>> round(cents_per_celsius(20.0), 2)
    2.95
    """
    step = 0.05
    rise = cents_between_states(celsius + step, celsius - step, humidity_percent, humidity_percent)
    return rise / (2 * step)
