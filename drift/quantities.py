"""Numbers with units as people write them: ``21,5``, ``−4``, ``70F``, ``12%``, ``15 mm``.

One rule for what is typed, posted, given as an option or written in a file by hand. Only the
standard library is imported, so that the start of a log does not wait.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import NamedTuple

from drift.errors import InputError

__all__ = [
    "CENTS",
    "HERTZ",
    "LENGTH",
    "MINUTES",
    "NUMBER",
    "PERCENT",
    "TEMPERATURE",
    "Quantity",
    "Unit",
    "parse_degrees",
    "parse_quantity",
    "read_quantity",
]


class Unit(NamedTuple):
    """How a number in a unit becomes one in the base unit: ``(number + shift) times / over``."""

    shift: float = 0.0
    times: float = 1.0
    over: float = 1.0


class Quantity(NamedTuple):
    """What a text is expected to be.

    Attributes
    ----------
    called : str
        With its article, for the refusal: ``a temperature``.
    units : mapping of str to Unit
        By the spelling of the unit in small letters; ``""`` where a unit may be left out.
    remedy : str
        How to write it.
    base : str
        Sign of the base unit, for limits.
    """

    called: str
    units: Mapping[str, Unit]
    remedy: str
    base: str = ""


_BASE, _FAHRENHEIT = Unit(), Unit(-32.0, 5.0, 9.0)
_INCH = Unit(times=25.4)  # by definition (1959)

NUMBER = Quantity("a number", {"": _BASE}, "write it in digits, such as 12 or 12.5")
TEMPERATURE = Quantity(
    "a temperature",
    {
        **dict.fromkeys(("", "c", "°c", "º c", "° c", "ºc", "℃"), _BASE),
        **dict.fromkeys(("f", "°f", "º f", "° f", "ºf", "℉"), _FAHRENHEIT),
        "°": _BASE,
    },
    "write a number of °C, or of °F as in 50F",
    " °C",
)
PERCENT = Quantity("a percentage", dict.fromkeys(("", "%"), _BASE), "write it as 45 or 45%", " %")
LENGTH = Quantity(
    "a length",
    {
        **dict.fromkeys(("", "mm"), _BASE),
        "cm": Unit(times=10.0),
        **dict.fromkeys(("in", "inch", "inches", '"', "″"), _INCH),
    },
    "write it in millimetres, such as 14, or in inches, such as 0.5 in",
    " mm",
)
CENTS = Quantity(
    "cents", dict.fromkeys(("", "c", "cent", "cents"), _BASE), "write it as +6 or -12", " cents"
)
HERTZ = Quantity(
    "a frequency", dict.fromkeys(("", "hz"), _BASE), "write it as 440 or 351.2Hz", " Hz"
)
MINUTES = Quantity(
    "a number of minutes",
    {
        **dict.fromkeys(("", "min", "minute", "minutes"), _BASE),
        **dict.fromkeys(("h", "hour", "hours"), Unit(times=60.0)),
        "s": Unit(over=60.0),
    },
    "write it in minutes, such as 30",
    " minutes",
)

# A point or a comma for decimals, a minus of typography too; no grouping of thousands, whose
# comma could not be told from a decimal one.
_NUMBER_WITH_UNIT = (
    r"\s*([+\-−]?[0-9]+(?:[.,][0-9]+)?(?:[eE][+\-−]?[0-9]{1,3})?)\s*([^\d\s].*?|)\s*"
)


def read_quantity(text: str, quantity: Quantity, *, difference: bool = False) -> float | None:
    """Return the number that a text gives, in the base unit, or None where it gives none.

    Parameters
    ----------
    text : str
        A number with a point or a comma for decimals, and perhaps a unit.
    quantity : Quantity
        What it is expected to be. The base units are °C, %, mm, cents, Hz and minutes.
    difference : bool
        Whether it is a difference, in which 9 °F are 5 °C.

    Returns
    -------
    float or None
        A finite number.

    Examples
    --------
    >>> read_quantity("−3,5 mm", LENGTH), read_quantity("0.5 in", LENGTH)
    (-3.5, 12.7)
    >>> read_quantity("12%", PERCENT), read_quantity("12%", LENGTH)
    (12.0, None)
    """
    found = re.fullmatch(_NUMBER_WITH_UNIT, text)
    unit = quantity.units.get(found[2].lower()) if found else None
    if found is None or unit is None:
        return None
    number = float(found[1].replace("−", "-").replace(",", "."))
    value = (number + (0.0 if difference else unit.shift)) * unit.times / unit.over
    return value if math.isfinite(value) else None


def parse_quantity(
    text: str,
    quantity: Quantity,
    *,
    what: str = "",
    lowest: float = -math.inf,
    highest: float = math.inf,
    difference: bool = False,
) -> float:
    """Return the number that a text gives, in the base unit and within limits.

    Parameters
    ----------
    text : str
        A number with a point or a comma for decimals, and perhaps a unit.
    quantity : Quantity
        What it is expected to be.
    what : str
        Named in the refusal, such as ``--minutes``.
    lowest, highest : float
        Limits in the base unit, both included.
    difference : bool
        Whether it is a difference, in which 9 °F are 5 °C.

    Raises
    ------
    InputError
        When it is not such a number, or lies outside the limits.

    Examples
    --------
    >>> parse_quantity("70F", TEMPERATURE).__round__(2)
    21.11
    """
    value = read_quantity(text, quantity, difference=difference)
    named = f"{what} {_shown(text)}" if what else _shown(text)
    if value is None:
        raise InputError(f"{named} is not {quantity.called}", quantity.remedy)
    if not lowest <= value <= highest:
        raise InputError(
            f"{named} is outside {lowest:g} to {highest:g}{quantity.base}", "check the value"
        )
    return value


def parse_degrees(text: str, difference: bool = False) -> float:
    """Return a typed temperature, or a difference of temperatures, in °C.

    Examples
    --------
    >>> parse_degrees("50F"), parse_degrees("9 °F", difference=True), parse_degrees("−4,5")
    (10.0, 5.0, -4.5)
    """
    return parse_quantity(text, TEMPERATURE, difference=difference)


def _shown(text: str) -> str:
    return repr(text if len(text) <= 40 else f"{text[:40]}...")
