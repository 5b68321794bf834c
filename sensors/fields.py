"""Named values: which of them is the temperature, and what is taken along with it.

``key=value`` pairs, JSON objects and tables with a header all come to pairs of a name and a text.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from sensors.errors import LineRefused
from sensors.quantities import NUMBER, Measured, humidity_of, measured, pressure_of, quantity

__all__ = ["FAHRENHEIT", "USUAL", "Pairs", "called", "company", "from_names", "number", "words"]

Pairs = Sequence[tuple[str, str]]

# Names by which thermometers call what they measure (common practice), in lower case with
# underscores. A name outside these lists is chosen by the user with key= or column=.
CELSIUS = frozenset(
    {"t", "temp", "temperature", "celsius", "c", "degc", "deg_c", "t_c", "temp_c", "tempc"}
    | {"temperature_c", "temperature_celsius", "air", "air_temp", "air_temperature", "ambient"}
    | {"ambient_temp", "ambient_temperature", "room", "room_temp", "room_temperature"}
)
FAHRENHEIT = frozenset(
    {"fahrenheit", "f", "degf", "deg_f", "t_f", "temp_f", "tempf"}
    | {"temperature_f", "temperature_fahrenheit"}
)
HUMIDITY = frozenset(
    {"h", "rh", "hum", "humidity", "humidity_percent", "relative_humidity", "humidity_rh"}
)
PRESSURE = frozenset(
    {"p", "press", "pressure", "baro", "barometer", "hpa", "pressure_hpa", "pressure_pa"}
    | {"air_pressure"}
)
USUAL = CELSIUS | FAHRENHEIT


def from_names(pairs: Pairs, line: str, key: str, unit: str) -> Measured | None:
    """Take the temperature, and what goes with it, out of named values.

    Parameters
    ----------
    pairs : sequence of (str, str)
        Names and texts, in the order of the line.
    line : str
        The whole line, kept in the refusal.
    key : str
        The name of the temperature; empty for the usual ones.
    unit : str
        The unit where neither the name nor the text says one.

    Returns
    -------
    Measured or None
        None if no value goes by such a name.

    Raises
    ------
    LineRefused
        If several do, or the text is no temperature.

    Examples
    --------
    >>> from_names([("Temp (°F)", "70.7"), ("RH", "48 %")], "", "", "C")
    Measured(celsius=21.5, humidity_percent=48.0, pressure_hpa=None)
    """
    if key:
        chosen: Pairs = [pair for pair in pairs if words(pair[0]) == words(key)]
    else:
        chosen = called(pairs, CELSIUS) or called(pairs, FAHRENHEIT)
    if not chosen:
        return None
    if len(chosen) > 1:
        raise LineRefused(
            f"more than one temperature: {', '.join(name for name, _ in chosen)}",
            "choose one with key= (or column=) in the thermometer's address",
            line,
        )
    celsius = quantity(chosen[0][1], line, "F" if called(chosen, FAHRENHEIT) else unit)
    return measured(celsius, line, *company(pairs))


def company(pairs: Pairs) -> tuple[float | None, float | None]:
    """Return the humidity [%] and the pressure [hPa] among named values, None where unclear."""
    humidity = [number(text) for _, text in called(pairs, HUMIDITY)]
    pressure = [number(text) for _, text in called(pairs, PRESSURE)]
    return (
        humidity_of(humidity[0]) if len(humidity) == 1 else None,
        pressure_of(pressure[0]) if len(pressure) == 1 else None,
    )


def called(pairs: Pairs, names: frozenset[str]) -> Pairs:
    """Return the values that go by one of the names, wherever they are nested."""
    return [pair for pair in pairs if words(pair[0].rsplit(".", 1)[-1]) in names]


def words(name: str) -> str:
    """Return a name in lower case with underscores, dots kept.

    Examples
    --------
    >>> words("Temp (°C)")
    'temp_c'
    """
    return re.sub(r"[^a-z0-9.]+", "_", name.lower()).strip("_")


def number(text: str) -> float | None:
    """Return a number that may carry %, hPa, mbar or Pa, or None."""
    unit = r"(?:%(?:\s?RH)?|hPa|mbar|Pa)?"
    found = re.fullmatch(rf"\s*({NUMBER})\s*{unit}\s*", text, re.IGNORECASE | re.ASCII)
    return float(found[1]) if found else None
