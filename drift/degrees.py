"""Degrees Celsius and Fahrenheit, as numbers and as people read them."""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import ArrayLike, NDArray

from drift.quantities import parse_degrees

__all__ = [
    "celsius_of_fahrenheit",
    "fahrenheit_of_celsius",
    "in_fahrenheit",
    "parse_degrees",
    "shown_degrees",
    "shown_range",
]


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


def in_fahrenheit(text: str) -> str:
    """Return a text with its temperatures in °C told in °F, whole degrees.

    A number after the word ``only`` or ``±`` is a difference of temperatures.

    Examples
    --------
    >>> in_fahrenheit("span only 5.0 °C (17.0 to 22.0 °C): 1.3 cents/°C")
    'span only 9 °F (63 to 72 °F): 1.3 cents/°C'
    """

    def told(found: re.Match[str]) -> str:
        before, low, high = found["before"] or "", found["low"], found["high"]
        if before:
            return f"{before}{float(low) * 1.8:.0f} °F"
        both = [_whole(float(one.replace("−", "-")), True) for one in (low, high) if one]
        return f"{' to '.join(both)} °F"

    number = r"[-−]?\d+(?:\.\d+)?"
    pattern = rf"(?P<before>only |±\s?)?(?P<low>{number})(?: to (?P<high>{number}))? °C"
    return re.sub(pattern, told, text)


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


def _whole(celsius: float, fahrenheit: bool) -> str:
    value = fahrenheit_of_celsius(celsius) if fahrenheit else celsius
    return f"{round(float(value)):d}".replace("-", "−")
