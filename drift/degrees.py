"""Degrees Celsius and Fahrenheit, as numbers and as people read them."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from drift.quantities import parse_degrees

__all__ = [
    "NO_ROOM_CELSIUS",
    "celsius_of_fahrenheit",
    "fahrenheit_of_celsius",
    "look_like_fahrenheit",
    "parse_degrees",
    "shown_degrees",
    "shown_range",
    "shown_span",
    "shown_tenths",
]

NO_ROOM_CELSIUS = 45.0
"""No room is as warm; a median above it is suspected of being in °F [°C]."""
NEAR_CELSIUS = 15.0
"""Converted, it must come as near as this to the other rehearsals [°C] ..."""
USUAL_CELSIUS = 20.0
"""... or to this, where there is no other to compare with [°C]."""
WARM_CELSIUS = 30.0
"""Where every rehearsal is warmer, and some are warmer than any room, all are in °F [°C] ..."""
FAR_CELSIUS = 30.0
"""... that come, converted, as near as this to the usual [°C]."""


def fahrenheit_of_celsius(celsius: ArrayLike) -> NDArray[np.float64]:
    """Return temperatures in °F of temperatures in °C.

    Examples
    --------
    >>> float(fahrenheit_of_celsius(20))
    68.0
    """
    return np.asarray(celsius, dtype=float) * 1.8 + 32


def celsius_of_fahrenheit(fahrenheit: ArrayLike) -> NDArray[np.float64]:
    """Return temperatures in °C of temperatures in °F.

    Examples
    --------
    >>> float(celsius_of_fahrenheit(68))
    20.0
    """
    return (np.asarray(fahrenheit, dtype=float) - 32) / 1.8


def look_like_fahrenheit(medians: ArrayLike) -> NDArray[np.bool_]:
    """Return which rehearsals have temperatures in °F under the name of °C.

    Parameters
    ----------
    medians : array of shape (n,)
        The median of the temperatures of each, taken for °C.

    Returns
    -------
    array of bool, shape (n,)
        Those in which it is warmer than in any room, and as warm as usual once converted; all,
        where the others would be of the tropics: it is a season in the cold, in °F throughout.

    Examples
    --------
    >>> look_like_fahrenheit([21.0, 56.0, 19.0]).tolist()
    [False, True, False]
    >>> look_like_fahrenheit([38.0, 47.0, 58.0]).tolist()
    [True, True, True]
    """
    celsius = np.asarray(medians, dtype=float)
    if len(celsius) and celsius.min() > WARM_CELSIUS and celsius.max() > NO_ROOM_CELSIUS:
        return np.asarray(np.abs(celsius_of_fahrenheit(celsius) - USUAL_CELSIUS) < FAR_CELSIUS)
    believed = celsius[celsius <= NO_ROOM_CELSIUS]
    usual = float(np.median(believed)) if len(believed) else USUAL_CELSIUS
    near = np.abs(celsius_of_fahrenheit(celsius) - usual) < NEAR_CELSIUS
    return np.asarray((celsius > NO_ROOM_CELSIUS) & near)


def shown_degrees(celsius: float, fahrenheit: bool = False) -> str:
    """Return a temperature as people read it, whole degrees with a true minus sign.

    Examples
    --------
    >>> shown_degrees(-3.6), shown_degrees(-3.6, fahrenheit=True)
    ('−4 °C', '26 °F')
    """
    return f"{_whole(celsius, fahrenheit)} {'°F' if fahrenheit else '°C'}"


def shown_range(lowest_celsius: float, highest_celsius: float, fahrenheit: bool = False) -> str:
    """Return a range of temperatures as people read it, one number where both are alike.

    Examples
    --------
    >>> shown_range(4.2, 11.9), shown_range(4.2, 4.4)
    ('4 to 12 °C', '4 °C')
    """
    low = _whole(lowest_celsius, fahrenheit)
    highest = shown_degrees(highest_celsius, fahrenheit)
    return highest if highest.startswith(f"{low} ") else f"{low} to {highest}"


def shown_span(celsius: float, fahrenheit: bool = False) -> str:
    """Return a difference of temperatures, in °F to whole degrees.

    Examples
    --------
    >>> shown_span(5.0), shown_span(5.0, fahrenheit=True)
    ('5.0 °C', '9 °F')
    """
    return f"{1.8 * celsius:.0f} °F" if fahrenheit else f"{celsius:.1f} °C"


def shown_tenths(lowest_celsius: float, highest_celsius: float, fahrenheit: bool = False) -> str:
    """Return temperatures that were measured, to tenths; in °F to whole degrees.

    Examples
    --------
    >>> shown_tenths(17.0, 22.0), shown_tenths(17.0, 22.0, fahrenheit=True)
    ('17.0 to 22.0 °C', '63 to 72 °F')
    """
    if fahrenheit:
        return shown_range(lowest_celsius, highest_celsius, True)
    return f"{lowest_celsius:z.1f} to {highest_celsius:z.1f} °C".replace("-", "−")


def _whole(celsius: float, fahrenheit: bool) -> str:
    value = fahrenheit_of_celsius(celsius) if fahrenheit else celsius
    return f"{round(float(value)):d}".replace("-", "−")
