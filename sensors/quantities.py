"""Numbers with units: what a thermometer's words mean in °C, %, hPa, and what it cannot mean.

Everything here is pure: text in, numbers out.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from sensors.errors import LineRefused

__all__ = [
    "HIGHEST_CELSIUS",
    "LOWEST_CELSIUS",
    "Measured",
    "celsius_of",
    "humidity_of",
    "measured",
    "pressure_of",
    "quantity",
    "unit_of",
]

# Air in which people play lies well inside; a value outside is a fault or another quantity.
LOWEST_CELSIUS = -40.0
HIGHEST_CELSIUS = 60.0

FAULTS = {
    85.0: "what a digital probe says before its first measurement",
    127.94: "what a digital probe says when it is not connected",
    -127.0: "what a reader says when its probe does not answer",
    9.91e37: "an instrument's way of saying that it has no number",
    9.9e37: "an instrument's way of saying that its input is out of range",
}

NUMBER = r"[+-]?(?:\d{1,9}(?:\.\d{0,12})?|\.\d{1,12})(?:[eE][+-]?\d{1,3})?"
DECIMAL_COMMA = r"[+-]?\d{1,9},\d{1,12}"
UNIT = r"(?:°|º|deg(?:rees?)?\.?\s?)?\s?(?:C|F|K|celsius|fahrenheit|kelvin)|℃|℉"

_QUANTITY = re.compile(
    rf"\s*(?P<number>{NUMBER}|{DECIMAL_COMMA})\s*(?P<unit>{UNIT})?\s*", re.IGNORECASE | re.ASCII
)
_MISSING = re.compile(r"\s*(?:|-+|nan|[+-]?inf|none|null|n/?a|err(?:or)?)\s*", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Measured:
    """What one line of a thermometer says.

    Attributes
    ----------
    celsius : float
        Temperature [°C], between -40 and 60.
    humidity_percent, pressure_hpa : float or None
        Relative humidity [%] and pressure [hPa] where the line gives them.
    """

    celsius: float
    humidity_percent: float | None = None
    pressure_hpa: float | None = None


def unit_of(word: str) -> str:
    """Return ``C``, ``F`` or ``K`` for a unit of temperature written in any usual way.

    Parameters
    ----------
    word : str
        ``°C``, ``degF``, ``Kelvin``, ``℃`` and the like.

    Raises
    ------
    ValueError
        If the word is no unit of temperature.

    Examples
    --------
    >>> unit_of("°F"), unit_of("celsius"), unit_of("℃")
    ('F', 'C', 'C')
    """
    if not re.fullmatch(UNIT, word.strip(), re.IGNORECASE):
        raise ValueError(f"no unit of temperature: {word!r}")
    symbols = word.strip().replace("℃", "C").replace("℉", "F").upper()
    return (
        symbols.lstrip("°º")
        .removeprefix("DEGREES")
        .removeprefix("DEGREE")
        .removeprefix("DEG")
        .lstrip(". °º")[0]
    )


def celsius_of(value: float, unit: str) -> float:
    """Return a temperature in °C.

    Parameters
    ----------
    value : float
        Temperature in ``unit``.
    unit : str
        ``C``, ``F`` or ``K``.

    Notes
    -----
    ``C = (F - 32) 5/9`` and ``C = K - 273.15``, exact by definition.

    Examples
    --------
    >>> celsius_of(70.0, "F")
    21.11111111111111
    """
    if unit == "F":
        return (value - 32.0) * 5.0 / 9.0
    return value - 273.15 if unit == "K" else value


def quantity(text: str, line: str, unit: str = "C") -> float:
    """Read one number, with or without its unit, as °C.

    Parameters
    ----------
    text : str
        Such as ``21.5``, ``70.7 °F``, ``21,5 °C`` or ``294.65K``.
    line : str
        The whole line, kept in the refusal.
    unit : str
        The unit where the text has none.

    Returns
    -------
    float
        Temperature [°C]; nothing is said yet about whether it is plausible.

    Raises
    ------
    LineRefused
        If the text is not one number, or is a word for a missing one.

    Examples
    --------
    >>> quantity("70.7 °F", "70.7 °F")
    21.5
    """
    found = _QUANTITY.fullmatch(text)
    if found is None:
        if _MISSING.fullmatch(text):
            raise LineRefused(
                f"the thermometer gives no number: {text.strip()!r}",
                "check that its probe is plugged in",
                line,
            )
        raise LineRefused(
            f"not one number, with or without °C or °F: {text.strip()[:60]!r}",
            "name the thermometer's dialect (dialect=csv&column=2, key=..., pattern=...)",
            line,
        )
    said = found["unit"]
    return celsius_of(float(found["number"].replace(",", ".")), unit_of(said) if said else unit)


def measured(
    celsius: float,
    line: str,
    humidity_percent: float | None = None,
    pressure_hpa: float | None = None,
) -> Measured:
    """Accept a temperature that air can have; refuse fault values and the impossible.

    Parameters
    ----------
    celsius : float
        Temperature [°C].
    line : str
        The line it came in, kept in the refusal.
    humidity_percent, pressure_hpa : float or None
        Taken along.

    Raises
    ------
    LineRefused
        If the temperature is a known fault value, not a number, or outside -40 to 60 °C.

    Examples
    --------
    >>> measured(21.5, "21.5").celsius
    21.5
    """
    if math.isnan(celsius):
        raise LineRefused("the thermometer gives no number", "check its probe", line)
    if LOWEST_CELSIUS <= celsius <= HIGHEST_CELSIUS:
        return Measured(celsius, humidity_percent, pressure_hpa)
    for fault, meaning in FAULTS.items():
        if math.isclose(celsius, fault, rel_tol=1e-9):
            raise LineRefused(
                f"{celsius:g} °C is {meaning}", "check the probe and its wiring", line
            )
    raise LineRefused(
        f"{celsius:g} °C is outside {LOWEST_CELSIUS:g} to {HIGHEST_CELSIUS:g} °C",
        "if the thermometer speaks Fahrenheit without saying so, add unit=F to its address",
        line,
    )


def humidity_of(value: float | None) -> float | None:
    """Return a relative humidity [%], or None where the number cannot be one.

    Examples
    --------
    >>> humidity_of(48.0), humidity_of(999.0)
    (48.0, None)
    """
    return value if value is not None and 0.0 <= value <= 100.0 else None


def pressure_of(value: float | None) -> float | None:
    """Return an air pressure [hPa] from a number in hPa or Pa, or None where it is neither.

    Notes
    -----
    Air on the ground has 300 to 1100 hPa, so the two units cannot be mistaken for each other.

    Examples
    --------
    >>> pressure_of(1013.25), pressure_of(101325.0), pressure_of(29.92)
    (1013.25, 1013.25, None)
    """
    if value is None:
        return None
    if 300.0 <= value <= 1100.0:
        return value
    return value / 100.0 if 30000.0 <= value <= 110000.0 else None
